/** From the trials of one session to the figures that the reference sets are read with. */
import { type Exact, highest, mean, toDecimalText } from './exact.ts';
import type { ProvisionalReason, Summary } from './finding.ts';
import { forceOf, HANDS, type Hand, ofHand, type SummaryKind, scaleOf, type Trial } from './measurement.ts';
import type { TrialRules } from './reference-set.ts';
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
}

/**
 * All summaries that these trials allow: mean and highest of each tested hand, highest of either hand.
 * The trials share one unit scale (checked before); empty when there are no trials.
 */
export function summarise(trials: readonly Trial[], rules: TrialRules): readonly ExactSummary[] {
  const first = trials[0];
  if (!first) return [];
  const unit = scaleOf(first);
  const tested = HANDS.filter((hand) => ofHand(trials, hand).length > 0);
  const perHand = tested.flatMap((hand): ExactSummary[] => {
    const own = ofHand(trials, hand);
    const forces = own.map(forceOf);
    const provisional = countReasons(own.length, rules);
    const shared = { hand, unit, trials: own, provisional };
    return [
      { kind: 'mean-per-hand', value: mean(forces), ...shared },
      { kind: 'highest-per-hand', value: highest(forces), ...shared },
    ];
  });
  const reasons = new Set(perHand.flatMap((summary) => summary.provisional));
  if (tested.length < HANDS.length) reasons.add('ONE_HAND_ONLY');
  return [
    ...perHand,
    {
      kind: 'highest-of-either-hand',
      hand: null,
      value: highest(trials.map(forceOf)),
      unit,
      trials,
      provisional: [...reasons],
    },
  ];
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
