/** What is wrong or worth saying about the trials themselves, before and beside any reference set. */

import { FIGURE_WORDS } from './charted.ts';
import { patternCautions, protocolCautions } from './check-pattern.ts';
import {
  compare,
  divide,
  type Exact,
  exact,
  mean,
  multiply,
  subtract,
  sum,
  toNumber,
  wholeNumber,
} from './exact.ts';
import { type Caution, type Refusal, refuse } from './finding.ts';
import type { EarlierSession } from './history.ts';
import {
  forceOf,
  HANDS,
  type Hand,
  type HandFigure,
  isChartedSummary,
  ofHand,
  scaleOf,
  type Trial,
} from './measurement.ts';
import type { TrialRules } from './panel.ts';
import { CHARTED_UNITS, convertForce } from './units.ts';

/** Refuses a reading that no hand gives: zero, negative, or above the physical bound. */
export function checkReading(trial: HandFigure, rules: TrialRules): Refusal | undefined {
  const facts = { reading: trial.reading, unit: trial.unit };
  const force = forceOf(trial);
  if (force.num <= 0n)
    return refuse('VALUE_NOT_POSITIVE', { trial: trial.reference, hand: trial.hand, facts });
  const { maxKg } = rules.bounds;
  if (compare(convertForce(force, scaleOf(trial), 'kg'), exact(maxKg)) <= 0) return undefined;
  return refuse('VALUE_OVER_BOUND', { trial: trial.reference, hand: trial.hand, facts: { ...facts, maxKg } });
}

/**
 * Everything that does not stop the interpretation but changes how far it can be relied on.
 * @param figures trials, and charted summaries that stand for those of a hand
 */
export function cautionsFor(
  figures: readonly HandFigure[],
  rules: TrialRules,
  history: readonly EarlierSession[] = [],
): readonly Caution[] {
  const massUnits = [...new Set(figures.map(({ unit }) => unit))].filter(
    (unit) => CHARTED_UNITS[unit].massReadAsForce,
  );
  const preliminary = figures.filter((figure) => figure.preliminary);
  const count = String(preliminary.length);
  return [
    ...HANDS.flatMap((hand) => handCautions(hand, ofHand(figures, hand), rules)),
    ...protocolCautions(figures, history, rules),
    ...(preliminary.length > 0
      ? [
          {
            code: 'TRIAL_PRELIMINARY' as const,
            hand: null,
            facts: preliminary.some(isChartedSummary) ? { count, of: 'charted figures' } : { count },
          },
        ]
      : []),
    ...massUnits.map((unit) => ({ code: 'MASS_UNIT_READ_AS_FORCE' as const, hand: null, facts: { unit } })),
  ];
}

function handCautions(hand: Hand, figures: readonly HandFigure[], rules: TrialRules): readonly Caution[] {
  const kinds = figures.filter(isChartedSummary).map(({ kind }) => FIGURE_WORDS[kind]);
  if (kinds.length > 0)
    return [{ code: 'SUMMARY_UNVERIFIED', hand, facts: { charted: kinds.join(' and ') } }];
  const trials: readonly Trial[] = figures;
  const { perHand } = rules.trialsPerHand;
  const counts = { trials: String(trials.length), perHand: String(perHand) };
  if (trials.length === 0) return [{ code: 'HAND_NOT_TESTED', hand, facts: {} }];
  const cautions: Caution[] = [];
  if (trials.length < perHand) cautions.push({ code: 'TRIALS_FEWER', hand, facts: counts });
  if (trials.length > perHand) cautions.push({ code: 'TRIALS_MORE', hand, facts: counts });
  const forces = trials.map(forceOf);
  if (scattersBeyond(forces, rules.scatter.maxCvPercent)) {
    const facts = { cvPercent: cvPercent(forces).toFixed(1), maxCvPercent: rules.scatter.maxCvPercent };
    cautions.push({ code: 'TRIALS_SCATTER', hand, facts });
  }
  cautions.push(...patternCautions(hand, trials, rules));
  return cautions;
}

/**
 * Whether the coefficient of variation (sample SD over mean) exceeds the limit; false for fewer than two
 * trials. Exact, by squares: CV^2 = n (n Sxx - Sx^2) / ((n - 1) Sx^2).
 */
export function scattersBeyond(forces: readonly Exact[], maxCvPercent: string): boolean {
  if (forces.length < 2) return false;
  const n = wholeNumber(forces.length);
  const sx = sum(forces);
  const sxx = sum(forces.map((force) => multiply(force, force)));
  const spread = multiply(n, subtract(multiply(n, sxx), multiply(sx, sx)));
  const limit = multiply(exact(maxCvPercent), exact('0.01'));
  const allowed = multiply(
    multiply(limit, limit),
    multiply(wholeNumber(forces.length - 1), multiply(sx, sx)),
  );
  return compare(spread, allowed) > 0;
}

/** For display. */
function cvPercent(forces: readonly Exact[]): number {
  const average = mean(forces);
  const squares = forces.map((force) => toNumber(divide(subtract(force, average), average)) ** 2);
  return 100 * Math.sqrt(squares.reduce((a, b) => a + b, 0) / (forces.length - 1));
}
