/** Rows that do not fit together, and what becomes of exact ages, of unknown figures and of a printed mean less one SD. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compare, exact, toDecimalText } from '../../src/interpret/exact.ts';
import type { LimitRow } from '../../src/interpret/reference-set.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import type { Release } from '../../src/reference/read-norms.ts';
import { cutPointsAlone, tableAlone } from '../../src/reference/ready-alone.ts';
import { type ReadingRule, readyTable } from '../../src/reference/ready-table.ts';
import type { RuleFile } from '../../src/reference/rule-forms.ts';
import type { CutPointsFile, TableFile } from '../../src/reference/schema.ts';
import { NORMS } from '../interpret/build.ts';
import type { Json } from './altered-norms.ts';

const { releases } = loadLibrary(NORMS);

/** The first release of an id, or of the version given. */
function release<F>(all: readonly Release<F>[], id: string, version = '1.0.0'): Release<F> {
  const found = all.find(({ ref }) => ref.id === id && ref.version === version);
  if (!found) throw new Error(`no ${id}`);
  return found;
}

function rule(id: string, change: (parameters: Json) => void = () => undefined): ReadingRule {
  const found = structuredClone(release<RuleFile>(releases.rules, id));
  change(found.file.parameters);
  return found as ReadingRule;
}

/** A released table with something changed, as it would be read. */
function changedTable(id: string, change: (file: Json) => void): Release<TableFile> {
  const copy = structuredClone(release(releases.tables, id));
  change(copy.file);
  return copy;
}

function changedCutPoints(id: string, change: (file: Json) => void): Release<CutPointsFile> {
  const copy = structuredClone(release(releases.cutPoints, id));
  change(copy.file);
  return copy;
}

const ADULTS = 'mathiowetz-1985-us-adults';
const BY_HEIGHT = 'steiber-2016-germany-by-height';
const CENTILES = 'tomkinson-2025-international';
const EXACT_AGES = 'dodds-2014-great-britain';
const DOMINANT = 'nhanes-2011-2014-dominant-mean-of-3';

const twoSd = rule('two-sd-below-mean');
const oneSd = rule('one-sd-below-mean');
const tenth = rule('below-10th-centile');
const fifths = rule('quintile-bands');

describe('ages and columns of a table', () => {
  const read = (change: (rows: Json[]) => void, id = ADULTS) =>
    tableAlone(
      changedTable(id, (file) => change(file.rows)),
      twoSd,
    );
  const where = `norms/tables/${ADULTS}/1.0.0.json`;

  it('are read as released', () => {
    expect(read(() => undefined).rows).toHaveLength(48);
  });

  it.each<[string, (rows: Json[]) => void, string]>([
    [
      'two bands overlap',
      (rows) => Object.assign(rows[0], { ageMax: 25 }),
      'male right bands from 20 and 25 overlap or leave a gap',
    ],
    [
      'a year lies between two bands',
      (rows) => Object.assign(rows[13], { ageMax: 28 }),
      'male left bands from 25 and 30 overlap or leave a gap',
    ],
    [
      'an open band is not the last',
      (rows) => Object.assign(rows[3], { ageMax: null }),
      'male right bands from 35 and 40 overlap or leave a gap',
    ],
    [
      'a row is there twice',
      (rows) => rows.push({ ...rows[0] }),
      'male right bands from 20 and 20 overlap or leave a gap',
    ],
    [
      'two rows begin at one age and end at others',
      (rows) => rows.push({ ...rows[0], ageMax: 22 }),
      'male right bands from 20 and 20 overlap or leave a gap',
    ],
    [
      'a column begins later than the rest',
      (rows) => rows.shift(),
      'columns cover different ages (20 to null; 25 to null)',
    ],
    [
      'a column ends before the rest',
      (rows) => Object.assign(rows[11], { ageMax: 94 }),
      'columns cover different ages (20 to null; 20 to 94)',
    ],
    [
      'a sex is missing',
      (rows) => rows.splice(0, rows.length, ...rows.filter((row) => row.sex === 'male')),
      'female right is missing',
    ],
    [
      'a hand is missing',
      (rows) => rows.splice(0, rows.length, ...rows.filter((row) => row.hand === 'right')),
      'female left is missing',
    ],
    [
      'there is a hand that the summary does not have',
      (rows) => rows.push({ ...rows[0], hand: null }),
      'has rows of a hand that its summary does not have',
    ],
    [
      'a dominant hand stands in a table of right and left',
      (rows) => rows.push({ ...rows[0], hand: 'dominant' }),
      'has rows of a hand that its summary does not have',
    ],
    [
      'a band ends before it begins',
      (rows) => Object.assign(rows[11], { ageMax: 60 }),
      'male right from 75: ends before it begins',
    ],
    [
      'a limit is zero',
      (rows) => Object.assign(rows[0], { sd: '60.5' }),
      'male right from 20: the limit is not above zero',
    ],
    [
      'a limit is below zero',
      (rows) => Object.assign(rows[0], { sd: '70' }),
      'male right from 20: the limit is not above zero',
    ],
    ['an SD is zero', (rows) => Object.assign(rows[0], { sd: '0.0' }), 'male right from 20: SD is zero'],
  ])('are refused where %s', (_what, change, message) => {
    expect(() => read(change)).toThrow(message);
    expect(() => read(change)).toThrow(where);
  });

  it('of the dominant hand alone are a whole table, but not of the other hand alone', () => {
    const keep = (hand: string) => (rows: Json[]) =>
      rows.splice(0, rows.length, ...rows.filter((row) => row.hand === hand));
    expect(new Set(read(keep('dominant'), DOMINANT).rows.map(({ hand }) => hand))).toEqual(
      new Set(['dominant']),
    );
    expect(() => read(keep('nondominant'), DOMINANT)).toThrow('female dominant is missing');
    expect(() => read((rows) => rows.shift(), DOMINANT)).toThrow('columns cover different ages');
  });

  it('of the person have no hand', () => {
    const id = 'nhanes-2011-2014-best-either-hand';
    expect(() => read((rows) => Object.assign(rows[0], { hand: 'right' }), id)).toThrow(
      /columns cover different ages|a hand that its summary does not have/,
    );
  });
});

describe('strata', () => {
  const heights = (change: (rows: Json[]) => void) =>
    tableAlone(
      changedTable(BY_HEIGHT, (file) => change(file.rows)),
      oneSd,
    );
  const bmi = (change: (rows: Json[]) => void) =>
    cutPointsAlone(changedCutPoints('fried-2001', (file) => change(file.rows)));
  const bounds = (row: Json, change: Json) => Object.assign(row.stratum, change);

  it('of cut-points are refused where a band ends before it begins, not left out', () => {
    expect(() => bmi((rows) => Object.assign(rows[0], { ageMax: 49 }))).toThrow(
      /ends before it begins|overlap or leave a gap/,
    );
  });

  it.each([['24.0', '23.9'] as const])('are refused where one from %s ends at %s', (min, max) => {
    expect(() => bmi((rows) => bounds(rows[0], { min, max }))).toThrow('ends before it begins');
  });

  it('are read as released, heights and body mass indices', () => {
    expect(heights(() => undefined).rows[0]?.stratum).toEqual({
      by: 'height',
      min: '160',
      max: '164',
      digits: 0,
    });
    expect(bmi(() => undefined).rows[1]?.stratum).toEqual({ by: 'bmi', min: '24.1', max: '26.0', digits: 1 });
  });

  it.each<[string, () => unknown, string]>([
    [
      'two heights overlap',
      () => heights((rows) => bounds(rows[0], { max: '165' })),
      'male either hand from 17: strata from 160 and 165 overlap or leave a gap',
    ],
    [
      'a height lies between two',
      () => heights((rows) => bounds(rows[1], { min: '166' })),
      'male either hand from 17: strata from 160 and 166 overlap or leave a gap',
    ],
    [
      'a height is there twice',
      () => heights((rows) => rows.push(structuredClone(rows[2]))),
      'male either hand from 17: strata from 170 and 170 overlap or leave a gap',
    ],
    [
      'one in the middle has no upper end',
      () => heights((rows) => bounds(rows[2], { max: null })),
      'strata from 170 and 175 overlap or leave a gap',
    ],
    [
      'two indices overlap by a tenth',
      () => bmi((rows) => bounds(rows[0], { max: '24.1' })),
      'male dominant from 65: strata from below and 24.1 overlap or leave a gap',
    ],
    [
      'a tenth lies between two indices',
      () => bmi((rows) => bounds(rows[1], { min: '24.2' })),
      'strata from below and 24.2 overlap or leave a gap',
    ],
    [
      'neighbours are by height and by index',
      () => bmi((rows) => bounds(rows[1], { by: 'height' })),
      'strata from below and 24.1 overlap or leave a gap',
    ],
    [
      'neighbours are printed to other decimals',
      () => bmi((rows) => bounds(rows[1], { digits: 0 })),
      'overlap or leave a gap',
    ],
  ])('are refused where %s', (_what, read, message) => {
    expect(read).toThrow(message);
  });

  it('are refused where some rows of an age have one and some have none', () => {
    const without = (index: number) => () => heights((rows) => delete rows[index].stratum);
    expect(without(3)).toThrow('male either hand from 17: some rows have a stratum and some do not');
    expect(without(0)).toThrow('male either hand bands from 17 and 17 overlap or leave a gap');
  });
});

describe('centiles', () => {
  const read = (change: (rows: Json[]) => void, by = fifths) =>
    tableAlone(
      changedTable(CENTILES, (file) => change(file.rows)),
      by,
    );

  it('are read lowest first, with the limit among them', () => {
    const [row] = read(() => undefined).rows;
    expect(row?.centiles?.map(({ rank, value }) => [rank, toDecimalText(value, 1)]).slice(0, 3)).toEqual([
      [5, '33.9'],
      [10, '36.8'],
      [20, '40.5'],
    ]);
    expect(row?.limit && toDecimalText(row.limit, 1)).toBe('40.5');
    expect(row?.norm).toBeNull();
  });

  it('may be equal, and are refused where they fall', () => {
    expect(read((rows) => Object.assign(rows[0].percentiles, { 10: '40.5' })).rows).toHaveLength(34);
    expect(() => read((rows) => Object.assign(rows[0].percentiles, { 10: '40.6' }))).toThrow(
      `norms/tables/${CENTILES}/1.0.0.json: male either hand from 20: centile 20 is below centile 10`,
    );
  });

  it('are refused where the one that the rule reads is not printed', () => {
    expect(() => read((rows) => delete rows[5].percentiles[20])).toThrow(
      'male from 45 has no centile 20 to be read by',
    );
    expect(() => read(() => undefined, rule('below-25th-centile'))).toThrow(
      'has no centile 25 to be read by',
    );
  });

  it('are refused where a range of the rule ends at one that is not printed', () => {
    expect(() => read((rows) => delete rows[5].percentiles[60])).toThrow(
      'male from 45 lacks a centile at which a range of its rule ends',
    );
    const other = rule('quintile-bands', ({ bands }) => Object.assign(bands[1], { below: 45 }));
    expect(() => read(() => undefined, other)).toThrow('lacks a centile at which a range of its rule ends');
  });

  it('that are not known give a row without a limit, which is no fault', () => {
    const [row] = read((rows) => delete rows[0].percentiles).rows;
    expect(row).toMatchObject({ limit: null, norm: null, centiles: undefined });
  });
});

describe('a mean or SD that is not known', () => {
  it.each(['mean', 'sd'])('gives a row without a limit: %s', (cell) => {
    const table = changedTable(ADULTS, (file) =>
      Object.assign(file.rows[0], { [cell]: null, note: 'not seen' }),
    );
    const [row, next] = tableAlone(table, twoSd).rows;
    expect(row).toMatchObject({ limit: null, norm: null, note: 'not seen', ageMin: 20, ageMax: 24 });
    expect(next?.limit).not.toBeNull();
  });

  it('is the SD that the source prints as the mean less one SD', () => {
    const rowOf = (by: ReadingRule) =>
      tableAlone(
        changedTable(BY_HEIGHT, () => undefined),
        by,
      ).rows[0];
    // 44.6 less 34.9: SD 9.7.
    expect(rowOf(oneSd)?.norm).toEqual({ mean: '44.6', sd: '9.7' });
    expect(compare(rowOf(oneSd)?.limit ?? exact('0'), exact('34.9'))).toBe(0);
    expect(compare(rowOf(twoSd)?.limit ?? exact('0'), exact('25.2'))).toBe(0);
  });

  it('keeps the decimals of the longer of the two figures, and the SD where it is printed', () => {
    const sdOf = (cells: Json) =>
      tableAlone(
        changedTable(BY_HEIGHT, (file) => Object.assign(file.rows[0], cells)),
        oneSd,
      ).rows[0]?.norm?.sd;
    expect(sdOf({ mean: '44', oneSdBelow: '34.95' })).toBe('9.05');
    expect(sdOf({ mean: '44.60', oneSdBelow: '34.6' })).toBe('10.00');
    expect(sdOf({ mean: '44', oneSdBelow: '34' })).toBe('10');
    expect(sdOf({ sd: '8.4' })).toBe('8.4');
    expect(() => sdOf({ mean: '34.9', oneSdBelow: '34.9' })).toThrow('SD is zero');
  });
});

/** A table of one printed column per sex, at the ages given; an absent figure is one that is not known. */
function exactAges(
  ages: readonly number[],
  figures: readonly (readonly [string, string] | null)[],
): Release<TableFile> {
  return changedTable(EXACT_AGES, (file) => {
    file.rows = ['male', 'female'].flatMap((sex) =>
      ages.map((age, index) => {
        const known = figures[index];
        const percentiles = known
          ? { percentiles: { 10: known[0], 50: known[1] } }
          : { note: `not seen ${age}` };
        const shared = { ageMin: age, ageMax: age, sex, hand: null, mean: null, sd: null, n: null };
        return { ...shared, ...percentiles, verification: 'two-sources' };
      }),
    );
  });
}

describe('exact ages', () => {
  const released = tableAlone(release(releases.tables, EXACT_AGES), tenth);
  const men = released.rows.filter(({ sex }) => sex === 'male');
  const at = (age: number) => men.find(({ ageMin }) => ageMin === age);

  it('become one row for each completed year, from the first printed age to the last', () => {
    expect(men.map(({ ageMin }) => ageMin)).toEqual(Array.from({ length: 86 }, (_, year) => 5 + year));
    expect(men.every(({ ageMin, ageMax }) => ageMin === ageMax)).toBe(true);
  });

  it('keep the printed figures at the printed ages, and lie on the line between', () => {
    expect(at(70)).not.toHaveProperty('betweenAges');
    expect(toDecimalText(at(70)?.limit ?? exact('0'), 3)).toBe('29.000');
    // 29 at 70 and 26 at 75.
    expect([71, 72, 73, 74].map((age) => toDecimalText(at(age)?.limit ?? exact('0'), 3))).toEqual([
      '28.400',
      '27.800',
      '27.200',
      '26.600',
    ]);
    expect(at(72)?.betweenAges).toEqual([70, 75]);
  });

  it('say nothing beside an age that is not known, and say why', () => {
    for (const age of [5, 6, 9, 10, 12, 14]) {
      expect(at(age), `${age}`).toMatchObject({ limit: null, note: 'printed in the paper; not seen' });
      expect(at(age)?.centiles).toBeUndefined();
    }
    expect(at(15)?.limit).not.toBeNull();
  });

  it('between a proven and an unproven age are unproven', () => {
    // Men of 15 rest on one transcription, men of 20 on two.
    expect([15, 17, 20].map((age) => [at(age)?.verification, at(age)?.unproven])).toEqual([
      ['one-source', true],
      ['one-source', true],
      ['two-sources', undefined],
    ]);
    const turned = structuredClone(release(releases.tables, EXACT_AGES));
    const late = turned.file.rows.find(({ sex, ageMin }) => sex === 'male' && ageMin === 25) as Json;
    late.verification = 'one-source';
    const between = tableAlone(turned, tenth).rows.find(({ sex, ageMin }) => sex === 'male' && ageMin === 22);
    expect(between).toMatchObject({ verification: 'one-source', unproven: true });
  });

  it('are read in any order of the rows', () => {
    const mixed = changedTable(EXACT_AGES, (file) => file.rows.reverse());
    const sorted = (rows: readonly LimitRow[]) =>
      rows.toSorted((a, b) => a.sex.localeCompare(b.sex) || a.ageMin - b.ageMin);
    expect(sorted(tableAlone(mixed, tenth).rows)).toEqual(sorted(released.rows));
  });

  it('start at the age of a panel, also between two printed ages', () => {
    const rows = readyTable(release(releases.tables, EXACT_AGES), tenth, { ageMin: 72 }).rows;
    expect(rows.find(({ sex }) => sex === 'male')).toMatchObject({
      ageMin: 72,
      ageMax: 72,
      betweenAges: [70, 75],
    });
  });

  const figure = fc
    .tuple(fc.integer({ min: 1, max: 400 }), fc.integer({ min: 0, max: 400 }))
    .map(([low, more]) => [(low / 10).toFixed(1), ((low + more) / 10).toFixed(1)] as const);
  const printed = fc
    .uniqueArray(fc.integer({ min: 0, max: 110 }), { minLength: 2, maxLength: 7 })
    .map((ages) => ages.sort((a, b) => a - b))
    .chain((ages) =>
      fc.tuple(
        fc.constant(ages),
        fc.array(fc.option(figure, { freq: 4 }), { minLength: ages.length, maxLength: ages.length }),
      ),
    );

  it('lie exactly on the line between the two printed ages around them, in every centile', () => {
    const inTenths = (text: string) => BigInt(Math.round(Number(text) * 10));
    fc.assert(
      fc.property(printed, ([ages, figures]) => {
        const rows = tableAlone(exactAges(ages, figures), tenth).rows.filter(({ sex }) => sex === 'female');
        const [first = 0, last = 0] = [ages[0], ages.at(-1)];
        expect(rows.map(({ ageMin }) => ageMin)).toEqual(
          Array.from({ length: last - first + 1 }, (_, year) => first + year),
        );
        for (const { ageMin: age, centiles, limit, betweenAges } of rows) {
          const after = ages.findIndex((each) => each >= age);
          const isPrinted = ages[after] === age;
          const [from, to] = isPrinted ? [after, after] : [after - 1, after];
          const ends = [figures[from], figures[to]] as const;
          expect(betweenAges).toEqual(isPrinted ? undefined : [ages[from], ages[to]]);
          if (!ends[0] || !ends[1]) {
            expect({ limit, centiles }).toEqual({ limit: null, centiles: undefined });
            continue;
          }
          const years = isPrinted ? 1n : BigInt((ages[to] ?? 0) - (ages[from] ?? 0));
          const past = BigInt(age - (ages[from] ?? 0));
          for (const column of [0, 1] as const) {
            const [a, b] = [inTenths(ends[0][column]), inTenths(ends[1][column])];
            // a/10 + (past/years) (b - a)/10, as one fraction.
            const expected = { num: a * years + past * (b - a), den: 10n * years };
            const value = centiles?.[column]?.value ?? exact('0');
            expect(value.num * expected.den).toBe(expected.num * value.den);
          }
          expect(limit).toEqual(centiles?.[0]?.value);
        }
      }),
      { numRuns: 300 },
    );
  });
});
