/** Change of the mean per hand since an earlier session: arithmetic only, in the unit charted now. */
import { divide, type Exact, multiply, subtract, toDecimalText, wholeNumber } from './exact.ts';
import type { Change } from './finding.ts';
import type { Hand } from './measurement.ts';
import { type ExactSummary, SUMMARY_DIGITS } from './summarise.ts';
import { convertForce } from './units.ts';

/** The last mean of each hand, with its moment as charted. */
export type LastMeans = ReadonlyMap<Hand, { readonly effective: string; readonly mean: ExactSummary }>;

/** `last` with the means of a newer session put in. */
export function withMeans(last: LastMeans, effective: string, summaries: readonly ExactSummary[]): LastMeans {
  const newer = summaries.flatMap((mean) =>
    mean.kind === 'mean-per-hand' && mean.hand ? [[mean.hand, { effective, mean }] as const] : [],
  );
  return new Map([...last, ...newer]);
}

/** One change for each hand that was measured before; each since the last time that hand was. */
export function changesSince(last: LastMeans, now: readonly ExactSummary[]): readonly Change[] {
  return now.flatMap((to) => {
    const earlier = to.kind === 'mean-per-hand' && to.hand ? last.get(to.hand) : undefined;
    if (!earlier || !to.hand) return [];
    const before = convertForce(earlier.mean.value, earlier.mean.unit, to.unit);
    const difference = subtract(to.value, before);
    return [
      {
        hand: to.hand,
        since: earlier.effective,
        from: { value: toDecimalText(before, SUMMARY_DIGITS), unit: to.unit },
        to: { value: toDecimalText(to.value, SUMMARY_DIGITS), unit: to.unit },
        difference: { value: signed(difference, SUMMARY_DIGITS), unit: to.unit },
        percent: signed(multiply(wholeNumber(100), divide(difference, before)), 1),
        provisional: [...new Set([...earlier.mean.provisional, ...to.provisional])],
      },
    ];
  });
}

/** With its sign; a difference that rounds to nothing has none. */
function signed(value: Exact, digits: number): string {
  const text = toDecimalText(value, digits);
  return value.num > 0n && Number(text) !== 0 ? `+${text}` : text;
}
