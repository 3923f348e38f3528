/** Rows that hold for some body mass indices or heights only: frailty phenotype 2001, Germany 2016 by height. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Measure, Sex } from '../../src/interpret/measurement.ts';
import { ALL, isVerdict, measure, panelNamed, read, refusalsOf, trialsOf, verdictsOf } from './build.ts';
import { fixedText } from './fixed-point.ts';

const FRIED = 'fried-2001';
const BY_HEIGHT = 'steiber-2016-germany-by-height';
const EUROPE = panelNamed('older-adult-europe');

function fried(sex: Sex | null, measures: readonly Measure[], reading = '25') {
  const answer = read(
    EUROPE,
    { sex, ageYears: 72, dominant: 'right', measures },
    trialsOf('right', [reading, reading, reading]),
  );
  return { verdict: verdictsOf(answer, FRIED)[0], refusal: refusalsOf(answer, FRIED)[0] };
}

const bmi = (value: string) => [measure('bmi', value)];

/**
 * Frailty phenotype 2001, as printed in papers that report it: sex, BMI from and to, limit in kg (inclusive).
 * Men of 26.1 to 28.0: the copies differ (30 or 31).
 */
const PRINTED: readonly [Sex, string | null, string | null, string | null][] = [
  ['male', null, '24.0', '29'],
  ['male', '24.1', '26.0', '30'],
  ['male', '26.1', '28.0', null],
  ['male', '28.1', null, '32'],
  ['female', null, '23.0', '17'],
  ['female', '23.1', '26.0', '17.3'],
  ['female', '26.1', '29.0', '18'],
  ['female', '29.1', null, '21'],
];

describe.each(PRINTED)(
  'weakness by the frailty phenotype, %s of BMI %s to %s: %s kg',
  (sex, min, max, limit) => {
    const ends = [min, max].flatMap((end) => end ?? []);

    it('holds at both printed ends', () => {
      for (const end of ends) {
        const { verdict, refusal } = fried(sex, bmi(end));
        expect(verdict?.limit.value, end).toBe(limit ?? undefined);
        expect(refusal?.code).toBe(limit ? undefined : 'FIGURE_UNKNOWN');
        if (limit)
          expect(verdict?.row.stratum).toMatchObject({
            by: 'bmi',
            min,
            max,
            measure: { kind: 'bmi', value: end },
          });
      }
    });
  },
);

const KNOWN = PRINTED.flatMap(([sex, min, max, limit]) =>
  limit ? [[sex, min ?? max ?? '', limit] as const] : [],
);

it.each(KNOWN)(
  'weakness, %s of BMI %s: at %s kg counts as weak, and any more does not',
  (sex, index, limit) => {
    const at = (reading: string) => fried(sex, bmi(index), reading).verdict;
    const thousandMillionths = BigInt(Math.round(Number(limit) * 10)) * 10n ** 8n;
    expect(at(limit)).toMatchObject({ outcome: 'reduced', limit: { operator: '<=' } });
    expect(at(fixedText(thousandMillionths + 1n, 9))?.outcome).toBe('not-reduced');
    expect(at(fixedText(thousandMillionths - 1n, 9))?.outcome).toBe('reduced');
  },
);

describe('the body mass index that places a person', () => {
  it('is rounded to the printed decimal, half away from zero', () => {
    const limitAt = (value: string) => fried('male', bmi(value)).verdict?.limit.value;
    expect(limitAt('24.04')).toBe('29');
    expect(limitAt('24.049999')).toBe('29');
    expect(limitAt('24.05')).toBe('30');
    expect(limitAt('26.0499')).toBe('30');
    expect(fried('male', bmi('26.05')).refusal?.code).toBe('FIGURE_UNKNOWN');
    expect(fried('male', bmi('28.0499')).refusal?.code).toBe('FIGURE_UNKNOWN');
    expect(limitAt('28.05')).toBe('32');
    expect(fried('male', bmi('24.05')).verdict?.row.stratum?.measure.value).toBe('24.1');
  });

  it('comes from height and weight where the record has both, whatever index is charted', () => {
    // 1.60 m, 61.5 kg: 61.5 / 2.56 = 24.0234375, so 24.0. 61.568 kg gives 24.05 exactly, so 24.1.
    const at = (weight: string) =>
      fried('male', [measure('height', '160'), measure('weight', weight), measure('bmi', '35')]).verdict;
    expect(at('61.5')).toMatchObject({
      limit: { value: '29' },
      row: { stratum: { measure: { value: '24.0' } } },
    });
    expect(at('61.568')?.limit.value).toBe('30');
    expect(at('61.567999')?.limit.value).toBe('29');
  });

  it('is the charted one where height or weight is missing', () => {
    for (const kind of ['height', 'weight'] as const) {
      const { verdict } = fried('male', [
        measure(kind, '160'),
        measure('bmi', '30', { reference: 'Observation/b' }),
      ]);
      expect(verdict?.row.stratum?.measure).toEqual({
        kind: 'bmi',
        value: '30.0',
        measuredOn: '2026-03-10',
        reference: 'Observation/b',
      });
    }
  });

  it('finds a row for every index of a person, worked out or charted, at most one for each sex', () => {
    const tenth = fc
      .integer({ min: 100, max: 700 })
      .map((count) => [count, fixedText(BigInt(count), 1)] as const);
    fc.assert(
      fc.property(tenth, fc.constantFrom<Sex>('female', 'male'), ([count, text], sex) => {
        const row = PRINTED.filter(
          ([own, min, max]) =>
            own === sex &&
            count >= Math.round(Number(min ?? 0) * 10) &&
            count <= Math.round(Number(max ?? 99) * 10),
        );
        expect(row).toHaveLength(1);
        expect(fried(sex, bmi(text)).verdict?.limit.value ?? null).toBe(row[0]?.[3]);
      }),
    );
  });
});

describe('what the record lacks', () => {
  it('is named: height and weight, or the index', () => {
    for (const measures of [[], [measure('height', '160')], [measure('gait-speed', '0.7')]]) {
      const { verdict, refusal } = fried('male', measures);
      expect(verdict).toBeUndefined();
      expect(refusal).toMatchObject({
        code: 'MEASURE_MISSING',
        hand: null,
        facts: { needs: 'height and weight, or body mass index' },
      });
    }
  });

  it('is not asked for where the dominant hand is unknown: that comes first', () => {
    const answer = read(EUROPE, { sex: 'male', ageYears: 72 }, trialsOf('right', ['25']));
    expect(refusalsOf(answer, FRIED).map(({ code }) => code)).toEqual(['HANDEDNESS_UNKNOWN']);
  });
});

describe('a figure that the copies do not agree on', () => {
  it('is not read: men of BMI 26.1 to 28.0, with the released note', () => {
    const { verdict, refusal } = fried('male', bmi('27'));
    expect(verdict).toBeUndefined();
    expect(refusal).toMatchObject({
      code: 'FIGURE_UNKNOWN',
      hand: 'right',
      facts: { note: 'the copies differ: 30 or 31 kg' },
    });
  });
});

describe('a sex that is not usable, at a body mass index of which one column has no figure', () => {
  it('shows the other column, and names whose figure is not known', () => {
    const { refusal } = fried(null, bmi('27'));
    expect(refusal).toMatchObject({ code: 'SEX_NOT_USABLE', hand: 'right', facts: { unknown: 'men' } });
    expect(refusal?.facts).not.toHaveProperty('notCovered');
    expect(refusal?.columns.map(({ sex, limit }) => [sex, limit.value])).toEqual([['female', '18']]);
  });

  it('names nobody where both columns have one', () => {
    const { refusal } = fried(null, bmi('25'));
    expect(refusal?.columns.map(({ sex, limit }) => [sex, limit.value])).toEqual([
      ['female', '17.3'],
      ['male', '30'],
    ]);
    expect(refusal?.facts).toEqual({});
  });
});

describe('the German table by height', () => {
  const of = (sex: Sex | null, height: string | undefined, ageYears = 72, reading = '30') => {
    const measures = height === undefined ? [] : [measure('height', height)];
    const answer = read(ALL, { sex, ageYears, measures }, trialsOf('right', [reading]));
    return { verdict: verdictsOf(answer, BY_HEIGHT)[0], refusal: refusalsOf(answer, BY_HEIGHT)[0] };
  };

  it('reads the row of the height, one SD below the mean as printed (men of 70 to 74, 165 to 169 cm: 31.5 kg)', () => {
    for (const height of ['165', '169', '164.5', '169.49'])
      expect(of('male', height).verdict, height).toMatchObject({
        limit: { value: '31.5', unit: 'kg', operator: '<' },
        row: { mean: '39.1', sd: '7.6', stratum: { by: 'height', min: '165', max: '169' } },
        outcome: 'reduced',
      });
    expect(of('male', '164.49').verdict?.limit.value).toBe('29.6');
    expect(of('male', '169.5').verdict?.limit.value).toBe('33.5');
    expect(of('male', '189.5').verdict?.row.stratum).toMatchObject({ min: '190', max: null });
  });

  it('says that a height has no row, with the height of the record', () => {
    expect(of('male', '159.4')).toMatchObject({
      verdict: undefined,
      refusal: { code: 'MEASURE_OUTSIDE_SET', hand: null, facts: { measure: 'height', value: '159.4' } },
    });
    expect(of('male', '159.5').verdict?.row.stratum?.min).toBe('160');
    expect(of('female', '185').refusal?.code).toBe('MEASURE_OUTSIDE_SET');
    expect(of('female', '149').refusal?.code).toBe('MEASURE_OUTSIDE_SET');
    expect(of('female', '180', 85).refusal).toMatchObject({
      code: 'FIGURE_UNKNOWN',
      facts: { note: 'not in the copy seen' },
    });
  });

  it('needs the height, and not the weight', () => {
    expect(of('male', undefined).refusal).toMatchObject({
      code: 'MEASURE_MISSING',
      facts: { needs: 'height' },
    });
  });

  it('shows the one sex that has a row at this height where the sex is not usable', () => {
    const { refusal } = of(null, '155');
    expect(refusal?.code).toBe('SEX_NOT_USABLE');
    expect(refusal?.columns.map(({ sex }) => sex)).toEqual(['female']);
    expect(refusal?.facts).toEqual({ unknown: 'men' });
    expect(of(null, '130').refusal?.code).toBe('MEASURE_OUTSIDE_SET');
  });

  it('has at most one row for each height in tenths of a centimetre, at every age it covers', () => {
    for (const sex of ['female', 'male'] as const)
      for (let tenths = 1300; tenths <= 2100; tenths += 7)
        for (const ageYears of [17, 45, 72, 90]) {
          const { verdict, refusal } = of(sex, fixedText(BigInt(tenths), 1), ageYears);
          expect([verdict, refusal].filter(Boolean)).toHaveLength(1);
          const whole = Math.round(tenths / 10);
          const { min, max } = verdict?.row.stratum ?? { min: String(whole), max: null };
          expect(whole).toBeGreaterThanOrEqual(Number(min));
          expect(whole).toBeLessThanOrEqual(Number(max ?? 999));
        }
  });
});

it('a verdict of a set without strata names none, whatever the record holds', () => {
  const answer = read(ALL, { sex: 'male', ageYears: 72, measures: bmi('25') }, trialsOf('right', ['30']));
  const plain = answer.results
    .filter(isVerdict)
    .filter(({ set }) => set.id !== BY_HEIGHT && set.id !== FRIED);
  expect(plain.length).toBeGreaterThan(10);
  expect(plain.every(({ row }) => row.stratum === undefined)).toBe(true);
});
