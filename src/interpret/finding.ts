/**
 * What the core answers. Plain JSON data, so that the same value is returned, recorded and compared on
 * replay. "Cannot interpret" is an answer: a Refusal, never an exception.
 */
import type { Hand, Sex, SummaryKind } from './measurement.ts';
import type { LimitOperator, SetRef } from './reference-set.ts';
import type { ForceUnit } from './units.ts';

/** A force with its unit. `value` is decimal text, rounded for reading; comparisons were made before rounding. */
export interface ForceText {
  readonly value: string;
  readonly unit: ForceUnit;
}

/** Why a figure stands only provisionally. */
export type ProvisionalReason = 'TRIALS_FEWER' | 'TRIALS_MORE' | 'ONE_HAND_ONLY';

export interface Summary {
  readonly kind: SummaryKind;
  readonly hand: Hand | null;
  /** In the unit as charted. */
  readonly charted: ForceText;
  /** The same in kilograms. */
  readonly kilograms: ForceText;
  /** References of the trials it was computed from. */
  readonly trials: readonly string[];
  readonly provisional: readonly ProvisionalReason[];
}

export type Outcome = 'reduced' | 'not-reduced';

/** One reference set read for one hand (or for the person), with everything needed to redo it by pencil. */
export interface Verdict {
  readonly kind: 'verdict';
  readonly set: SetRef;
  readonly rule: SetRef | null;
  readonly sex: Sex;
  readonly hand: Hand | null;
  readonly summary: SummaryKind;
  readonly charted: ForceText;
  /** The summary in the published unit: the figure that was compared. */
  readonly compared: ForceText;
  /** Factors used, e.g. `1 lb = 0.45359237 kg`; null when charted in the published unit. */
  readonly conversion: string | null;
  readonly limit: ForceText & { readonly operator: LimitOperator };
  readonly row: {
    readonly ageMin: number;
    readonly ageMax: number | null;
    readonly mean: string | null;
    readonly sd: string | null;
    readonly verification: string;
  };
  readonly outcome: Outcome;
  /** Standard deviations from the row's mean; null for cut-points. Unrounded. */
  readonly zScore: number | null;
  /** 0 to 100, from the z-score under a normal distribution; null for cut-points. Unrounded. */
  readonly percentile: number | null;
  readonly provisional: readonly ProvisionalReason[];
}

/** Stable for ever; meanings and wording are in src/errors.ts. */
export type RefusalCode =
  // one measurement
  | 'CODE_NOT_GRIP'
  | 'SIDE_MISSING'
  | 'SIDE_CONTRADICTION'
  | 'STATUS_NOT_USABLE'
  | 'MODIFIER_UNKNOWN'
  | 'SUBJECT_MISSING'
  | 'DUPLICATE_OBSERVATION'
  | 'OBSERVATION_CONFLICT'
  | 'TIME_MISSING'
  | 'TIME_IN_FUTURE'
  | 'VALUE_ABSENT'
  | 'VALUE_COMPARATOR'
  | 'VALUE_NOT_POSITIVE'
  | 'VALUE_OVER_BOUND'
  | 'UNIT_MISSING'
  | 'UNIT_UNKNOWN'
  // the person or the sitting
  | 'BIRTH_DATE_MISSING'
  | 'BIRTH_DATE_PARTIAL'
  | 'BIRTH_AFTER_TEST'
  | 'SUBJECT_DECEASED'
  | 'AGE_IMPLAUSIBLE'
  | 'UNITS_MIXED'
  | 'UNIT_IMPLAUSIBLE'
  // one reference set
  | 'AGE_OUTSIDE_SET'
  | 'SEX_NOT_USABLE';

export interface Refusal {
  readonly kind: 'refusal';
  readonly code: RefusalCode;
  /** The reference set that could not be read; null when it is not about one set. */
  readonly set: SetRef | null;
  readonly hand: Hand | null;
  /** The trial refused; null when it is not about one trial. */
  readonly trial: string | null;
  /** FHIRPath of the element at fault in the request; null when it is not about an element. */
  readonly expression: string | null;
  /** What the wording needs. Codes, figures and units only: never names or free text. */
  readonly facts: Readonly<Record<string, string>>;
  /** SEX_NOT_USABLE only: the set read for each sex, for the clinician to choose. */
  readonly columns: readonly Verdict[];
}

export type CautionCode =
  | 'TRIALS_FEWER'
  | 'TRIALS_MORE'
  | 'HAND_NOT_TESTED'
  | 'TRIALS_SCATTER'
  | 'UNIT_DOUBTFUL'
  | 'TRIAL_PRELIMINARY'
  | 'MASS_UNIT_READ_AS_FORCE';

export interface Caution {
  readonly code: CautionCode;
  readonly hand: Hand | null;
  readonly facts: Readonly<Record<string, string>>;
}

/** Difference of the mean per hand between two sittings. Arithmetic only: no judgement of importance. */
export interface Change {
  readonly hand: Hand;
  /** Moment of the earlier test, as charted. */
  readonly since: string;
  readonly from: ForceText;
  readonly to: ForceText;
  /** `to - from`, in the unit of `to`, with its sign. */
  readonly difference: ForceText;
  /** 100 * difference / from, one decimal, with its sign. */
  readonly percent: string;
  /** Why either of the two means stands only provisionally. */
  readonly provisional: readonly ProvisionalReason[];
}

/** Everything said about one sitting. */
export interface Interpretation {
  readonly testedOn: string;
  /** Moment of the first trial, as charted. */
  readonly effective: string;
  readonly ageYears: number | null;
  readonly sex: Sex | null;
  /** References of the trials used. */
  readonly trials: readonly string[];
  readonly summaries: readonly Summary[];
  readonly results: readonly (Verdict | Refusal)[];
  readonly cautions: readonly Caution[];
  readonly changes: readonly Change[];
}

/** A refusal with the parts that do not apply left at their empty case. */
export function refuse(code: RefusalCode, parts: Partial<Omit<Refusal, 'kind' | 'code'>> = {}): Refusal {
  return {
    kind: 'refusal',
    code,
    set: null,
    hand: null,
    trial: null,
    expression: null,
    facts: {},
    columns: [],
    ...parts,
  };
}
