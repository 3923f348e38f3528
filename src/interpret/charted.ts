/**
 * Means and highests that were charted themselves: beside the trials of their hand they are compared with what the
 * trials give; without them they stand for the trials, and what they rest on cannot be checked.
 */
import { add, compare, decimalsOf, type Exact, highest, mean, subtract, toDecimalText } from './exact.ts';
import { type Caution, type Refusal, refuse } from './finding.ts';
import {
  type ChartedSummary,
  forceOf,
  HANDS,
  type HandFigure,
  isChartedSummary,
  ofHand,
  scaleOf,
  type Trial,
} from './measurement.ts';
import { convertForce } from './units.ts';

export interface Usable {
  /** Every trial, and the charted summaries of hands that have none: at most one of each kind and hand. */
  readonly figures: readonly (Trial | ChartedSummary)[];
  /** Charted summaries that contradict each other. */
  readonly refused: readonly Refusal[];
  /** Charted summaries that differ from what the trials give. */
  readonly cautions: readonly Caution[];
}

export function usableFigures(trials: readonly Trial[], charted: readonly ChartedSummary[]): Usable {
  const figures: (Trial | ChartedSummary)[] = [...trials];
  const refused: Refusal[] = [];
  const cautions: Caution[] = [];
  for (const hand of HANDS) {
    const own = ofHand(charted, hand);
    const ofTrials = ofHand(trials, hand);
    if (ofTrials.length > 0) cautions.push(...own.flatMap((each) => disagreement(each, ofTrials)));
    else if (isConflicting(own)) refused.push(...own.map(conflict));
    else figures.push(...KINDS.flatMap((kind) => finest(own, kind) ?? []));
  }
  return { figures, refused, cautions };
}

/** As the facts of findings name them. */
export const FIGURE_WORDS: Readonly<Record<ChartedSummary['kind'], string>> = {
  'mean-per-hand': 'mean',
  'highest-per-hand': 'highest',
};

const KINDS: readonly ChartedSummary['kind'][] = ['mean-per-hand', 'highest-per-hand'];

/** Of figures that agree, the one with the most decimals: the others are the same one, rounded. */
function finest(
  charted: readonly ChartedSummary[],
  kind: ChartedSummary['kind'],
): ChartedSummary | undefined {
  return charted
    .filter((each) => each.kind === kind)
    .toSorted((a, b) => decimalsOf(forceOf(b)) - decimalsOf(forceOf(a)))[0];
}

/** Two figures of one kind that differ, or a mean above the highest. */
function isConflicting(charted: readonly ChartedSummary[]): boolean {
  const [average, best] = KINDS.map((kind) => finest(charted, kind));
  const apart = charted.some((each) => {
    const other = each.kind === 'mean-per-hand' ? average : best;
    return other !== undefined && !isSame(each, forceIn(other, each), decimalsOf(forceOf(other)));
  });
  if (apart || !average || !best) return apart;
  const top = forceIn(best, average);
  return compare(forceOf(average), top) > 0 && !isSame(average, top, decimalsOf(forceOf(best)));
}

function conflict({ reference, hand, reading, unit }: ChartedSummary): Refusal {
  return refuse('SUMMARY_CONFLICT', { trial: reference, hand, facts: { reading, unit } });
}

/** In the scale on which another figure is charted. */
function forceIn(figure: HandFigure, other: HandFigure): Exact {
  return convertForce(forceOf(figure), scaleOf(figure), scaleOf(other));
}

/**
 * Whether a charted figure may be `value` rounded to the digits charted, whichever way a half was rounded.
 * @param digits of `value`, where that was rounded too: the fewer count
 */
function isSame(charted: ChartedSummary, value: Exact, digits = Number.POSITIVE_INFINITY): boolean {
  const places = Math.min(decimalsOf(forceOf(charted)), digits);
  const margin = { num: 1n, den: 2n * 10n ** BigInt(places) };
  const force = forceOf(charted);
  return compare(force, add(value, margin)) <= 0 && compare(force, subtract(value, margin)) >= 0;
}

function disagreement(charted: ChartedSummary, trials: readonly Trial[]): readonly Caution[] {
  const { kind, hand, reading } = charted;
  const forces = trials.map((trial) => forceIn(trial, charted));
  const computed = kind === 'mean-per-hand' ? mean(forces) : highest(forces);
  if (isSame(charted, computed)) return [];
  const digits = Math.max(1, decimalsOf(forceOf(charted)));
  const facts = {
    kind: FIGURE_WORDS[kind],
    charted: reading,
    computed: toDecimalText(computed, digits),
    unit: scaleOf(charted),
  };
  return [{ code: 'SUMMARY_DISAGREES', hand, facts }];
}

/** The figure of one hand that is looked at as a whole: the mean of its trials, else as charted. */
export interface WholeFigure {
  readonly kind: ChartedSummary['kind'];
  readonly value: Exact;
}

/** @param figures of one hand, as `usableFigures` gives them. Undefined when there are none */
export function wholeFigure(figures: readonly HandFigure[]): WholeFigure | undefined {
  const charted = figures.filter(isChartedSummary);
  if (figures.length > charted.length) {
    const trials = figures.filter((figure) => !isChartedSummary(figure));
    return { kind: 'mean-per-hand', value: mean(trials.map(forceOf)) };
  }
  const only = finest(charted, 'mean-per-hand') ?? finest(charted, 'highest-per-hand');
  return only && { kind: only.kind, value: forceOf(only) };
}
