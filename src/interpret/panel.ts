/** What a site applies: reference sets, and rules about the trials, the record and the course. */
import type { MeasureKind } from './measurement.ts';
import type { ReadySet, SetRef } from './reference-set.ts';

/** A published size of change, and for whom it was found. */
export interface Yardstick {
  readonly id: string;
  /** Beyond the error: more than the limit. Smallest important: at least the limit. */
  readonly kind: 'measurement-error' | 'smallest-important';
  /** `unknown` holds where the record does not say which hand is dominant. */
  readonly hand: 'dominant' | 'nondominant' | 'unknown' | 'any';
  readonly ageMin: number;
  readonly ageMax: number | null;
  readonly limit: { readonly value: string; readonly unit: 'kg' | '%' };
}

/**
 * Each comes from a released file (`ref`). The first five are in every panel; the others where the panel names
 * them.
 */
export interface TrialRules {
  readonly trialsPerHand: { readonly ref: SetRef; readonly perHand: number };
  /** Coefficient of variation (sample SD over mean) above which trials are called inconsistent, in percent. */
  readonly scatter: { readonly ref: SetRef; readonly maxCvPercent: string };
  /** A single reading above this, in kg, is refused. */
  readonly bounds: { readonly ref: SetRef; readonly maxKg: string };
  /** Trials further apart than this belong to different sessions, in minutes. */
  readonly session: { readonly ref: SetRef; readonly maxGapMinutes: number };
  /**
   * Held when above mean + `aboveSd` SD as charted and within `withinSd` SD in the other unit; cautioned above
   * mean + `cautionAboveSd` SD. `previousFactor`: a mean this many times the previous one, or that many times
   * smaller at most `maxDays` days later, is the signature of the other unit.
   */
  readonly unitPlausibility: {
    readonly ref: SetRef;
    readonly aboveSd: string;
    readonly withinSd: string;
    readonly cautionAboveSd: string;
    readonly previousFactor?:
      | { readonly from: string; readonly to: string; readonly maxDays: number }
      | undefined;
  };
  /** In percent: first trial this far below the mean of the others; fall from the first trial to the last. */
  readonly trialPattern?: {
    readonly ref: SetRef;
    readonly firstBelowPercent: string;
    readonly fallPercent: string;
  };
  /** Calibration older than this on the day of the test, in days. */
  readonly calibration?: { readonly ref: SetRef; readonly maxDays: number };
  /** Time of day further than this from the earlier test's, in minutes. */
  readonly timeOfDay?: { readonly ref: SetRef; readonly maxMinutes: number };
  readonly changeLimits?: { readonly ref: SetRef; readonly yardsticks: readonly Yardstick[] };
  /**
   * How far a measure other than grip may be from the day of the test, in days, by kind; below an age a height
   * must be nearer.
   */
  readonly recordWindow?: {
    readonly ref: SetRef;
    readonly days: Readonly<Record<MeasureKind, number>>;
    readonly growing: { readonly belowAge: number; readonly heightDays: number };
  };
  /** Published sizes of departures from a protocol: for the wording only. */
  readonly protocolEffects?: { readonly ref: SetRef };
  /** Days after a test at which the next is suggested. */
  readonly nextMeasurement?: { readonly ref: SetRef; readonly afterDays: number };
}

/** What a site applies, in its order. */
export interface Panel {
  readonly ref: SetRef;
  readonly sets: readonly ReadySet[];
  /** Tables that serve the check of the unit only, where the sets have no mean and SD of one hand. */
  readonly unitGuards?: readonly ReadySet[] | undefined;
  readonly rules: TrialRules;
}
