/** Rows that do not fit together, and what becomes of unknown figures and of a printed mean less one SD. */
import { describe, expect, it } from 'vitest';
import { compare, exact, toDecimalText } from '../../src/interpret/exact.ts';
import { tableAlone } from '../../src/reference/ready-alone.ts';
import type { ReadingRule } from '../../src/reference/ready-table.ts';
import type { Json } from './altered-norms.ts';
import {
  ADULTS,
  BY_HEIGHT,
  CENTILES,
  changedTable,
  DOMINANT,
  fifths,
  oneSd,
  rule,
  twoSd,
} from './changed-sets.ts';

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
