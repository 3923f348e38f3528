/** The wording of findings: dates, limits, figures near a limit, percentiles, every code. */
import { describe, expect, it } from 'vitest';
import { type Interpretation, type Refusal, refuse, type Verdict } from '../src/interpret/finding.ts';
import { openLibrary } from '../src/service.ts';
import {
  comparedText,
  dateText,
  forceText,
  limitText,
  outcomeText,
  provisionalText,
  rowFigures,
  rowText,
  standingText,
  summaryText,
  tally,
  verdictSentence,
} from '../src/statements.ts';

const found = openLibrary().findPanel('adult-inpatient-us');
if (!found) throw new Error('the default panel is missing');
const panel = found;
const refOf = (id: string) => {
  const set = panel.panel.sets.find(({ ref }) => ref.id === id);
  if (!set) throw new Error(`no set ${id}`);
  return set.ref;
};
const TABLE = refOf('mathiowetz-1985-us-adults');
const SURVEY = refOf('nhanes-2011-2014-right-left-mean-of-3');
const EWGSOP2 = refOf('ewgsop2-2019');

const VERDICT: Verdict = {
  kind: 'verdict',
  set: TABLE,
  rule: null,
  sex: 'male',
  hand: 'right',
  summary: 'mean-per-hand',
  charted: { value: '62.333', unit: 'lb' },
  compared: { value: '62.333', unit: 'lb' },
  conversion: null,
  limit: { value: '32.3', unit: 'lb', operator: '<=' },
  row: { ageMin: 70, ageMax: 74, mean: '75.3', sd: '21.5', verification: 'two-sources' },
  outcome: 'not-reduced',
  zScore: -0.603,
  percentile: 27.3,
  provisional: [],
};
const verdict = (parts: Partial<Verdict> = {}): Verdict => ({ ...VERDICT, ...parts });
const compared = (value: string, limit: string) =>
  comparedText(
    verdict({ compared: { value, unit: 'lb' }, limit: { value: limit, unit: 'lb', operator: '<=' } }),
  );

function session(
  results: readonly (Verdict | Refusal)[],
  parts: Partial<Interpretation> = {},
): Interpretation {
  return {
    testedOn: '2026-11-24',
    effective: '2026-11-24',
    ageYears: 72,
    sex: 'male',
    trials: [],
    summaries: [],
    results,
    cautions: [],
    changes: [],
    ...parts,
  };
}

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
    ['41.400', '41.4', '41.4 lb'], // equal: one decimal says so
    ['41.402', '41.4', '41.402 lb'], // above, and would look equal
    ['41.398', '41.4', '41.398 lb'], // below, and would look equal
    ['41.451', '41.4', '41.5 lb'], // rounds away from the limit
    ['26.960', '27', '26.960 lb'], // 27.0 would look equal to 27
    ['27.000', '27', '27.0 lb'],
    ['26.940', '27', '26.9 lb'],
    ['18.564', '18.56', '18.6 lb'], // one decimal already differs from the limit
  ])('of %s against a limit of %s is shown as %s', (value, limit, text) => {
    expect(compared(value, limit)).toBe(text);
  });
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
    expect(standingText(verdict({ zScore: -0.6, percentile }))).toBe(`z -0.6, ${text}`);
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
      'US adults 1985 (men 70 to 74): right hand, mean 62.3 lb; reduced is at or below 32.3 lb: not reduced (z -0.6, 27th percentile).',
    );
  });

  it('of a consensus adds what it means there', () => {
    const low = verdict({
      ...{ set: EWGSOP2, hand: null, summary: 'highest-of-either-hand', outcome: 'reduced' },
      ...{ compared: { value: '26.960', unit: 'kg' }, limit: { value: '27', unit: 'kg', operator: '<' } },
      ...{
        row: { ...VERDICT.row, ageMin: 65, ageMax: null, mean: null, sd: null },
        zScore: null,
        percentile: null,
      },
      provisional: ['ONE_HAND_ONLY'],
    });
    expect(verdictSentence(low, panel)).toBe(
      'EWGSOP2 2019 (men 65 and over): highest of either hand 26.960 kg; reduced is below 27 kg: reduced, provisional. ' +
        'By this set: low grip strength: "probable sarcopenia" in this consensus; low muscle quantity or quality would have to confirm it. ' +
        'Provisional: one hand only.',
    );
  });
});

describe('the tally', () => {
  const right = (set: Verdict['set'], outcome: Verdict['outcome']) => verdict({ set, outcome });
  const left = (set: Verdict['set'], outcome: Verdict['outcome']) => verdict({ set, outcome, hand: 'left' });

  it('counts a set as reduced when both hands are', () => {
    expect(tally(session([right(TABLE, 'reduced'), left(TABLE, 'reduced')]), panel)).toEqual({
      reduced: ['US adults 1985'],
      notReduced: [],
      open: [],
      handsDiffer: false,
    });
  });

  it('names the hand when the hands differ, in either direction', () => {
    const results = [
      ...[right(TABLE, 'reduced'), left(TABLE, 'not-reduced')],
      ...[right(SURVEY, 'not-reduced'), left(SURVEY, 'reduced')],
    ];
    expect(tally(session(results), panel)).toEqual({
      reduced: ['US adults 1985 (right hand)', 'US survey 2011-14 (left hand)'],
      notReduced: [],
      open: [],
      handsDiffer: true,
    });
  });

  it('keeps the order of the panel, leaves out sets not applied, and lists open ones apart', () => {
    const results = [
      verdict({ set: EWGSOP2, hand: null, outcome: 'reduced' }),
      refuse('SEX_NOT_USABLE', { set: SURVEY, columns: [verdict()] }),
      right(TABLE, 'not-reduced'),
      refuse('AGE_OUTSIDE_SET', { set: refOf('fnih-2014') }),
    ];
    expect(tally(session(results), panel)).toEqual({
      reduced: ['EWGSOP2 2019'],
      notReduced: ['US adults 1985'],
      open: ['US survey 2011-14'],
      handsDiffer: false,
    });
  });
});
