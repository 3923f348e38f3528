import { createRequire } from 'node:module';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { normalCdf, percentileOf, zScore } from '../../src/interpret/z-score.ts';

const { jStat } = createRequire(import.meta.url)('jstat') as {
  jStat: { normal: { cdf(x: number, mean: number, sd: number): number } };
};

/**
 * The statistics library is itself good to about 7e-15 of its value at |z| = 3 and 1.3e-10 of it at z = -6,
 * where the value is 9.9e-10: an absolute error far below 1e-16 in the tail, and of one float near 1. So the
 * difference allowed is the one that normalCdf states of itself.
 */
const ABSOLUTE = 1e-14;

describe('the normal distribution', () => {
  it('agrees with a general statistics library out to six standard deviations', () => {
    for (let thousandth = -6000; thousandth <= 6000; thousandth += 1) {
      const z = thousandth / 1000;
      expect(Math.abs(normalCdf(z) - jStat.normal.cdf(z, 0, 1)), `z = ${z}`).toBeLessThan(ABSOLUTE);
    }
  });

  it('gives the printed values of the standard table', () => {
    expect(normalCdf(0)).toBe(0.5);
    expect(normalCdf(-2)).toBeCloseTo(0.02275, 5);
    expect(normalCdf(1.96)).toBeCloseTo(0.975, 4);
    expect(percentileOf(-1)).toBeCloseTo(15.866, 3);
  });

  it('is 0 and 1 in the far tails', () => {
    expect(normalCdf(-8.01)).toBe(0);
    expect(normalCdf(8.01)).toBe(1);
    expect(normalCdf(Number.NEGATIVE_INFINITY)).toBe(0);
    expect(normalCdf(Number.POSITIVE_INFINITY)).toBe(1);
  });

  it('shares the whole between a z-score and its mirror image', () => {
    fc.assert(
      fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (z) => {
        expect(Math.abs(normalCdf(z) + normalCdf(-z) - 1)).toBeLessThan(ABSOLUTE);
      }),
    );
  });
});

describe('the z-score', () => {
  it('counts standard deviations from the mean', () => {
    expect(zScore(121, 121, 20.6)).toBe(0);
    expect(zScore(100.4, 121, 20.6)).toBeCloseTo(-1, 12);
    expect(zScore(151.9, 121, 20.6)).toBeCloseTo(1.5, 12);
  });

  it('stays between 0 and 1 where rounding would leave it, and passes NaN on', () => {
    expect(normalCdf(-7.991867)).toBeGreaterThanOrEqual(0);
    expect(normalCdf(7.991867)).toBeLessThanOrEqual(1);
    expect(normalCdf(Number.NaN)).toBeNaN();
  });
});
