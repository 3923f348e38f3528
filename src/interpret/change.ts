/** Change of the mean per hand since earlier sessions, in the unit charted now, beside published sizes of change. */
import {
  compare,
  divide,
  type Exact,
  exact,
  multiply,
  subtract,
  toDecimalText,
  wholeNumber,
} from './exact.ts';
import { agesOf } from './find-row.ts';
import type { Change, Mismatch, YardstickResult } from './finding.ts';
import { type EarlierFigure, type EarlierSession, figuresOfHand } from './history.ts';
import { type Hand, PROTOCOL_PARTS, type Subject } from './measurement.ts';
import type { TrialRules, Yardstick } from './panel.ts';
import { type ExactSummary, SUMMARY_DIGITS } from './summarise.ts';
import { convertForce } from './units.ts';

/**
 * For each hand that was measured before: the change since the last time, and since the first comparable time
 * where that is another. Comparable: the same protocol in every part charted both times, and no figure provisional.
 */
export function changesSince(
  history: readonly EarlierSession[],
  now: readonly ExactSummary[],
  subject: Subject,
  rules: TrialRules,
): readonly Change[] {
  return now.flatMap((to) => {
    const { hand } = to;
    if (to.kind !== 'mean-per-hand' || !hand) return [];
    const earlier = figuresOfHand(history, hand, 'mean-per-hand');
    const last = earlier.at(-1);
    if (!last) return [];
    const since = writeChange(last, to, hand, subject, rules);
    if (!rules.changeLimits) return [since];
    const first = earlier.find((each) => isComparable(each.summary, to));
    if (!first || first === last) return [since];
    return [since, { ...writeChange(first, to, hand, subject, rules), against: 'first' as const }];
  });
}

function isComparable(before: ExactSummary, now: ExactSummary): boolean {
  const provisional = [...before.provisional, ...now.provisional];
  return provisional.length === 0 && mismatchesBetween(before, now).length === 0;
}

/** Parts of the protocol charted both times that are not the same. */
function mismatchesBetween(before: ExactSummary, now: ExactSummary): readonly Mismatch[] {
  return PROTOCOL_PARTS.flatMap((part) => {
    const [then, today] = [before, now].map(({ trials }) =>
      [...new Set(trials.flatMap(({ protocol }) => protocol?.[part] ?? []))].sort().join(' and '),
    );
    return then && today && then !== today ? [{ part, charted: today, built: then }] : [];
  });
}

/** Below it a percentage says nothing: the last digit that a dynamometer shows. In the unit charted now. */
const LEAST_FOR_PERCENT = exact('0.1');

function writeChange(
  { effective, summary: mean }: EarlierFigure,
  to: ExactSummary,
  hand: Hand,
  subject: Subject,
  rules: TrialRules,
): Change {
  const before = convertForce(mean.value, mean.unit, to.unit);
  const difference = subtract(to.value, before);
  const percent = multiply(wholeNumber(100), divide(difference, before));
  const mismatches = mismatchesBetween(mean, to);
  const inKg = convertForce(difference, to.unit, 'kg');
  return {
    hand,
    since: effective,
    from: { value: toDecimalText(before, SUMMARY_DIGITS), unit: to.unit },
    to: { value: toDecimalText(to.value, SUMMARY_DIGITS), unit: to.unit },
    difference: { value: signed(difference, SUMMARY_DIGITS), unit: to.unit },
    percent: compare(before, LEAST_FOR_PERCENT) < 0 ? '' : signed(percent, 1),
    provisional: [...new Set([...mean.provisional, ...to.provisional])],
    mismatches: mismatches.length > 0 ? mismatches : undefined,
    // Sizes found in healthy or other hands say nothing of one that norms do not fit.
    yardsticks: rules.changeLimits?.yardsticks
      .filter((yardstick) => !to.ownBaseline && !mean.ownBaseline && isMeantFor(yardstick, hand, subject))
      .map((yardstick) => reaches(yardstick, yardstick.limit.unit === 'kg' ? inKg : percent)),
  };
}

function isMeantFor({ hand: wanted, ageMin, ageMax }: Yardstick, hand: Hand, subject: Subject): boolean {
  const isOfAge = (age: number) => age >= ageMin && (ageMax === null || age <= ageMax);
  if (!agesOf(subject).some(isOfAge)) return false;
  const { dominant } = subject;
  if (wanted === 'any') return true;
  if (dominant !== 'right' && dominant !== 'left') return wanted === 'unknown';
  return wanted === (hand === dominant ? 'dominant' : 'nondominant');
}

/** Beyond an error means more than it; the smallest important change is reached at its limit. */
function reaches({ id, kind, limit }: Yardstick, change: Exact): YardstickResult {
  const size = change.num < 0n ? subtract(wholeNumber(0), change) : change;
  const order = compare(size, exact(limit.value));
  return { id, reached: kind === 'measurement-error' ? order > 0 : order >= 0 };
}

/** With its sign; a difference that rounds to nothing has none. */
function signed(value: Exact, digits: number): string {
  const text = toDecimalText(value, digits);
  return value.num > 0n && Number(text) !== 0 ? `+${text}` : text;
}
