/** What was measured, as the core sees it: one trial, and the trials of one sitting. Plain values only. */
import { type Exact, exact } from './exact.ts';
import { CHARTED_UNITS, type ChartedUnit, type ForceUnit } from './units.ts';

export type Sex = 'female' | 'male';
export type Hand = 'right' | 'left';
export const SEXES: readonly Sex[] = ['female', 'male'];
export const HANDS: readonly Hand[] = ['right', 'left'];

/** One squeeze, as charted. */
export interface Trial {
  /** How the answer points back to the record, e.g. `Observation/abc`; opaque to the core. */
  readonly reference: string;
  readonly hand: Hand;
  /** Decimal text as charted, e.g. `62.5`. */
  readonly reading: string;
  readonly unit: ChartedUnit;
  /** Moment of the test as charted, e.g. `2026-11-16T14:05:00Z`; opaque to the core. */
  readonly effective: string;
  /** Calendar date of the test as charted, `YYYY-MM-DD`. */
  readonly testedOn: string;
  /** Minutes since 1970-01-01T00:00Z, or null when only the date was charted. */
  readonly testedAtMinute: number | null;
  /** Charted as not yet verified (FHIR status `preliminary`). */
  readonly preliminary: boolean;
}

/** The person at one sitting: age in completed years on that day, and the sex the tables are read for. */
export interface Subject {
  readonly ageYears: number;
  /** Null when the record gives no usable sex: both columns are then shown. */
  readonly sex: Sex | null;
}

/** Which single figure stands for the trials. */
export type SummaryKind = 'mean-per-hand' | 'highest-per-hand' | 'highest-of-either-hand';

/** Read once for each trial: the same frozen figure serves every check, summary and set. */
const forces = new WeakMap<Trial, Exact>();

export function forceOf(trial: Trial): Exact {
  const known = forces.get(trial);
  if (known) return known;
  const force = exact(trial.reading);
  forces.set(trial, force);
  return force;
}

export function scaleOf(trial: Trial): ForceUnit {
  return CHARTED_UNITS[trial.unit].force;
}

export function ofHand(trials: readonly Trial[], hand: Hand): readonly Trial[] {
  return trials.filter((trial) => trial.hand === hand);
}
