/** The comparison with a limit: exact, no rounding, no tolerance. */
import { compare, type Exact, exact, toDecimalText } from './exact.ts';
import type { LimitOperator } from './reference-set.ts';
import { SUMMARY_DIGITS } from './summarise.ts';

/** At the limit counts only where the operator includes it. */
export function isReduced(value: Exact, limit: Exact, operator: LimitOperator): boolean {
  const order = compare(value, limit);
  return order < 0 || (order === 0 && operator === '<=');
}

/** Limits of printed figures are shown whole: 41.4, 5.44, 27; an interpolated one with at most three decimals. */
export function exactText(limit: Exact): string {
  for (const digits of [0, 1, 2, 3]) {
    const text = toDecimalText(limit, digits);
    if (compare(exact(text), limit) === 0) return text;
  }
  return toDecimalText(limit, SUMMARY_DIGITS);
}
