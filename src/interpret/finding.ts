/**
 * What the core answers. Plain JSON data, so that the same value is returned, recorded and compared on
 * replay. "Cannot interpret" is an answer: a Refusal, never an exception.
 */
import type { Dominance, Hand, MeasureKind, ProtocolPart, Sex, SummaryKind } from './measurement.ts';
import type { LimitOperator, RowHand, SetRef, Stratum } from './reference-set.ts';
import type { ForceUnit } from './units.ts';

/** A force with its unit. `value` is decimal text, rounded for reading; comparisons were made before rounding. */
export interface ForceText {
  readonly value: string;
  readonly unit: ForceUnit;
}

/** Unit of a figure compared with a limit: a force, a force over BMI, or a force over height squared. */
export type FigureUnit = ForceUnit | `${ForceUnit}/(kg/m2)` | `${ForceUnit}/m2`;

/** A figure compared with a limit; rounded like a ForceText. */
export interface FigureText {
  readonly value: string;
  readonly unit: FigureUnit;
}

/** Why a figure stands only provisionally; `FIGURES_UNPROVEN` is about the reference set, not the trials. */
export type ProvisionalReason =
  | 'TRIALS_FEWER'
  | 'TRIALS_MORE'
  | 'ONE_HAND_ONLY'
  | 'FIGURES_UNPROVEN'
  | 'SUMMARY_CHARTED';

export interface Summary {
  readonly kind: SummaryKind;
  readonly hand: Hand | null;
  /** In the unit as charted. */
  readonly charted: ForceText;
  /** The same in kilograms. */
  readonly kilograms: ForceText;
  /** References of the trials it was computed from, or of the Observation that charted it. */
  readonly trials: readonly string[];
  readonly provisional: readonly ProvisionalReason[];
}

export type Outcome = 'reduced' | 'not-reduced';

/** What the force was divided by, and the measures it came from. */
export interface Divisor {
  readonly of: 'bmi' | 'height-squared';
  /** Decimal text, rounded for reading. */
  readonly value: string;
  readonly unit: 'kg/m2' | 'm2';
  readonly measures: readonly MeasureUsed[];
}

/** A measure of the record that a result rests on. */
export interface MeasureUsed {
  readonly kind: MeasureKind;
  readonly value: string;
  readonly measuredOn: string;
  readonly reference: string;
}

/** Between which centiles of its row a figure lies; null where it is below the lowest or above the highest. */
export interface CentilePlace {
  readonly atLeast: number | null;
  readonly below: number | null;
}

/** What else the set asks for, where the record holds it. */
export interface CompanionResult extends MeasureUsed {
  readonly name: string;
  /** Whether it is on the side of the limit that the set asks about. */
  readonly met: boolean;
}

/** How long a person has been reduced by a set that tells acute from chronic. */
export interface Course {
  /** First session of the unbroken run of reduced ones that ends now. */
  readonly reducedSince: string;
  /** Last session before that run, not reduced; null when there is none. */
  readonly lastNotReduced: string | null;
  readonly kind: 'acute' | 'chronic' | 'undetermined';
  readonly chronicFromMonths: number;
}

/** A part of the protocol in which the measurement differs from how the set was built. */
export interface Mismatch {
  readonly part: ProtocolPart;
  readonly charted: string;
  readonly built: string;
}

/**
 * One reference set read for one hand (or for the person), with everything needed to redo it by pencil. A part
 * that does not apply is absent.
 */
export interface Verdict {
  readonly kind: 'verdict';
  readonly set: SetRef;
  readonly rule: SetRef | null;
  readonly sex: Sex;
  readonly hand: Hand | null;
  readonly summary: SummaryKind;
  readonly charted: ForceText;
  /** The figure that was compared: the summary in the published unit, over the divisor where there is one. */
  readonly compared: FigureText;
  readonly divisor?: Divisor | undefined;
  /** Factors used, e.g. `1 lb = 0.45359237 kg`; null when charted in the published unit. */
  readonly conversion: string | null;
  readonly limit: FigureText & { readonly operator: LimitOperator };
  readonly row: {
    readonly ageMin: number;
    readonly ageMax: number | null;
    /** Only where the row is for the dominant or the other hand. */
    readonly hand?: RowHand | undefined;
    /** With the measure that placed the person in it. */
    readonly stratum?: (Pick<Stratum, 'by' | 'min' | 'max'> & { readonly measure: MeasureUsed }) | undefined;
    readonly betweenAges?: readonly [number, number] | undefined;
    readonly mean: string | null;
    readonly sd: string | null;
    readonly verification: string;
  };
  readonly outcome: Outcome;
  /** Standard deviations from the row's mean; null for cut-points and centiles. Unrounded. */
  readonly zScore: number | null;
  /** 0 to 100, from the z-score under a normal distribution; null where there is none. Unrounded. */
  readonly percentile: number | null;
  readonly centile?: CentilePlace | undefined;
  /** The source's own name for the range of centiles, or of figures above the limit. */
  readonly band?: string | undefined;
  readonly companions?: readonly CompanionResult[] | undefined;
  readonly course?: Course | undefined;
  readonly mismatches?: readonly Mismatch[] | undefined;
  readonly provisional: readonly ProvisionalReason[];
}

/** Stable for ever; meanings and wording are in src/errors.ts. */
export type RefusalCode =
  // one measurement
  | 'CODE_NOT_GRIP'
  | 'LOCAL_CODE_UNKNOWN'
  | 'CODE_CONTRADICTION'
  | 'STATISTIC_NOT_READ'
  | 'RESULT_LEFT_ASIDE'
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
  | 'VALUE_AMBIGUOUS'
  | 'MEMBER_MISSING'
  | 'VALUE_COMPARATOR'
  | 'VALUE_NOT_POSITIVE'
  | 'VALUE_OVER_BOUND'
  | 'UNIT_MISSING'
  | 'UNIT_UNKNOWN'
  | 'MEASURE_NOT_USABLE'
  // the person or the sitting
  | 'BIRTH_DATE_MISSING'
  | 'BIRTH_DATE_PARTIAL'
  | 'BIRTH_AFTER_TEST'
  | 'SUBJECT_DECEASED'
  | 'AGE_IMPLAUSIBLE'
  | 'SUMMARY_CONFLICT'
  | 'UNITS_MIXED'
  | 'UNIT_IMPLAUSIBLE'
  // one reference set
  | 'AGE_OUTSIDE_SET'
  | 'SEX_NOT_USABLE'
  | 'AGE_UNCERTAIN'
  | 'HANDEDNESS_UNKNOWN'
  | 'HAND_NOT_MEASURED'
  | 'SUMMARY_NOT_CHARTED'
  | 'OWN_BASELINE'
  | 'MEASURE_MISSING'
  | 'MEASURE_OUTSIDE_SET'
  | 'FIGURE_UNKNOWN';

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
  /** SEX_NOT_USABLE and AGE_UNCERTAIN only: the set read for each possibility, for the clinician to choose. */
  readonly columns: readonly Verdict[];
}

export type CautionCode =
  | 'TRIALS_FEWER'
  | 'TRIALS_MORE'
  | 'HAND_NOT_TESTED'
  | 'SUMMARY_UNVERIFIED'
  | 'SUMMARY_DISAGREES'
  | 'TRIALS_SCATTER'
  | 'FIRST_TRIAL_LOW'
  | 'TRIALS_FALLING'
  | 'UNIT_DOUBTFUL'
  | 'CHANGE_LIKE_UNIT'
  | 'PROTOCOL_VARIES'
  | 'CALIBRATION_OVERDUE'
  | 'TIME_OF_DAY_DIFFERS'
  | 'MEASURES_CONFLICT'
  | 'TRIAL_PRELIMINARY'
  | 'MASS_UNIT_READ_AS_FORCE';

export interface Caution {
  readonly code: CautionCode;
  readonly hand: Hand | null;
  readonly facts: Readonly<Record<string, string>>;
}

/** Whether a change goes beyond one published size. */
export interface YardstickResult {
  /** Of the rule that the panel names. */
  readonly id: string;
  readonly reached: boolean;
}

/** Difference of the mean per hand between two sittings. */
export interface Change {
  readonly hand: Hand;
  /** `first`: since the first comparable session; absent: since the one before. */
  readonly against?: 'first' | undefined;
  /** Moment of the earlier test, as charted. */
  readonly since: string;
  readonly from: ForceText;
  readonly to: ForceText;
  /** `to - from`, in the unit of `to`, with its sign. */
  readonly difference: ForceText;
  /** 100 * difference / from, one decimal, with its sign; empty where the earlier mean is next to nothing. */
  readonly percent: string;
  /** Why either of the two means stands only provisionally. */
  readonly provisional: readonly ProvisionalReason[];
  /** Parts of the protocol in which the two differ: `charted` is now, `built` was then. */
  readonly mismatches?: readonly Mismatch[] | undefined;
  /** Absent where the panel names no rule of change. */
  readonly yardsticks?: readonly YardstickResult[] | undefined;
}

/** Everything said about one sitting. */
export interface Interpretation {
  readonly testedOn: string;
  /** Moment of the first trial, as charted. */
  readonly effective: string;
  readonly ageYears: number | null;
  /** The other possible age, where the date of birth is known in part only. */
  readonly ageAtMost?: number | undefined;
  readonly sex: Sex | null;
  readonly dominant?: Dominance | undefined;
  /** References of the trials used, and of charted summaries that stand for the trials of a hand. */
  readonly trials: readonly string[];
  readonly summaries: readonly Summary[];
  readonly results: readonly (Verdict | Refusal)[];
  readonly cautions: readonly Caution[];
  readonly changes: readonly Change[];
  /** Day from which the panel's rule suggests the next measurement, `YYYY-MM-DD`. */
  readonly nextFrom?: string | undefined;
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
