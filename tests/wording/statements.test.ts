/** The wording of findings: dates, limits, figures near a limit, percentiles, every code. */
import { describe, expect, it } from 'vitest';
import type { Verdict } from '../../src/interpret/finding.ts';
import { INTENDED_USE_SHORT, intendedUse, NOT_READ } from '../../src/wording/intended-use.ts';
import {
  comparedText,
  dateText,
  forceText,
  limitText,
  outcomeText,
  provisionalText,
  rowFigures,
  rowText,
  sexText,
  standingText,
  summaryText,
} from '../../src/wording/statements.ts';
import { verdictSentence } from '../../src/wording/verdict-statements.ts';
import { describedPanel, refOf, VERDICT } from '../verdict-for-tests.ts';

const panel = describedPanel('adult-inpatient-us');
const all = describedPanel('all-published');
const EWGSOP2 = refOf('ewgsop2-2019');

const verdict = (parts: Partial<Verdict> = {}): Verdict => ({ ...VERDICT, ...parts });
/** A consensus of which the person is below the limit; the one trial hand makes it provisional. */
const LOW: Partial<Verdict> = {
  ...{ set: EWGSOP2, hand: null, summary: 'highest-of-either-hand', outcome: 'reduced' },
  ...{ compared: { value: '26.960', unit: 'kg' }, limit: { value: '27', unit: 'kg', operator: '<' } },
  row: { ...VERDICT.row, ageMin: 65, ageMax: null, mean: null, sd: null },
  ...{ zScore: null, percentile: null, provisional: ['ONE_HAND_ONLY'] },
};

describe('a date', () => {
  it.each([
    ['2026-11-24', '24 Nov 2026'],
    ['2026-01-01', '1 Jan 2026'],
    ['2024-02-29', '29 Feb 2024'],
    ['1999-12-31', '31 Dec 1999'],
    ['2026-05-09', '9 May 2026'],
  ])('%s is written %s', (date, text) => expect(dateText(date)).toBe(text));
});

describe('a figure', () => {
  it.each([
    ['62.333', '62.3 lb'],
    ['62.350', '62.4 lb'],
    ['62', '62.0 lb'],
    ['0.049', '0.0 lb'],
  ])('%s is shown with one decimal as %s', (value, text) => {
    expect(forceText({ value, unit: 'lb' })).toBe(text);
  });

  it.each([
    ['41.400', '<=', '41.4', 'reduced', '41.4 lb'], // equal: one decimal says so
    ['41.402', '<=', '41.4', 'not-reduced', '41.402 lb'], // 41.4 and 41.40 would look reduced
    ['41.444', '<=', '41.4', 'not-reduced', '41.44 lb'], // 41.4 would look reduced
    ['41.398', '<=', '41.4', 'reduced', '41.4 lb'], // looks equal, which is reduced too
    ['41.451', '<=', '41.4', 'not-reduced', '41.5 lb'], // rounds away from the limit
    ['26.960', '<', '27', 'reduced', '26.96 lb'], // 27.0 would look not reduced
    ['26.996', '<', '27', 'reduced', '26.996 lb'], // 27.00 would too
    ['27.000', '<', '27', 'not-reduced', '27.0 lb'],
    ['27.003', '<', '27', 'not-reduced', '27.0 lb'], // looks equal, which is not reduced either
    ['26.940', '<', '27', 'reduced', '26.9 lb'],
    ['18.564', '<=', '18.56', 'not-reduced', '18.6 lb'], // one decimal already reads to the outcome
    ['18.549', '<=', '18.56', 'reduced', '18.5 lb'],
    // Nearer to the limit than three decimals can say.
    ['41.400', '<=', '41.4', 'not-reduced', 'just above 41.4 lb'],
    ['27.000', '<', '27', 'reduced', 'just below 27 lb'],
  ] as const)(
    'of %s against a limit of %s %s, %s, is shown as %s',
    (value, operator, limit, outcome, text) => {
      const figures = {
        compared: { value, unit: 'lb' },
        limit: { value: limit, unit: 'lb', operator },
      } as const;
      expect(comparedText(verdict({ ...figures, outcome }))).toBe(text);
    },
  );
});

describe('a limit', () => {
  it('is worded by its strictness', () => {
    expect(limitText({ value: '41.4', unit: 'lb', operator: '<=' })).toBe('at or below 41.4 lb');
    expect(limitText({ value: '27', unit: 'kg', operator: '<' })).toBe('below 27 kg');
  });

  it.each([
    [70, 74, 'male', 'men 70 to 74'],
    [75, null, 'female', 'women 75 and over'],
    [0, null, 'male', 'men'],
    [18, 18, 'female', 'women 18'],
    [17, 17, 'male', 'boys 17'],
    [14, 15, 'female', 'girls 14 to 15'],
  ] as const)('of the row %s to %s for %s is of %s', (ageMin, ageMax, sex, text) => {
    expect(rowText(verdict({ sex, row: { ...VERDICT.row, ageMin, ageMax } }))).toBe(text);
  });

  it('is traced to mean and SD where there are any', () => {
    expect(rowFigures(verdict())).toBe('mean 75.3, SD 21.5 lb');
    expect(rowFigures(verdict({ row: { ...VERDICT.row, mean: null, sd: null } }))).toBe('');
  });
});

describe('a percentile', () => {
  it.each([
    [0, 'below the 1st percentile'],
    [0.99, 'below the 1st percentile'],
    [1, '1st percentile'],
    [2, '2nd percentile'],
    [3.4, '3rd percentile'],
    [4, '4th percentile'],
    [10.5, '11th percentile'],
    [11, '11th percentile'],
    [12, '12th percentile'],
    [13, '13th percentile'],
    [20.6, '21st percentile'],
    [22, '22nd percentile'],
    [23, '23rd percentile'],
    [50, '50th percentile'],
    [91, '91st percentile'],
    [99, '99th percentile'],
    [99.01, 'above the 99th percentile'],
    [100, 'above the 99th percentile'],
  ])('%s is the %s', (percentile, text) => {
    expect(standingText(verdict({ zScore: -0.6, percentile }))).toBe(`z -0.60, ${text}`);
  });

  it.each([
    [-0.603, 'z -0.60'],
    [-2, 'z -2.00'],
    [1.987, 'z 1.99'],
    [0, 'z 0.00'],
    [-0.004, 'z 0.00'], // never -0.00
    [-0.006, 'z -0.01'],
  ])('stands beside the z-score of %s with two decimals: %s', (zScore, text) => {
    expect(standingText(verdict({ zScore, percentile: 50 }))).toBe(`${text}, 50th percentile`);
  });

  it('is not given where there is none', () => {
    expect(standingText(verdict({ zScore: null, percentile: null }))).toBe('');
  });
});

describe('a verdict', () => {
  it('names summary, hand, outcome and what is provisional', () => {
    expect(summaryText('mean-per-hand', 'right')).toBe('right hand, mean');
    expect(summaryText('highest-per-hand', 'left')).toBe('left hand, highest');
    expect(summaryText('highest-of-either-hand', null)).toBe('highest of either hand');
    expect(outcomeText(verdict({ outcome: 'reduced' }))).toBe('reduced');
    expect(outcomeText(verdict({ provisional: ['TRIALS_FEWER'] }))).toBe('not reduced, provisional');
    expect(provisionalText([])).toBe('');
    expect(provisionalText(['TRIALS_FEWER', 'ONE_HAND_ONLY'])).toBe(
      'Provisional: fewer trials than the protocol asks for; one hand only.',
    );
    expect(provisionalText(['TRIALS_MORE'])).toBe('Provisional: more trials than the protocol asks for.');
  });

  it('of a table is one sentence with its standing', () => {
    expect(verdictSentence(verdict(), panel)).toBe(
      'US adults 1985 (men 70 to 74): right hand, mean 62.3 lb; reduced is at or below 32.3 lb: not reduced (z -0.60, 27th percentile).',
    );
  });

  it('of a consensus adds what it means there', () => {
    expect(verdictSentence(verdict(LOW), panel)).toBe(
      'EWGSOP2 2019 (men 65 and over): highest of either hand 26.96 kg; reduced is below 27 kg: reduced, provisional. ' +
        'By this set: low grip strength: "probable sarcopenia" in this consensus; low muscle quantity or quality would have to confirm it. ' +
        'Provisional: one hand only.',
    );
  });

  it('of a set that a later one replaces says so', () => {
    const then = describedPanel('all-published', '1.0.0');
    const awgs = then.panel.sets.find(({ ref }) => ref.id === 'awgs-2019')?.ref;
    const old = { limit: { value: '28', unit: 'kg', operator: '<' } } as const;
    expect(verdictSentence(verdict({ ...LOW, ...old, set: awgs ?? EWGSOP2, provisional: [] }), then)).toBe(
      'AWGS 2019 (superseded) (men 65 and over): highest of either hand 27.0 kg; reduced is below 28 kg: reduced. ' +
        'By this set: low muscle strength: "possible sarcopenia" in this consensus.',
    );
    const newer = { set: refOf('awgs-2025') };
    expect(verdictSentence(verdict({ ...LOW, ...newer }), all)).toMatch(/^AWGS 2025 \(men 65 and over\): /);
  });
});

describe('the sex', () => {
  it.each([
    ['male', 'administrative-gender', 'male, from Patient.gender'],
    ['female', 'sex-parameter-for-clinical-use', 'female, from the sex parameter for clinical use'],
    ['female', 'us-core-individual-sex', 'female, from the US Core individual sex extension'],
    ['male', 'us-core-sex', 'male, from the US Core sex extension'],
    ['male', 'us-core-birthsex', 'male, from the US Core birth sex extension'],
    [null, 'administrative-gender', 'sex not usable: Patient.gender says neither male nor female'],
    [null, 'us-core-sex', 'sex not usable: the US Core sex extension says neither male nor female'],
    [null, 'sources-disagree', 'sex not usable: its sources in the record disagree'],
    [null, 'not-recorded', 'sex not recorded'],
  ] as const)('%s by %s is worded: %s', (sex, source, text) => {
    expect(sexText({ sex, source })).toBe(text);
  });
});

describe('what the output is not', () => {
  const USE =
    'One item of a nutrition assessment, for the licensed clinician who makes it; it supports judgement and local policy and diagnoses nothing. Low strength alone is neither malnutrition nor sarcopenia.';
  const ADULT = USE;
  const MINOR = `${USE} The consensus on adult malnutrition does not apply below 18.`;

  it.each([
    [72, ADULT],
    [18, ADULT],
    [null, ADULT],
    [17, MINOR],
    [0, MINOR],
  ])('names the consensus on adult malnutrition by the age: %s', (ageYears, text) => {
    expect(intendedUse(ageYears)).toBe(text);
  });

  it('says what the service could not know, and itself in one line', () => {
    expect(NOT_READ).toBe(
      'Not read for this result: conditions, procedures, implants and access; the card before a test names those that are coded. ' +
        'Weigh pain, surgery, dialysis access, whether it was after haemodialysis (grip is then 1 to 4 kg lower), stroke and nerve or muscle disease of the tested arm.',
    );
    expect(INTENDED_USE_SHORT).toBe(
      'One item of a nutrition assessment; supports the licensed clinician and local policy; diagnoses nothing.',
    );
  });
});
