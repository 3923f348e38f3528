/** Limits of two sets side by side: what is in each line, what is marked, and what is refused. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NormsFault } from '../../src/reference/read-norms.ts';
import { compareSets, comparisonLines } from '../../src/terminal/compare-sets.ts';
import { NORMS } from '../interpret/build.ts';
import { fixedText } from '../interpret/fixed-point.ts';
import { alter, copyOfNorms, type Json } from '../reference/altered-norms.ts';

const library = loadLibrary(NORMS);
const compare = (a: string, b: string) => compareSets(library, a, b);

const US = 'mathiowetz-1985-us-adults';
const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';
const DOMINANT = 'nhanes-2011-2014-dominant-mean-of-3';
const BRITAIN = 'dodds-2014-great-britain';
const WORLD = 'tomkinson-2025-international';

/** The limit of a table in kilograms with two decimals, in whole numbers of 10^-10 kg; null where there is none. */
function limitKg(path: string, sex: string, hand: string, age: number): string | null {
  const { unit, rows }: Json = JSON.parse(readFileSync(join(NORMS, path), 'utf8'));
  const row = rows.find(
    (one: Json) =>
      one.sex === sex && one.hand === hand && one.ageMin <= age && (one.ageMax === null || age <= one.ageMax),
  );
  if (!row) return null;
  const hundredths = (figure: string) => BigInt(Math.round(Number(figure) * 100));
  const fine = (hundredths(row.mean) - 2n * hundredths(row.sd)) * (unit === 'lb' ? 45_359_237n : 10n ** 8n);
  // Half up: no limit of these tables is exactly on a half.
  return fixedText((fine + 5n * 10n ** 7n) / 10n ** 8n, 2);
}

describe('two tables', () => {
  it('have the limits of both for every age, sex and hand, pounds as kilograms', () => {
    const { lines, unit } = compare(US, SURVEY);
    expect(unit).toBe('kg');
    for (const sex of ['female', 'male']) {
      for (const hand of ['right', 'left']) {
        for (let age = 0; age <= 130; age += 1) {
          const found = lines.filter(
            (line) =>
              line.sex === sex &&
              line.hand === hand &&
              line.from <= age &&
              (line.to === null || age <= line.to),
          );
          expect(found.length).toBe(age < 6 ? 0 : 1);
          if (!found[0]) continue;
          expect([found[0].a?.limit ?? null, found[0].b?.limit ?? null], `${sex} ${hand} ${age}`).toEqual([
            limitKg(`tables/${US}/1.1.0.json`, sex, hand, age),
            limitKg(`tables/${SURVEY}/1.1.0.json`, sex, hand, age),
          ]);
        }
      }
    }
    expect(lines.every(({ hand }) => hand === 'right' || hand === 'left')).toBe(true);
  });

  it('of centiles and of exact ages are read as results read them', () => {
    const at = (age: number) =>
      compare(BRITAIN, WORLD).lines.find(
        ({ sex, from, to }) => sex === 'male' && from <= age && (to === null || age <= to),
      );
    // The 10th centile between 29 at 70 and 26 at 75; the 20th of ages 70 to 74.
    expect(at(72)).toMatchObject({
      from: 72,
      to: 72,
      a: { operator: '<', limit: '27.80' },
      b: { operator: '<', limit: '29.30' },
      difference: '1.50',
      changed: true,
    });
    expect(at(12)).toMatchObject({ a: { limit: null }, b: null, difference: null, changed: true });
    expect(at(91)).toMatchObject({ a: null, b: { limit: '19.20' } });
    expect(at(105)).toMatchObject({ from: 100, to: null, a: null });
  });

  it('say by which rule each is read', () => {
    const [, a, b] = comparisonLines(compare(BRITAIN, 'steiber-2016-germany'));
    expect(a).toBe(
      `A: ${BRITAIN} 1.0.0, highest-of-either-hand, read by below-10th-centile 1.0.0 as in its worked examples`,
    );
    expect(b).toBe(
      'B: steiber-2016-germany 1.0.0, summary not stated, read by one-sd-below-mean 1.0.0 as in its worked examples',
    );
  });

  it('with a dominant hand have columns of their own for it', () => {
    const { lines } = compare(DOMINANT, SURVEY);
    expect(new Set(lines.map(({ hand }) => hand))).toEqual(
      new Set(['right', 'left', 'dominant', 'nondominant']),
    );
    for (const { hand, a, b } of lines) {
      const isOwn = hand === 'dominant' || hand === 'nondominant';
      expect([a !== null, b !== null]).toEqual([isOwn, !isOwn]);
    }
    const text = comparisonLines(compare(DOMINANT, DOMINANT));
    expect(text.filter((line) => / other +\d/.test(line)).length).toBeGreaterThan(30);
  });

  it('over height squared are compared in kg/m2', () => {
    const ratio = 'nhanes-2011-2014-best-over-height-squared';
    const comparison = compare(ratio, ratio);
    expect(comparison.unit).toBe('kg/m2');
    expect(comparisonLines(comparison)[0]).toBe('Limits in kg/m2: what counts as reduced.');
  });
});

describe('cut-points', () => {
  it('beside a table repeat the limit of the person for each hand', () => {
    for (const [table, hands] of [
      [US, ['right', 'left']],
      [DOMINANT, ['dominant', 'nondominant']],
    ] as const) {
      const { lines } = compare('ewgsop2-2019', table);
      expect(new Set(lines.map(({ hand }) => hand))).toEqual(new Set(hands));
      for (const { sex, a } of lines) expect(a?.limit).toBe(sex === 'male' ? '27.00' : '16.00');
    }
  });

  it('have the sign of B less A: the other way round it is the other sign', () => {
    const differences = (a: string, b: string) => compare(a, b).lines.map(({ difference }) => difference);
    expect(differences('ewgsop2-2019', 'sdoc-2020')).toEqual(['4.00', '8.50']);
    expect(differences('sdoc-2020', 'ewgsop2-2019')).toEqual(['-4.00', '-8.50']);
    expect(differences('fnih-2014', 'fnih-2014')).toEqual(['0.00', '0.00']);
  });
});

describe('two versions of one set', () => {
  it('count the limits that differ: none where no figure was changed', () => {
    const same = compare(`${US}@1.0.0`, US);
    expect([same.a.version, same.b.version, same.changed, same.lines.length]).toEqual([
      '1.0.0',
      '1.1.0',
      0,
      48,
    ]);
    const text = comparisonLines(same);
    expect(text.at(-1)).toBe('0 of 48 limits differ.');
    expect(text.filter((line) => line.startsWith('*'))).toEqual([]);
  });

  it('mark a figure however little it changed, a strictness, and a figure that is no longer known', () => {
    const folder = copyOfNorms();
    const path = 'cut-points/awgs-2025/1.1.0.json';
    const change = (file: Json) => {
      file.version = '1.2.0';
      const of = (sex: string, age: number) =>
        file.rows.find((row: Json) => row.sex === sex && row.ageMin === age);
      of('male', 50).value = '34.001';
      of('female', 50).operator = '<=';
      of('male', 65).value = null;
      const isOf = ({ given }: Json) => given.sex === 'female' && given.ageYears >= 65;
      const [example] = file.examples.filter(isOf);
      file.examples = [example, example];
    };
    alter(folder, path, change, path.replace('1.1.0', '1.2.0'));
    const comparison = compareSets(loadLibrary(folder), 'awgs-2025@1.1.0', 'awgs-2025');
    expect(comparisonLines(comparison).slice(4)).toEqual([
      '   sex     hand    age    A        B         B - A',
      '*  female  either  50-64  < 20.00  <= 20.00  0.00',
      '   female  either  65+    < 18.00  < 18.00   0.00',
      '*  male    either  50-64  < 34.00  < 34.00   0.00',
      '*  male    either  65+    < 28.00  -',
      '',
      '3 of 4 limits differ.',
    ]);
  });

  it('that are both without a figure do not differ in it', () => {
    const same = compare(BRITAIN, BRITAIN);
    expect(same.changed).toBe(0);
    expect(same.lines.find(({ from }) => from === 7)).toMatchObject({ a: { limit: null }, changed: false });
  });
});

describe('refused is', () => {
  it.each([
    [
      'fnih-2014-bmi',
      'fnih-2014',
      'fnih-2014-bmi compares grip over body mass index, fnih-2014 grip: their limits cannot be put side by side',
    ],
    [
      US,
      'nhanes-2011-2014-best-over-height-squared',
      `${US} compares grip, nhanes-2011-2014-best-over-height-squared grip over height squared: their limits cannot be put side by side`,
    ],
    [
      'awgs-2025',
      'fried-2001',
      'fried-2001 has limits by body mass index, not one for each age, so it cannot be compared; see: references show fried-2001',
    ],
    [
      'steiber-2016-germany-by-height',
      US,
      'steiber-2016-germany-by-height has limits by height, not one for each age, so it cannot be compared; see: references show steiber-2016-germany-by-height',
    ],
    ['two-sd-below-mean', US, 'two-sd-below-mean is a rule: only tables and cut-points can be compared'],
    ['awgs-2019', 'child-us', 'child-us is a panel: only tables and cut-points can be compared'],
    ['nobody', US, 'there is no reference set nobody; see: references list'],
    ['awgs-2019@9.0.0', US, 'there is no reference set awgs-2019 9.0.0; see: references list'],
  ])('%s beside %s', (a, b, message) => {
    expect(() => compare(a, b)).toThrow(new NormsFault(message));
  });
});
