/**
 * The one table of codes: requests that are answered with an error, and refusals to interpret. Replies,
 * OperationOutcome and the documentation derive from it. Texts here go outside: they name elements and
 * figures, never people. What goes to the log is separate (`cause`).
 */
import type { RefusalCode } from './interpret/finding.ts';

/** Codes of http://hl7.org/fhir/issue-type that we use. */
export type IssueType =
  | 'structure'
  | 'required'
  | 'value'
  | 'invariant'
  | 'not-found'
  | 'not-supported'
  | 'too-long'
  | 'code-invalid'
  | 'duplicate'
  | 'business-rule'
  | 'extension'
  | 'no-store'
  | 'timeout'
  | 'exception'
  | 'incomplete'
  | 'informational';

export type Severity = 'error' | 'warning' | 'information';

export const REQUEST_ERRORS = {
  BODY_NOT_JSON: { status: 400, issue: 'structure', text: 'The body is not JSON in UTF-8.' },
  BODY_INVALID: { status: 400, issue: 'structure', text: 'The body does not have the required form.' },
  PATIENT_MISSING: {
    status: 400,
    issue: 'required',
    text: 'Exactly one Patient with an id or fullUrl is required.',
  },
  PATIENT_MISMATCH: {
    status: 400,
    issue: 'invariant',
    text: 'The data belong to more than one patient; nothing was interpreted.',
  },
  PANEL_UNKNOWN: { status: 400, issue: 'code-invalid', text: 'There is no such panel in this installation.' },
  HOOK_NOT_OFFERED: { status: 400, issue: 'value', text: 'This service does not answer this hook.' },
  NOT_FOUND: { status: 404, issue: 'not-found', text: 'There is nothing at this address.' },
  METHOD_NOT_ALLOWED: {
    status: 405,
    issue: 'not-supported',
    text: 'This address does not answer this method.',
  },
  NOT_ACCEPTABLE: {
    status: 406,
    issue: 'not-supported',
    text: 'Only JSON of FHIR R4 is produced: application/fhir+json or application/json.',
  },
  REQUEST_TIMEOUT: { status: 408, issue: 'timeout', text: 'The request took too long to arrive.' },
  PREFETCH_MISSING: { status: 412, issue: 'incomplete', text: 'Required prefetch data are missing.' },
  BODY_TOO_LARGE: { status: 413, issue: 'too-long', text: 'The body is larger than this address accepts.' },
  MEDIA_TYPE_UNSUPPORTED: {
    status: 415,
    issue: 'not-supported',
    text: 'Only application/json and application/fhir+json (FHIR R4) are read.',
  },
  INTERNAL: { status: 500, issue: 'exception', text: 'The service failed. Nothing was interpreted.' },
  NOT_RECORDED: {
    status: 503,
    issue: 'no-store',
    text: 'The answer could not be put on record, so it is not given. Try again later.',
  },
} as const satisfies Record<string, { status: number; issue: IssueType; text: string }>;

export type RequestErrorCode = keyof typeof REQUEST_ERRORS;

/** One thing wrong with a request; `expression` is a FHIRPath or a path into the body. */
export interface RequestIssue {
  readonly expression: string | null;
  readonly text: string;
}

/** A request that gets an error reply. `issues` are for the client; `cause` is for the log only. */
export class RequestError extends Error {
  override readonly name = 'RequestError';
  readonly code: RequestErrorCode;
  readonly issues: readonly RequestIssue[];

  constructor(code: RequestErrorCode, issues: readonly RequestIssue[] = [], options?: ErrorOptions) {
    super(code, options);
    this.code = code;
    this.issues = issues;
  }
}

interface RefusalText {
  /** For the code system and the documentation. */
  readonly meaning: string;
  readonly issue: IssueType;
  readonly severity: Severity;
  /** What happened and what to do about it. */
  readonly text: (facts: Readonly<Record<string, string>>) => string;
}

export const REFUSALS: Readonly<Record<RefusalCode, RefusalText>> = {
  CODE_NOT_GRIP: {
    meaning: 'The code is not one of a grip strength trial',
    issue: 'not-supported',
    severity: 'information',
    text: () =>
      'Not read: the code is not a grip strength trial (LOINC 83174-3 right, 83173-5 left, or SNOMED CT 251433001 with a body site).',
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
    text: ({ status }) => `Not used: its status is ${status}.`,
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
        : 'Not used: it has no valueQuantity.value (one Observation for each trial is read).',
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
  BIRTH_DATE_MISSING: {
    meaning: 'The date of birth is missing',
    issue: 'required',
    severity: 'error',
    text: () => 'Not interpreted: the date of birth is missing, so age at the test is unknown.',
  },
  BIRTH_DATE_PARTIAL: {
    meaning: 'The date of birth lacks the month or day, or is no calendar date',
    issue: 'value',
    severity: 'error',
    text: () =>
      'Not interpreted: the date of birth lacks the month or day, or is no calendar date, so age at the test is uncertain.',
  },
  BIRTH_AFTER_TEST: {
    meaning: 'The date of birth is after the test',
    issue: 'value',
    severity: 'error',
    text: () => 'Not interpreted: the date of birth is after the test. Correct the record.',
  },
  SUBJECT_DECEASED: {
    meaning: 'The person is recorded as deceased',
    issue: 'business-rule',
    severity: 'error',
    text: () => 'Not interpreted: the person is recorded as deceased.',
  },
  AGE_IMPLAUSIBLE: {
    meaning: 'The date of birth gives an age that nobody reaches',
    issue: 'value',
    severity: 'error',
    text: ({ ageYears }) =>
      `Not interpreted: the date of birth gives an age of ${ageYears}. Correct the record.`,
  },
  UNITS_MIXED: {
    meaning: 'One session is charted in several units',
    issue: 'value',
    severity: 'error',
    text: ({ units }) =>
      `Not interpreted: the trials of one session are charted in different units (${units}). Confirm the unit of each.`,
  },
  UNIT_IMPLAUSIBLE: {
    meaning: 'Implausibly high for the person in the unit as charted',
    issue: 'value',
    severity: 'error',
    text: ({ figure, unit, otherUnit }) =>
      otherUnit
        ? `Not interpreted: ${figure} ${unit} is implausible for this person and would be ordinary in ${otherUnit}. Check the unit on the instrument and correct the chart.`
        : `Not interpreted: ${figure} ${unit} is implausible for this person. Check the reading and its unit, and correct the chart.`,
  },
  AGE_OUTSIDE_SET: {
    meaning: 'The reference set does not cover the age',
    issue: 'not-supported',
    severity: 'information',
    text: ({ ageYears, covers, next }) =>
      `Not applied at age ${ageYears}: it is read for ${covers ?? 'other ages'}.${next ? ` For this age see ${next}.` : ''}`,
  },
  SEX_NOT_USABLE: {
    meaning: 'The record gives no sex that a table can be read for',
    issue: 'required',
    severity: 'warning',
    text: () =>
      'The record gives no sex that a table can be read for. Both columns are shown; the clinician chooses. The sex parameter for clinical use, charted on the patient, settles it.',
  },
};
