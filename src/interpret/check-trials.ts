/** What is wrong or worth saying about the trials themselves, before and beside any reference set. */
import {
  add,
  compare,
  divide,
  type Exact,
  exact,
  mean,
  multiply,
  subtract,
  sum,
  toDecimalText,
  toNumber,
  wholeNumber,
} from './exact.ts';
import { type Caution, type Refusal, refuse } from './finding.ts';
import {
  forceOf,
  HANDS,
  type Hand,
  ofHand,
  SEXES,
  type Subject,
  scaleOf,
  type Trial,
} from './measurement.ts';
import { findRow, type LimitRow, type Panel, type ReadySet, type TrialRules } from './reference-set.ts';
import { CHARTED_UNITS, convertForce, type ForceUnit } from './units.ts';

/** Refuses a reading that no hand gives: zero, negative, or above the physical bound. */
export function checkReading(trial: Trial, rules: TrialRules): Refusal | undefined {
  const facts = { reading: trial.reading, unit: trial.unit };
  const force = forceOf(trial);
  if (force.num <= 0n)
    return refuse('VALUE_NOT_POSITIVE', { trial: trial.reference, hand: trial.hand, facts });
  const { maxKg } = rules.bounds;
  if (compare(convertForce(force, scaleOf(trial), 'kg'), exact(maxKg)) <= 0) return undefined;
  return refuse('VALUE_OVER_BOUND', { trial: trial.reference, hand: trial.hand, facts: { ...facts, maxKg } });
}

/** Refuses a whole session whose trials are charted on different scales: one of them is probably misread. */
export function checkMixedUnits(trials: readonly Trial[]): Refusal | undefined {
  const scales = [...new Set(trials.map(scaleOf))];
  if (scales.length < 2) return undefined;
  return refuse('UNITS_MIXED', { facts: { units: scales.sort().join(', ') } });
}

/**
 * Holds a session whose mean is implausible as charted and ordinary in the other unit (kg and lb only).
 * A hand is implausible when every norm table of the panel that covers the person says so, for the
 * person's sex or, where that is not usable, for both. One such hand holds the whole session.
 */
export function checkUnitPlausibility(
  trials: readonly Trial[],
  subject: Subject,
  panel: Panel,
): Refusal | undefined {
  const first = trials[0];
  const charted = first ? scaleOf(first) : 'N';
  if (charted === 'N') return undefined;
  const other: ForceUnit = charted === 'kg' ? 'lb' : 'kg';
  for (const hand of HANDS) {
    const forces = ofHand(trials, hand).map(forceOf);
    if (forces.length === 0) continue;
    const norms = normsFor(panel, subject, hand);
    const value = mean(forces);
    const swapped = norms.every(({ set, row }) => looksSwapped(value, charted, other, set, row, panel.rules));
    if (norms.length === 0 || !swapped) continue;
    const facts = { mean: toDecimalText(value, 1), unit: charted, otherUnit: other };
    return refuse('UNIT_IMPLAUSIBLE', { hand, facts });
  }
  return undefined;
}

interface Norm {
  readonly set: ReadySet;
  readonly row: LimitRow;
}

/** The norm rows for this person and hand, of each sex that is possible. */
function normsFor(panel: Panel, { ageYears, sex }: Subject, hand: Hand): readonly Norm[] {
  const sexes = sex ? [sex] : SEXES;
  return panel.sets.flatMap((set) =>
    sexes.flatMap((possible) => {
      const row = findRow(set, { ageYears, sex: possible, hand });
      return row?.norm ? [{ set, row }] : [];
    }),
  );
}

function looksSwapped(
  value: Exact,
  charted: ForceUnit,
  other: ForceUnit,
  set: ReadySet,
  row: LimitRow,
  rules: TrialRules,
): boolean {
  if (!row.norm) return false;
  const rowMean = exact(row.norm.mean);
  const sd = exact(row.norm.sd);
  const { aboveSd, withinSd } = rules.unitPlausibility;
  const asCharted = convertForce(value, charted, set.unit);
  const asOther = convertForce(value, other, set.unit);
  const within = multiply(exact(withinSd), sd);
  return (
    compare(asCharted, add(rowMean, multiply(exact(aboveSd), sd))) > 0 &&
    compare(asOther, add(rowMean, within)) <= 0 &&
    compare(asOther, subtract(rowMean, within)) >= 0
  );
}

/** Everything that does not stop the interpretation but changes how far it can be relied on. */
export function cautionsFor(trials: readonly Trial[], rules: TrialRules): readonly Caution[] {
  const massUnits = [...new Set(trials.map((trial) => trial.unit))].filter(
    (unit) => CHARTED_UNITS[unit].massReadAsForce,
  );
  const preliminary = trials.filter((trial) => trial.preliminary).length;
  return [
    ...HANDS.flatMap((hand) => handCautions(hand, ofHand(trials, hand), rules)),
    ...(preliminary > 0
      ? [{ code: 'TRIAL_PRELIMINARY' as const, hand: null, facts: { count: String(preliminary) } }]
      : []),
    ...massUnits.map((unit) => ({ code: 'MASS_UNIT_READ_AS_FORCE' as const, hand: null, facts: { unit } })),
  ];
}

function handCautions(hand: Hand, trials: readonly Trial[], rules: TrialRules): readonly Caution[] {
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
