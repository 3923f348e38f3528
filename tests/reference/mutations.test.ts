/**
 * Would a wrong figure be seen? Every cell of every released set is changed, one at a time, in a copy that is
 * locked anew, so that no digest gives it away. Three may notice: the loader (form, bands, worked examples), the
 * transcriptions of tests/outside, and the limits of those transcriptions in whole numbers.
 */
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { compare, exact } from '../../src/interpret/exact.ts';
import { type LimitRow, limitBelowMean } from '../../src/interpret/reference-set.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { NormsFault } from '../../src/reference/read-norms.ts';
import { readyCutPoints, readyTable, type SdRule } from '../../src/reference/ready-set.ts';
import type { CutPointsFile, TableFile } from '../../src/reference/schema.ts';
import { NORMS } from '../interpret/build.ts';
import { fixedText } from '../interpret/fixed-point.ts';
import { alter, copyOfNorms, faultOf, type Json, relock, sha256 } from './altered-norms.ts';
import { cutPointRows, differencesFromOutside, OUTSIDE_TABLES, outsideSet } from './outside.ts';

const RULE = 'rules/two-sd-below-mean/1.0.0.json';
const { releases } = loadLibrary(NORMS);

interface Copy {
  /** Who notices that the file is as given. */
  noticedBy(file: Json): readonly string[];
}

/** Norms with this one set and the rule that tables are read by, removed when the test ends. */
function copyWith(path: string): Copy {
  const folder = mkdtempSync(join(tmpdir(), 'norms-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  for (const each of [path, RULE]) {
    mkdirSync(dirname(join(folder, each)), { recursive: true });
    cpSync(join(NORMS, each), join(folder, each));
  }
  for (const empty of ['tables', 'cut-points', 'panels']) mkdirSync(join(folder, empty), { recursive: true });
  relock(folder);
  const lock = JSON.parse(readFileSync(join(folder, 'lock.json'), 'utf8')) as Record<string, string>;
  return {
    noticedBy(file) {
      writeFileSync(join(folder, path), JSON.stringify(file));
      writeFileSync(
        join(folder, 'lock.json'),
        JSON.stringify({ ...lock, [path]: sha256(join(folder, path)) }),
      );
      const loaded = limitsAsLoaded(folder);
      return [
        ...(loaded ? [] : ['loader']),
        ...(differencesFromOutside(file).length > 0 ? ['transcription'] : []),
        ...(loaded && !sameLimits(loaded, file) ? ['limits'] : []),
      ];
    },
  };
}

/** The rows as results would read them; undefined when the loader refuses the folder. */
function limitsAsLoaded(folder: string): readonly LimitRow[] | undefined {
  try {
    const { tables, cutPoints, rules } = loadLibrary(folder).releases;
    const [table] = tables;
    if (table) return readyTable(table, rules[0] as SdRule).rows;
    const [set] = cutPoints;
    return set && readyCutPoints(set, 0, 'highest-of-either-hand').rows;
  } catch (fault) {
    if (fault instanceof NormsFault) return undefined;
    throw fault;
  }
}

/** By the transcription, each limit a whole number of tenths or hundredths: mean less twice the SD. */
function sameLimits(loaded: readonly LimitRow[], file: TableFile | CutPointsFile): boolean {
  const expected = new Map(file.kind === 'table' ? tableLimits(file.id) : cutPointLimits(file.id));
  return (
    loaded.length === expected.size &&
    loaded.every((row) => {
      const limit = expected.get(keyOf({ ...row, ageMin: row.ageMin || null }));
      return limit !== undefined && compare(row.limit, exact(limit)) === 0;
    })
  );
}

const keyOf = (row: { sex: string; hand: string | null; ageMin: number | null; operator: string }) =>
  `${row.sex} ${row.hand} ${row.ageMin} ${row.operator}`;

function tableLimits(id: string): readonly [string, string][] {
  const { given, decimals } = OUTSIDE_TABLES[id] ?? { given: { rows: [] }, decimals: 0 };
  const whole = (figure: number) => BigInt(Math.round(figure * 10 ** decimals));
  return given.rows.map((row) => [
    keyOf({ ...row, operator: '<=' }),
    fixedText(whole(row.mean) - 2n * whole(row.sd), decimals),
  ]);
}

function cutPointLimits(id: string): readonly [string, string][] {
  const given = outsideSet(id);
  return (given ? cutPointRows(given) : []).map((row) => [keyOf({ ...row, hand: null }), row.value]);
}

/** One changed figure: where, and the row with it. */
interface Mutant {
  readonly what: string;
  readonly row: Json;
}

/** The figure with one digit changed, for each digit. */
function digitsChanged(figure: string): readonly string[] {
  return [...figure].flatMap((digit, index) =>
    digit === '.' ? [] : [figure.slice(0, index) + ((Number(digit) + 1) % 10) + figure.slice(index + 1)],
  );
}

const OTHERS: Readonly<Record<string, readonly Json[]>> = {
  female: ['male'],
  male: ['female'],
  right: ['left', null],
  left: ['right', null],
  '<': ['<='],
  '<=': ['<'],
};

/** What a cell might be by mistake. */
function changesOf(cell: string, value: Json): readonly Json[] {
  if (cell === 'verification') return [];
  if (cell === 'ageMin' || cell === 'ageMax')
    return value === null ? [49, 99] : [value + 1, value - 1, cell === 'ageMax' ? null : value + 10];
  if (cell === 'hand' && value === null) return ['right', 'left'];
  if (cell === 'n') return value === null ? [100] : [value + 1, null];
  return OTHERS[value] ?? digitsChanged(value);
}

function mutantsOf(row: Json, where: string): readonly Mutant[] {
  const { percentiles = {}, ...cells } = row;
  const inCells = Object.entries<Json>(cells).flatMap(([cell, value]) =>
    changesOf(cell, value).map((changed) => ({
      what: `${where} ${cell} ${value} -> ${changed}`,
      row: { ...row, [cell]: changed },
    })),
  );
  const inPercentiles = Object.entries<string>(percentiles).flatMap(([rank, value]) =>
    digitsChanged(value).map((changed) => ({
      what: `${where} percentile ${rank} ${value} -> ${changed}`,
      row: { ...row, percentiles: { ...percentiles, [rank]: changed } },
    })),
  );
  return [...inCells, ...inPercentiles];
}

const SETS = [...releases.tables, ...releases.cutPoints].map((set) => [set.ref.id, set] as const);

describe.each(SETS)('%s', (_id, { path, file }) => {
  it('is noticed by nobody as it was released', () => {
    expect(copyWith(path).noticedBy(file)).toEqual([]);
  });

  it('with any one figure changed is noticed', () => {
    const copy = copyWith(path);
    const missed: string[] = [];
    let changed = 0;
    for (const [index, row] of file.rows.entries()) {
      for (const mutant of mutantsOf(row, `row ${index + 1}`)) {
        changed += 1;
        const rows = file.rows.with(index, mutant.row);
        // Loading takes milliseconds: it is asked where the comparison sees nothing, and below.
        if (differencesFromOutside({ ...file, rows } as TableFile).length > 0) continue;
        if (copy.noticedBy({ ...file, rows }).length === 0) missed.push(mutant.what);
      }
    }
    expect(missed).toEqual([]);
    expect(changed).toBeGreaterThan(file.rows.length * 6);
  });

  it('with a mean, an SD or a limit changed has other limits than the transcription in whole numbers, or does not load', () => {
    const copy = copyWith(path);
    for (const [index, row] of file.rows.entries()) {
      for (const cell of ['mean', 'sd', 'value', 'operator'].filter((name) => name in row)) {
        const value: string = (row as Json)[cell];
        const changed = changesOf(cell, value).at(-1);
        const rows = file.rows.with(index, { ...row, [cell]: changed } as never);
        const by = copy.noticedBy({ ...file, rows });
        expect(by, `row ${index + 1} ${cell} ${value} -> ${changed}`).toContain('transcription');
        expect(by.includes('limits') || by.includes('loader'), `row ${index + 1} ${cell}`).toBe(true);
      }
    }
  });

  it('with a sex, a hand or the end of a band changed is refused by the loader', () => {
    const copy = copyWith(path);
    for (const [index, row] of file.rows.entries()) {
      for (const cell of ['sex', 'hand', 'ageMin', 'ageMax'].filter((name) => name in row)) {
        const value: Json = (row as Json)[cell];
        const [changed] = changesOf(cell, value);
        const rows = file.rows.with(index, { ...row, [cell]: changed } as never);
        expect(copy.noticedBy({ ...file, rows }), `row ${index + 1} ${cell} -> ${changed}`).toContain(
          'loader',
        );
      }
    }
  });

  it('with a row missing or there twice is noticed', () => {
    const copy = copyWith(path);
    for (const index of [0, file.rows.length - 1]) {
      const without = file.rows.toSpliced(index, 1);
      const twice = [...file.rows, file.rows[index]];
      for (const rows of [without, twice])
        expect(copy.noticedBy({ ...file, rows })).toEqual(
          expect.arrayContaining(['loader', 'transcription']),
        );
    }
  });

  it('with another unit is noticed', () => {
    const copy = copyWith(path);
    for (const unit of ['kg', 'lb', 'N'].filter((each) => each !== file.unit))
      expect(copy.noticedBy({ ...file, unit })).toContain('transcription');
  });

  it('with the limit or the outcome of a worked example changed is refused by the loader', () => {
    const copy = copyWith(path);
    for (const [index, example] of file.examples.entries()) {
      const { limit, outcome } = example.expect;
      const other = outcome === 'reduced' ? 'not-reduced' : 'reduced';
      for (const change of [...digitsChanged(limit).map((each) => ({ limit: each })), { outcome: other }]) {
        const examples = file.examples.with(index, {
          ...example,
          expect: { ...example.expect, ...change },
        } as never);
        expect(copy.noticedBy({ ...file, examples }), JSON.stringify(change)).toEqual(['loader']);
      }
    }
  });
});

describe('the rule that tables are read by', () => {
  it.each([
    ['sdBelow', '1'],
    ['sdBelow', '3'],
    ['sdBelow', '2.1'],
    ['operator', '<'],
  ])('with %s %s is refused by the loader: a worked example does not come out', (parameter, value) => {
    const folder = copyOfNorms();
    alter(folder, RULE, (file) => {
      file.parameters[parameter] = value;
    });
    expect(faultOf(folder)).toMatch(/^norms\/tables\/.* example \d+: the (limit|outcome) is/);
  });

  it('is the arithmetic that is done here in whole numbers', () => {
    for (const [id, { given, decimals }] of Object.entries(OUTSIDE_TABLES)) {
      const limits = new Map(tableLimits(id));
      expect(limits.size).toBe(given.rows.length);
      for (const row of given.rows) {
        const own = limitBelowMean(row.mean.toFixed(decimals), row.sd.toFixed(decimals), '2');
        expect(compare(own, exact(limits.get(keyOf({ ...row, operator: '<=' })) ?? ''))).toBe(0);
      }
    }
  });
});
