/** Every cell of every released set against transcriptions made outside this code (tests/outside). */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { type Json, OUTSIDE_CUT_POINTS, OUTSIDE_TABLES, outside, outsideSet } from './outside.ts';
import { differencesFromOutside } from './outside-comparison.ts';
import { CUT_POINTS, type ReleasedJson, TABLES } from './released-json.ts';

const { releases } = loadLibrary(NORMS);
const named = (sets: readonly ReleasedJson[]) => sets.map((set) => [set.id, set.version, set] as const);

/** Rows and columns that each table must have. */
const SIZES: Readonly<Record<string, readonly [rows: number, columns: number]>> = {
  'bohannon-2017-us-children': [60, 4],
  'dodds-2014-great-britain': [36, 2],
  'leong-2016-europe-north-america': [8, 2],
  'massy-westropp-2011-australia': [24, 4],
  'mathiowetz-1985-us-adults': [48, 4],
  'mathiowetz-1986-us-children': [28, 4],
  'nhanes-2011-2014-best-either-hand': [40, 2],
  'nhanes-2011-2014-best-over-height-squared': [40, 2],
  'nhanes-2011-2014-dominant-best-of-3': [80, 4],
  'nhanes-2011-2014-dominant-mean-of-3': [80, 4],
  'nhanes-2011-2014-mean-of-both-hands': [40, 2],
  'nhanes-2011-2014-right-left-best-of-3': [80, 4],
  'nhanes-2011-2014-right-left-mean-of-3': [80, 4],
  'steiber-2016-germany': [28, 2],
  'steiber-2016-germany-by-height': [196, 2],
  'tomkinson-2025-international': [34, 2],
};

it('has a transcription for every set that is released, and no other', () => {
  const ids = (sets: readonly ReleasedJson[]) => [...new Set(sets.map(({ id }) => id))].sort();
  expect(Object.keys(OUTSIDE_TABLES).sort()).toEqual(ids(TABLES));
  expect(Object.keys(OUTSIDE_CUT_POINTS).sort()).toEqual(ids(CUT_POINTS));
  expect(Object.keys(SIZES).sort()).toEqual(ids(TABLES));
});

it('is read here as the loader reads it', () => {
  const loaded = [...releases.tables, ...releases.cutPoints].map(({ path, file }) => [path, file] as const);
  const read = [...TABLES, ...CUT_POINTS].map(({ path, file }) => [`norms/${path}`, file] as const);
  expect(Object.fromEntries(loaded)).toEqual(Object.fromEntries(read));
});

describe.each(named(TABLES))('%s %s', (id, _version, { file }) => {
  const rows: Json[] = file.rows;

  it('has every cell of the transcription and no other, in its unit and of its summary', () => {
    expect(differencesFromOutside(file)).toEqual([]);
    const columns = new Set(rows.map(({ sex, hand }) => `${sex} ${hand}`));
    expect([rows.length, columns.size]).toEqual(SIZES[id]);
  });

  it('says of every row without figures that they were not seen', () => {
    for (const { mean, percentiles = {}, note } of rows)
      if (mean === null && Object.keys(percentiles).length === 0)
        expect(note).toMatch(/not seen|not in the copy seen/);
  });

  it('has percentiles that rise with the rank', () => {
    for (const { percentiles = {} } of rows) {
      const ranked = Object.entries<string>(percentiles).sort(([a], [b]) => Number(a) - Number(b));
      const values = ranked.map(([, value]) => Number(value));
      expect(values).toEqual(values.toSorted((a, b) => a - b));
    }
  });
});

describe.each(named(CUT_POINTS))('%s %s', (id, _version, { file }) => {
  it('has each limit of the transcription, its strictness, ages, hand and body mass index', () => {
    expect(differencesFromOutside(file)).toEqual([]);
    expect(file.rows.length).toBeGreaterThan(1);
    expect(file.verification.level).toBe(file.rows[0].verification);
  });

  it('has the companions that can be worked out, as the transcription has them', () => {
    const { accompanying = {} } = outsideSet(id) ?? {};
    const keys: Readonly<Record<string, readonly string[]>> = {
      'gait-speed': ['gait_m_s', 'gait6m_m_s'],
      'five-chair-rises': ['five_chair_rises_s', 'five_chair_stand_s'],
    };
    for (const { figure } of file.companions) {
      if (!figure) continue;
      const given = (keys[figure.measure] ?? []).map((key) => accompanying[key]).find(Boolean);
      expect({ operator: figure.operator, value: figure.value }).toEqual({
        operator: given?.op,
        value: given?.value,
      });
    }
  });
});

describe('what a set of cut-points says besides its limits', () => {
  const newest = (id: string) => CUT_POINTS.findLast((set) => set.id === id)?.file;

  it.each([
    ['awgs-2014', ['gait-speed']],
    ['awgs-2019', ['gait-speed', 'five-chair-rises']],
    ['awgs-2025', []],
    ['espen-easo-2022', ['five-chair-rises']],
    // Named, not read: its strictness is from memory.
    ['ewgsop1-2010', []],
    ['ewgsop2-2019', ['gait-speed', 'five-chair-rises']],
    ['fnih-2014', ['gait-speed']],
    ['fnih-2014-bmi', ['gait-speed']],
    ['fried-2001', []],
    ['icuaw-2008', []],
    ['sdoc-2020', ['gait-speed']],
    ['sdoc-2020-bmi', ['gait-speed']],
  ])('%s asks for %j', (id, measures) => {
    const figures = newest(id).companions.flatMap(({ figure }: Json) => figure ?? []);
    expect(figures.map(({ measure }: Json) => measure)).toEqual(measures);
  });

  it('FNIH calls the band of its transcription intermediate', () => {
    const { male, female } = outsideSet('fnih-2014').intermediate_band_kg;
    const inWords = `${male.join(' to ')} kg in men and ${female.join(' to ')} kg in women was called intermediate`;
    const { meaning, doubts, rows } = newest('fnih-2014');
    expect(rows.map(({ sex, value, intermediateBelow }: Json) => [sex, value, intermediateBelow])).toEqual([
      ['male', ...male],
      ['female', ...female],
    ]);
    expect(meaning.remark).toBeNull();
    expect(doubts[0]).toContain(inWords);
    expect(CUT_POINTS.find(({ path }) => path.endsWith('fnih-2014/1.0.0.json'))?.file.meaning.remark).toBe(
      inWords,
    );
  });

  it('FNIH alone has such a band, and a panel reads its rows with the end of it', () => {
    const panel = loadLibrary(NORMS).findPanel('all-published')?.panel;
    const ends = panel?.sets.flatMap(({ ref, rows }) =>
      rows.flatMap(({ sex, intermediateBelow: end }) =>
        end === undefined ? [] : [[`${ref.id} ${ref.version}`, sex, `${end.num}/${end.den}`]],
      ),
    );
    expect(ends).toEqual([
      ['fnih-2014 1.1.0', 'male', '32/1'],
      ['fnih-2014 1.1.0', 'female', '20/1'],
    ]);
  });

  it('EWGSOP1 names gait speed in words, and says why it is not read', () => {
    const { companions, doubts } = newest('ewgsop1-2010');
    expect(companions.at(-1)).toEqual({
      name: 'gait speed',
      rule: 'at or below 0.8 m/s',
      use: 'low performance',
    });
    expect(doubts.join(' ')).toContain('named and not read');
  });

  it('EWGSOP2 alone speaks of chronic, from six months (Cruz-Jentoft 2019: acute is less than 6 months)', () => {
    const months = new Map(CUT_POINTS.map(({ path, file }) => [path, file.chronicFromMonths]));
    for (const [path, from] of months)
      expect(from, path).toBe(path === 'cut-points/ewgsop2-2019/1.1.0.json' ? 6 : undefined);
  });

  it('the 2001 criteria leave the one limit open on which the copies differ, and say between which', () => {
    const { male } = outside('frailty-fried');
    const open = male.find(({ grip }: Json) => grip === null);
    const row = newest('fried-2001').rows.find(({ value }: Json) => value === null);
    expect(row.note).toBe(`the copies differ: 30 or ${open.printedInOneCopy} kg`);
  });
});

/** Printed as a band; read as the mean less and plus one SD. */
describe('the bands of the 1986 table for children', () => {
  const given = outside('mathiowetz-1986-us-6-19').rows.filter(({ derivation }: Json) => derivation);

  it.each(given as Json[])('$sex $hand from $ageMin: $derivation', (row) => {
    const [low, high] = /band ([\d.]+)-([\d.]+) lb/.exec(row.derivation)?.slice(1).map(Number) ?? [];
    expect([((low ?? 0) + (high ?? 0)) / 2, ((high ?? 0) - (low ?? 0)) / 2].map((x) => x.toFixed(1))).toEqual(
      [row.mean, row.sd],
    );
    const released = TABLES.find(({ id }) => id === 'mathiowetz-1986-us-children')?.file.rows.find(
      (own: Json) => own.sex === row.sex && own.hand === row.hand && String(own.ageMin) === row.ageMin,
    );
    expect(released.note).toBe(
      `printed as the band ${low?.toFixed(1)} to ${high?.toFixed(1)} lb, read as mean less and plus one SD`,
    );
  });
});

it('the posture of the 1986 study is from memory, so that no posture is compared with it', () => {
  const file = TABLES.find(({ id }) => id === 'mathiowetz-1986-us-children')?.file;
  expect(file.protocol.posture).toContain('from memory, unverified');
  expect(file.built.posture).toBeNull();
});

it('the German bands hold the 25,285 observations of the paper, and 195 of 196 by height were seen', () => {
  const file = TABLES.find(({ id }) => id === 'steiber-2016-germany')?.file;
  expect(file.rows.reduce((sum: number, { n }: Json) => sum + n, 0)).toBe(25_285);
  const byHeight = TABLES.find(({ id }) => id === 'steiber-2016-germany-by-height')?.file;
  expect(byHeight.rows.filter(({ mean }: Json) => mean !== null)).toHaveLength(195);
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
  const given = outside('mathiowetz-1985-us-adults');
  const file = TABLES.findLast(({ id }) => id === 'mathiowetz-1985-us-adults')?.file;
  const bands = file.rows
    .filter((row: Json) => row.sex === 'male' && row.hand === hand)
    .map((row: Json) => {
      const { nRangeImpliedBySdAndSe: implied } = given.rows.find(
        (own: Json) => own.sex === 'male' && own.hand === 'right' && own.ageMin === String(row.ageMin),
      );
      return { mean: Number(row.mean), sd: Number(row.sd), n: (Number(implied[0]) + Number(implied[1])) / 2 };
    });
  const sum = (of: (band: Json) => number) =>
    bands.reduce((total: number, band: Json) => total + of(band), 0);
  const total = sum(({ n }) => n);
  const mean = sum((band) => band.n * band.mean) / total;
  const squares = sum((band) => (band.n - 1) * band.sd ** 2 + band.n * (band.mean - mean) ** 2);
  const printed = given.allAgesRow.find((row: Json) => row.sex === 'male' && row.hand === hand);

  it('is the pooled mean and SD of the bands', () => {
    expect(Math.abs(mean - Number(printed.mean))).toBeLessThan(0.25);
    expect(Math.abs(Math.sqrt(squares / (total - 1)) - Number(printed.sd))).toBeLessThan(0.1);
  });

  it('has the 310 men of the abstract', () => {
    expect(Math.abs(total - 310)).toBeLessThanOrEqual(bands.length / 2);
  });
});
