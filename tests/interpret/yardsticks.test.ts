/** Change beside published sizes of change, and since the first comparable session. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Change } from '../../src/interpret/finding.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import type { Dominance, Trial } from '../../src/interpret/measurement.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { sessionOf, trialsOf, US } from './build.ts';
import { fixedText } from './fixed-point.ts';
import { decimalOf, KG_IN, less, order, over, type Rational, ratio, times } from './rational.ts';

const on = (testedOn: string) => ({ testedOn, effective: testedOn });
const three = (reading: string, parts: Partial<Trial> = {}) =>
  trialsOf('right', [reading, reading, reading], parts);

/** Changes of the last of these sittings. */
function changesOf(
  sittings: readonly (readonly Trial[])[],
  person: { ageYears?: number; dominant?: Dominance | undefined } = {},
): readonly Change[] {
  const { ageYears = 72, dominant } = person;
  const sessions = sittings.map((trials) => sessionOf(trials, ageYears));
  return interpret({ sex: 'male', dominant, sessions }, US).at(-1)?.changes ?? [];
}

/** What is reached by a change of the right hand from 30 kg. */
function reached(to: string, person: Parameters<typeof changesOf>[1] = {}) {
  const [change] = changesOf([three('30', on('2026-01-05')), three(to)], person);
  return Object.fromEntries((change?.yardsticks ?? []).map(({ id, reached: is }) => [id, is]));
}

describe('the sizes of change that are laid beside a change', () => {
  // Nursing homes, 65 and over: 3.5 kg (dominant) and 2.9 kg (other), Ir J Med Sci 2021;190:1625-1632.
  // Healthy adults: 20 percent, J-STAGE bhsu 15(3). Smallest important: 5.0 kg, Bohannon 2019.
  it.each([
    ['right', ['mdc95-dominant', 'smallest-important']],
    ['left', ['mdc95-nondominant', 'smallest-important']],
    [undefined, ['mdc95-unknown', 'smallest-important']],
    ['both', ['mdc95-unknown', 'smallest-important']],
  ] as const)('are those of the hand (right hand tested, dominant: %s)', (dominant, ids) => {
    expect(Object.keys(reached('31', { dominant }))).toEqual(ids);
  });

  it.each([
    [17, []],
    [18, ['healthy-20-percent', 'smallest-important']],
    [64, ['healthy-20-percent', 'smallest-important']],
    [65, ['mdc95-dominant', 'smallest-important']],
  ])('are those of the age (%i)', (ageYears, ids) => {
    expect(Object.keys(reached('31', { ageYears, dominant: 'right' }))).toEqual(ids);
  });
});

describe('a measurement error is left behind only beyond it', () => {
  it.each([
    ['right', 'mdc95-dominant', '33.5', '26.5'],
    ['left', 'mdc95-nondominant', '32.9', '27.1'],
    [undefined, 'mdc95-unknown', '33.5', '26.5'],
  ] as const)('in kilograms, up and down (dominant: %s, %s)', (dominant, id, up, down) => {
    expect(reached(up, { dominant })[id]).toBe(false);
    expect(reached(`${up}001`, { dominant })[id]).toBe(true);
    expect(reached(down, { dominant })[id]).toBe(false);
    expect(reached(`${Number(down) - 0.0001}`, { dominant })[id]).toBe(true);
  });

  it('in percent of the earlier mean: 20% of 30 kg is 6 kg', () => {
    const of = (to: string) => reached(to, { ageYears: 40 })['healthy-20-percent'];
    expect([of('36'), of('36.0001'), of('24'), of('23.9999')]).toEqual([false, true, false, true]);
  });
});

it('the smallest important change is reached at its limit of 5 kg, up and down', () => {
  const of = (to: string) => reached(to)['smallest-important'];
  expect([of('34.9999'), of('35'), of('25'), of('25.0001')]).toEqual([false, true, true, false]);
});

describe('no float decides', () => {
  const SCALES: readonly [ChartedUnit, keyof typeof KG_IN][] = [
    ['kgf', 'kg'],
    ['[lbf_av]', 'lb'],
    ['N', 'N'],
  ];
  const scale = fc.constantFrom(...SCALES);

  it('for any change near a limit, between any two units', () => {
    const near = fc.integer({ min: -2, max: 2 });
    const limits = fc.constantFrom('3.5', '5.0', '-3.5', '-5.0');
    fc.assert(
      fc.property(
        fc.integer({ min: 150, max: 350 }),
        scale,
        scale,
        limits,
        near,
        (tenths, before, now, limit, steps) => {
          const [unitThen, then] = before;
          const [unitNow, today] = now;
          // The earlier mean in tenths of a kilogram, in its unit to a millionth; then the limit further, in the other.
          const inUnit = (kilograms: Rational, unit: keyof typeof KG_IN) => {
            const { top, bottom } = over(kilograms, KG_IN[unit]);
            return (top * 10n ** 6n) / bottom;
          };
          const count = inUnit(ratio(BigInt(tenths), 10n), then);
          const from = times(ratio(count, 10n ** 6n), KG_IN[then]);
          const size = decimalOf(limit.replace('-', ''));
          const goal = limit.startsWith('-') ? less(from, size) : less(from, ratio(-size.top, size.bottom));
          const countNow = inUnit(goal, today) + BigInt(steps);
          const to = times(ratio(countNow, 10n ** 6n), KG_IN[today]);
          const [change] = changesOf([
            three(fixedText(count, 6), { ...on('2026-01-05'), unit: unitThen }),
            three(fixedText(countNow, 6), { unit: unitNow }),
          ]);
          const signed = less(to, from);
          const absolute = signed.top < 0n ? ratio(-signed.top, signed.bottom) : signed;
          expect(change?.yardsticks).toEqual([
            { id: 'mdc95-unknown', reached: order(absolute, decimalOf('3.5')) > 0 },
            { id: 'smallest-important', reached: order(absolute, decimalOf('5')) >= 0 },
          ]);
        },
      ),
      { numRuns: 300 },
    );
  });

  it('for changes of exactly 20 percent, of which floats misjudge some', () => {
    let floatsWrong = 0;
    for (let tenths = 105; tenths < 350; tenths += 5) {
      const now = (tenths * 6) / 5;
      const [change] = changesOf(
        [three(fixedText(BigInt(tenths), 1), on('2026-01-05')), three(fixedText(BigInt(now), 1))],
        { ageYears: 40 },
      );
      expect(change?.yardsticks?.find(({ id }) => id === 'healthy-20-percent')?.reached).toBe(false);
      if ((100 * (now / 10 - tenths / 10)) / (tenths / 10) > 20) floatsWrong += 1;
    }
    expect(floatsWrong).toBeGreaterThan(0);
  });
});

describe('change since the first comparable session', () => {
  const since = (...sittings: readonly (readonly Trial[])[]) =>
    changesOf(sittings).map(({ against, since: from, difference }) => [against, from, difference.value]);
  const jan = on('2026-01-05');
  const feb = on('2026-02-05');

  it('follows the change since the last, where that is another', () => {
    expect(since(three('25', jan), three('28', feb), three('30'))).toEqual([
      [undefined, '2026-02-05', '+2.000'],
      ['first', '2026-01-05', '+5.000'],
    ]);
  });

  it('is not said twice where the first is the last', () => {
    expect(since(three('25', jan), three('30'))).toEqual([[undefined, '2026-01-05', '+5.000']]);
  });

  it('passes over sessions that are provisional, and is none where today is', () => {
    const two = trialsOf('right', ['25', '25'], jan);
    expect(since(two, three('28', feb), three('30'))).toEqual([[undefined, '2026-02-05', '+2.000']]);
    expect(since(three('25', jan), three('28', feb), trialsOf('right', ['30']))).toEqual([
      [undefined, '2026-02-05', '+2.000'],
    ]);
    expect(since(three('25', jan), trialsOf('right', ['28'], feb), three('30'))).toEqual([
      [undefined, '2026-02-05', '+2.000'],
      ['first', '2026-01-05', '+5.000'],
    ]);
  });

  it('passes over sessions done another way, in a part that both chart', () => {
    const seated = { protocol: { posture: 'seated' } } as const;
    const recumbent = { protocol: { posture: 'recumbent', handle: '2' } } as const;
    const march = on('2026-03-01');
    expect(
      since(
        three('24', { ...jan, ...recumbent }),
        three('25', { ...feb, ...seated }),
        three('28', march),
        three('30', seated),
      ),
    ).toEqual([
      [undefined, '2026-03-01', '+2.000'],
      ['first', '2026-02-05', '+5.000'],
    ]);
    // Charted only once, a part does not tell them apart.
    expect(
      since(
        three('24', { ...jan, ...recumbent }),
        three('28', feb),
        three('30', { protocol: { handle: '2' } }),
      ),
    ).toEqual([
      [undefined, '2026-02-05', '+2.000'],
      ['first', '2026-01-05', '+6.000'],
    ]);
  });

  it('has its own sizes of change', () => {
    const [last, first] = changesOf([three('25', jan), three('28', feb), three('30')]);
    const important = (change: Change | undefined) =>
      change?.yardsticks?.find(({ id }) => id === 'smallest-important')?.reached;
    expect([important(last), important(first)]).toEqual([false, true]);
  });
});

describe('a protocol that is not the earlier one', () => {
  it('is named on the change, as it is now and as it was then', () => {
    const change = (then: Trial['protocol'], now: Trial['protocol']) =>
      changesOf([three('28', { ...on('2026-01-05'), protocol: then }), three('30', { protocol: now })])[0]
        ?.mismatches;
    expect(change({ posture: 'seated', handle: '2' }, { posture: 'recumbent', handle: '2' })).toEqual([
      { part: 'posture', charted: 'recumbent', built: 'seated' },
    ]);
    expect(change({ posture: 'seated' }, { handle: '3' })).toBeUndefined();
    expect(change(undefined, { handle: '3' })).toBeUndefined();
    expect(change({ calibratedOn: '2025-01-01' }, { calibratedOn: '2026-01-01' })).toBeUndefined();
  });

  it('names all the ways where one time had several', () => {
    const mixed = [
      ...trialsOf('right', ['28', '28'], { ...on('2026-01-05'), protocol: { handle: '3' } }),
      ...trialsOf('right', ['28'], { ...on('2026-01-05'), protocol: { handle: '2' } }),
    ];
    expect(changesOf([mixed, three('30', { protocol: { handle: '2' } })])[0]?.mismatches).toEqual([
      { part: 'handle', charted: '2', built: '2 and 3' },
    ]);
  });
});
