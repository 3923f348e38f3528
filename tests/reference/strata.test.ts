/** Strata by height or body mass index that do not fit together, and cut-points whose bands do not. */
import { describe, expect, it } from 'vitest';
import { cutPointsAlone, tableAlone } from '../../src/reference/ready-alone.ts';
import type { Json } from './altered-norms.ts';
import { BY_HEIGHT, changedCutPoints, changedTable, oneSd } from './changed-sets.ts';

describe('strata', () => {
  const heights = (change: (rows: Json[]) => void) =>
    tableAlone(
      changedTable(BY_HEIGHT, (file) => change(file.rows)),
      oneSd,
    );
  const bmi = (change: (rows: Json[]) => void) =>
    cutPointsAlone(changedCutPoints('fried-2001', (file) => change(file.rows)));
  const bounds = (row: Json, change: Json) => Object.assign(row.stratum, change);
  const forSex = (rows: Json[], sex: string, change: Json) =>
    rows.filter((row) => row.sex === sex).map((row) => bounds(row, change));

  it('of cut-points are refused where a band ends before it begins, not left out', () => {
    expect(() => bmi((rows) => Object.assign(rows[0], { ageMax: 49 }))).toThrow(
      /ends before it begins|overlap or leave a gap/,
    );
    const last = (sex: string) => (file: Json) =>
      Object.assign(
        file.rows.findLast((row: Json) => row.sex === sex),
        { ageMax: 60 },
      );
    for (const sex of ['male', 'female'])
      expect(() => cutPointsAlone(changedCutPoints('awgs-2025', last(sex)))).toThrow(
        `norms/cut-points/awgs-2025/1.0.0.json: ${sex} either hand from 65: ends before it begins`,
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
      'its strata are not all by one measure with the same decimals',
    ],
    [
      'neighbours are printed to other decimals',
      () => bmi((rows) => bounds(rows[1], { digits: 0 })),
      'its strata are not all by one measure with the same decimals',
    ],
    [
      'those of one sex are by another measure than those of the other',
      () => bmi((rows) => forSex(rows, 'female', { by: 'height' })),
      'norms/cut-points/fried-2001/1.0.0.json: its strata are not all by one measure with the same decimals',
    ],
    [
      'those of one sex are rounded to other decimals than those of the other',
      () => bmi((rows) => forSex(rows, 'female', { digits: 2 })),
      'its strata are not all by one measure with the same decimals',
    ],
    [
      'the decimals of all are fewer than those of an end',
      () => bmi((rows) => rows.map((row) => bounds(row, { digits: 0 }))),
      'norms/cut-points/fried-2001/1.0.0.json: the end 24.0 of a stratum has more decimals than its digits',
    ],
    [
      'one upper end has more decimals than the rest',
      () => heights((rows) => bounds(rows[0], { max: '164.5' })),
      'the end 164.5 of a stratum has more decimals than its digits',
    ],
    [
      'one lower end has more decimals than the rest',
      () => heights((rows) => bounds(rows[1], { min: '164.5' })),
      'the end 164.5 of a stratum has more decimals than its digits',
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
