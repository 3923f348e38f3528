/** Every cell of every released set against transcriptions made outside this code (tests/outside). */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { cutPointRows, OUTSIDE_TABLES, outsideSet, US_1985 } from './outside.ts';

const library = loadLibrary(NORMS);

const TABLES = [
  {
    source: 'Mathiowetz V, et al. Arch Phys Med Rehabil 1985;66(2):69-74, Table 2',
    id: 'mathiowetz-1985-us-adults',
    count: 48,
    columns: 4,
  },
  {
    source: 'National Health and Nutrition Examination Survey 2011-2014 microdata',
    id: 'nhanes-2011-2014-right-left-mean-of-3',
    count: 80,
    columns: 4,
  },
  {
    source: 'National Health and Nutrition Examination Survey 2011-2014 microdata',
    id: 'nhanes-2011-2014-right-left-best-of-3',
    count: 80,
    columns: 4,
  },
  {
    source: 'National Health and Nutrition Examination Survey 2011-2014 microdata',
    id: 'nhanes-2011-2014-best-either-hand',
    count: 40,
    columns: 2,
  },
];

const keyOf = ({ sex, hand, ageMin }: { sex: string; hand: string | null; ageMin: number }) =>
  `${sex} ${hand} from ${ageMin}`;

describe.each(TABLES)('$id ($source)', ({ id, count, columns }) => {
  const known = OUTSIDE_TABLES[id];
  if (!known) throw new Error(`no transcription of ${id}`);
  const { given, decimals, percentiles } = known;
  const file = library.releases.tables.find(({ ref }) => ref.id === id)?.file;
  const rows = file?.rows ?? [];

  it('has every row of the transcription and no other, in its unit', () => {
    expect(rows).toHaveLength(count);
    expect(rows.map(keyOf).sort()).toEqual(given.rows.map(keyOf).sort());
    expect(new Set(rows.map(keyOf)).size).toBe(count);
    expect(new Set(rows.map(({ sex, hand }) => `${sex} ${hand}`)).size).toBe(columns);
    expect(file?.unit).toBe(given.nativeUnit ?? given.unit);
  });

  it.each(given.rows.map((row) => [keyOf(row), row] as const))('%s: every cell', (key, expected) => {
    const row = rows.find((own) => keyOf(own) === key);
    expect(row).toMatchObject({
      ageMax: expected.ageMax,
      mean: expected.mean.toFixed(decimals),
      sd: expected.sd.toFixed(decimals),
      n: expected.n,
    });
    // toFixed must not have rounded anything away.
    expect([Number(row?.mean), Number(row?.sd)]).toEqual([expected.mean, expected.sd]);
    const cells = Object.fromEntries(
      percentiles.map((p) => [p, expected[`p${Number(p)}`]?.toFixed(decimals)]),
    );
    expect(row?.percentiles ?? {}).toEqual(cells);
  });

  it('has percentiles that rise with the rank', () => {
    for (const row of rows) {
      const values = Object.entries(row.percentiles ?? {})
        .sort(([a], [b]) => Number(a) - Number(b))
        .map(([, value]) => Number(value));
      expect(values).toHaveLength(percentiles.length);
      expect(values).toEqual([...values].sort((a, b) => a - b));
    }
  });
});

/**
 * The printed all-ages row of men, recomputed from the bands of this release. The number of men in a band is
 * not printed in the copies seen; SD and standard error imply it to within one. Any choice within those
 * ranges moves the pooled mean by at most 0.2 lb and the pooled SD by 0.05 lb, and the printed row is rounded
 * to a tenth (0.05 either way): so 0.25 and 0.1 lb are allowed. The same men squeezed with both hands, so the
 * right hand's numbers serve for the left too (one standard error of the left hand is misprinted). A mean or
 * an SD misread by 10 lb in one band, as by one wrong digit in the tens, would show.
 */
describe.each(['right', 'left'])('the all-ages row of men, %s hand (1985)', (hand) => {
  const bands = (
    library.releases.tables.find(({ ref }) => ref.id === 'mathiowetz-1985-us-adults')?.file.rows ?? []
  )
    .filter((row) => row.sex === 'male' && row.hand === hand)
    .map((row) => {
      const implied = US_1985.rows.find(
        (own) => own.sex === 'male' && own.hand === 'right' && own.ageMin === row.ageMin,
      )?.nRangeImpliedBySdAndSe;
      if (!implied) throw new Error(`no number of men from ${row.ageMin}`);
      return { mean: Number(row.mean), sd: Number(row.sd), n: (implied[0] + implied[1]) / 2 };
    });
  const total = bands.reduce((sum, { n }) => sum + n, 0);
  const mean = bands.reduce((sum, band) => sum + band.n * band.mean, 0) / total;
  const squares = bands.reduce(
    (sum, band) => sum + (band.n - 1) * band.sd ** 2 + band.n * (band.mean - mean) ** 2,
    0,
  );
  const printed = US_1985.allAgesRow?.find((row) => row.sex === 'male' && row.hand === hand);

  it('is the pooled mean and SD of the bands', () => {
    expect(Math.abs(mean - (printed?.mean ?? Number.NaN))).toBeLessThan(0.25);
    expect(Math.abs(Math.sqrt(squares / (total - 1)) - (printed?.sd ?? Number.NaN))).toBeLessThan(0.1);
  });

  it('has the 310 men of the abstract', () => {
    expect(Math.abs(total - 310)).toBeLessThanOrEqual(bands.length / 2);
  });
});

describe.each([
  ['ewgsop2-2019', 'Cruz-Jentoft AJ, et al. Age Ageing 2019;48(1):16-31'],
  ['sdoc-2020', 'Bhasin S, et al. J Am Geriatr Soc 2020;68(7):1410-1418'],
  ['fnih-2014', 'Studenski SA, et al. J Gerontol A 2014;69(5):547-558'],
  ['ewgsop1-2010', 'Cruz-Jentoft AJ, et al. Age Ageing 2010;39(4):412-423'],
  ['awgs-2014', 'Chen LK, et al. J Am Med Dir Assoc 2014;15(2):95-101'],
  ['awgs-2019', 'Chen LK, et al. J Am Med Dir Assoc 2020;21(3):300-307'],
  ['awgs-2025', 'Chen LK, et al. Nature Aging 2025'],
])('%s', (id, source) => {
  const file = library.releases.cutPoints.find(({ ref }) => ref.id === id)?.file;
  const given = outsideSet(id);

  it(`has each limit, its strictness and its ages (${source})`, () => {
    const expected = given ? cutPointRows(given) : [];
    expect(expected.length).toBeGreaterThan(1);
    expect(file?.rows.map(({ verification: _, ...row }) => row)).toEqual(expected);
    expect(file?.unit).toBe('kg');
  });

  it('has the summary of trials and the verification that the transcription gives', () => {
    expect(file?.summary.kind).toBe(
      given?.summary_statistic?.startsWith('max') ? 'highest-of-either-hand' : null,
    );
    const seen = given?.verification.grip.slice(0, given.verification.grip.indexOf('_seen')).concat('-seen');
    expect(new Set([file?.verification.level, ...(file?.rows ?? []).map((row) => row.verification)])).toEqual(
      new Set([seen]),
    );
  });
});
