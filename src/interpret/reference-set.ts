/**
 * What a reference set IS to the core: rows with exact limits, ready to be read. The loader
 * (src/reference) fills these from the released files; nothing here knows about files.
 */
import { type Exact, exact, multiply, subtract } from './exact.ts';
import type { Hand, Sex, SummaryKind } from './measurement.ts';
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

export interface LimitRow {
  readonly sex: Sex;
  /** Null where the set speaks of the person, not of one hand. */
  readonly hand: Hand | null;
  readonly ageMin: number;
  /** Null: open upper band. */
  readonly ageMax: number | null;
  readonly limit: Exact;
  readonly operator: LimitOperator;
  /** Mean and SD as printed, where the set is a table of norms; null for a cut-point. */
  readonly norm: { readonly mean: string; readonly sd: string } | null;
  readonly verification: string;
}

/** A norm table read by a rule, or a set of cut-points, as one panel applies it. */
export interface ReadySet {
  readonly ref: SetRef;
  /** The rule a table is read by; null for cut-points. */
  readonly rule: SetRef | null;
  /** The published unit: comparisons are made in it. */
  readonly unit: ForceUnit;
  readonly summary: SummaryKind;
  readonly rows: readonly LimitRow[];
}

/** Limit for a row of mean and SD, in the row's unit: mean - sdBelow * SD, exactly. */
export function limitBelowMean(mean: string, sd: string, sdBelow: string): Exact {
  return subtract(exact(mean), multiply(exact(sdBelow), exact(sd)));
}

/** Rules about the trials themselves; each comes from a released file (`ref`). */
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
   * mean + `cautionAboveSd` SD.
   */
  readonly unitPlausibility: {
    readonly ref: SetRef;
    readonly aboveSd: string;
    readonly withinSd: string;
    readonly cautionAboveSd: string;
  };
}

/** What a site applies, in its order. */
export interface Panel {
  readonly ref: SetRef;
  readonly sets: readonly ReadySet[];
  readonly rules: TrialRules;
}

export function coversAge(row: Pick<LimitRow, 'ageMin' | 'ageMax'>, ageYears: number): boolean {
  return ageYears >= row.ageMin && (row.ageMax === null || ageYears <= row.ageMax);
}

export function findRow(
  set: ReadySet,
  person: { readonly ageYears: number; readonly sex: Sex; readonly hand: Hand | null },
): LimitRow | undefined {
  return set.rows.find(
    (row) => row.sex === person.sex && row.hand === person.hand && coversAge(row, person.ageYears),
  );
}
