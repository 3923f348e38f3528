/** The part of check-trials.ts that asks whether pounds were charted as kilograms. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkUnitPlausibility } from '../../src/interpret/check-trials.ts';
import type { Sex, Trial } from '../../src/interpret/measurement.ts';
import type { Panel, ReadySet } from '../../src/interpret/reference-set.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { threeEach, trialsOf, US } from './build.ts';
import { tenths } from './fixed-point.ts';

function held(trials: readonly Trial[], sex: Sex | null, ageYears: number, panel: Panel = US) {
  return checkUnitPlausibility(trials, { sex, ageYears }, panel);
}

/** The US panel with only the norm tables named. */
function withTables(...ids: string[]): Panel {
  return { ...US, sets: US.sets.filter(({ ref }) => ids.includes(ref.id)) };
}

describe('pounds charted as kilograms', () => {
  it('are held: 90 "kg" is beyond every norm for a man of 72, and ordinary as pounds', () => {
    // Norms for 72, right hand: 75.3 lb SD 21.5 (1985) and, in the 2011-2014 survey, a mean near 37 kg.
    expect(held(threeEach('90', { unit: 'kg' }), 'male', 72)).toMatchObject({
      code: 'UNIT_IMPLAUSIBLE',
      hand: 'right',
      facts: { mean: '90.0', unit: 'kg', otherUnit: 'lb' },
    });
  });

  it('are held when only one hand shows it', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { unit: 'kg' }),
      ...trialsOf('left', ['60', '62', '61'], { unit: 'kg' }),
    ];
    expect(held(trials, 'female', 30)).toMatchObject({ code: 'UNIT_IMPLAUSIBLE', hand: 'left' });
  });

  it('are held for kilogram-force as for kilograms, and by the mean, not by one reading', () => {
    expect(held(threeEach('90', { unit: 'kgf' }), 'male', 72)?.code).toBe('UNIT_IMPLAUSIBLE');
    const oneHigh = trialsOf('right', ['90', '30', '30'], { unit: 'kg' });
    expect(held(oneHigh, 'male', 72)).toBeUndefined();
  });

  it('are held only where every table that covers the person agrees', () => {
    // Woman of 30, right hand: the 1985 limit is 78.7 + 3 x 19.2 = 136.3 lb, which is 61.8 kg; the survey's is lower.
    const trials = trialsOf('right', ['60', '60', '60'], { unit: 'kg' });
    expect(held(trials, 'female', 30, withTables('nhanes-2011-2014-right-left-mean-of-3'))?.code).toBe(
      'UNIT_IMPLAUSIBLE',
    );
    expect(held(trials, 'female', 30, withTables('mathiowetz-1985-us-adults'))).toBeUndefined();
    expect(held(trials, 'female', 30)).toBeUndefined();
  });
});

describe('a reading is not held', () => {
  it('when the person is strong, but within three SD of a norm', () => {
    // Man of 24, right hand, 1985: 121.0 + 3 x 20.6 = 182.8 lb, which is 82.9 kg.
    expect(held(threeEach('75', { unit: 'kg' }), 'male', 24)).toBeUndefined();
  });

  it('when it would be out of the ordinary in pounds too', () => {
    // Woman of 80: 95 as pounds is above 42.6 + 3 x 11.0 = 75.6 lb, so another unit does not explain it.
    expect(held(threeEach('95', { unit: 'kg' }), 'female', 80)).toBeUndefined();
  });

  it('when it is weak or ordinary, in either unit', () => {
    for (const unit of ['kg', '[lb_av]'] satisfies ChartedUnit[])
      for (const reading of ['5', '20', '35'])
        expect(held(threeEach(reading, { unit }), 'male', 72)).toBeUndefined();
  });

  it('when it is charted in newtons, whatever its size', () => {
    fc.assert(
      fc.property(tenths(1, 9806), fc.constantFrom<Sex | null>('female', 'male', null), ({ text }, sex) => {
        expect(held(threeEach(text, { unit: 'N' }), sex, 72)).toBeUndefined();
      }),
    );
  });

  it('when no table covers the person, or there is no trial', () => {
    expect(held(threeEach('90', { unit: 'kg' }), 'male', 4)).toBeUndefined();
    expect(held(threeEach('90', { unit: 'kg' }), 'male', 72, { ...US, sets: [] })).toBeUndefined();
    expect(held([], 'male', 72)).toBeUndefined();
  });
});

describe('where the sex is not usable', () => {
  it('a reading is held only when it is implausible for both sexes', () => {
    // Age 30: 70 kg is far beyond a woman's norms and within a man's.
    const strong = threeEach('70', { unit: 'kg' });
    expect(held(strong, 'female', 30)?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(strong, null, 30)).toBeUndefined();
    // Age 72: 65 kg is beyond both sexes' norms, and ordinary for both as pounds.
    expect(held(threeEach('65', { unit: 'kg' }), null, 72)?.code).toBe('UNIT_IMPLAUSIBLE');
  });
});

describe('the limits of the rule', () => {
  const row = {
    sex: 'male',
    hand: 'right',
    ageMin: 20,
    ageMax: null,
    limit: { num: 1n, den: 1n },
    operator: '<=',
    verification: 'two-sources',
  } as const;
  const table = (mean: string, sd: string): Panel => ({
    ...US,
    sets: [{ ...(US.sets[0] as ReadySet), unit: 'kg', rows: [{ ...row, norm: { mean, sd } }] }],
  });
  const kg = (reading: string) => trialsOf('right', [reading], { unit: 'kg' });

  it('count a mean at exactly three SD above as plausible, and one above it not', () => {
    expect(held(kg('70'), 'male', 40, table('40', '10'))).toBeUndefined();
    expect(held(kg('70.1'), 'male', 40, table('40', '10'))?.code).toBe('UNIT_IMPLAUSIBLE');
  });

  it('count a mean at exactly three SD in the other unit as ordinary, on both sides', () => {
    // 100 lb is 45.359237 kg: mean less 3 SD = 45.359237, then mean and 3 SD = 45.359237.
    const lower = kg('100');
    expect(held(lower, 'male', 40, table('48.359237', '1'))?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(lower, 'male', 40, table('48.359238', '1'))).toBeUndefined();
    expect(held(lower, 'male', 40, table('42.359237', '1'))?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(lower, 'male', 40, table('42.359236', '1'))).toBeUndefined();
  });
});
