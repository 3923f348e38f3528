/** FHIR Patient -> what the core needs: how to know the patient's data, age on a date, sources of sex. */

import { uuidFor } from '../derived-id.ts';
import { RequestError } from '../errors.ts';
import { type CalendarDate, completedYears, readCalendarDate } from '../interpret/age.ts';
import type { AgeAtTest } from '../interpret/interpret.ts';
import {
  type ObservationResource,
  type PatientResource,
  patientForm,
  requireForm,
  requireUnmodified,
} from './forms.ts';
import { unversioned } from './reference.ts';

export interface ReadPatient {
  readonly resource: PatientResource;
  /** `Patient/<id>`, or the `urn:uuid:` it is known by in the request. */
  readonly reference: string;
  /** Whether a reference in an Observation means this patient. */
  isMeantBy(reference: string): boolean;
  /** Age in completed years on `YYYY-MM-DD` (both, where a partial date of birth allows two), or why there is none. */
  ageOn(date: string): AgeAtTest;
}

/**
 * @param entry of the Bundle, when there is one: its fullUrl, and how the patient is named in the answer
 * @throws RequestError BODY_INVALID, or PATIENT_MISSING when nothing says which patient it is
 */
export function readPatient(
  resource: unknown,
  expression: string,
  { fullUrl, name }: { readonly fullUrl?: string; readonly name?: string } = {},
): ReadPatient {
  const patient = requireForm(patientForm, resource, expression);
  requireUnmodified(patient, expression);
  for (const [index, link] of (patient.link ?? []).entries())
    requireUnmodified(link, `${expression}.link[${index}]`);
  const replacedBy = (patient.link ?? []).some(({ type }) => type === 'replaced-by');
  if (replacedBy || patient.active === false) {
    const text = replacedBy ? 'is replaced by another Patient' : 'is not in active use';
    throw new RequestError('PATIENT_MISMATCH', [{ expression, text }]);
  }
  const [reference] = [name, patient.id && `Patient/${patient.id}`, fullUrl].filter(
    (each) => each !== undefined && each !== '',
  );
  if (!reference)
    throw new RequestError('PATIENT_MISSING', [{ expression: `${expression}.id`, text: 'is required' }]);
  return {
    resource: patient,
    reference,
    isMeantBy: patientMatcher(patient.id, fullUrl),
    ageOn: (date) => ageOn(patient, date),
  };
}

/**
 * How a Patient that is contained in an Observation is known: by its content, so that copies in several Observations
 * are one patient when they are equal, and only then. No name can be read out of it, though one who knows all of
 * the content can tell that it is this.
 * @param subject reference within the Observation, e.g. `#p`; undefined is returned where it names no Patient
 */
export function nameOfContained(
  { contained = [] }: Pick<ObservationResource, 'contained'>,
  subject: string,
): string | undefined {
  const found = contained.filter(
    ({ resourceType, id }) => resourceType === 'Patient' && typeof id === 'string' && `#${id}` === subject,
  );
  const [patient, ...others] = found;
  if (!patient || others.length > 0) return undefined;
  const { id: _, ...content } = patient;
  return `urn:uuid:${uuidFor('contained patient', JSON.stringify(inOrder(content)))}`;
}

/** The same for any order of members. */
function inOrder(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(inOrder);
  if (typeof value !== 'object' || value === null) return value;
  const members = Object.entries(value).map(([name, member]) => [name, inOrder(member)] as const);
  return Object.fromEntries(members.sort(([a], [b]) => (a < b ? -1 : 1)));
}

/**
 * `Patient/1`, `Patient/1/_history/3`, the entry's fullUrl, or an absolute URL of the same patient. All absolute
 * URLs must be of one server: that of the fullUrl, else that of the first one seen. `Patient/1` of another
 * server is another patient.
 */
export function patientMatcher(
  id: string | undefined,
  fullUrl: string | undefined,
): (reference: string) => boolean {
  let server = serverOf(fullUrl ?? '');
  return (reference) => {
    const current = unversioned(reference);
    if (current === fullUrl) return true;
    if (!id) return false;
    if (current === `Patient/${id}`) return true;
    const own = serverOf(current);
    server ??= own;
    return own !== undefined && own === server && current === `${own}/Patient/${id}`;
  };
}

/** Base of an absolute FHIR URL, without the type and id at its end. */
function serverOf(url: string): string | undefined {
  return /^(https?:\/\/.+)\/[A-Za-z]+\/[A-Za-z0-9.-]{1,64}$/.exec(url)?.[1];
}

/** Above it the date of birth is taken for wrong: this service's own bound. */
const OLDEST_AGE = 120;

function ageOn(patient: PatientResource, date: string): AgeAtTest {
  if (patient.deceasedBoolean === true || patient.deceasedDateTime !== undefined)
    return { refusal: 'SUBJECT_DECEASED' };
  if (!patient.birthDate) return { refusal: 'BIRTH_DATE_MISSING' };
  const birth = possibleBirths(patient.birthDate);
  const on = readCalendarDate(date);
  if (!birth || !on) return { refusal: 'BIRTH_DATE_PARTIAL' };
  const ageAtMost = completedYears(birth.first, on);
  if (ageAtMost === undefined) return { refusal: 'BIRTH_AFTER_TEST' };
  // Where some of the possible births are after the test, the person was born by then all the same.
  const ageYears = completedYears(birth.last, on) ?? 0;
  if (ageYears > OLDEST_AGE) return { refusal: 'AGE_IMPLAUSIBLE', facts: { ageYears: String(ageYears) } };
  return ageYears === ageAtMost ? { ageYears } : { ageYears, ageAtMost };
}

/**
 * First and last day that `YYYY`, `YYYY-MM` or `YYYY-MM-DD` can mean (STANDARDS FS4): at most a year apart, so that
 * there are two possible ages at most. Undefined when it is in no calendar.
 */
function possibleBirths(text: string): { first: CalendarDate; last: CalendarDate } | undefined {
  const whole = readCalendarDate(text);
  if (whole) return { first: whole, last: whole };
  const [from, to] = text.length === 4 ? [`${text}-01`, `${text}-12`] : [text, text];
  const first = readCalendarDate(`${from}-01`);
  const last = ['31', '30', '29', '28'].map((day) => readCalendarDate(`${to}-${day}`)).find(Boolean);
  return first && last && { first, last };
}
