/** Runs the worked examples of released files through the reading that results will use. */
import { compare, exact } from '../interpret/exact.ts';
import { findRow, type Placing, stratumOf } from '../interpret/find-row.ts';
import { isReduced } from '../interpret/limit.ts';
import type { ReadySet } from '../interpret/reference-set.ts';
import { convertForce } from '../interpret/units.ts';
import { NormsFault, type Releases } from './read-norms.ts';
import { cutPointsAlone, tableAlone } from './ready-alone.ts';
import type { ReadingRule } from './ready-table.ts';
import type { CutPointsFile, TableFile } from './schema.ts';

type Example = (TableFile | CutPointsFile)['examples'][number];

/** @throws NormsFault naming the file and the example that does not come out */
export function checkAllExamples(
  releases: Releases,
  ruleFor: (wanted: { id: string; version: string }, usedIn: string) => ReadingRule,
): void {
  for (const table of releases.tables) {
    for (const [index, example] of table.file.examples.entries()) {
      const ready = tableAlone(table, ruleFor(example.rule, table.path));
      checkExample(table.path, ready, example, index + 1);
    }
  }
  for (const set of releases.cutPoints) {
    const ready = cutPointsAlone(set);
    for (const [index, example] of set.file.examples.entries())
      checkExample(set.path, ready, example, index + 1);
  }
}

/** @param number of the example in its file, from 1 */
export function checkExample(path: string, set: ReadySet, example: Example, number: number): void {
  const { given, expect } = example;
  const where = `${path} example ${number}`;
  const row = findRow(set, { ...given, placing: placingOf(set, given) });
  if (!row) throw new NormsFault(`${where}: no row for this person`);
  if (row.limit === null) throw new NormsFault(`${where}: the row has no limit`);
  if (compare(row.limit, exact(expect.limit)) !== 0) {
    throw new NormsFault(`${where}: the limit is not ${expect.limit}`);
  }
  const value = convertForce(exact(given.value), given.unit, set.unit);
  const outcome = isReduced(value, row.limit, row.operator) ? 'reduced' : 'not-reduced';
  if (outcome !== expect.outcome) {
    throw new NormsFault(`${where}: the outcome is ${outcome}, not ${expect.outcome}`);
  }
}

function placingOf(set: ReadySet, { bmi, heightCm }: Example['given']): Placing | undefined {
  const by = stratumOf(set)?.by;
  const value = by === 'bmi' ? bmi : heightCm;
  if (!by || value === undefined) return undefined;
  return { exactly: value, measure: { kind: by, value, measuredOn: '', reference: '' } };
}
