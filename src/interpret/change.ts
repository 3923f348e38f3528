/** Change of the mean per hand since an earlier session: arithmetic only, in the unit charted now. */
import { divide, type Exact, multiply, subtract, toDecimalText, wholeNumber } from './exact.ts';
import type { Change } from './finding.ts';
import { type ExactSummary, SUMMARY_DIGITS } from './summarise.ts';
import { convertForce } from './units.ts';

/** One change for each hand measured both times; empty when no hand was. */
export function changesSince(
  earlier: { readonly testedOn: string; readonly summaries: readonly ExactSummary[] },
  now: readonly ExactSummary[],
): readonly Change[] {
  return now.flatMap((to) => {
    if (to.kind !== 'mean-per-hand' || to.hand === null) return [];
    const from = earlier.summaries.find((summary) => summary.kind === to.kind && summary.hand === to.hand);
    if (!from) return [];
    const before = convertForce(from.value, from.unit, to.unit);
    const difference = subtract(to.value, before);
    return [
      {
        hand: to.hand,
        since: earlier.testedOn,
        from: { value: toDecimalText(before, SUMMARY_DIGITS), unit: to.unit },
        to: { value: toDecimalText(to.value, SUMMARY_DIGITS), unit: to.unit },
        difference: { value: signed(difference, SUMMARY_DIGITS), unit: to.unit },
        percent: signed(multiply(wholeNumber(100), divide(difference, before)), 1),
      },
    ];
  });
}

function signed(value: Exact, digits: number): string {
  const text = toDecimalText(value, digits);
  return value.num > 0n ? `+${text}` : text;
}
