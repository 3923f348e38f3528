/**
 * Exact fractions. Every comparison with a limit is made here, because a binary float cannot hold 41.4:
 * 70.4 - 2 * 14.5 is 41.400000000000006 as a float, and a person at exactly the limit would be misjudged.
 */

/** A fraction of two integers; `den` is always positive. Not reduced to lowest terms. */
export interface Exact {
  readonly num: bigint;
  readonly den: bigint;
}

const DECIMAL = /^(-?)(\d+)(?:\.(\d+))?(?:[eE]([+-]?\d{1,3}))?$/;

/**
 * Reads a decimal number as written, e.g. `"41.4"`, `"-0.5"`, `"1e-7"`.
 * @throws RangeError when the text is not a finite decimal number.
 */
export function exact(decimal: string): Exact {
  const match = DECIMAL.exec(decimal);
  if (!match) throw new RangeError(`not a decimal number: ${decimal.slice(0, 40)}`);
  const [, sign, whole, fraction = '', exponent = '0'] = match;
  const num = BigInt(`${sign}${whole}${fraction}`);
  const scale = fraction.length - Number(exponent);
  return scale >= 0 ? { num, den: 10n ** BigInt(scale) } : { num: num * 10n ** BigInt(-scale), den: 1n };
}

/** Decimals of a number as `exact` read it: 3 for `62.333`. */
export function decimalsOf({ den }: Exact): number {
  return den.toString().length - 1;
}

export function wholeNumber(value: number): Exact {
  return { num: BigInt(value), den: 1n };
}

export function add(a: Exact, b: Exact): Exact {
  if (a.den === b.den) return { num: a.num + b.num, den: a.den };
  // Decimals of different length share a denominator: sums stay as small as their longest term.
  if (a.den % b.den === 0n) return { num: a.num + b.num * (a.den / b.den), den: a.den };
  if (b.den % a.den === 0n) return { num: a.num * (b.den / a.den) + b.num, den: b.den };
  return { num: a.num * b.den + b.num * a.den, den: a.den * b.den };
}

export function subtract(a: Exact, b: Exact): Exact {
  return add(a, { num: -b.num, den: b.den });
}

export function multiply(a: Exact, b: Exact): Exact {
  return { num: a.num * b.num, den: a.den * b.den };
}

/** @throws RangeError when `b` is zero. */
export function divide(a: Exact, b: Exact): Exact {
  if (b.num === 0n) throw new RangeError('division by zero');
  const sign = b.num < 0n ? -1n : 1n;
  return { num: a.num * b.den * sign, den: a.den * b.num * sign };
}

/** Negative when a < b, zero when they are the same number, positive when a > b. */
export function compare(a: Exact, b: Exact): number {
  const left = a.num * b.den;
  const right = b.num * a.den;
  return left < right ? -1 : left > right ? 1 : 0;
}

export function sum(values: readonly Exact[]): Exact {
  return values.reduce(add, wholeNumber(0));
}

/** @throws RangeError when `values` is empty. */
export function mean(values: readonly Exact[]): Exact {
  return divide(sum(values), wholeNumber(values.length));
}

/** @throws RangeError when `values` is empty. */
export function highest(values: readonly Exact[]): Exact {
  const [first, ...rest] = values;
  if (!first) throw new RangeError('no values');
  return rest.reduce((best, value) => (compare(value, best) > 0 ? value : best), first);
}

/** Decimal text with `digits` places, rounded half away from zero, e.g. 62.333 for 187/3 and 3. */
export function toDecimalText(value: Exact, digits: number): string {
  const scaled = value.num * 10n ** BigInt(digits) * 2n;
  const magnitude = ((scaled < 0n ? -scaled : scaled) + value.den) / (value.den * 2n);
  const text = magnitude.toString().padStart(digits + 1, '0');
  const sign = value.num < 0n && magnitude !== 0n ? '-' : '';
  if (digits === 0) return sign + text;
  return `${sign}${text.slice(0, -digits)}.${text.slice(-digits)}`;
}

/** The nearest float, for z-scores and display only; never for a comparison with a limit. */
export function toNumber(value: Exact): number {
  const num = Number(value.num);
  const den = Number(value.den);
  // Parts too large for a float: their quotient usually is not.
  return Number.isFinite(num) && Number.isFinite(den) ? num / den : Number(toDecimalText(value, 12));
}
