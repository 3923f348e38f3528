/** What was found on record of the chart that was sent, as notices: a client can tell them by their codes. */
import type { Origin, Revision, Revisions } from '../evaluation.ts';
import type { Notice } from '../wording/notices.ts';

export interface Filed extends Revisions {
  /** How many results are given. */
  readonly results: number;
  /** Of those, what was filed before. */
  readonly before: readonly { readonly origin: Origin }[];
  /** Of those, how many were not current and stand again. */
  readonly again: number;
  /** How many are left out, because they were removed. */
  readonly removed: number;
}

export function filingNotices({
  results,
  before,
  again,
  removed,
  found,
  inPart,
  readAgain,
}: Filed): readonly Notice[] {
  const from = [...new Set(before.map(({ origin }) => `${origin.record} of ${origin.at}`))].join(', ');
  const withdrawn = found.filter(({ kind }) => kind === 'withdrawn');
  const replaced = found.length - withdrawn.length;
  return [
    ...some(before.length, 'RESULTS_FILED_BEFORE', { results: String(results), from }),
    ...some(withdrawn.length, 'RESULTS_WITHDRAWN', { because: becauseOf(withdrawn) }),
    ...some(replaced, 'RESULTS_REPLACED'),
    ...some(again, 'RESULTS_REINSTATED'),
    ...some(removed, 'RESULTS_REMOVED'),
    ...some(inPart, 'SESSION_IN_PART'),
    ...some(readAgain.length, 'TAKEN_BACK_BEFORE', { references: readAgain.join(', ') }),
  ];
}

function becauseOf(withdrawn: readonly Revision[]): string {
  const said = withdrawn.flatMap(({ because }) =>
    because ? [`${because.reference} (${because.status})`] : [],
  );
  return [...new Set(said)].join(', ');
}

function some(count: number, code: Notice['code'], facts: Notice['facts'] = {}): readonly Notice[] {
  return count > 0 ? [{ code, expression: null, facts: { count: String(count), ...facts } }] : [];
}
