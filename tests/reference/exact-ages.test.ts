/** Figures printed for exact ages: one row for each completed year, on the line between two of them. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { exact, toDecimalText } from '../../src/interpret/exact.ts';
import type { LimitRow } from '../../src/interpret/reference-set.ts';
import type { Release } from '../../src/reference/read-norms.ts';
import { tableAlone } from '../../src/reference/ready-alone.ts';
import { readyTable } from '../../src/reference/ready-table.ts';
import type { TableFile } from '../../src/reference/schema.ts';
import type { Json } from './altered-norms.ts';
import { changedTable, EXACT_AGES, release, releases, tenth } from './changed-sets.ts';

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
