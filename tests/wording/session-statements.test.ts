/** What one session comes to: the sets together, and the sentence for the chart with its notes. */
import { describe, expect, it } from 'vitest';
import {
  type Caution,
  type Interpretation,
  type Outcome,
  type Refusal,
  refuse,
  type Summary,
  type Verdict,
} from '../../src/interpret/finding.ts';
import type { Hand } from '../../src/interpret/measurement.ts';
import { chartSentence } from '../../src/wording/chart-sentence.ts';
import { provisionalReasons, tally, verdictsIn } from '../../src/wording/session-statements.ts';
import { describedPanel, refOf, VERDICT } from '../verdict-for-tests.ts';

const panel = describedPanel('adult-inpatient-us');
const TABLE = refOf('mathiowetz-1985-us-adults');
const SURVEY = refOf('nhanes-2011-2014-right-left-mean-of-3');
const EWGSOP2 = refOf('ewgsop2-2019');
const SDOC = refOf('sdoc-2020');

type Set = Verdict['set'];
const says = (set: Set, hand: Hand | null, outcome: Outcome): Verdict => ({
  ...VERDICT,
  ...{ set, hand, outcome },
});
const both = (set: Set, right: Outcome, left: Outcome) => [
  says(set, 'right', right),
  says(set, 'left', left),
];
/** The set read for each sex. */
const columns = (set: Set, hand: Hand | null, female: Outcome, male: Outcome): Refusal =>
  refuse('SEX_NOT_USABLE', {
    ...{ set, hand },
    columns: [
      { ...says(set, hand, female), sex: 'female' },
      { ...says(set, hand, male), sex: 'male' },
    ],
  });

const SUMMARIES: readonly Summary[] = (['right', 'left', null] as const).map((hand) => ({
  ...{ kind: hand ? 'mean-per-hand' : 'highest-of-either-hand', hand },
  ...{ charted: { value: '30.000', unit: 'kg' }, kilograms: { value: '30.000', unit: 'kg' } },
  ...{ trials: ['a', 'b', 'c'], provisional: [] },
}));

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
    summaries: SUMMARIES,
    results,
    cautions: [],
    changes: [],
    ...parts,
  };
}

const NONE = { reduced: [], notReduced: [], open: [], handsDiffer: false };
const tallied = (...results: readonly (Verdict | Refusal)[]) => tally(session(results), panel);

describe('the tally', () => {
  it('counts a set as reduced when both hands are, and as not reduced when neither is', () => {
    expect(tallied(...both(TABLE, 'reduced', 'reduced'))).toEqual({ ...NONE, reduced: ['US adults 1985'] });
    expect(tallied(...both(TABLE, 'not-reduced', 'not-reduced'))).toEqual({
      ...NONE,
      notReduced: ['US adults 1985'],
    });
  });

  it('names both hands when they differ, in either direction', () => {
    const results = [...both(TABLE, 'reduced', 'not-reduced'), ...both(SURVEY, 'not-reduced', 'reduced')];
    expect(tallied(...results)).toEqual({
      reduced: ['US adults 1985 (right hand)', 'US survey 2011-14 (left hand)'],
      notReduced: ['US adults 1985 (left hand)', 'US survey 2011-14 (right hand)'],
      open: [],
      handsDiffer: true,
    });
  });

  it('names the hand of a set that was read for one hand only, and calls no difference', () => {
    expect(tallied(says(TABLE, 'left', 'reduced'), says(SURVEY, 'left', 'not-reduced'))).toEqual({
      ...NONE,
      reduced: ['US adults 1985 (left hand)'],
      notReduced: ['US survey 2011-14 (left hand)'],
    });
    expect(tallied(says(EWGSOP2, null, 'reduced'))).toEqual({ ...NONE, reduced: ['EWGSOP2 2019'] });
  });

  it('keeps the order of the panel, leaves out sets not applied, and lists open ones apart', () => {
    const results = [
      says(EWGSOP2, null, 'reduced'),
      columns(SURVEY, 'right', 'not-reduced', 'reduced'),
      ...both(TABLE, 'not-reduced', 'not-reduced'),
      refuse('AGE_OUTSIDE_SET', { set: refOf('fnih-2014') }),
    ];
    expect(tallied(...results)).toEqual({
      reduced: ['EWGSOP2 2019'],
      notReduced: ['US adults 1985'],
      open: ['US survey 2011-14'],
      handsDiffer: false,
    });
  });

  it('counts a set whose columns agree, and leaves open only those whose columns differ', () => {
    const results = [
      columns(TABLE, 'right', 'reduced', 'reduced'),
      columns(TABLE, 'left', 'not-reduced', 'not-reduced'),
      columns(SURVEY, 'right', 'reduced', 'reduced'),
      columns(SURVEY, 'left', 'not-reduced', 'reduced'),
      columns(EWGSOP2, null, 'reduced', 'reduced'),
      columns(SDOC, null, 'not-reduced', 'not-reduced'),
    ];
    expect(tallied(...results)).toEqual({
      reduced: ['US adults 1985 (right hand)', 'EWGSOP2 2019'],
      notReduced: ['US adults 1985 (left hand)', 'SDOC 2020'],
      open: ['US survey 2011-14'],
      handsDiffer: true,
    });
  });

  it('takes a result without columns for none', () => {
    expect(tallied(refuse('SEX_NOT_USABLE', { set: TABLE }))).toEqual(NONE);
  });
});

describe('the verdicts of a result', () => {
  it('are itself, or those of both columns', () => {
    const verdict = says(TABLE, 'right', 'reduced');
    expect(verdictsIn(verdict)).toEqual([verdict]);
    const open = columns(TABLE, 'right', 'not-reduced', 'reduced');
    expect(verdictsIn(open)).toEqual(open.columns);
    expect(verdictsIn(refuse('AGE_OUTSIDE_SET', { set: TABLE }))).toEqual([]);
  });

  it('give every reason for being provisional once, those of columns too', () => {
    const open = columns(EWGSOP2, null, 'reduced', 'reduced');
    const results = [
      { ...says(TABLE, 'right', 'reduced'), provisional: ['TRIALS_FEWER' as const] },
      { ...says(SURVEY, 'right', 'reduced'), provisional: ['TRIALS_FEWER' as const] },
      { ...open, columns: open.columns.map((own) => ({ ...own, provisional: ['ONE_HAND_ONLY' as const] })) },
    ];
    expect(provisionalReasons(session(results))).toEqual(['TRIALS_FEWER', 'ONE_HAND_ONLY']);
    expect(provisionalReasons(session([VERDICT]))).toEqual([]);
  });
});

describe('the sentence for the chart', () => {
  const START =
    'Grip strength 24 Nov 2026, age 72: right mean 30.0 kg of 3 trials, left mean 30.0 kg of 3 trials, highest of either hand 30.0 kg.';
  const END = 'One item of the assessment; not a diagnosis.';
  const chart = (results: readonly (Verdict | Refusal)[], cautions: readonly Caution[] = []) =>
    chartSentence(session(results, { cautions }), panel);

  it('names for both hands the sets in which they differ', () => {
    const results = [...both(TABLE, 'reduced', 'not-reduced'), ...both(SURVEY, 'not-reduced', 'not-reduced')];
    expect(chart(results)).toBe(
      `${START} Reduced by US adults 1985 (right hand). Not reduced by US adults 1985 (left hand), US survey 2011-14 (both hands). ${END}`,
    );
  });

  it('names the sets that depend on the sex, and counts those that do not', () => {
    const results = [
      columns(EWGSOP2, null, 'reduced', 'reduced'),
      columns(SDOC, null, 'not-reduced', 'reduced'),
    ];
    expect(chart(results)).toBe(
      `${START} Reduced by EWGSOP2 2019. Depends on the sex read, not usable in the record: SDOC 2020 (as a woman not reduced, as a man reduced). ${END}`,
    );
  });

  it('says why it is provisional', () => {
    const few = both(TABLE, 'not-reduced', 'not-reduced').map((own) => ({
      ...own,
      provisional: ['TRIALS_FEWER' as const],
    }));
    expect(chart(few)).toBe(
      `${START} Not reduced by US adults 1985. Provisional: fewer trials than the protocol asks for. ${END}`,
    );
  });

  it('notes inconsistent or unverified trials and a unit to be checked, and no other caution', () => {
    const cautions: readonly Caution[] = [
      { code: 'UNIT_DOUBTFUL', hand: 'left', facts: { figure: '45.0', unit: 'kg', otherUnit: 'lb' } },
      { code: 'TRIALS_SCATTER', hand: 'right', facts: { cvPercent: '35.3', maxCvPercent: '15' } },
      { code: 'TRIAL_PRELIMINARY', hand: null, facts: { count: '2' } },
      { code: 'MASS_UNIT_READ_AS_FORCE', hand: null, facts: { unit: 'kg' } },
    ];
    expect(chart(both(TABLE, 'not-reduced', 'not-reduced'), cautions)).toBe(
      `${START} Not reduced by US adults 1985. Unit to be checked (kg or lb). Right-hand trials inconsistent (CV 35.3%). Some trials not yet verified. ${END}`,
    );
  });

  it('of a session without a usable trial says only that', () => {
    expect(chartSentence(session([], { summaries: [] }), panel)).toBe(
      'Grip strength 24 Nov 2026, age 72: not interpreted; no trial of it could be used.',
    );
  });
});

describe('an age that is known in part only', () => {
  it('is named with both possible ages, and as what the open sets depend on', () => {
    const uncertain = { ...columns(SDOC, null, 'not-reduced', 'reduced'), code: 'AGE_UNCERTAIN' as const };
    const said = chartSentence(session([uncertain], { ageYears: 64, ageAtMost: 65 }), panel);
    expect(said).toContain(', age 64 or 65: ');
    expect(said).toContain('Depends on the age, known in part only: SDOC 2020 (');
  });
});

describe('a hand that norms do not fit', () => {
  it('is named for the chart', () => {
    const own = refuse('OWN_BASELINE', { set: TABLE, hand: 'right' });
    const results = [own, says(TABLE, 'left', 'not-reduced')];
    expect(chartSentence(session(results), panel)).toContain('Right hand: norms do not fit, own baseline.');
  });
});

describe('a row that is possible and has no figure', () => {
  it('leaves the set open, whatever the other rows say', () => {
    const half = { ...columns(SDOC, null, 'reduced', 'reduced'), facts: { unknown: 'men' } };
    expect(tally(session([half]), panel)).toMatchObject({ reduced: [], open: ['SDOC 2020'] });
  });
});
