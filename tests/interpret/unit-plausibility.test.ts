/** The part of check-units.ts that holds a session: pounds charted as kilograms. What it only doubts: unit-doubts.test.ts. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkUnitPlausibility } from '../../src/interpret/check-units.ts';
import type { Sex, Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { ReadySet } from '../../src/interpret/reference-set.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { PANELS, threeEach, trialsOf, US } from './build.ts';
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
      facts: { figure: '90.0', unit: 'kg', otherUnit: 'lb' },
    });
  });

  it('are held when only one hand shows it', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { unit: 'kg' }),
      ...trialsOf('left', ['60', '62', '61'], { unit: 'kg' }),
    ];
    expect(held(trials, 'female', 30)).toMatchObject({ code: 'UNIT_IMPLAUSIBLE', hand: 'left' });
  });

  it('are held for kilogram-force as for kilograms, and by one reading though the mean is ordinary', () => {
    expect(held(threeEach('90', { unit: 'kgf' }), 'male', 72)?.code).toBe('UNIT_IMPLAUSIBLE');
    const oneHigh = trialsOf('right', ['90', '30', '30'], { unit: 'kg' });
    expect(held(oneHigh, 'male', 72)).toMatchObject({
      code: 'UNIT_IMPLAUSIBLE',
      hand: 'right',
      facts: { figure: '90.0', unit: 'kg', otherUnit: 'lb' },
    });
  });

  it('are held by one reading only where every table that covers the person says so', () => {
    // Man of 72, right hand: survey 58.51 kg; 1985 139.8 lb, which is 63.412213326 kg.
    const one = (reading: string, panel?: Panel) =>
      held(trialsOf('right', ['30', '30', reading], { unit: 'kg' }), 'male', 72, panel)?.facts.figure;
    expect(one('63.412213326')).toBeUndefined();
    expect(one('63.412213327')).toBe('63.4');
    const survey = withTables('nhanes-2011-2014-right-left-mean-of-3');
    expect(one('58.51', survey)).toBeUndefined();
    expect(one('58.52', survey)).toBe('58.5');
    expect(one('90', { ...US, sets: [] })).toBeUndefined();
    expect(
      one('90', { ...US, sets: US.sets.filter(({ ref }) => ref.kind === 'cut-points') }),
    ).toBeUndefined();
    const boy = (reading: string) =>
      held(trialsOf('right', ['30', '30', reading], { unit: 'kg' }), 'male', 15)?.facts.figure;
    // The 1985 table does not cover a boy of 15: the survey alone decides, 35.43 + 3 x 7.67 = 58.44 kg.
    expect([boy('58.44'), boy('58.45')]).toEqual([undefined, '58.5']);
  });

  it('are held where any one table that covers the person says so', () => {
    // Woman of 30, right hand: the 1985 limit is 78.7 + 3 x 19.2 = 136.3 lb, which is 61.8 kg; the survey's is lower.
    const trials = trialsOf('right', ['60', '60', '60'], { unit: 'kg' });
    expect(held(trials, 'female', 30, withTables('nhanes-2011-2014-right-left-mean-of-3'))?.code).toBe(
      'UNIT_IMPLAUSIBLE',
    );
    expect(held(trials, 'female', 30, withTables('mathiowetz-1985-us-adults'))).toBeUndefined();
    const agreed = held(trials, 'female', 30);
    expect(agreed).toMatchObject({
      code: 'UNIT_IMPLAUSIBLE',
      set: null,
      hand: 'right',
      facts: { figure: '60.0', unit: 'kg', otherUnit: 'lb' },
    });
    expect(held(trials, 'female', 30, { ...US, sets: US.sets.toReversed() })).toEqual(agreed);
    // Both tables have to be beyond it in one reading each: above 61.8 kg the older table says so alone too.
    const stronger = trialsOf('right', ['62', '62', '62'], { unit: 'kg' });
    expect(held(stronger, 'female', 30, withTables('mathiowetz-1985-us-adults'))?.code).toBe(
      'UNIT_IMPLAUSIBLE',
    );
  });

  it('are held by a table that covers the person, though another does not', () => {
    // Boy of 15, right hand, survey: 35.43 + 3 x 7.67 = 58.44 kg. The 1985 table begins at 20.
    const trials = (reading: string) => trialsOf('right', [reading], { unit: 'kg' });
    expect(held(trials('58.44'), 'male', 15)).toBeUndefined();
    expect(held(trials('58.45'), 'male', 15)?.code).toBe('UNIT_IMPLAUSIBLE');
  });
});

describe('a figure beyond every norm that another unit does not explain', () => {
  it('is held all the same, and no other unit is named', () => {
    // Woman of 80: 95 as pounds is above 42.6 + 3 x 11.0 = 75.6 lb and above the survey's 31.76 kg.
    expect(held(threeEach('95', { unit: 'kg' }), 'female', 80)).toMatchObject({
      code: 'UNIT_IMPLAUSIBLE',
      hand: 'right',
      facts: { figure: '95.0', unit: 'kg', otherUnit: '' },
    });
  });
});

describe('a reading is not held', () => {
  it('when the person is strong, but within three SD of every norm', () => {
    // Man of 24, right hand, 1985: 121.0 + 3 x 20.6 = 182.8 lb, which is 82.9 kg; survey: 45.48 + 3 x 9.23 = 73.17 kg.
    const right = (reading: string) => held(trialsOf('right', [reading], { unit: 'kg' }), 'male', 24);
    expect(right('73.17')).toBeUndefined();
    expect(right('73.18')?.code).toBe('UNIT_IMPLAUSIBLE');
  });

  it('when it is weak or ordinary, in either unit', () => {
    for (const unit of ['kg', '[lb_av]'] satisfies ChartedUnit[])
      for (const reading of ['5', '20', '35'])
        expect(held(threeEach(reading, { unit }), 'male', 72)).toBeUndefined();
  });

  it.each(['N', '[lb_av]', '[lbf_av]'] satisfies ChartedUnit[])(
    'when it is charted in %s, whatever its size: kilograms are what pounds are mistaken for',
    (unit) => {
      fc.assert(
        fc.property(tenths(1, 9806), fc.constantFrom<Sex | null>('female', 'male', null), ({ text }, sex) => {
          expect(held(threeEach(text, { unit }), sex, 72)).toBeUndefined();
        }),
      );
    },
  );

  it('when no table covers the person, or there is no trial', () => {
    expect(held(threeEach('90', { unit: 'kg' }), 'male', 4)).toBeUndefined();
    expect(held(threeEach('90', { unit: 'kg' }), 'male', 72, { ...US, sets: [] })).toBeUndefined();
    expect(held([], 'male', 72)).toBeUndefined();
  });
});

describe('where the sex is not usable', () => {
  it('a reading is held only when it is implausible for both sexes', () => {
    // Age 30: 69 kg is far beyond a woman's norms and within a man's (survey: right 73.92 kg, left 69.83 kg).
    const strong = threeEach('69', { unit: 'kg' });
    expect(held(strong, 'female', 30)?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(strong, null, 30)).toBeUndefined();
    // Age 72: 65 kg is beyond both sexes' norms, and ordinary for both as pounds.
    expect(held(threeEach('65', { unit: 'kg' }), null, 72)?.code).toBe('UNIT_IMPLAUSIBLE');
  });

  it('it is held by one table that says so for both sexes, whatever another says', () => {
    // Age 72, right hand: survey 58.51 kg (men) and 37.59 kg (women); 1985 men 139.8 lb, which is 63.4 kg.
    const trials = trialsOf('right', ['60'], { unit: 'kg' });
    expect(held(trials, null, 72, withTables('mathiowetz-1985-us-adults'))).toBeUndefined();
    expect(held(trials, null, 72)?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(trialsOf('right', ['58.51'], { unit: 'kg' }), null, 72)).toBeUndefined();
  });

  it('two tables that each say so for one sex do not make it one that says so for both', () => {
    const rowsOf = (set: ReadySet | undefined, sex: Sex, limits: { mean: string; sd: string }) =>
      (set?.rows ?? []).map((row) => (row.sex === sex ? { ...row, norm: limits } : row));
    const plain = { mean: '40', sd: '10' };
    const wide = { mean: '40', sd: '100' };
    const [first, second] = US.sets.map(
      (set): ReadySet => ({
        ...set,
        unit: 'kg',
        rows: set.rows.map((row) => ({ ...row, norm: plain })),
      }),
    );
    const trials = trialsOf('right', ['90'], { unit: 'kg' });
    const panelOf = (a: Sex, b: Sex): Panel => ({
      ...US,
      sets: [
        { ...(first as ReadySet), rows: rowsOf(first, a, wide) },
        { ...(second as ReadySet), rows: rowsOf(second, b, wide) },
      ],
    });
    const crossed = panelOf('female', 'male');
    for (const sex of ['female', 'male'] as const)
      expect(held(trials, sex, 72, crossed)?.code).toBe('UNIT_IMPLAUSIBLE');
    expect(held(trials, null, 72, crossed)).toBeUndefined();
    expect(held(trials, null, 72, { ...US, sets: [first as ReadySet] })?.code).toBe('UNIT_IMPLAUSIBLE');
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
    const other = (mean: string) => held(lower, 'male', 40, table(mean, '1'))?.facts.otherUnit;
    expect(other('48.359237')).toBe('lb');
    expect(other('48.359238')).toBe('');
    expect(other('42.359237')).toBe('lb');
    expect(other('42.359236')).toBe('');
  });
});

describe('every panel at its newest version', () => {
  it('holds 50 "kg" of a woman of 72, who is ordinary at 50 lb (22.7 kg)', () => {
    const strong = threeEach('50', { unit: 'kg' });
    const open = PANELS.filter((panel) => !held(strong, 'female', 72, panel)).map(({ ref }) => ref.id);
    // Panels of centiles and cut-points alone have no mean and SD to hold a reading by.
    expect(open).toEqual([]);
  });
});

describe('a table of another quantity than force', () => {
  it('holds no session: a force is not compared with a force over height squared', () => {
    // Men of 70 to 74 (2011-2014 survey): 13.14 (2.12) kg/m2, made a table of each hand as a site may have one.
    const [survey] = US.sets.filter(({ ref }) => ref.id === 'nhanes-2011-2014-right-left-mean-of-3');
    const rows = survey?.rows.map((row) => ({ ...row, norm: { mean: '13.14', sd: '2.12' } })) ?? [];
    const sets = survey ? [{ ...survey, quantity: 'force-over-height-squared' as const, rows }] : [];
    expect(held(threeEach('30', { unit: 'kg' }), 'male', 72, { ...US, sets })).toBeUndefined();
  });
});
