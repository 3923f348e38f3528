/** Every code as an issue of an OperationOutcome, and the sentences about a session that stand beside them. */
import { describe, expect, it } from 'vitest';
import { REQUEST_ERRORS, type RequestErrorCode } from '../../src/errors.ts';
import type { Evaluation } from '../../src/evaluation.ts';
import { GRIP_ISSUES } from '../../src/fhir/codes.ts';
import { writeErrorOutcome, writeEvaluationOutcome } from '../../src/fhir/write-operation-outcome.ts';
import {
  type Caution,
  type CautionCode,
  type Change,
  type Interpretation,
  type RefusalCode,
  refuse,
  type Summary,
} from '../../src/interpret/finding.ts';
import { openLibrary } from '../../src/service.ts';
import { CAUTION_MEANINGS, cautionSentence } from '../../src/wording/caution-statements.ts';
import { changeSentence } from '../../src/wording/change-statements.ts';
import { chartSentence } from '../../src/wording/chart-sentence.ts';
import { intendedUse, NOT_READ } from '../../src/wording/intended-use.ts';
import { REFUSALS } from '../../src/wording/refusals.ts';
import { patientSentence, stopOf } from '../../src/wording/session-statements.ts';
import { dateText, refusalSentence } from '../../src/wording/statements.ts';

const panel = openLibrary().findPanel('adult-inpatient-us') as Evaluation['panel'];

/** The facts that each refusal is made with. */
const REFUSAL_FACTS: Readonly<Record<RefusalCode, Readonly<Record<string, string>>>> = {
  CODE_NOT_GRIP: {},
  LOCAL_CODE_UNKNOWN: {},
  CODE_CONTRADICTION: {},
  STATISTIC_NOT_READ: {},
  RESULT_LEFT_ASIDE: {},
  SIDE_MISSING: {},
  SIDE_CONTRADICTION: {},
  STATUS_NOT_USABLE: { status: 'entered-in-error' },
  MODIFIER_UNKNOWN: { element: 'implicitRules' },
  SUBJECT_MISSING: {},
  DUPLICATE_OBSERVATION: {},
  OBSERVATION_CONFLICT: {},
  AGE_IMPLAUSIBLE: { ageYears: '176' },
  TIME_MISSING: {},
  TIME_IN_FUTURE: { testedOn: '2027-01-01', effective: '2027-01-01', asOf: '2026-11-26' },
  VALUE_ABSENT: { reason: 'not-performed' },
  VALUE_AMBIGUOUS: {},
  MEMBER_MISSING: { member: 'Observation/trial-9' },
  VALUE_COMPARATOR: { comparator: '>' },
  VALUE_NOT_POSITIVE: { reading: '0', unit: 'kg' },
  VALUE_OVER_BOUND: { reading: '101', unit: 'kg', maxKg: '100' },
  UNIT_MISSING: {},
  UNIT_UNKNOWN: { unit: 'lb' },
  BIRTH_DATE_MISSING: {},
  BIRTH_DATE_PARTIAL: {},
  BIRTH_AFTER_TEST: {},
  SUBJECT_DECEASED: {},
  SUMMARY_CONFLICT: { reading: '31', unit: 'kgf' },
  UNITS_MIXED: { units: 'kg, lb' },
  UNIT_IMPLAUSIBLE: { figure: '84.0', unit: 'kg', otherUnit: 'lb' },
  AGE_OUTSIDE_SET: { ageYears: '15', covers: '20 and over', next: 'nhanes-2011-2014-right-left-mean-of-3' },
  SEX_NOT_USABLE: {},
  AGE_UNCERTAIN: { ages: '74 or 75' },
  HANDEDNESS_UNKNOWN: {},
  HAND_NOT_MEASURED: { needs: 'the dominant hand' },
  SUMMARY_NOT_CHARTED: { needs: 'the highest of either hand', charted: 'mean' },
  OWN_BASELINE: {},
  MEASURE_MISSING: { needs: 'height' },
  MEASURE_OUTSIDE_SET: { value: '205' },
  FIGURE_UNKNOWN: { note: 'printed in the paper; not seen' },
  MEASURE_NOT_USABLE: {},
};

const CAUTIONS: Readonly<Record<CautionCode, Omit<Caution, 'code'>>> = {
  TRIALS_FEWER: { hand: 'right', facts: { trials: '2', perHand: '3' } },
  TRIALS_MORE: { hand: 'left', facts: { trials: '4', perHand: '3' } },
  HAND_NOT_TESTED: { hand: 'left', facts: {} },
  TRIALS_SCATTER: { hand: 'right', facts: { cvPercent: '35.3', maxCvPercent: '15' } },
  SUMMARY_UNVERIFIED: { hand: 'right', facts: { charted: 'mean' } },
  SUMMARY_DISAGREES: {
    hand: 'left',
    facts: { kind: 'mean', charted: '28.9', computed: '28.5', unit: 'kg' },
  },
  UNIT_DOUBTFUL: { hand: 'right', facts: { figure: '41.4', unit: 'lb', otherUnit: 'kg' } },
  FIRST_TRIAL_LOW: { hand: 'left', facts: { first: '18.0', others: '30.0', percent: '20' } },
  TRIALS_FALLING: { hand: 'left', facts: { first: '30.0', last: '20.0', percent: '20' } },
  CHANGE_LIKE_UNIT: {
    hand: 'right',
    facts: { figure: '44.0', unit: 'kg', otherUnit: 'lb', previous: '20.0' },
  },
  PROTOCOL_VARIES: { hand: null, facts: { part: 'posture', charted: 'seated, standing' } },
  CALIBRATION_OVERDUE: { hand: null, facts: { calibratedOn: '2024-05-09', maxDays: '366' } },
  MEASURES_CONFLICT: { hand: null, facts: { measure: 'height' } },
  TIME_OF_DAY_DIFFERS: { hand: null, facts: { now: '14:05', before: '08:10' } },
  TRIAL_PRELIMINARY: { hand: null, facts: { count: '2' } },
  MASS_UNIT_READ_AS_FORCE: { hand: null, facts: { unit: 'kg' } },
};

const refusalCodes = Object.keys(REFUSAL_FACTS) as RefusalCode[];
const cautions = Object.entries(CAUTIONS).map(([code, parts]) => ({ code: code as CautionCode, ...parts }));

function session(parts: Partial<Interpretation> = {}): Interpretation {
  const nothing = { trials: [], summaries: [], results: [], cautions: [], changes: [] };
  return { testedOn: '2026-11-24', effective: '2026-11-24', ageYears: 72, sex: 'male', ...nothing, ...parts };
}

function evaluation(parts: Partial<Evaluation>): Evaluation {
  return {
    id: '0f8fad5b-d9cb-469f-a165-70867728950e',
    at: '2026-11-25T12:00:00.000Z',
    engine: { name: 'test', version: '0.0.0' },
    patient: 'Patient/invented-1',
    panel,
    sex: { sex: 'male', source: 'administrative-gender' },
    input: { sex: 'male', sessions: [] },
    refusals: [],
    expressions: new Map(),
    interpretations: [],
    ...parts,
  };
}

const WORDS = /^(?!.*(undefined|NaN|null|\[object))\S.*\S$/;

describe('a refusal', () => {
  it.each(refusalCodes)('%s has wording, meaning, issue type and severity', (code) => {
    const { issue, severity, meaning } = REFUSALS[code];
    const text = refusalSentence(refuse(code, { facts: REFUSAL_FACTS[code] }));
    expect(text).toMatch(WORDS);
    expect(text).toMatch(/\.$/);
    expect(meaning).toMatch(WORDS);
    for (const fact of Object.values(REFUSAL_FACTS[code])) expect(text).toContain(fact);
    const [, issued] = writeEvaluationOutcome(
      evaluation({ refusals: [refuse(code, { facts: REFUSAL_FACTS[code] })] }),
    ).issue;
    expect(issued).toMatchObject({
      severity,
      code: issue,
      details: { coding: [{ system: GRIP_ISSUES, code }], text },
    });
  });

  it('of a value without a reason, and of an age that nothing covers, has wording too', () => {
    expect(refusalSentence(refuse('VALUE_ABSENT'))).toMatch(WORDS);
    const facts = { ageYears: '4', covers: '20 and over' };
    expect(refusalSentence(refuse('AGE_OUTSIDE_SET', { facts }))).toBe(
      'Not applied at age 4: it is read for 20 and over.',
    );
    expect(refusalSentence(refuse('AGE_OUTSIDE_SET', { facts: { ...facts, next: 'another-table' } }))).toBe(
      'Not applied at age 4: it is read for 20 and over. For this age see another-table.',
    );
    expect(refusalSentence(refuse('AGE_OUTSIDE_SET', { facts: { ageYears: '4' } }))).toBe(
      'Not applied at age 4: it is read for other ages.',
    );
  });

  it('names the element at fault, or the reading of the trial where the core refused it', () => {
    const trial = 'Observation/1';
    const refusals = [
      refuse('UNIT_UNKNOWN', { trial, expression: 'o.valueQuantity.code', facts: { unit: 'lb' } }),
    ];
    const refused = refuse('VALUE_NOT_POSITIVE', { trial, facts: { reading: '0', unit: 'kg' } });
    const expressions = new Map([[trial, 'o']]);
    const { issue } = writeEvaluationOutcome(
      evaluation({ refusals, expressions, interpretations: [session({ results: [refused] })] }),
    );
    expect(issue.flatMap(({ expression = [] }) => expression)).toEqual(['o.value.code', 'o.value.value']);
    expect(issue.flatMap(({ diagnostics = [] }) => diagnostics)).toEqual([trial, trial]);
  });
});

/** Dates are shown as `9 May 2024`; the unit that fits better is named where it decides the result. */
function shownFacts({ code, facts }: Caution): readonly string[] {
  const { calibratedOn, ...rest } = facts;
  if (calibratedOn) return [...Object.values(rest), dateText(calibratedOn)];
  return Object.values(facts).filter((fact) => code !== 'CHANGE_LIKE_UNIT' || fact !== facts.otherUnit);
}

describe('a caution', () => {
  it.each(cautions)('$code has wording and a meaning', (caution) => {
    const text = cautionSentence(caution);
    expect(text).toMatch(WORDS);
    expect(text).toMatch(/\.$/);
    for (const fact of shownFacts(caution)) expect(text).toContain(fact);
    if (caution.hand) expect(text.toLowerCase()).toContain(`${caution.hand} hand`);
    expect(CAUTION_MEANINGS[caution.code]).toMatch(WORDS);
  });

  it('of a doubtful unit says which unit decides the result, and what to check', () => {
    const doubt = (figure: string, unit: string, otherUnit: string) =>
      cautionSentence({ code: 'UNIT_DOUBTFUL', hand: 'left', facts: { figure, unit, otherUnit } });
    expect(doubt('45.0', 'kg', 'lb')).toBe(
      'Left hand: a mean of 45.0 kg is strong for this person, and 45.0 lb would be reduced. Check the unit on the instrument.',
    );
    expect(doubt('41.4', 'lb', 'kg')).toBe(
      'Left hand: a mean of 41.4 lb is reduced, and 41.4 kg would not be out of range. Check the unit on the instrument before acting.',
    );
  });

  it('is a warning, except that a unit of mass was read as force', () => {
    const { issue } = writeEvaluationOutcome(evaluation({ interpretations: [session({ cautions })] }));
    const severities = issue.flatMap(({ severity, details }) =>
      details?.coding ? [[details.coding[0]?.code, severity]] : [],
    );
    expect(Object.fromEntries(severities)).toEqual({
      ...Object.fromEntries(cautions.map(({ code }) => [code, 'warning'])),
      MASS_UNIT_READ_AS_FORCE: 'information',
    });
  });
});

describe('the outcome of an evaluation', () => {
  const plain = (severity: string, code: string, text: string) => ({ severity, code, details: { text } });
  const RECORDED =
    'Recorded as evaluation 0f8fad5b-d9cb-469f-a165-70867728950e by test 0.0.0 with panel adult-inpatient-us 1.1.0. Sex: ';

  it('says in one warning that no usable trial was found, and still what was not read', () => {
    const { issue } = writeEvaluationOutcome(
      evaluation({ sex: { sex: null, source: 'not-recorded' }, refusals: [refuse('CODE_NOT_GRIP')] }),
    );
    expect(issue).toEqual([
      plain('information', 'informational', `${RECORDED}sex not recorded.`),
      expect.objectContaining({ details: expect.objectContaining({ coding: expect.anything() }) }),
      plain(
        'warning',
        'not-found',
        'No usable grip strength trial was found in the request, so nothing was interpreted.',
      ),
      plain('information', 'informational', NOT_READ),
      plain('information', 'informational', intendedUse(null)),
    ]);
  });

  it('of a session has no such warning, and speaks of the age of the last one', () => {
    const interpretations = [session({ ageYears: 18 }), session({ ageYears: 17 })];
    const { issue } = writeEvaluationOutcome(evaluation({ interpretations }));
    expect(issue[0]).toEqual(plain('information', 'informational', `${RECORDED}male, from Patient.gender.`));
    expect(issue.map(({ code }) => code)).not.toContain('not-found');
    expect(issue.slice(-2)).toEqual([
      plain('information', 'informational', NOT_READ),
      plain('information', 'informational', intendedUse(17)),
    ]);
  });
});

describe('an error', () => {
  it.each(Object.keys(REQUEST_ERRORS) as RequestErrorCode[])(
    '%s has wording, issue type and status',
    (code) => {
      const { status, text, issue } = REQUEST_ERRORS[code];
      expect(status).toBeGreaterThanOrEqual(400);
      expect(text).toMatch(WORDS);
      const plain = writeErrorOutcome(code, []).issue;
      expect(plain).toEqual([
        { severity: 'error', code: issue, details: { coding: [{ system: GRIP_ISSUES, code }], text } },
      ]);
      const located = writeErrorOutcome(code, [{ expression: 'Bundle.entry[1]', text: 'is wrong' }]).issue;
      expect(located).toMatchObject([
        { expression: ['Bundle.entry[1]'], diagnostics: 'Bundle.entry[1] is wrong' },
      ]);
    },
  );
});

describe('the sentences about a session', () => {
  const shared = { kilograms: { value: '28.274', unit: 'kg' }, provisional: [] } as const;
  const three = ['a', 'b', 'c'];
  const summaries: Summary[] = [
    {
      ...shared,
      kind: 'mean-per-hand',
      hand: 'right',
      charted: { value: '62.333', unit: 'lb' },
      trials: three,
    },
    {
      ...shared,
      kind: 'highest-per-hand',
      hand: 'right',
      charted: { value: '64.000', unit: 'lb' },
      trials: three,
    },
    {
      ...shared,
      kind: 'highest-of-either-hand',
      hand: null,
      charted: { value: '64.000', unit: 'lb' },
      trials: three,
    },
  ];

  it('say for the chart what was measured, what the sets say and what it is not', () => {
    expect(chartSentence(session({ summaries }), panel)).toBe(
      'Grip strength 24 Nov 2026, age 72: right mean 62.3 lb (28.3 kg) of 3 trials, highest of either hand 64.0 lb (28.3 kg). ' +
        'No reference set of this panel applies. One item of the assessment; not a diagnosis.',
    );
  });

  it('say for the chart why a session was stopped, and then nothing for the patient', () => {
    const stopped = session({ summaries, ageYears: null, results: [refuse('BIRTH_DATE_MISSING')] });
    expect(stopOf(stopped)?.code).toBe('BIRTH_DATE_MISSING');
    expect(chartSentence(stopped, panel)).toBe(
      'Grip strength 24 Nov 2026: not interpreted: the date of birth is missing, so age at the test is unknown.',
    );
    expect(patientSentence(stopped)).toBe('');
  });

  it('say one plain thing for the patient', () => {
    expect(patientSentence(session({ summaries }))).toBe(
      'On 24 Nov 2026 your strongest squeeze was 64 lb, and it is one of the things your dietitian looks at with you.',
    );
    expect(patientSentence(session())).toBe('');
  });

  it.each([
    ['2026-10-22', '22 Oct 2026'],
    ['2026-10-22T14:00:00Z', '22 Oct 2026 14:00'],
    ['2026-10-22T23:45:30.5-05:00', '22 Oct 2026 23:45'], // as charted: in the time zone of the chart
  ])('name the moment of the earlier test as charted: %s as %s', (since, moment) => {
    const change: Change = {
      ...{ hand: 'left', since, percent: '+10.9', provisional: [] },
      ...{ from: { value: '16.833', unit: 'kg' }, to: { value: '18.667', unit: 'kg' } },
      difference: { value: '+1.833', unit: 'kg' },
    };
    expect(changeSentence(change, panel)).toBe(
      `Left hand since ${moment}: mean 16.8 kg to 18.7 kg (+1.8 kg, +10.9%). Whether that exceeds measurement error is not judged here.`,
    );
  });

  it.each([
    ['+1.833', '+10.9', 'mean 16.8 kg to 18.7 kg (+1.8 kg, +10.9%)'],
    ['-1.833', '-9.8', 'mean 16.8 kg to 18.7 kg (-1.8 kg, -9.8%)'],
    ['0.000', '0.0', 'mean 16.8 kg to 18.7 kg (0.0 kg, 0.0%)'],
  ])('show a change of %s with its sign', (value, percent, text) => {
    const change: Change = {
      ...{ hand: 'right', since: '2026-10-22', percent, provisional: [] },
      ...{ from: { value: '16.833', unit: 'kg' }, to: { value: '18.667', unit: 'kg' } },
      difference: { value, unit: 'kg' },
    };
    const sentence = changeSentence(change, panel);
    expect(sentence).toContain(`Right hand since 22 Oct 2026: ${text}.`);
    expect(sentence).toContain('Whether that exceeds measurement error is not judged here.');
  });
});
