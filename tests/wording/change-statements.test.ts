/** Change in sentences: the difference, published sizes of change, and when to measure again. */
import { describe, expect, it } from 'vitest';
import type { Change } from '../../src/interpret/finding.ts';
import { changeSentence, nextSentence, yardstickNotes } from '../../src/wording/change-statements.ts';
import { describedPanel } from '../verdict-for-tests.ts';

const panel = describedPanel('adult-inpatient-us');
const CHANGE: Change = {
  ...{ hand: 'left', since: '2026-08-20T14:00:00Z', percent: '-22.4', provisional: [] },
  ...{ from: { value: '26.800', unit: 'kg' }, to: { value: '20.800', unit: 'kg' } },
  difference: { value: '-6.000', unit: 'kg' },
};

describe('a change', () => {
  it('is put beside each published size, naming in whom it was found', () => {
    const yardsticks = [
      { id: 'mdc95-unknown', reached: true },
      { id: 'smallest-important', reached: true },
    ];
    const sentence = changeSentence({ ...CHANGE, yardsticks }, panel);
    expect(sentence).toContain('mean 26.8 kg to 20.8 kg (-6.0 kg, -22.4%).');
    expect(sentence).toMatch(
      / Beyond measurement error \(3\.5 kg\); at least the smallest important change \(5\.0 kg\)\.$/,
    );
    const notes = yardstickNotes(
      [
        { ...CHANGE, yardsticks },
        { ...CHANGE, yardsticks },
      ],
      panel,
    );
    expect(notes).toHaveLength(2);
    expect(notes[0]).toMatch(/^Measurement error of 3\.5 kg: users of nursing homes .* Ir J Med Sci 2021/);
    expect(notes[1]).toMatch(/^Smallest important change of 5\.0 kg: .*Bohannon RW/);
  });

  it('within error and below what matters says that', () => {
    const yardsticks = [
      { id: 'healthy-20-percent', reached: false },
      { id: 'smallest-important', reached: false },
    ];
    const sentence = changeSentence({ ...CHANGE, yardsticks }, panel);
    expect(sentence).toMatch(
      / Within measurement error \(20%\); less than the smallest important change \(5\.0 kg\)\.$/,
    );
  });

  it('without a rule, and without a size for the age, does not pretend to judge', () => {
    expect(changeSentence(CHANGE, panel)).toMatch(
      /Whether that exceeds measurement error is not judged here\.$/,
    );
    expect(changeSentence({ ...CHANGE, yardsticks: [] }, panel)).toMatch(
      /No published size of change is known here for this hand at this age\.$/,
    );
  });

  it('since the first comparable session says so, and names what was not alike', () => {
    const mismatches = [{ part: 'posture', charted: 'seated', built: 'recumbent' } as const];
    const sentence = changeSentence({ ...CHANGE, against: 'first', mismatches }, panel);
    expect(sentence).toMatch(/^Left hand since the first comparable session, 20 Aug 2026 14:00:/);
    expect(sentence).toContain('Not measured alike: posture seated, then recumbent.');
  });
});

describe('the next measurement', () => {
  it('is suggested by the rule of the panel, or not at all', () => {
    expect(nextSentence('2026-12-09', '2026-11-25T12:00:00Z')).toBe(
      'By the rule of this panel the next measurement is suggested from 9 Dec 2026.',
    );
    expect(nextSentence(undefined, '2026-11-25T12:00:00Z')).toBe('');
  });

  it('that is past is said to have been suggested', () => {
    expect(nextSentence('2026-11-24', '2026-11-25T00:00:00Z')).toContain(' was suggested from 24 Nov 2026.');
    expect(nextSentence('2026-11-25', '2026-11-25T23:59:00Z')).toContain(' is suggested from 25 Nov 2026.');
  });
});
