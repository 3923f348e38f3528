/** What of an assessment counts now, and whether it rests on the whole chart. */
import type { Assessment } from '../assessment.ts';
import type { ReadinessFinding } from '../interpret/testing-caution.ts';

/** Neither past nor planned. */
export function isCurrent({ state }: ReadinessFinding): boolean {
  return state !== 'past' && state !== 'planned';
}

/** Not what only asks for care or for a look. */
export function againstNow({ readiness }: Assessment): readonly ReadinessFinding[] {
  return readiness.findings.filter((finding) => finding.weight === 'against' && isCurrent(finding));
}

/** Keys without which "nothing found" says little. */
export const CHART_KEYS: readonly string[] = ['conditions', 'procedures'];

/** Everything that was asked for was there, and could be read. */
export function isWholeChart({ gaps }: Assessment): boolean {
  const inPart = CHART_KEYS.some((key) => gaps.missing.includes(key) || gaps.more.includes(key));
  return !inPart && gaps.unusable.length === 0;
}
