/** The refusals of one charted measurement: what each means, how grave it is, and what a reader is told to do. */
import type { IssueType, Severity } from '../errors.ts';
import type { RefusalCode } from '../interpret/finding.ts';

export interface RefusalText {
  /** For the code system and the documentation. */
  readonly meaning: string;
  readonly issue: IssueType;
  readonly severity: Severity;
  /** What happened and what to do about it. */
  readonly text: (facts: Readonly<Record<string, string>>) => string;
}

export const CHART_REFUSALS = {
  CODE_NOT_GRIP: {
    meaning: 'The code is not one of a grip strength trial',
    issue: 'not-supported',
    severity: 'information',
    text: () =>
      'Not read: the code is not a grip strength trial (LOINC 83174-3 right, 83173-5 left, or SNOMED CT 251433001 with a body site).',
  },
  CODE_CONTRADICTION: {
    meaning: 'The codes of one Observation or component say different things',
    issue: 'invariant',
    severity: 'error',
    text: () =>
      'Not used: its codes (or code and method) say different things of what was charted. Correct the record, or the map of local codes.',
  },
  STATISTIC_NOT_READ: {
    meaning: 'The method is a statistic other than a mean or a highest',
    issue: 'not-supported',
    severity: 'warning',
    text: () =>
      'Not used: its method is a statistic that no reference set is read from. A trial, a mean (average) and a highest (maximum) of one hand are read.',
  },
  LOCAL_CODE_UNKNOWN: {
    meaning: 'The map of local codes reads this system and does not know the code',
    issue: 'code-invalid',
    severity: 'warning',
    text: () =>
      'Not read: the map of local codes reads codes of this system and does not know this one. If it is a grip strength trial, add it to the map.',
  },
  RESULT_LEFT_ASIDE: {
    meaning: 'A result of an interpretation came with the chart: it is no measurement',
    issue: 'informational',
    severity: 'information',
    text: () => 'Left aside: it is a result that this service gave before, not a measurement.',
  },
  SIDE_MISSING: {
    meaning: 'Nothing says which hand was tested',
    issue: 'required',
    severity: 'warning',
    text: () => 'Not used: neither the code nor the body site says which hand was tested. Chart the side.',
  },
  SIDE_CONTRADICTION: {
    meaning: 'Code and body site name different hands',
    issue: 'invariant',
    severity: 'error',
    text: () => 'Not used: the code and the body site name different hands. Correct the record.',
  },
  STATUS_NOT_USABLE: {
    meaning: 'The status of the Observation rules out its use',
    issue: 'business-rule',
    severity: 'warning',
    text: ({ status, panel }) =>
      panel
        ? `The status of this panel is ${status}. Its members are read by their own status.`
        : `Not used: its status is ${status}.`,
  },
  MODIFIER_UNKNOWN: {
    meaning: 'An unknown modifier may change the meaning',
    issue: 'extension',
    severity: 'error',
    text: ({ element }) =>
      `Not used: it carries ${element}, which may change its meaning and is not known here.`,
  },
  SUBJECT_MISSING: {
    meaning: 'Nothing says whose measurement it is',
    issue: 'required',
    severity: 'error',
    text: () => 'Not used: it does not say whose measurement it is. Give subject.reference.',
  },
  DUPLICATE_OBSERVATION: {
    meaning: 'The same Observation came more than once',
    issue: 'duplicate',
    severity: 'information',
    text: () => 'Not counted again: the same Observation is in the request more than once.',
  },
  OBSERVATION_CONFLICT: {
    meaning: 'The same Observation came with different content',
    issue: 'duplicate',
    severity: 'error',
    text: () =>
      'Not used: the same Observation is in the request with different content. Send only its current version.',
  },
  TIME_MISSING: {
    meaning: 'The date of the test is missing or lacks the day',
    issue: 'required',
    severity: 'error',
    text: () =>
      'Not used: the date of the test is missing, lacks the day or is given twice, so age at the test is unknown.',
  },
  TIME_IN_FUTURE: {
    meaning: 'The test is charted for a later time than now',
    issue: 'value',
    severity: 'error',
    text: ({ testedOn, asOf }) => `Not used: it is charted for ${testedOn}, after ${asOf}.`,
  },
  VALUE_ABSENT: {
    meaning: 'There is no reading',
    issue: 'required',
    severity: 'warning',
    text: ({ reason }) =>
      reason
        ? `No reading: charted as ${reason}.`
        : 'Not used: it has no valueQuantity.value, and no component or member that is a grip strength trial.',
  },
  VALUE_AMBIGUOUS: {
    meaning: 'A value stands beside trials (components, members, sources), and nothing says what it is',
    issue: 'invariant',
    severity: 'error',
    text: () =>
      'Not used: it has a value and also components, members or sources, and neither its code nor its method says whether the value is their mean, their highest or a trial.',
  },
  MEMBER_MISSING: {
    meaning: 'A panel names a member that is not in the request',
    issue: 'incomplete',
    severity: 'warning',
    text: ({ member }) =>
      `${member ? `The member ${member}` : 'A member'} of this panel is not in the request, so it was not read.`,
  },
  VALUE_COMPARATOR: {
    meaning: 'The reading is off the scale',
    issue: 'value',
    severity: 'error',
    text: ({ comparator }) =>
      `Not used: the reading carries "${comparator}", so it is off the scale and cannot be averaged.`,
  },
  VALUE_NOT_POSITIVE: {
    meaning: 'The reading is not above zero',
    issue: 'value',
    severity: 'error',
    text: ({ reading, unit }) =>
      `Not used: a reading of ${reading} ${unit} is not above zero. A hand that cannot squeeze is charted as not performed, with the reason.`,
  },
  VALUE_OVER_BOUND: {
    meaning: 'The reading is above the physical bound',
    issue: 'value',
    severity: 'error',
    text: ({ reading, unit, maxKg }) =>
      `Not used: ${reading} ${unit} is above ${maxKg} kg. Check the reading and its unit.`,
  },
  UNIT_MISSING: {
    meaning: 'The reading has no coded unit',
    issue: 'required',
    severity: 'error',
    text: () =>
      'Not used: the unit of the reading is not coded in UCUM (system http://unitsofmeasure.org and a code). A number without a unit is never guessed at.',
  },
  UNIT_UNKNOWN: {
    meaning: 'The unit is not one of those that are read',
    issue: 'code-invalid',
    severity: 'error',
    text: ({ unit }) =>
      `Not used: ${unit ? `"${unit}"` : 'its unit code'} is not one of the UCUM codes kg, kgf, [lb_av], [lbf_av] and N (pounds are [lb_av] or [lbf_av]). It is never converted by guess.`,
  },
  MEASURE_NOT_USABLE: {
    meaning: 'A measure other than grip could not be used',
    issue: 'value',
    severity: 'information',
    text: ({ measure, why }) =>
      `A ${measureWord(measure ?? '')} was not used: ${MEASURE_FAULTS[why ?? ''] ?? 'it could not be read'}.`,
  },
} as const satisfies Partial<Record<RefusalCode, RefusalText>>;

/** e.g. `body mass index`; `measure` for what is not known. */
export function measureWord(kind: string): string {
  return MEASURE_WORDS[kind] ?? 'measure';
}

const MEASURE_WORDS: Readonly<Record<string, string>> = {
  height: 'height',
  weight: 'weight',
  bmi: 'body mass index',
  'gait-speed': 'gait speed',
  'five-chair-rises': 'time of five chair rises',
  handedness: 'handedness',
};

/** Why a measure other than grip was not used. */
const MEASURE_FAULTS: Readonly<Record<string, string>> = {
  status: 'its status rules it out',
  time: 'its date is missing or lacks the day',
  future: 'it is charted for a later day',
  value: 'it has no plain value',
  unit: 'its unit is not one of the UCUM units that are read',
  range: 'its value is not possible',
  modifier: 'it carries an element that may change its meaning',
  subject: 'it does not say whose it is',
  code: 'its code says several things at once',
};
