/**
 * The rows that a panel should read, worked out from the text of the released files alone: limits as fractions of
 * rational.ts, exact ages filled in. Shares no code with src/reference or the core.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { NORMS } from './build.ts';
import { decimalOf, less, over, plus, type Rational, ratio, times } from './rational.ts';

interface Printed {
  readonly sex: 'female' | 'male';
  readonly hand?: 'right' | 'left' | 'dominant' | 'nondominant' | null;
  readonly ageMin: number | null;
  readonly ageMax: number | null;
  readonly stratum?: { by: 'bmi' | 'height'; min: string | null; max: string | null; digits: number };
  readonly mean?: string | null;
  readonly sd?: string | null;
  readonly oneSdBelow?: string;
  readonly percentiles?: Readonly<Record<string, string>>;
  readonly value?: string | null;
  readonly operator?: '<' | '<=';
}

interface PrintedSet {
  readonly unit: 'kg' | 'lb' | 'N';
  readonly quantity?: 'force-over-bmi' | 'force-over-height-squared';
  readonly ages?: 'exact';
  readonly rows: readonly Printed[];
}

interface Entry {
  readonly set: { readonly kind: 'table' | 'cut-points'; readonly id: string; readonly version: string };
  readonly rule?: { readonly id: string; readonly version: string };
  readonly ageMin?: { readonly years: number };
}

interface PrintedRule {
  readonly parameters: {
    readonly sdBelow?: string;
    readonly reducedBelow?: number;
    readonly operator: '<' | '<=';
  };
}

export interface ExpectedRow {
  readonly sex: 'female' | 'male';
  readonly hand: NonNullable<Printed['hand']> | null;
  readonly ageMin: number;
  readonly ageMax: number | null;
  readonly stratum: Printed['stratum'];
  readonly limit: Rational | null;
  readonly operator: '<' | '<=';
}

export interface ExpectedSet {
  readonly id: string;
  readonly unit: PrintedSet['unit'];
  readonly quantity: PrintedSet['quantity'];
  readonly rows: readonly ExpectedRow[];
}

function parsed<T>(...path: readonly string[]): T {
  return JSON.parse(readFileSync(join(NORMS, ...path), 'utf8')) as T;
}

/** Every set of one version of a panel, in its order. */
export function expectedSets(panel: string, version: string): readonly ExpectedSet[] {
  return parsed<{ entries: readonly Entry[] }>('panels', panel, `${version}.json`).entries.map(expectedSet);
}

function expectedSet({ set, rule, ageMin }: Entry): ExpectedSet {
  const folder = set.kind === 'table' ? 'tables' : 'cut-points';
  const file = parsed<PrintedSet>(folder, set.id, `${set.version}.json`);
  const read = rule && parsed<PrintedRule>('rules', rule.id, `${rule.version}.json`);
  const rows = file.rows.map((row) => expectedRow(row, read?.parameters));
  const years = file.ages === 'exact' ? filledIn(rows) : rows;
  const from = ageMin?.years ?? 0;
  const applied = years
    .filter((row) => row.ageMax === null || row.ageMax >= from)
    .map((row) => ({ ...row, ageMin: Math.max(row.ageMin, from) }));
  return { id: set.id, unit: file.unit, quantity: file.quantity, rows: applied };
}

function expectedRow(row: Printed, rule: PrintedRule['parameters'] | undefined): ExpectedRow {
  const { sex, hand = null, ageMax, stratum } = row;
  const operator = rule?.operator ?? row.operator ?? '<';
  return { sex, hand, ageMin: row.ageMin ?? 0, ageMax, stratum, operator, limit: limitOf(row, rule) };
}

function limitOf(row: Printed, rule: PrintedRule['parameters'] | undefined): Rational | null {
  if (!rule) return row.value ? decimalOf(row.value) : null;
  if (rule.reducedBelow !== undefined) {
    const value = row.percentiles?.[rule.reducedBelow];
    return value ? decimalOf(value) : null;
  }
  const mean = row.mean ? decimalOf(row.mean) : null;
  if (!mean) return null;
  const sd = row.sd ? decimalOf(row.sd) : row.oneSdBelow ? less(mean, decimalOf(row.oneSdBelow)) : null;
  return sd && less(mean, times(decimalOf(rule.sdBelow ?? ''), sd));
}

/** One row for each year between two exact ages, on the line between them. */
function filledIn(rows: readonly ExpectedRow[]): readonly ExpectedRow[] {
  return rows.flatMap((row) => {
    const later = rows.filter(
      ({ sex, hand, ageMin }) => sex === row.sex && hand === row.hand && ageMin > row.ageMin,
    );
    const next = later.sort((a, b) => a.ageMin - b.ageMin)[0];
    const until = next?.ageMin ?? row.ageMin + 1;
    return Array.from({ length: until - row.ageMin }, (_, year) => {
      const age = row.ageMin + year;
      return { ...row, ageMin: age, ageMax: age, limit: year === 0 ? row.limit : onTheLine(row, next, year) };
    });
  });
}

function onTheLine(from: ExpectedRow, to: ExpectedRow | undefined, years: number): Rational | null {
  if (!to?.limit || !from.limit) return null;
  const slope = over(less(to.limit, from.limit), ratio(BigInt(to.ageMin - from.ageMin)));
  return plus(from.limit, times(slope, ratio(BigInt(years))));
}
