/** Tables read by centiles: exact ages interpolated (Great Britain 2014), named ranges (international 2025). */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Sex } from '../../src/interpret/measurement.ts';
import { ALL, isVerdict, panelNamed, read, refusalsOf, setNamed, threeEach, verdictsOf } from './build.ts';
import { decimalOf, less, order, plus, ratio, textOf, times } from './rational.ts';

const DODDS = 'dodds-2014-great-britain';
const WORLD = 'tomkinson-2025-international';
const LEONG = 'leong-2016-europe-north-america';

/** Without its guard of the unit: any force is read, for any age. */
const EUROPE = { ...panelNamed('older-adult-europe'), unitGuards: undefined };

/** The panel of Europe has no table of means: no reading is held as implausible before the set is read. */
function of(set: string, sex: Sex, ageYears: number, reading: string) {
  const answer = read(set === LEONG ? ALL : EUROPE, { sex, ageYears }, threeEach(reading));
  const [verdict] = verdictsOf(answer, set);
  if (!verdict) throw new Error(`no verdict of ${set}`);
  return verdict;
}

describe('a table of exact ages', () => {
  it('is linear between two of them: a man of 72 between 70 and 75', () => {
    // Dodds 2014, men, tenth centile: 29 kg at 70, 26 kg at 75; 29 + 2/5 of -3 = 27.8 kg at 72.
    expect(of(DODDS, 'male', 72, '27.8')).toMatchObject({
      outcome: 'not-reduced',
      limit: { value: '27.8', unit: 'kg', operator: '<' },
      row: {
        ageMin: 72,
        ageMax: 72,
        betweenAges: [70, 75],
        mean: null,
        sd: null,
        verification: 'two-sources',
      },
      centile: { atLeast: 10, below: 25 },
      zScore: null,
      percentile: null,
    });
    expect(of(DODDS, 'male', 72, '27.799999999').outcome).toBe('reduced');
  });

  it('is read as printed at an exact age, and names no two ages', () => {
    for (const [ageYears, limit] of [
      [70, '29'],
      [75, '26'],
      [90, '16'],
    ] as const) {
      const { row, limit: own } = of(DODDS, 'male', ageYears, '30');
      expect(own.value).toBe(limit);
      expect(row).toMatchObject({ ageMin: ageYears, ageMax: ageYears });
      expect(row.betweenAges).toBeUndefined();
    }
  });

  it('ends at its last age', () => {
    const answer = read(EUROPE, { sex: 'male', ageYears: 91 }, threeEach('20'));
    expect(refusalsOf(answer, DODDS)).toMatchObject([
      { code: 'AGE_OUTSIDE_SET', facts: { covers: '5 to 90' } },
    ]);
  });

  it('has no figure between a known age and an unknown one', () => {
    // Dodds 2014, boys: 15 is known here, 5 and 10 are not.
    for (const ageYears of [5, 7, 10, 11, 14]) {
      const answer = read(EUROPE, { sex: 'male', ageYears }, threeEach('20'));
      expect(
        refusalsOf(answer, DODDS).map(({ code, facts }) => [code, facts]),
        `${ageYears}`,
      ).toEqual([['FIGURE_UNKNOWN', { note: 'printed in the paper; not seen' }]]);
    }
    expect(of(DODDS, 'male', 15, '21').limit.value).toBe('21');
  });

  it('every centile of every year is on the line between its two ages', () => {
    const rows = setNamed(DODDS).rows.filter(({ limit }) => limit !== null);
    const between = rows.filter(({ betweenAges }) => betweenAges);
    for (const row of between) {
      const [from, to] = row.betweenAges ?? [0, 0];
      const at = (ageYears: number, rank: number) => {
        const found = rows.find(({ sex, ageMin }) => sex === row.sex && ageMin === ageYears);
        const value = found?.centiles?.find((centile) => centile.rank === rank)?.value;
        return ratio(value?.num ?? 0n, value?.den);
      };
      for (const { rank } of row.centiles ?? []) {
        const share = ratio(BigInt(row.ageMin - from), BigInt(to - from));
        const line = plus(at(from, rank), times(share, less(at(to, rank), at(from, rank))));
        expect(order(at(row.ageMin, rank), line), `${row.sex} ${row.ageMin} ${rank}`).toBe(0);
      }
    }
    // Men from 15 to 90 and women from 20 to 90: 15 and 14 gaps of four years.
    expect(between).toHaveLength(4 * (15 + 14));
  });

  it('says that an interpolated year is unproven where one of its two ages is', () => {
    expect(of(DODDS, 'male', 17, '30')).toMatchObject({
      provisional: ['FIGURES_UNPROVEN'],
      row: { betweenAges: [15, 20], verification: 'one-source' },
    });
    expect(of(DODDS, 'male', 22, '30').provisional).toEqual([]);
  });
});

describe('the place among the centiles', () => {
  // International 2025, women of 70 to 74: 5th 13.2, 10th 15.5, 20th 18.3, 40th 22.0, 60th 25.2, 80th 28.9, 95th 34.1.
  it.each([
    ['13.1', null, 5, 'low', 'reduced'],
    ['13.2', 5, 10, 'low', 'reduced'],
    ['15.5', 10, 20, 'low', 'reduced'],
    ['18.299999', 10, 20, 'low', 'reduced'],
    ['18.3', 20, 30, 'somewhat low', 'not-reduced'],
    ['21.9', 30, 40, 'somewhat low', 'not-reduced'],
    ['22', 40, 50, 'moderate', 'not-reduced'],
    ['25.2', 60, 70, 'somewhat high', 'not-reduced'],
    ['28.9', 80, 90, 'high', 'not-reduced'],
    ['34.099999', 90, 95, 'high', 'not-reduced'],
    ['34.1', 95, null, 'high', 'not-reduced'],
    ['35', 95, null, 'high', 'not-reduced'],
  ] as const)(
    'of %s kg is from the %s to below the %s, called %s',
    (reading, atLeast, below, band, outcome) => {
      expect(of(WORLD, 'female', 72, reading)).toMatchObject({
        centile: { atLeast, below },
        band,
        outcome,
        limit: { value: '18.3', operator: '<' },
        zScore: null,
        percentile: null,
      });
    },
  );

  it('has no name where the rule gives none', () => {
    expect(of(DODDS, 'male', 72, '30').band).toBeUndefined();
    expect(of(LEONG, 'male', 65, '30').band).toBeUndefined();
  });

  it('is reduced below the centile of the rule: the quarter of the table of Europe and North America', () => {
    // Leong 2016, men of 61 to 70, mean of both hands: 25th centile 36 kg, 75th 47 kg.
    expect(of(LEONG, 'male', 65, '36')).toMatchObject({
      outcome: 'not-reduced',
      centile: { atLeast: 25, below: 50 },
    });
    expect(of(LEONG, 'male', 65, '35.999')).toMatchObject({
      outcome: 'reduced',
      centile: { atLeast: null, below: 25 },
    });
    expect(of(LEONG, 'male', 65, '47').centile).toEqual({ atLeast: 75, below: null });
  });

  it('is absent where a table is read by SD, though it prints centiles', () => {
    const answer = read(ALL, { sex: 'male', ageYears: 72 }, threeEach('30'));
    const bySd = answer.results.filter(isVerdict).filter(({ rule }) => rule?.id === 'two-sd-below-mean');
    expect(bySd.length).toBeGreaterThan(3);
    for (const { centile, band } of bySd) expect([centile, band]).toEqual([undefined, undefined]);
  });

  it('holds the figure, agrees with the name and with the outcome, for any force', () => {
    const tenths = fc.integer({ min: 50, max: 640 });
    fc.assert(
      fc.property(fc.constantFrom(WORLD, DODDS), fc.nat(), tenths, (id, pick, count) => {
        const set = setNamed(id, EUROPE);
        const known = set.rows.filter(({ limit }) => limit);
        const row = known[pick % known.length];
        const figure = ratio(BigInt(count), 10n);
        const { centile, band, outcome, limit } = of(
          id,
          row?.sex ?? 'male',
          row?.ageMin ?? 0,
          textOf(figure) ?? '',
        );
        const at = (rank: number | null | undefined) => {
          const value = row?.centiles?.find((each) => each.rank === rank)?.value;
          return value && ratio(value.num, value.den);
        };
        const [lower, upper] = [at(centile?.atLeast), at(centile?.below)];
        if (lower) expect(order(figure, lower)).toBeGreaterThanOrEqual(0);
        if (upper) expect(order(figure, upper)).toBeLessThan(0);
        expect(lower ?? upper).toBeDefined();
        expect(outcome === 'reduced').toBe(order(figure, decimalOf(limit.value)) < 0);
        if (set.bands) expect(band === 'low').toBe(outcome === 'reduced');
      }),
      { numRuns: 200 },
    );
  });
});
