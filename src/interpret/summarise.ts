/** From the trials of one session to the figures that the reference sets are read with. */
import { type Exact, highest, mean, toDecimalText } from './exact.ts';
import type { ProvisionalReason, Summary } from './finding.ts';
import { forceOf, HANDS, type Hand, ofHand, type SummaryKind, scaleOf, type Trial } from './measurement.ts';
import type { TrialRules } from './panel.ts';
import { convertForce, type ForceUnit } from './units.ts';

/** Places kept in a figure shown to a reader and recorded; comparisons use the exact figure. */
export const SUMMARY_DIGITS = 3;

/** A summary with its exact figure. */
export interface ExactSummary {
  readonly kind: SummaryKind;
  readonly hand: Hand | null;
  readonly value: Exact;
  readonly unit: ForceUnit;
  readonly trials: readonly Trial[];
  readonly provisional: readonly ProvisionalReason[];
  /** Of a hand that is charted as not to be read against norms. */
  readonly ownBaseline: boolean;
}

/**
 * All summaries that these trials allow: mean and highest of each tested hand, highest of either hand, and the mean
 * of both hands where `wanted` names it. A hand charted as its own norm is left out of the figures of the person
 * where the other hand was tested. The trials share one unit scale (checked before); empty when there are none.
 */
export function summarise(
  trials: readonly Trial[],
  rules: TrialRules,
  wanted: ReadonlySet<SummaryKind> = NONE_BESIDE,
): readonly ExactSummary[] {
  const first = trials[0];
  if (!first) return [];
  const unit = scaleOf(first);
  const hands = HANDS.filter((hand) => ofHand(trials, hand).length > 0).map((hand) =>
    ofOneHand(hand, ofHand(trials, hand), rules),
  );
  const fit = hands.filter(({ ownBaseline }) => !ownBaseline);
  const used = fit.length > 0 ? fit : hands;
  const provisional = new Set(used.flatMap((each) => each.provisional));
  if (used.length < HANDS.length) provisional.add('ONE_HAND_ONLY');
  const person = {
    hand: null,
    unit,
    trials: fit.length === hands.length ? trials : used.flatMap((each) => each.trials),
    provisional: [...provisional],
    ownBaseline: fit.length === 0,
  };
  const best = used.map(({ highest: own }) => own);
  return [
    ...hands.flatMap(({ mean: average, highest: own, ...shared }): ExactSummary[] => [
      { kind: 'mean-per-hand', value: average, unit, ...shared },
      { kind: 'highest-per-hand', value: own, unit, ...shared },
    ]),
    { kind: 'highest-of-either-hand', value: highest(best), ...person },
    ...(wanted.has('mean-of-both-hands') && used.length === HANDS.length
      ? [{ kind: 'mean-of-both-hands' as const, value: mean(best), ...person }]
      : []),
  ];
}

const NONE_BESIDE: ReadonlySet<SummaryKind> = new Set();

function ofOneHand(hand: Hand, trials: readonly Trial[], rules: TrialRules) {
  const forces = trials.map(forceOf);
  return {
    hand,
    trials,
    mean: mean(forces),
    highest: highest(forces),
    provisional: countReasons(trials.length, rules),
    ownBaseline: trials.some(({ ownBaseline }) => ownBaseline),
  };
}

function countReasons(count: number, rules: TrialRules): ProvisionalReason[] {
  if (count < rules.trialsPerHand.perHand) return ['TRIALS_FEWER'];
  if (count > rules.trialsPerHand.perHand) return ['TRIALS_MORE'];
  return [];
}

export function writeSummary(summary: ExactSummary): Summary {
  const { kind, hand, value, unit, provisional } = summary;
  return {
    kind,
    hand,
    charted: { value: toDecimalText(value, SUMMARY_DIGITS), unit },
    kilograms: { value: toDecimalText(convertForce(value, unit, 'kg'), SUMMARY_DIGITS), unit: 'kg' },
    trials: summary.trials.map((trial) => trial.reference),
    provisional,
  };
}
