/**
 * Findings as the audit record keeps them: everything that was concluded, without what the record already
 * says elsewhere. Sets are named `id|version` (their digests are in the record's `references`), and the trials
 * of a summary are those of its hand in `input`. Writing and replay both use this form.
 */
import type { Interpretation, Refusal, Summary, Verdict } from './interpret/finding.ts';
import type { SetRef } from './interpret/reference-set.ts';

export function recordedFindings(interpretations: readonly Interpretation[]): unknown {
  return interpretations.map((interpretation) => ({
    ...interpretation,
    summaries: interpretation.summaries.map(recordedSummary),
    results: interpretation.results.map((result) =>
      result.kind === 'verdict' ? recordedVerdict(result) : recordedRefusal(result),
    ),
  }));
}

export function recordedRefusal({ set, columns, ...refusal }: Refusal): unknown {
  return { ...refusal, set: set && name(set), columns: columns.map(recordedVerdict) };
}

function recordedVerdict({ set, rule, ...verdict }: Verdict): unknown {
  return { ...verdict, set: name(set), rule: rule && name(rule) };
}

function recordedSummary({ trials: _, ...summary }: Summary): unknown {
  return summary;
}

function name({ id, version }: SetRef): string {
  return `${id}|${version}`;
}
