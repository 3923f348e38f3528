/**
 * What a reference set IS to the core: rows with exact limits, ready to be read. The loader
 * (src/reference) fills these from the released files; nothing here knows about files.
 */
import { type Exact, exact, multiply, subtract } from './exact.ts';
import type {
  ArmPosition,
  Hand,
  InstrumentClass,
  MeasureKind,
  Posture,
  Sex,
  SummaryKind,
} from './measurement.ts';
import type { ForceUnit } from './units.ts';

export type SetKind = 'table' | 'cut-points' | 'rule' | 'panel';

/** Names one released file so that nobody can doubt which. */
export interface SetRef {
  readonly kind: SetKind;
  readonly id: string;
  readonly version: string;
  /** SHA-256 of the released file, lower-case hexadecimal. */
  readonly digest: string;
}

/** `<=`: at the limit counts as reduced; `<`: only below it. */
export type LimitOperator = '<' | '<=';

/** Which hand a row is for; null where the set speaks of the person, not of one hand. */
export type RowHand = Hand | 'dominant' | 'nondominant' | null;

/** What is compared with the limits: the force itself, or the force over a measure of the body. */
export type Quantity = 'force' | 'force-over-bmi' | 'force-over-height-squared';

/** Part of a table that holds for some heights or body mass indices only; both ends belong to it. */
export interface Stratum {
  readonly by: 'bmi' | 'height';
  readonly min: string | null;
  readonly max: string | null;
  /** Decimals of the printed ends: the measure is rounded to them before it is placed. */
  readonly digits: number;
}

export interface LimitRow {
  readonly sex: Sex;
  readonly hand: RowHand;
  readonly ageMin: number;
  /** Null: open upper band. */
  readonly ageMax: number | null;
  readonly stratum?: Stratum | undefined;
  /** Null where no copy gives the figure, or the copies differ. */
  readonly limit: Exact | null;
  readonly operator: LimitOperator;
  /** Not reduced, and below this called intermediate by the source. */
  readonly intermediateBelow?: Exact | undefined;
  /** Mean and SD as printed, where the set is a table of norms; null for a cut-point. */
  readonly norm: { readonly mean: string; readonly sd: string } | null;
  /** Centiles as printed or interpolated, lowest first; absent where the table has none that are read. */
  readonly centiles?: readonly { readonly rank: number; readonly value: Exact }[] | undefined;
  /** The exact ages whose figures this row lies between. */
  readonly betweenAges?: readonly [number, number] | undefined;
  readonly verification: string;
  /** Why the limit is null, or what else is to be known of the row; released text, never about a person. */
  readonly note?: string | undefined;
  /** Not verified well enough to drive a result by default: the panel took it on purpose. */
  readonly unproven?: true | undefined;
}

/** Something a set asks for besides grip, which the record may hold. */
export interface Companion {
  readonly name: string;
  readonly measure: MeasureKind;
  readonly operator: LimitOperator | '>' | '>=';
  readonly value: string;
}

/** How the people of a set were measured; null where not stated or mixed. */
export interface Built {
  readonly posture: Posture | null;
  readonly arm: ArmPosition | null;
  readonly handle: string | null;
  readonly instrument: InstrumentClass | null;
}

/** A norm table read by a rule, or a set of cut-points, as one panel applies it. */
export interface ReadySet {
  readonly ref: SetRef;
  /** The rule a table is read by; null for cut-points. */
  readonly rule: SetRef | null;
  /** The published unit of force: comparisons are made in it. */
  readonly unit: ForceUnit;
  /** Absent: the force itself. */
  readonly quantity?: Quantity | undefined;
  readonly summary: SummaryKind;
  readonly rows: readonly LimitRow[];
  /** Names for ranges of centiles, lowest first; the last has no end. */
  readonly bands?: readonly { readonly name: string; readonly below: number | null }[] | undefined;
  readonly companions?: readonly Companion[] | undefined;
  /** Reduced for less than this is acute, for as long or longer chronic, in the words of the set. */
  readonly chronicFromMonths?: number | undefined;
  readonly built?: Built | undefined;
}

/** Limit for a row of mean and SD, in the row's unit: mean - sdBelow * SD, exactly. */
export function limitBelowMean(mean: string, sd: string, sdBelow: string): Exact {
  return subtract(exact(mean), multiply(exact(sdBelow), exact(sd)));
}

export function coversAge(row: Pick<LimitRow, 'ageMin' | 'ageMax'>, ageYears: number): boolean {
  return ageYears >= row.ageMin && (row.ageMax === null || ageYears <= row.ageMax);
}
