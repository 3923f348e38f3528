/** z-scores and the percentile they imply under a normal distribution. Floats: descriptive, never a verdict. */

const SQRT_TWO_PI = Math.sqrt(2 * Math.PI);
/** Beyond this the series loses its digits and the percentile is 0 or 100 for every reader. */
const FAR_TAIL = 8;

/** (value - mean) / sd; all three in the same unit, sd above zero. */
export function zScore(value: number, mean: number, sd: number): number {
  return (value - mean) / sd;
}

/**
 * Share of a standard normal population below z, from 0 to 1.
 * Series: Marsaglia G. Evaluating the normal distribution. J Stat Softw 2004;11(4):1-7.
 * Absolute error below 1e-14 (checked in tests against a general statistics library).
 */
export function normalCdf(z: number): number {
  if (Number.isNaN(z)) return Number.NaN;
  if (z < -FAR_TAIL) return 0;
  if (z > FAR_TAIL) return 1;
  let term = z;
  let total = z;
  for (let i = 3; total + term !== total; i += 2) {
    term *= (z * z) / i;
    total += term;
  }
  const below = 0.5 + (total * Math.exp((-z * z) / 2)) / SQRT_TWO_PI;
  return Math.min(1, Math.max(0, below));
}

/** Percentile from 0 to 100 for a z-score. */
export function percentileOf(z: number): number {
  return 100 * normalCdf(z);
}
