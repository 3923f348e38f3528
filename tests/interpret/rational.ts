/**
 * Fractions done apart from the core's exact.ts: always in lowest terms, read and compared in their own way. An
 * oracle for every comparison that must not depend on a float.
 */
export interface Rational {
  readonly top: bigint;
  readonly bottom: bigint;
}

function divisor(a: bigint, b: bigint): bigint {
  return b === 0n ? a : divisor(b, a % b);
}

export function ratio(top: bigint, bottom = 1n): Rational {
  const sign = bottom < 0n ? -1n : 1n;
  const common = divisor(top < 0n ? -top : top, bottom * sign) * sign;
  return { top: top / common, bottom: bottom / common };
}

/** Decimal text without exponent. */
export function decimalOf(text: string): Rational {
  const [whole = '', fraction = ''] = text.split('.');
  return ratio(BigInt(whole + fraction), 10n ** BigInt(fraction.length));
}

export const plus = (a: Rational, b: Rational) =>
  ratio(a.top * b.bottom + b.top * a.bottom, a.bottom * b.bottom);
export const less = (a: Rational, b: Rational) => plus(a, ratio(-b.top, b.bottom));
export const times = (a: Rational, b: Rational) => ratio(a.top * b.top, a.bottom * b.bottom);
export const over = (a: Rational, b: Rational) => ratio(a.top * b.bottom, a.bottom * b.top);

/** -1, 0 or 1. */
export function order(a: Rational, b: Rational): number {
  const { top } = less(a, b);
  return top < 0n ? -1 : top > 0n ? 1 : 0;
}

/** Whole decimal text of a fraction that has one; undefined for one like 1/3. */
export function textOf({ top, bottom }: Rational): string | undefined {
  let digits = 0;
  let scale = 1n;
  while (scale % bottom !== 0n) {
    digits += 1;
    scale *= 10n;
    if (digits > 40) return undefined;
  }
  const count = top * (scale / bottom);
  const text = (count < 0n ? -count : count).toString().padStart(digits + 1, '0');
  const at = text.length - digits;
  return `${count < 0n ? '-' : ''}${text.slice(0, at)}${digits > 0 ? `.${text.slice(at)}` : ''}`;
}

/** Kilograms in one unit of force: 1 lb = 0.45359237 kg, 1 kg = 9.80665 N. */
export const KG_IN = {
  kg: ratio(1n),
  lb: decimalOf('0.45359237'),
  N: over(ratio(1n), decimalOf('9.80665')),
} as const;
