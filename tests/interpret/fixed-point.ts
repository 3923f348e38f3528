/**
 * Decimal arithmetic done another way than in the core: every number is an integer count of 10^-places
 * (fixed point), text is made by string handling, and no fractions are kept.
 */
import fc from 'fast-check';

export const PLACES = 6;

/** Decimal text of an integer count of 10^-places, e.g. -41400n with 3 places is `-41.400`. */
export function fixedText(count: bigint, places: number): string {
  const digits = (count < 0n ? -count : count).toString().padStart(places + 1, '0');
  const at = digits.length - places;
  const text = places === 0 ? digits : `${digits.slice(0, at)}.${digits.slice(at)}`;
  return count < 0n ? `-${text}` : text;
}

/** A decimal number as count (with 6 places) and as text with trailing zeros sometimes dropped. */
export const decimal = fc
  .tuple(fc.bigInt({ min: -(10n ** 12n), max: 10n ** 12n }), fc.boolean())
  .map(([count, trim]) => {
    const text = fixedText(count, PLACES);
    return { count, text: trim ? text.replace(/\.?0+$/, '') : text };
  });

/** A force above zero, in tenths, as a dynamometer shows it. */
export const tenths = (min: number, max: number) =>
  fc.integer({ min, max }).map((count) => ({ count, text: fixedText(BigInt(count), 1) }));
