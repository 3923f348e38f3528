/** What a rule may not say: each test breaks one parameter in a copy of norms/. */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { faultOf, type Json, normsWith } from './altered-norms.ts';

const CHANGE = 'rules/change-limits/1.0.0.json';
const EFFECTS = 'rules/protocol-effects/1.0.0.json';
const FIFTHS = 'rules/quintile-bands/1.0.0.json';
const UNIT = 'rules/unit-plausibility/1.1.0.json';
const WINDOW = 'rules/record-window/1.0.0.json';

const withParameters = (path: string, change: (parameters: Json) => void) =>
  normsWith(path, ({ parameters }) => change(parameters));

describe('a rule is refused', () => {
  it.each<[string, string, (parameters: Json) => void, string]>([
    [
      'of change with one id for two yardsticks',
      CHANGE,
      ({ yardsticks }) => Object.assign(yardsticks[1], { id: yardsticks[0].id }),
      'at parameters.yardsticks: each yardstick needs an id of its own',
    ],
    [
      'of change with a yardstick from memory',
      CHANGE,
      ({ yardsticks }) => Object.assign(yardsticks[4], { verification: 'from-memory' }),
      'at parameters.yardsticks.4.verification:',
    ],
    [
      'of the protocol with an effect from memory',
      EFFECTS,
      ({ effects }) => Object.assign(effects[2], { verification: 'from-memory' }),
      'at parameters.effects.2.verification:',
    ],
    [
      'of centiles with two ranges that end at one centile',
      FIFTHS,
      ({ bands }) => Object.assign(bands[1], { below: 20 }),
      'at parameters.bands: ranges must rise, and the last alone has no end',
    ],
    [
      'of centiles with a range that ends below the one before',
      FIFTHS,
      ({ bands }) => Object.assign(bands[3], { below: 50 }),
      'at parameters.bands: ranges must rise, and the last alone has no end',
    ],
    [
      'of centiles with a range in the middle that has no end',
      FIFTHS,
      ({ bands }) => Object.assign(bands[2], { below: null }),
      'at parameters.bands: ranges must rise, and the last alone has no end',
    ],
    [
      'of centiles with a last range that ends',
      FIFTHS,
      ({ bands }) => Object.assign(bands[4], { below: 90 }),
      'at parameters.bands: ranges must rise, and the last alone has no end',
    ],
    [
      'of units with a factor from 1',
      UNIT,
      ({ previousFactor }) => Object.assign(previousFactor, { from: '1' }),
      'at parameters.previousFactor: must rise from above 1',
    ],
    [
      'of units with a factor that does not rise',
      UNIT,
      ({ previousFactor }) => Object.assign(previousFactor, { to: '1.90' }),
      'at parameters.previousFactor: must rise from above 1',
    ],
    [
      'of units with a factor that falls',
      UNIT,
      ({ previousFactor }) => Object.assign(previousFactor, { from: '2.6' }),
      'at parameters.previousFactor: must rise from above 1',
    ],
    [
      'of units with a factor and no time in which it is one',
      UNIT,
      ({ previousFactor }) => delete previousFactor.maxDays,
      'at parameters.previousFactor.maxDays:',
    ],
    [
      'of the record that does not say until when a person grows',
      WINDOW,
      (parameters) => delete parameters.growing,
      'at parameters.growing:',
    ],
    [
      'of the record that does not say how near the height of a growing person must be',
      WINDOW,
      ({ growing }) => delete growing.heightDays,
      'at parameters.growing.heightDays:',
    ],
  ])('%s', (_what, path, change, message) => {
    expect(faultOf(withParameters(path, change))).toContain(`norms/${path} ${message}`);
  });

  it('when it cautions at the mean or below, or beyond where it stops, and the panel is named', () => {
    for (const cautionAboveSd of ['0', '0.0', '3.1'])
      expect(
        faultOf(withParameters(UNIT, (parameters) => Object.assign(parameters, { cautionAboveSd }))),
      ).toMatch(
        /^norms\/panels\/\S+: its unit rule must caution above the mean, and not beyond where it stops$/,
      );
  });
});

describe('a rule is not refused', () => {
  const loads = (path: string, change: (parameters: Json) => void) =>
    expect(loadLibrary(withParameters(path, change)).panelIds).toContain('adult-inpatient-us');

  it('when it cautions just above the mean, or where it stops', () => {
    for (const cautionAboveSd of ['0.1', '3'])
      loads(UNIT, (parameters) => Object.assign(parameters, { cautionAboveSd }));
  });

  it('without a factor to the previous mean, or with one that begins just above 1', () => {
    loads(UNIT, (parameters) => delete parameters.previousFactor);
    loads(UNIT, ({ previousFactor }) => Object.assign(previousFactor, { from: '1.01' }));
  });
});
