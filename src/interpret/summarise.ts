/** From the trials of one session to the figures that the reference sets are read with. */
import { type Exact, highest, mean, toDecimalText } from './exact.ts';
import type { ProvisionalReason, Summary } from './finding.ts';
import {
  forceOf,
  HANDS,
  type Hand,
  type HandFigure,
  isChartedSummary,
  ofHand,
  type SummaryKind,
  scaleOf,
} from './measurement.ts';
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
  /** What it was computed from, or the Observation that charted it. */
  readonly trials: readonly HandFigure[];
  readonly provisional: readonly ProvisionalReason[];
  /** Of a hand that is charted as not to be read against norms. */
  readonly ownBaseline: boolean;
}

/**
 * All summaries that these figures allow: mean and highest of each tested hand, highest of either hand, and the mean
 * of both hands where `wanted` names it; of a hand with charted summaries only, those. A hand charted as its own norm
 * is left out of the figures of the person where the other hand was tested. The figures share one unit scale (checked
 * before); empty when there are none.
 */
export function summarise(
  figures: readonly HandFigure[],
  rules: TrialRules,
  wanted: ReadonlySet<SummaryKind> = NONE_BESIDE,
): readonly ExactSummary[] {
  const first = figures[0];
  if (!first) return [];
  const unit = scaleOf(first);
  const hands = HANDS.filter((hand) => ofHand(figures, hand).length > 0).map((hand) =>
    ofOneHand(hand, ofHand(figures, hand), rules),
  );
  const fit = hands.filter(({ ownBaseline }) => !ownBaseline);
  const used = fit.length > 0 ? fit : hands;
  const provisional = new Set(used.flatMap((each) => each.provisional));
  if (used.length < HANDS.length) provisional.add('ONE_HAND_ONLY');
  const best = used.flatMap(({ figures: own }) => own.filter(({ kind }) => kind === 'highest-per-hand'));
  const person = {
    hand: null,
    unit,
    trials: fit.length === hands.length ? orderedAs(figures, best) : best.flatMap((each) => each.trials),
    provisional: [...provisional],
    ownBaseline: fit.length === 0,
  };
  const perHand = hands.flatMap(({ hand, figures: own, ...shared }) =>
    own.map((figure): ExactSummary => ({ ...figure, hand, unit, ...shared })),
  );
  // The highest of a hand that was charted as a mean only is not known, nor is that of the person.
  if (best.length < used.length) return perHand;
  const values = best.map(({ value }) => value);
  return [
    ...perHand,
    { kind: 'highest-of-either-hand', value: highest(values), ...person },
    ...(wanted.has('mean-of-both-hands') && used.length === HANDS.length
      ? [{ kind: 'mean-of-both-hands' as const, value: mean(values), ...person }]
      : []),
  ];
}

/** The figures behind `best`, in the order given. */
function orderedAs(figures: readonly HandFigure[], best: readonly KindOfHand[]): readonly HandFigure[] {
  const behind = new Set(best.flatMap(({ trials }) => trials));
  return figures.filter((figure) => behind.has(figure));
}

const NONE_BESIDE: ReadonlySet<SummaryKind> = new Set();

/** One figure of a hand, and what is behind it. */
type KindOfHand = Pick<ExactSummary, 'kind' | 'value' | 'trials'>;

function ofOneHand(hand: Hand, own: readonly HandFigure[], rules: TrialRules) {
  const charted = own.filter(isChartedSummary);
  const trials = own.filter((figure) => !isChartedSummary(figure));
  const forces = trials.map(forceOf);
  const figures: KindOfHand[] =
    trials.length > 0
      ? [
          { kind: 'mean-per-hand', value: mean(forces), trials },
          { kind: 'highest-per-hand', value: highest(forces), trials },
        ]
      : charted.map((summary) => ({ kind: summary.kind, value: forceOf(summary), trials: [summary] }));
  const provisional: ProvisionalReason[] =
    trials.length > 0 ? countReasons(trials.length, rules) : ['SUMMARY_CHARTED'];
  return { hand, figures, provisional, ownBaseline: own.some(({ ownBaseline }) => ownBaseline) };
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
