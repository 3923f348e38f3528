/** Trials that were charted and could not be used, where that takes something away from what a card shows. */
import type { Evaluation } from '../evaluation.ts';
import { minuteOf } from '../fhir/read-observation.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';

/** Codes that take nothing away from the session shown: nothing was measured, or it was withdrawn. */
const NOTHING_LOST: ReadonlySet<string> = new Set([
  'CODE_NOT_GRIP',
  'LOCAL_CODE_UNKNOWN',
  'RESULT_LEFT_ASIDE',
  'DUPLICATE_OBSERVATION',
  'VALUE_ABSENT',
]);

/** Day of the newest trial that could not be used, when it is of the day of the session shown or later. */
export function newerUnread(
  evaluation: Evaluation,
  { testedOn, effective }: Interpretation,
): string | undefined {
  return lost(evaluation)
    .flatMap(({ facts }) => (isNewer(facts, testedOn, effective) ? [facts.testedOn ?? ''] : []))
    .sort()
    .at(-1);
}

/** Days of trials that were charted and could not be used. */
export function unreadDays(evaluation: Evaluation): readonly string[] {
  return lost(evaluation).flatMap(({ facts }) => facts.testedOn ?? []);
}

/** A trial was charted without its day: it may be of any day. */
export function hasUndated(evaluation: Evaluation): boolean {
  return lost(evaluation).some(({ code }) => code === 'TIME_MISSING');
}

function lost({ refusals }: Evaluation): readonly Refusal[] {
  return refusals.filter(
    ({ code, facts }) =>
      !NOTHING_LOST.has(code) && facts.status !== 'entered-in-error' && facts.status !== 'cancelled',
  );
}

/** By the moment where both are charted with their time, else by the day. */
function isNewer(facts: Readonly<Record<string, string>>, testedOn: string, effective: string): boolean {
  if (!facts.testedOn || !facts.testedAt) return false;
  const bothTimed = facts.testedAt.length > 10 && effective.length > 10;
  return bothTimed ? minuteOf(facts.testedAt) > minuteOf(effective) : facts.testedOn > testedOn;
}
