/**
 * Units of grip strength. Instruments show kilograms or pounds, meaning kilogram-force and pound-force.
 * Factors: 1 lb = 0.45359237 kg exactly (international avoirdupois pound); 1 kgf = 9.80665 N exactly
 * (standard gravity); both as in the UCUM 2.2 essence file.
 */
import { divide, type Exact, exact, multiply } from './exact.ts';

/** The scale a figure is read on: kilogram-force, pound-force or newton. */
export type ForceUnit = 'kg' | 'lb' | 'N';

/** UCUM codes accepted for a charted reading. */
export type ChartedUnit = 'kg' | 'kgf' | '[lb_av]' | '[lbf_av]' | 'N';

/**
 * UCUM `kg` and `[lb_av]` are mass. A dynamometer's "kg" is a force; the number is the same, and the
 * substitution is declared in every output (`massReadAsForce`).
 */
export const CHARTED_UNITS: Readonly<
  Record<ChartedUnit, { readonly force: ForceUnit; readonly massReadAsForce: boolean }>
> = Object.freeze({
  kg: { force: 'kg', massReadAsForce: true },
  kgf: { force: 'kg', massReadAsForce: false },
  '[lb_av]': { force: 'lb', massReadAsForce: true },
  '[lbf_av]': { force: 'lb', massReadAsForce: false },
  N: { force: 'N', massReadAsForce: false },
});

export function isChartedUnit(code: string): code is ChartedUnit {
  return Object.hasOwn(CHARTED_UNITS, code);
}

export const KG_PER_LB = '0.45359237';
export const N_PER_KG = '9.80665';

const ONE = exact('1');
const KG_PER: Readonly<Record<ForceUnit, Exact>> = Object.freeze({
  kg: ONE,
  lb: exact(KG_PER_LB),
  N: divide(ONE, exact(N_PER_KG)),
});

/** Converts exactly: no rounding at any step. */
export function convertForce(value: Exact, from: ForceUnit, to: ForceUnit): Exact {
  if (from === to) return value;
  return divide(multiply(value, KG_PER[from]), KG_PER[to]);
}

/** How a conversion is stated to a reader, e.g. `1 lb = 0.45359237 kg`; null when nothing is converted. */
export function conversionText(from: ForceUnit, to: ForceUnit): string | null {
  if (from === to) return null;
  const factors = [`1 lb = ${KG_PER_LB} kg`, `1 kg = ${N_PER_KG} N`];
  if (from !== 'N' && to !== 'N') return factors[0] ?? null;
  if (from !== 'lb' && to !== 'lb') return factors[1] ?? null;
  return factors.join('; ');
}
