/** Each set of cut-points at, just above and just below its limit, read as a panel reads it. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeSet } from '../../src/interpret/judge.ts';
import type { Hand, Sex } from '../../src/interpret/measurement.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import {
  ALL,
  isVerdict,
  panelNamed,
  read,
  refusalsOf,
  setNamed,
  threeEach,
  trialsOf,
  verdictsOf,
} from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

/** Set, sex, ages at which it is read, limit in tenths of a kilogram. Every one of these sets is strict. */
const LIMITS: readonly [set: string, sex: Sex, ages: readonly number[], tenthsKg: number][] = [
  ['ewgsop2-2019', 'male', [65, 72, 100], 270],
  ['ewgsop2-2019', 'female', [65, 72, 100], 160],
  ['sdoc-2020', 'male', [65, 90], 355],
  ['sdoc-2020', 'female', [65, 90], 200],
  ['fnih-2014', 'male', [65, 90], 260],
  ['fnih-2014', 'female', [65, 90], 160],
  ['awgs-2019', 'male', [65, 90], 280],
  ['awgs-2019', 'female', [65, 90], 180],
  ['awgs-2025', 'male', [50, 64], 340],
  ['awgs-2025', 'female', [50, 64], 200],
  ['awgs-2025', 'male', [65, 90], 280],
  ['awgs-2025', 'female', [65, 90], 180],
];

const CASES = LIMITS.flatMap(([set, sex, ages, tenthsKg]) =>
  ages.map((ageYears) => ({ set, sex, ageYears, tenthsKg, limit: fixedText(BigInt(tenthsKg), 1) })),
);

/** The verdict when the best of six readings is `best`, on the hand given. */
function verdict(
  { set, sex, ageYears }: { set: string; sex: Sex; ageYears: number },
  best: string,
  unit: ChartedUnit,
  hand: Hand = 'right',
) {
  const other = hand === 'right' ? 'left' : 'right';
  const trials = [
    ...trialsOf(hand, ['12', best, '12'], { unit }),
    ...trialsOf(other, ['11', '11', '11'], { unit }),
  ];
  const found = verdictsOf(read(ALL, { sex, ageYears }, trials), set);
  expect(found).toHaveLength(1);
  return found[0];
}

describe.each(CASES)('$set for a $sex person of $ageYears: below $limit kg', (person) => {
  const { tenthsKg } = person;
  const kilograms = (tenths: number) => fixedText(BigInt(tenths), 1);

  it('is not reduced at the limit or a tenth above it, and reduced a tenth below, in kilograms', () => {
    expect(verdict(person, kilograms(tenthsKg), 'kg')?.outcome).toBe('not-reduced');
    expect(verdict(person, kilograms(tenthsKg + 1), 'kgf')?.outcome).toBe('not-reduced');
    expect(verdict(person, kilograms(tenthsKg - 1), 'kg')?.outcome).toBe('reduced');
    expect(verdict(person, kilograms(tenthsKg), 'kg')?.limit).toMatchObject({ unit: 'kg', operator: '<' });
    expect(Number(verdict(person, kilograms(tenthsKg), 'kg')?.limit.value)).toBe(tenthsKg / 10);
  });

  it('turns between two neighbouring thousandths of a pound', () => {
    // No finite decimal of pounds equals the limit: 0.45359237 = 45359237 / 10^8, and 45359237 has a prime
    // factor other than 2 and 5 that does not divide the limit. So the limit lies strictly between two.
    const below = (BigInt(tenthsKg) * 10n ** 10n) / 45359237n;
    expect((BigInt(tenthsKg) * 10n ** 10n) % 45359237n).not.toBe(0n);
    const [under, over] = [fixedText(below, 3), fixedText(below + 1n, 3)];
    expect(verdict(person, under, '[lb_av]')).toMatchObject({
      outcome: 'reduced',
      charted: { value: under, unit: 'lb' },
      conversion: '1 lb = 0.45359237 kg',
    });
    expect(verdict(person, over, '[lbf_av]')?.outcome).toBe('not-reduced');
  });

  it('is not reduced at the same force in newtons, and reduced a millionth below it', () => {
    const millionths = BigInt(tenthsKg) * 980665n; // tenths of a kilogram times 9.80665, in 10^-6 N
    const at = verdict(person, fixedText(millionths, 6), 'N');
    expect(at).toMatchObject({ outcome: 'not-reduced', conversion: '1 kg = 9.80665 N' });
    expect(verdict(person, fixedText(millionths - 1n, 6), 'N')?.outcome).toBe('reduced');
  });

  it('takes the highest of either hand', () => {
    for (const hand of ['right', 'left'] as const) {
      const found = verdict(person, kilograms(tenthsKg), 'kg', hand);
      expect(found).toMatchObject({ outcome: 'not-reduced', hand: null, summary: 'highest-of-either-hand' });
    }
  });
});

it('two consensus groups can disagree about the same person, and both are told', () => {
  const answer = read(ALL, { sex: 'male', ageYears: 72 }, threeEach('30'));
  const outcomes = ['ewgsop2-2019', 'sdoc-2020', 'fnih-2014', 'awgs-2019', 'awgs-2025'].map(
    (set) => verdictsOf(answer, set)[0]?.outcome,
  );
  expect(outcomes).toEqual(['not-reduced', 'reduced', 'not-reduced', 'not-reduced', 'not-reduced']);
});

describe('between the two figures of FNIH 2014 for men (26 and 32 kg) and women (16 and 20 kg)', () => {
  const band = (sex: Sex, best: string, unit: ChartedUnit = 'kgf', set = 'fnih-2014') => {
    const found = verdict({ set, sex, ageYears: 72 }, best, unit);
    return [found?.outcome, found?.band];
  };

  it.each([
    ['male', '25.999999', '26', '31.999999', '32'],
    ['female', '15.999999', '16', '19.999999', '20'],
  ] as const)('the figure is intermediate in its words (%s)', (sex, weak, from, below, strong) => {
    expect(band(sex, weak)).toEqual(['reduced', undefined]);
    expect(band(sex, from)).toEqual(['not-reduced', 'intermediate']);
    expect(band(sex, below)).toEqual(['not-reduced', 'intermediate']);
    expect(band(sex, strong)).toEqual(['not-reduced', undefined]);
  });

  it('is compared exactly in any unit: 32 kg is 313.8128 N and lies between 70.547 and 70.548 lb', () => {
    expect(band('male', '313.812799', 'N')).toEqual(['not-reduced', 'intermediate']);
    expect(band('male', '313.8128', 'N')).toEqual(['not-reduced', undefined]);
    expect(band('male', '70.547', '[lb_av]')).toEqual(['not-reduced', 'intermediate']);
    expect(band('male', '70.548', '[lb_av]')).toEqual(['not-reduced', undefined]);
  });

  it('is said of no other set of cut-points', () => {
    for (const { set, sex, ageYears } of CASES.filter((each) => each.set !== 'fnih-2014'))
      for (const best of ['15', '18', '28', '30'])
        expect(verdict({ set, sex, ageYears }, best, 'kgf')?.band, set).toBeUndefined();
  });

  it('is said of each column where the sex is not usable', () => {
    const answer = read(ALL, { sex: null, ageYears: 72 }, threeEach('28'));
    expect(
      refusalsOf(answer, 'fnih-2014').flatMap(({ columns }) =>
        columns.map(({ sex, band: own }) => [sex, own]),
      ),
    ).toEqual([
      ['female', undefined],
      ['male', 'intermediate'],
    ]);
  });

  it('is not said by the first version of the set', () => {
    const old = read(panelNamed('all-published', '1.0.0'), { sex: 'male', ageYears: 72 }, threeEach('28'));
    expect(verdictsOf(old, 'fnih-2014')).toMatchObject([{ outcome: 'not-reduced' }]);
    expect(verdictsOf(old, 'fnih-2014')[0]?.band).toBeUndefined();
  });

  it('agrees with whole tenths', () => {
    fc.assert(
      fc.property(tenths(121, 600), fc.constantFrom<Sex>('female', 'male'), ({ text, count }, sex) => {
        const [from, to] = sex === 'male' ? [260, 320] : [160, 200];
        const summaries = summarise(threeEach(text), ALL.rules);
        const [only] = judgeSet(setNamed('fnih-2014'), summaries, { sex, ageYears: 72 });
        expect(only && isVerdict(only) && (only.band ?? null)).toBe(
          count >= from && count < to ? 'intermediate' : null,
        );
      }),
    );
  });
});
