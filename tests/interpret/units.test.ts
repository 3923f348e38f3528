import { createRequire } from 'node:module';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compare, exact, toDecimalText, toNumber } from '../../src/interpret/exact.ts';
import {
  CHARTED_UNITS,
  conversionText,
  convertForce,
  type ForceUnit,
  isChartedUnit,
  KG_PER_LB,
  N_PER_KG,
} from '../../src/interpret/units.ts';
import { decimal, fixedText, PLACES } from './fixed-point.ts';

/** The UCUM library of the US National Library of Medicine: an independent set of factors. */
const { UcumLhcUtils } = createRequire(import.meta.url)('@lhncbc/ucum-lhc') as {
  UcumLhcUtils: {
    getInstance(): {
      convertUnitTo(from: string, value: number, to: string): { status: string; toVal: number };
    };
  };
};
const ucum = UcumLhcUtils.getInstance();

const FORCE_CODE: Readonly<Record<ForceUnit, string>> = { kg: 'kgf', lb: '[lbf_av]', N: 'N' };
const UNITS: readonly ForceUnit[] = ['kg', 'lb', 'N'];
const PAIRS = UNITS.flatMap((from) => UNITS.map((to) => [from, to] as const));

/**
 * The library works in floats through its own base magnitudes: a few roundings of 1.1e-16 each. 1e-12 leaves
 * room for them and is nine digits finer than anything a dynamometer shows.
 */
const RELATIVE = 1e-12;

function ucumFactor(from: string, to: string): number {
  const answer = ucum.convertUnitTo(from, 1, to);
  expect(answer.status).toBe('succeeded');
  return answer.toVal;
}

describe('factors', () => {
  it.each(PAIRS)('from %s to %s is the one of the UCUM library for force', (from, to) => {
    const expected = ucumFactor(FORCE_CODE[from], FORCE_CODE[to]);
    const found = toNumber(convertForce(exact('1'), from, to));
    expect(Math.abs(found / expected - 1)).toBeLessThan(RELATIVE);
  });

  it('from pounds to kilograms is the same number for mass as for force', () => {
    const expected = ucumFactor('[lb_av]', 'kg');
    expect(Math.abs(Number(KG_PER_LB) / expected - 1)).toBeLessThan(RELATIVE);
    expect(Math.abs(Number(N_PER_KG) / ucumFactor('kgf', 'N') - 1)).toBeLessThan(RELATIVE);
  });

  it('gives the decimals of the definitions without rounding', () => {
    expect(toDecimalText(convertForce(exact('1'), 'lb', 'kg'), 8)).toBe('0.45359237');
    expect(toDecimalText(convertForce(exact('1'), 'kg', 'N'), 5)).toBe('9.80665');
    expect(toDecimalText(convertForce(exact('1'), 'lb', 'N'), 13)).toBe('4.4482216152605');
  });
});

describe('conversion', () => {
  it('from pounds to kilograms agrees with whole-number multiplication', () => {
    fc.assert(
      fc.property(decimal, ({ count, text }) => {
        const kilograms = convertForce(exact(text), 'lb', 'kg');
        expect(toDecimalText(kilograms, PLACES + 8)).toBe(fixedText(count * 45359237n, PLACES + 8));
      }),
    );
  });

  it('from kilograms to pounds is the number that gives the kilograms back when multiplied out', () => {
    fc.assert(
      fc.property(decimal, ({ count, text }) => {
        const { num, den } = convertForce(exact(text), 'kg', 'lb');
        expect(num * 45359237n * 10n ** BigInt(PLACES)).toBe(count * 10n ** 8n * den);
      }),
    );
  });

  it('there and back is the same number, for every pair of units', () => {
    fc.assert(
      fc.property(decimal, fc.constantFrom(...PAIRS), ({ text }, [from, to]) => {
        const value = exact(text);
        expect(compare(convertForce(convertForce(value, from, to), to, from), value)).toBe(0);
      }),
    );
  });

  it('keeps the order of two forces', () => {
    fc.assert(
      fc.property(decimal, decimal, fc.constantFrom(...PAIRS), (a, b, [from, to]) => {
        const [x, y] = [exact(a.text), exact(b.text)];
        expect(compare(convertForce(x, from, to), convertForce(y, from, to))).toBe(compare(x, y));
      }),
    );
  });
});

describe('how a conversion is stated', () => {
  it('names the factors used, and nothing when nothing is converted', () => {
    expect(conversionText('lb', 'kg')).toBe('1 lb = 0.45359237 kg');
    expect(conversionText('kg', 'lb')).toBe('1 lb = 0.45359237 kg');
    expect(conversionText('N', 'kg')).toBe('1 kg = 9.80665 N');
    expect(conversionText('kg', 'N')).toBe('1 kg = 9.80665 N');
    expect(conversionText('lb', 'N')).toBe('1 lb = 0.45359237 kg; 1 kg = 9.80665 N');
    expect(conversionText('N', 'lb')).toBe('1 lb = 0.45359237 kg; 1 kg = 9.80665 N');
    for (const unit of UNITS) expect(conversionText(unit, unit)).toBeNull();
  });
});

describe('charted units', () => {
  it('are the five UCUM codes and nothing that only looks like one', () => {
    for (const code of ['kg', 'kgf', '[lb_av]', '[lbf_av]', 'N']) expect(isChartedUnit(code)).toBe(true);
    for (const code of ['', 'KG', 'lb', 'lbs', 'lbf', 'g', 'kPa', '[psi]', 'toString', '__proto__'])
      expect(isChartedUnit(code)).toBe(false);
  });

  it('say which of them are units of mass read as force', () => {
    const massUnits = Object.entries(CHARTED_UNITS).filter(([, unit]) => unit.massReadAsForce);
    expect(massUnits.map(([code, unit]) => [code, unit.force])).toEqual([
      ['kg', 'kg'],
      ['[lb_av]', 'lb'],
    ]);
  });
});
