/** A released set made ready without a panel: as its own worked examples read it. */
import type { SummaryKind } from '../interpret/measurement.ts';
import type { ReadySet } from '../interpret/reference-set.ts';
import { requireReadingRule } from './apply-panel.ts';
import type { Release, Releases } from './read-norms.ts';
import { readyCutPoints } from './ready-cut-points.ts';
import { type ReadingRule, readyTable } from './ready-table.ts';
import type { CutPointsFile, TableFile } from './schema.ts';

/** Where a set does not state its summary, any of its hand convention serves. */
const ANY_SUMMARY: Readonly<Record<TableFile['handConvention'], SummaryKind>> = {
  'right-left': 'mean-per-hand',
  'dominant-nondominant': 'mean-per-hand',
  either: 'highest-of-either-hand',
};

export function tableAlone(table: Release<TableFile>, rule: ReadingRule): ReadySet {
  return readyTable(table, rule, { summary: ANY_SUMMARY[table.file.handConvention] });
}

export function cutPointsAlone(set: Release<CutPointsFile>): ReadySet {
  return readyCutPoints(set, 0, ANY_SUMMARY[set.file.handConvention]);
}

/** The rule of the first worked example of a table. */
export function firstRule({ file, path }: Release<TableFile>, releases: Releases): ReadingRule {
  const [example] = file.examples;
  if (!example) throw new Error(`${path} has no worked example`);
  return requireReadingRule(releases, example.rule, path);
}
