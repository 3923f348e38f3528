/**
 * Would a wrong figure be seen? Every cell of every released set is changed, one at a time, and no digest is
 * compared. Three may notice: the checks of the loader (bands, strata, centiles), the transcriptions of
 * tests/outside, and the limits of those transcriptions in whole numbers.
 */
import { describe, expect, it } from 'vitest';
import type { LimitRow } from '../../src/interpret/reference-set.ts';
import { checkExample } from '../../src/reference/check-examples.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { NormsFault } from '../../src/reference/read-norms.ts';
import { readyCutPoints } from '../../src/reference/ready-cut-points.ts';
import { type ReadingRule, readyTable } from '../../src/reference/ready-table.ts';
import { NORMS } from '../interpret/build.ts';
import { faultOf, normsWith } from './altered-norms.ts';
import { changesOf, digitsChanged, mutantsOf } from './mutants.ts';
import type { Json } from './outside.ts';
import { differencesFromOutside } from './outside-comparison.ts';
import { columnOf, outsideLimits } from './outside-limits.ts';
import { CUT_POINTS, type ReleasedJson, RULES, TABLES } from './released-json.ts';

const { releases } = loadLibrary(NORMS);

/** The rule that the worked examples of a table use; null for cut-points. */
const ruleOf = (file: Json): string | null => (file.kind === 'table' ? file.examples[0].rule.id : null);

/** The set as results would read it. @throws NormsFault */
function ready({ path, file, id, version }: ReleasedJson) {
  const ref = { kind: file.kind, id, version, digest: '' };
  const summary = file.handConvention === 'either' ? 'highest-of-either-hand' : 'mean-per-hand';
  const rule = releases.rules.find((each) => each.ref.id === ruleOf(file));
  return rule
    ? readyTable({ ref, path, file, base64: '' }, rule as ReadingRule, { summary })
    : readyCutPoints({ ref, path, file, base64: '' }, 0, summary);
}

function rowsAsLoaded(set: ReleasedJson): readonly LimitRow[] | undefined {
  try {
    return ready(set).rows;
  } catch (fault) {
    if (fault instanceof NormsFault) return undefined;
    throw fault;
  }
}

/** Whether each limit is that of the transcription, a whole number of millionths. */
function sameLimits(rows: readonly LimitRow[], file: Json): boolean {
  const expected = outsideLimits(file.id, ruleOf(file), null);
  const nameOf = (row: { column: string; ageMin: number; operator: string; limit: bigint | null }) =>
    `${row.column} ${row.ageMin} ${row.operator} ${row.limit}`;
  const names = new Set(expected.map(nameOf));
  return (
    rows.length === expected.length &&
    rows.every(({ sex, hand, stratum, ageMin, operator, limit }) => {
      const by = stratum ? `${stratum.by} ${stratum.min ?? 'any'} to ${stratum.max ?? 'any'}` : null;
      const column = columnOf({ sex, hand, stratum: by });
      if (limit && (limit.num * 1_000_000n) % limit.den !== 0n) return false;
      const whole = limit && (limit.num * 1_000_000n) / limit.den;
      return names.has(nameOf({ column, ageMin, operator, limit: whole }));
    })
  );
}

/** Who notices that a set has this content. */
function noticedBy(set: ReleasedJson, file: Json): readonly string[] {
  const rows = rowsAsLoaded({ ...set, file });
  return [
    ...(rows ? [] : ['loader']),
    ...(differencesFromOutside(file).length > 0 ? ['transcription'] : []),
    ...(rows && !sameLimits(rows, file) ? ['limits'] : []),
  ];
}

const named = [...TABLES, ...CUT_POINTS].map((set) => [set.id, set.version, set] as const);

describe.each(named)('%s %s', (_id, _version, set) => {
  const { file, path } = set;
  const rows: Json[] = file.rows;
  const withRow = (index: number, row: Json) => ({ ...file, rows: rows.with(index, row) });

  it('is noticed by nobody as it was released', () => {
    expect(noticedBy(set, file)).toEqual([]);
  });

  it('with any one cell changed is noticed', () => {
    const missed: string[] = [];
    let changed = 0;
    for (const [index, row] of rows.entries()) {
      for (const mutant of mutantsOf(row, `row ${index + 1}`)) {
        changed += 1;
        const mutated = withRow(index, mutant.row);
        if (differencesFromOutside(mutated).length > 0) continue;
        if (noticedBy(set, mutated).length === 0) missed.push(mutant.what);
      }
    }
    expect(missed).toEqual([]);
    expect(changed).toBeGreaterThan(rows.length * 6);
  });

  it('with a figure changed that its limit rests on has another limit, or is refused by the loader', () => {
    const how: Json = RULES.find(({ id }) => id === ruleOf(file))?.file.parameters ?? {};
    const bearing = new Set(['value', 'operator', 'oneSdBelow', `percentile ${how.reducedBelow}`]);
    if ('sdBelow' in how) for (const cell of ['mean', 'sd']) bearing.add(cell);
    let moved = 0;
    for (const [index, row] of rows.entries()) {
      const known = mutantsOf(row, `row ${index + 1}`).filter(
        ({ cell }) => bearing.has(cell) && row[cell] !== null,
      );
      // The last digit is the one that moves the limit least.
      for (const mutant of known.filter(({ cell }, at) => known[at + 1]?.cell !== cell)) {
        const by = noticedBy(set, withRow(index, mutant.row));
        expect(by, mutant.what).toContain('transcription');
        // One SD below the mean is what is printed there: the mean goes in and out again.
        const cancels = mutant.cell === 'mean' && row.oneSdBelow && mutant.row.mean !== null;
        if (!cancels) expect(by.includes('limits') || by.includes('loader'), mutant.what).toBe(true);
        moved += 1;
      }
    }
    expect(moved).toBeGreaterThan(1);
  });

  it('with a sex, a hand or the end of a band changed is refused by the loader', () => {
    for (const [index, row] of rows.entries()) {
      for (const cell of ['sex', 'hand', 'ageMin', 'ageMax'].filter((name) => name in row)) {
        const [changed] = changesOf(cell, row[cell]);
        const mutated = withRow(index, { ...row, [cell]: changed });
        const what = `row ${index + 1} ${cell} ${row[cell]} -> ${changed}`;
        expect(noticedBy(set, mutated), what).toContain('loader');
      }
    }
  });

  it('with a row missing or there twice is noticed', () => {
    for (const index of [0, rows.length - 1]) {
      const without = { ...file, rows: rows.toSpliced(index, 1) };
      const twice = { ...file, rows: [...rows, rows[index]] };
      for (const mutated of [without, twice]) expect(noticedBy(set, mutated)).toContain('transcription');
    }
  });

  it.each([
    ['unit', ['kg', 'lb', 'N']],
    ['quantity', [undefined, 'force-over-bmi', 'force-over-height-squared']],
    ['handConvention', ['right-left', 'dominant-nondominant', 'either']],
    ['ages', [undefined, 'exact']],
  ])('with another %s is noticed', (fact, values) => {
    for (const value of values.filter((each) => each !== file[fact]))
      expect(differencesFromOutside({ ...file, [fact]: value }), value).not.toEqual([]);
  });

  it('with another summary is noticed', () => {
    const kinds = [null, 'mean-per-hand', 'highest-per-hand', 'highest-of-either-hand', 'mean-of-both-hands'];
    for (const kind of kinds.filter((each) => each !== file.summary.kind))
      expect(differencesFromOutside({ ...file, summary: { ...file.summary, kind } })).not.toEqual([]);
  });

  it('with the limit or the outcome of a worked example changed is refused', () => {
    const loaded = ready(set);
    for (const example of file.examples) {
      const { limit, outcome } = example.expect;
      expect(() => checkExample(path, loaded, example, 1)).not.toThrow();
      const other = outcome === 'reduced' ? 'not-reduced' : 'reduced';
      for (const change of [...digitsChanged(limit).map((each) => ({ limit: each })), { outcome: other }]) {
        const wrong = { ...example, expect: { ...example.expect, ...change } };
        expect(() => checkExample(path, loaded, wrong, 1), JSON.stringify(change)).toThrow(NormsFault);
      }
    }
  });
});

/** The whole folder with one parameter changed, its digests made to fit. */
describe('a rule that tables are read by', () => {
  it.each([
    ['two-sd-below-mean', 'sdBelow', '1'],
    ['two-sd-below-mean', 'sdBelow', '3'],
    ['two-sd-below-mean', 'sdBelow', '2.1'],
    ['two-sd-below-mean', 'operator', '<'],
    ['one-sd-below-mean', 'sdBelow', '2'],
    ['one-sd-below-mean', 'operator', '<='],
    ['below-10th-centile', 'reducedBelow', 25],
    ['below-10th-centile', 'operator', '<='],
    ['below-25th-centile', 'reducedBelow', 50],
    ['below-25th-centile', 'operator', '<='],
    ['quintile-bands', 'reducedBelow', 10],
    ['quintile-bands', 'operator', '<='],
  ])(
    '%s with %s %s is refused by the loader: a worked example does not come out, or a limit is below zero',
    (id, parameter, value) => {
      const folder = normsWith(`rules/${id}/1.0.0.json`, (file) => {
        file.parameters[parameter] = value;
      });
      expect(faultOf(folder)).toMatch(/^norms\/tables\/.*: the (limit|outcome) is/);
    },
  );
});
