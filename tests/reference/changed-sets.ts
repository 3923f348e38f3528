/** Released sets with something changed, in memory, for the tests of the rows that results read. */
import { loadLibrary } from '../../src/reference/library.ts';
import type { Release } from '../../src/reference/read-norms.ts';
import type { ReadingRule } from '../../src/reference/ready-table.ts';
import type { RuleFile } from '../../src/reference/rule-forms.ts';
import type { CutPointsFile, TableFile } from '../../src/reference/schema.ts';
import { NORMS } from '../interpret/build.ts';
import type { Json } from './altered-norms.ts';

export const { releases } = loadLibrary(NORMS);

/** The first release of an id, or of the version given. */
export function release<F>(all: readonly Release<F>[], id: string, version = '1.0.0'): Release<F> {
  const found = all.find(({ ref }) => ref.id === id && ref.version === version);
  if (!found) throw new Error(`no ${id}`);
  return found;
}

export function rule(id: string, change: (parameters: Json) => void = () => undefined): ReadingRule {
  const found = structuredClone(release<RuleFile>(releases.rules, id));
  change(found.file.parameters);
  return found as ReadingRule;
}

/** A released table with something changed, as it would be read. */
export function changedTable(id: string, change: (file: Json) => void): Release<TableFile> {
  const copy = structuredClone(release(releases.tables, id));
  change(copy.file);
  return copy;
}

export function changedCutPoints(id: string, change: (file: Json) => void): Release<CutPointsFile> {
  const copy = structuredClone(release(releases.cutPoints, id));
  change(copy.file);
  return copy;
}

export const ADULTS = 'mathiowetz-1985-us-adults';
export const BY_HEIGHT = 'steiber-2016-germany-by-height';
export const CENTILES = 'tomkinson-2025-international';
export const EXACT_AGES = 'dodds-2014-great-britain';
export const DOMINANT = 'nhanes-2011-2014-dominant-mean-of-3';

export const twoSd = rule('two-sd-below-mean');
export const oneSd = rule('one-sd-below-mean');
export const tenth = rule('below-10th-centile');
export const fifths = rule('quintile-bands');
