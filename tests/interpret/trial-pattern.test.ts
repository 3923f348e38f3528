/** The order of the trials of one hand: a low first trial, a steady fall. Only where their times give the order. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cautionsFor } from '../../src/interpret/check-trials.ts';
import { interpret, toSessions } from '../../src/interpret/interpret.ts';
import type { Trial } from '../../src/interpret/measurement.ts';
import { HANDS } from '../../src/interpret/measurement.ts';
import { panelNamed, sitting, trial, trialsOf, US } from './build.ts';
import { fixedText } from './fixed-point.ts';

const PATTERNS = ['FIRST_TRIAL_LOW', 'TRIALS_FALLING'];

/** A moment as charted, so many minutes after the epoch. */
const at = (minutes: number) => ({
  testedAtMinute: Math.floor(minutes),
  effective: new Date(minutes * 60_000).toISOString(),
});

/** One minute apart, in the order given. */
const timed = (readings: readonly string[], hand = HANDS[0] ?? 'right', from = 0): Trial[] =>
  readings.map((reading, index) => trial({ hand, reading, ...at(from + index) }));

const found = (trials: readonly Trial[], rules = US.rules) =>
  cautionsFor(trials, rules).filter(({ code }) => PATTERNS.includes(code));
const codes = (...readings: string[]) => found(timed(readings)).map(({ code }) => code);

describe('a first trial below the others', () => {
  it('is cautioned below 80% of their mean, and not at it', () => {
    // Others 30 and 32: mean 31, and 80% of it is 24.8.
    expect(codes('24.8', '30', '32')).toEqual([]);
    expect(found(timed(['24.79', '30', '32']))).toEqual([
      { code: 'FIRST_TRIAL_LOW', hand: 'right', facts: { first: '24.8', others: '31.0', percent: '20' } },
    ]);
  });

  it('is compared with all the others', () => {
    expect(codes('24', '30', '30', '30')).toEqual([]);
    expect(codes('23.9', '30', '30', '30')).toEqual(['FIRST_TRIAL_LOW']);
    expect(codes('30', '20', '30')).toEqual([]);
  });
});

describe('trials that fall', () => {
  it('are cautioned where each is lower and the last is below 80% of the first, and not at it', () => {
    expect(codes('30', '27', '24')).toEqual([]);
    expect(found(timed(['30', '27', '23.99']))).toEqual([
      { code: 'TRIALS_FALLING', hand: 'right', facts: { first: '30.0', last: '24.0', percent: '20' } },
    ]);
  });

  it('are not where two are alike, or one rises', () => {
    expect(codes('30', '30', '20')).toEqual([]);
    expect(codes('30', '20', '20')).toEqual([]);
    expect(codes('30', '20', '21')).toEqual([]);
    expect(codes('30', '29', '30', '20')).toEqual([]);
  });
});

describe('no pattern is seen', () => {
  it('in fewer than three trials', () => {
    expect(codes('10', '30')).toEqual([]);
    expect(codes('30', '10')).toEqual([]);
  });

  it('where the times do not give the order: none charted, one missing, two alike', () => {
    const [first, second, third] = timed(['30', '27', '20']);
    if (!first || !second || !third) throw new Error('three trials');
    expect(found(trialsOf('right', ['30', '27', '20']))).toEqual([]);
    expect(found([first, second, { ...third, testedAtMinute: null }])).toEqual([]);
    expect(found([first, second, { ...third, effective: second.effective }])).toEqual([]);
    expect(found([first, second, third])).toHaveLength(1);
  });

  it('where the times are, but in no readable form', () => {
    const [first, second, third] = timed(['30', '27', '20']);
    if (!first || !second || !third) throw new Error('three trials');
    expect(found([first, second, { ...third, effective: 'noon' }])).toEqual([]);
  });

  it('by a panel without the rule', () => {
    const old = panelNamed('adult-inpatient-us', '1.0.0').rules;
    expect(found(timed(['30', '27', '20']), old)).toEqual([]);
  });
});

it('trials of one minute are told apart by their seconds', () => {
  const [first, second, third] = ['30', '27', '20'].map((reading, index) =>
    trial({ reading, ...at(10 + index / 3) }),
  );
  if (!first || !second || !third) throw new Error('three trials');
  expect(new Set([first, second, third].map(({ testedAtMinute }) => testedAtMinute)).size).toBe(1);
  expect(found([third, first, second]).map(({ code }) => code)).toEqual(['TRIALS_FALLING']);
});

it('each hand has its own order, though the hands took turns', () => {
  const right = timed(['30', '27', '20']);
  const left = timed(['10', '30', '30'], 'left', 10);
  const turns = right.flatMap((each, index) => [each, left[index] ?? each]);
  expect(found(turns).map(({ code, hand }) => [code, hand])).toEqual([
    ['TRIALS_FALLING', 'right'],
    ['FIRST_TRIAL_LOW', 'left'],
  ]);
});

it('the order is that of the times, in whatever order the record gives the trials', () => {
  const falling = timed(['30', '27', '20']).toReversed();
  const sessions = toSessions(sitting(falling), sitting([]), US, () => ({ ageYears: 72 }));
  const [answer] = interpret({ sex: 'male', sessions }, US);
  const patterns = answer?.cautions.filter(({ code }) => PATTERNS.includes(code));
  expect(patterns?.map(({ code, facts }) => [code, facts.last])).toEqual([['TRIALS_FALLING', '20.0']]);
});

it('the patterns agree with whole numbers of tenths', () => {
  const tenths = fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 3, maxLength: 5 });
  fc.assert(
    fc.property(tenths, (list) => {
      const [first = 0, ...others] = list;
      const total = others.reduce((sum, each) => sum + each, 0);
      const low = 10 * first * others.length < 8 * total;
      const steady = others.every((each, index) => each < (list[index] ?? 0));
      const falling = steady && 10 * (list.at(-1) ?? 0) < 8 * first;
      expect(codes(...list.map((count) => fixedText(BigInt(count), 1)))).toEqual([
        ...(low ? ['FIRST_TRIAL_LOW'] : []),
        ...(falling ? ['TRIALS_FALLING'] : []),
      ]);
    }),
    { numRuns: 500 },
  );
});
