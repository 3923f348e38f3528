import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cautionsFor, checkReading, scattersBeyond } from '../../src/interpret/check-trials.ts';
import { checkMixedUnits } from '../../src/interpret/check-units.ts';
import { exact } from '../../src/interpret/exact.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { threeEach, trial, trialsOf, US } from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

const rules = US.rules;

describe('a single reading', () => {
  const codeFor = (reading: string, unit: ChartedUnit) => checkReading(trial({ reading, unit }), rules)?.code;

  it.each(['0', '0.0', '-0', '-0.1', '-30', '0e5'])('of %s is refused: no hand gives it', (reading) => {
    expect(codeFor(reading, 'kgf')).toBe('VALUE_NOT_POSITIVE');
  });

  // 100 kg is 980.665 N, and 100 / 0.45359237 = 220.4622621848... lb.
  it.each<[string, ChartedUnit]>([
    ['0.1', 'kg'],
    ['100', 'kg'],
    ['100.000', 'kgf'],
    ['980.665', 'N'],
    ['220.46226', '[lb_av]'],
    ['220.46226', '[lbf_av]'],
  ])('of %s %s is not above the physical bound of 100 kg', (reading, unit) => {
    expect(codeFor(reading, unit)).toBeUndefined();
  });

  it.each<[string, ChartedUnit]>([
    ['100.001', 'kg'],
    ['1e999', 'kgf'],
    ['980.666', 'N'],
    ['220.46227', '[lb_av]'],
    ['220.46227', '[lbf_av]'],
  ])('of %s %s is refused: it is above the physical bound of 100 kg', (reading, unit) => {
    expect(codeFor(reading, unit)).toBe('VALUE_OVER_BOUND');
  });

  it('is named in the refusal with its hand, its figure and its unit', () => {
    const over = trial({ reference: 'Observation/x', hand: 'left', reading: '140', unit: 'kg' });
    expect(checkReading(over, rules)).toEqual({
      kind: 'refusal',
      code: 'VALUE_OVER_BOUND',
      set: null,
      hand: 'left',
      trial: 'Observation/x',
      expression: null,
      facts: { reading: '140', unit: 'kg', maxKg: '100' },
      columns: [],
    });
  });
});

describe('units within one session', () => {
  const charted = (...units: ChartedUnit[]) => checkMixedUnits(units.map((unit) => trial({ unit })));

  it('are refused when trials are on different scales', () => {
    expect(charted('kg', 'kg', '[lb_av]')).toMatchObject({
      code: 'UNITS_MIXED',
      facts: { units: 'kg, lb' },
    });
    expect(charted('N', 'kgf')?.code).toBe('UNITS_MIXED');
  });

  it('may differ in code where the scale is the same', () => {
    expect(charted('kg', 'kgf', 'kg')).toBeUndefined();
    expect(charted('[lb_av]', '[lbf_av]')).toBeUndefined();
    expect(charted()).toBeUndefined();
  });
});

describe('scatter among the trials of one hand', () => {
  const LIMIT = Number(rules.scatter.maxCvPercent);
  const beyond = (readings: readonly string[]) =>
    scattersBeyond(readings.map(exact), rules.scatter.maxCvPercent);

  it('is not beyond the limit when the coefficient of variation is exactly 15%, and is one tenth further', () => {
    expect(beyond(['34', '40', '46'])).toBe(false);
    expect(beyond(['33.9', '40', '46.1'])).toBe(true);
  });

  it('is judged exactly at the limit for every mean, where floats are not', () => {
    // m - d, m, m + d have the sample SD d; with d = 0.15 m the coefficient is 15% exactly.
    let floatsWrong = 0;
    for (let m = 20; m <= 1000; m += 20) {
      const d = (m * 15) / 100;
      expect(beyond([m - d, m, m + d].map((count) => fixedText(BigInt(count), 1)))).toBe(false);
      expect(beyond([m - d - 1, m, m + d + 1].map((count) => fixedText(BigInt(count), 1)))).toBe(true);
      if (floatCv([(m - d) / 10, m / 10, (m + d) / 10]) > LIMIT) floatsWrong += 1;
    }
    expect(floatsWrong).toBeGreaterThan(0);
  });

  it('agrees with the usual formula in floats away from the limit', () => {
    fc.assert(
      fc.property(fc.array(tenths(1, 1000), { minLength: 2, maxLength: 6 }), (list) => {
        const cv = floatCv(list.map(({ count }) => count / 10));
        // Within 1e-9 percent of the limit a float cannot tell which side it is on.
        fc.pre(Math.abs(cv - LIMIT) > 1e-9);
        expect(beyond(list.map(({ text }) => text))).toBe(cv > LIMIT);
      }),
    );
  });

  it('is not spoken of for fewer than two trials', () => {
    expect(beyond([])).toBe(false);
    expect(beyond(['30'])).toBe(false);
  });
});

function floatCv(values: readonly number[]): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  const squares = values.reduce((a, b) => a + (b - mean) * (b - mean), 0);
  return (100 * Math.sqrt(squares / (values.length - 1))) / mean;
}

describe('cautions', () => {
  const codes = (trials: Parameters<typeof cautionsFor>[0]) =>
    cautionsFor(trials, rules).map(({ code, hand }) => [code, hand]);

  it('are none for three even trials on each hand in a unit of force', () => {
    expect(cautionsFor(threeEach('30'), rules)).toEqual([]);
  });

  it('tell fewer and more trials than the protocol asks for, with both counts', () => {
    const trials = [...trialsOf('right', ['30', '30']), ...trialsOf('left', ['30', '30', '30', '30'])];
    expect(cautionsFor(trials, rules)).toEqual([
      { code: 'TRIALS_FEWER', hand: 'right', facts: { trials: '2', perHand: '3' } },
      { code: 'TRIALS_MORE', hand: 'left', facts: { trials: '4', perHand: '3' } },
    ]);
  });

  it('tell a hand that was not tested, and nothing else about it', () => {
    expect(codes(trialsOf('left', ['30', '30', '30']))).toEqual([['HAND_NOT_TESTED', 'right']]);
  });

  it('tell scatter with the figure and the limit, for the hand that scatters', () => {
    const trials = [...trialsOf('right', ['30', '30', '30']), ...trialsOf('left', ['20', '30', '40'])];
    expect(cautionsFor(trials, rules)).toEqual([
      { code: 'TRIALS_SCATTER', hand: 'left', facts: { cvPercent: '33.3', maxCvPercent: '15' } },
    ]);
  });

  it('count the trials that are preliminary', () => {
    const [first, ...rest] = threeEach('30');
    const trials = [{ ...(first ?? trial()), preliminary: true }, ...rest];
    expect(cautionsFor(trials, rules)).toEqual([
      { code: 'TRIAL_PRELIMINARY', hand: null, facts: { count: '1' } },
    ]);
  });

  it('name each unit of mass that was read as force, once', () => {
    expect(cautionsFor(threeEach('30', { unit: 'kg' }), rules)).toEqual([
      { code: 'MASS_UNIT_READ_AS_FORCE', hand: null, facts: { unit: 'kg' } },
    ]);
    expect(codes(threeEach('66', { unit: '[lb_av]' }))).toEqual([['MASS_UNIT_READ_AS_FORCE', null]]);
  });
});
