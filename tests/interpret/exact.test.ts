import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  add,
  compare,
  divide,
  exact,
  highest,
  mean,
  multiply,
  subtract,
  sum,
  toDecimalText,
  toNumber,
  wholeNumber,
} from '../../src/interpret/exact.ts';
import { decimal, fixedText, PLACES } from './fixed-point.ts';

describe('reading decimal text', () => {
  it.each([
    ['41.4', '41.40'],
    ['-0.5', '-0.50'],
    ['0', '0.00'],
    ['-0', '0.00'],
    ['007.10', '7.10'],
    ['1e2', '100.00'],
    ['1E+2', '100.00'],
    ['4140e-2', '41.40'],
    ['-2.5e1', '-25.00'],
    ['0.004e3', '4.00'],
  ])('reads %s as %s', (text, expected) => {
    expect(toDecimalText(exact(text), 2)).toBe(expected);
  });

  it.each([
    '',
    ' ',
    '41.4 ',
    ' 41.4',
    '+41.4',
    '41,4',
    '.5',
    '5.',
    '1.2.3',
    '0x10',
    'NaN',
    'Infinity',
    '1e',
    '1e1000',
    '1e1.5',
    '--1',
    '<41.4',
    '41.4kg',
    '41.4\n',
    '٤١',
  ])('refuses %j, which is not a decimal number', (text) => {
    expect(() => exact(text)).toThrow(RangeError);
  });

  it('shows no more than the first 40 characters of refused text', () => {
    expect(() => exact('x'.repeat(500))).toThrow(new RangeError(`not a decimal number: ${'x'.repeat(40)}`));
  });
});

describe('rounding', () => {
  it.each([
    ['0.5', 0, '1'],
    ['1.5', 0, '2'],
    ['2.5', 0, '3'],
    ['-0.5', 0, '-1'],
    ['-2.5', 0, '-3'],
    ['0.05', 1, '0.1'],
    ['0.0499999', 1, '0.0'],
    ['-0.0499999', 1, '0.0'],
    ['99.95', 1, '100.0'],
    ['1.005', 2, '1.01'],
    ['-1.005', 2, '-1.01'],
  ])('rounds %s to %i places half away from zero: %s', (text, digits, expected) => {
    expect(toDecimalText(exact(text), digits)).toBe(expected);
  });

  it('rounds a fraction that no decimal can hold', () => {
    expect(toDecimalText(divide(wholeNumber(187), wholeNumber(3)), 3)).toBe('62.333');
    expect(toDecimalText(divide(wholeNumber(-2), wholeNumber(3)), 3)).toBe('-0.667');
  });

  it('agrees with rounding done on whole counts', () => {
    fc.assert(
      fc.property(decimal, fc.integer({ min: 0, max: PLACES }), ({ count, text }, digits) => {
        const step = 10n ** BigInt(PLACES - digits);
        const size = count < 0n ? -count : count;
        const up = (size % step) * 2n >= step && step > 1n ? 1n : 0n;
        const rounded = size / step + up;
        expect(toDecimalText(exact(text), digits)).toBe(fixedText(count < 0n ? -rounded : rounded, digits));
      }),
    );
  });
});

describe('arithmetic', () => {
  it('gives 41.4 for 70.4 less two times 14.5, which floats do not', () => {
    expect(70.4 - 2 * 14.5).not.toBe(41.4);
    expect(compare(subtract(exact('70.4'), multiply(exact('2'), exact('14.5'))), exact('41.4'))).toBe(0);
  });

  it('orders decimals as their counts are ordered', () => {
    fc.assert(
      fc.property(decimal, decimal, (a, b) => {
        expect(compare(exact(a.text), exact(b.text))).toBe(
          a.count === b.count ? 0 : a.count < b.count ? -1 : 1,
        );
      }),
    );
  });

  it('adds, subtracts and multiplies as counts do', () => {
    fc.assert(
      fc.property(decimal, decimal, (a, b) => {
        const [x, y] = [exact(a.text), exact(b.text)];
        expect(toDecimalText(add(x, y), PLACES)).toBe(fixedText(a.count + b.count, PLACES));
        expect(toDecimalText(subtract(x, y), PLACES)).toBe(fixedText(a.count - b.count, PLACES));
        expect(toDecimalText(multiply(x, y), 2 * PLACES)).toBe(fixedText(a.count * b.count, 2 * PLACES));
      }),
    );
  });

  it('undoes a multiplication by a division, and keeps the denominator positive', () => {
    fc.assert(
      fc.property(decimal, decimal, (a, b) => {
        fc.pre(b.count !== 0n);
        const quotient = divide(exact(a.text), exact(b.text));
        expect(quotient.den > 0n).toBe(true);
        expect(compare(multiply(quotient, exact(b.text)), exact(a.text))).toBe(0);
      }),
    );
  });

  it('sums and averages a list, whatever the number of places of each', () => {
    fc.assert(
      fc.property(fc.array(decimal, { minLength: 1, maxLength: 12 }), (list) => {
        const values = list.map(({ text }) => exact(text));
        const total = list.reduce((count, item) => count + item.count, 0n);
        expect(toDecimalText(sum(values), PLACES)).toBe(fixedText(total, PLACES));
        const average = mean(values);
        expect(average.num * 10n ** BigInt(PLACES) * BigInt(list.length)).toBe(total * average.den);
      }),
    );
  });

  it('finds the highest of a list', () => {
    fc.assert(
      fc.property(fc.array(decimal, { minLength: 1, maxLength: 12 }), (list) => {
        const top = list.map(({ count }) => count).sort((a, b) => (a < b ? 1 : -1))[0] ?? 0n;
        const found = highest(list.map(({ text }) => exact(text)));
        expect(toDecimalText(found, PLACES)).toBe(fixedText(top, PLACES));
      }),
    );
  });

  it('refuses to divide by zero and to summarise an empty list', () => {
    expect(() => divide(exact('1'), exact('0.00'))).toThrow(RangeError);
    expect(() => mean([])).toThrow(RangeError);
    expect(() => highest([])).toThrow(RangeError);
    expect(compare(sum([]), wholeNumber(0))).toBe(0);
  });
});

describe('floats for display', () => {
  it('gives the float that the same text gives', () => {
    for (const text of ['41.4', '-0.1', '100', '0', '99.999'])
      expect(toNumber(exact(text))).toBe(Number(text));
  });

  it('still gives a number when both parts of the fraction are beyond the range of floats', () => {
    expect(toNumber(exact(`41.${'4'.repeat(400)}`))).toBeCloseTo(41.4444444444, 9);
  });
});

describe('figures of very many digits', () => {
  it('have a finite nearest float', () => {
    expect(toNumber(exact(`40.${'0'.repeat(307)}`))).toBe(40);
  });

  it('keep the denominator of a sum as long as its longest term', () => {
    const total = sum(
      Array.from({ length: 200 }, (_unused, index) => exact(index % 2 === 0 ? '40.1' : '40.12')),
    );
    expect(total).toEqual({ num: 802200n, den: 100n });
  });
});
