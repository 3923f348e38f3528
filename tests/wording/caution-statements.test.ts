/** Cautions in sentences: what the chart does not say, measures in conflict, newtons as charted. */
import { describe, expect, it } from 'vitest';
import type { Protocol, Trial } from '../../src/interpret/measurement.ts';
import { cautionSentence, notCharted } from '../../src/wording/caution-statements.ts';
import { trial } from '../interpret/build.ts';

const WHOLE: Protocol = {
  ...{ posture: 'seated', arm: 'elbow-90-unsupported', handle: '2', instrument: 'hydraulic' },
  calibratedOn: '2026-06-02',
};
const charted = (protocol: Protocol): Trial => trial({ protocol });

describe('what the chart does not say of how the trials were done', () => {
  it('is named part by part', () => {
    expect(notCharted([trial()])).toBe(
      'Not charted with the trials, or not in a form that is read: posture, arm, handle position, instrument, calibration date.',
    );
    const { handle: _, ...rest } = WHOLE;
    expect(notCharted([charted(rest)])).toBe(
      'Not charted with the trials, or not in a form that is read: handle position.',
    );
  });

  it('is nothing where it says all of it, be it on one trial only', () => {
    expect(notCharted([charted(WHOLE)])).toBe('');
    expect(notCharted([trial(), charted(WHOLE)])).toBe('');
  });
});

describe('a caution', () => {
  it('names the unit as charted: newtons are not called pounds', () => {
    const facts = { figure: '60.0', unit: 'N', otherUnit: 'kg' };
    expect(cautionSentence({ code: 'UNIT_DOUBTFUL', hand: 'right', facts })).toBe(
      'Right hand: a mean of 60.0 N is reduced, and 60.0 kg would not be out of range. Check the unit on the instrument before acting.',
    );
  });

  it('of measures in conflict names the measure and what to do', () => {
    expect(cautionSentence({ code: 'MEASURES_CONFLICT', hand: null, facts: { measure: 'bmi' } })).toBe(
      'Different figures of body mass index are charted for the same day, and none of them was used. Correct the record.',
    );
  });
});
