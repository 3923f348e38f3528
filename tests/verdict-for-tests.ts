/** One finding for the tests of wording, and the released panels that can say what each set is. */
import type { Verdict } from '../src/interpret/finding.ts';
import type { SetRef } from '../src/interpret/reference-set.ts';
import { openLibrary } from '../src/service.ts';

const library = openLibrary();

export function describedPanel(id: string, version?: string) {
  const found = library.findPanel(id, version);
  if (!found) throw new Error(`no panel ${id}`);
  return found;
}

/** The version of a set that the panel of all published sets reads. */
export function refOf(id: string): SetRef {
  const set = describedPanel('all-published').panel.sets.find(({ ref }) => ref.id === id);
  if (!set) throw new Error(`no set ${id}`);
  return set.ref;
}

/** A man of 70 to 74, right hand, above the limit of the table of norms. */
export const VERDICT: Verdict = {
  kind: 'verdict',
  set: refOf('mathiowetz-1985-us-adults'),
  rule: null,
  sex: 'male',
  hand: 'right',
  summary: 'mean-per-hand',
  charted: { value: '62.333', unit: 'lb' },
  compared: { value: '62.333', unit: 'lb' },
  conversion: null,
  limit: { value: '32.3', unit: 'lb', operator: '<=' },
  row: { ageMin: 70, ageMax: 74, mean: '75.3', sd: '21.5', verification: 'two-sources' },
  outcome: 'not-reduced',
  zScore: -0.603,
  percentile: 27.3,
  provisional: [],
};
