/** FHIR Patient -> what the core needs: how to know the patient's data, age on a date, sources of sex. */

import { RequestError } from '../errors.ts';
import { completedYears, readCalendarDate } from '../interpret/age.ts';
import type { AgeAtTest } from '../interpret/interpret.ts';
import { type PatientResource, patientForm, requireForm } from './forms.ts';

export interface ReadPatient {
  readonly resource: PatientResource;
  /** `Patient/<id>`, or the `urn:uuid:` it is known by in the request. */
  readonly reference: string;
  /** Whether a reference in an Observation means this patient. */
  isMeantBy(reference: string): boolean;
  /** Age in completed years on `YYYY-MM-DD`, or why there is none. */
  ageOn(date: string): AgeAtTest;
}

/**
 * @param fullUrl of the Bundle entry, when there is one
 * @throws RequestError BODY_INVALID, or PATIENT_MISSING when nothing says which patient it is
 */
export function readPatient(resource: unknown, expression: string, fullUrl?: string): ReadPatient {
  const patient = requireForm(patientForm, resource, expression);
  const unknownModifier = patient.implicitRules !== undefined || (patient.modifierExtension ?? []).length > 0;
  if (unknownModifier) {
    const text =
      'carries implicitRules or a modifierExtension, which may change its meaning and is not known here';
    throw new RequestError('BODY_INVALID', [{ expression, text }]);
  }
  const names = [patient.id && `Patient/${patient.id}`, fullUrl].filter(
    (name) => name !== undefined && name !== '',
  );
  const [reference] = names;
  if (!reference)
    throw new RequestError('PATIENT_MISSING', [{ expression: `${expression}.id`, text: 'is required' }]);
  return {
    resource: patient,
    reference,
    isMeantBy: (other) => meansPatient(other, patient.id, fullUrl),
    ageOn: (date) => ageOn(patient, date),
  };
}

/**
 * `Patient/1`, `Patient/1/_history/3`, the entry's fullUrl, or an absolute URL of the same patient. An
 * absolute URL on another server than the entry's fullUrl is another patient, whatever its id.
 */
function meansPatient(reference: string, id: string | undefined, fullUrl: string | undefined): boolean {
  const unversioned = reference.replace(/\/_history\/[^/]+$/, '');
  if (unversioned === fullUrl) return true;
  if (!id) return false;
  if (unversioned === `Patient/${id}`) return true;
  const isAbsolute = /^https?:\/\//.test(unversioned);
  const knownElsewhere = fullUrl !== undefined && /^https?:\/\//.test(fullUrl);
  return isAbsolute && !knownElsewhere && unversioned.endsWith(`/Patient/${id}`);
}

function ageOn(patient: PatientResource, date: string): AgeAtTest {
  if (patient.deceasedBoolean === true || patient.deceasedDateTime !== undefined)
    return { refusal: 'SUBJECT_DECEASED' };
  if (!patient.birthDate) return { refusal: 'BIRTH_DATE_MISSING' };
  const birth = readCalendarDate(patient.birthDate);
  const on = readCalendarDate(date);
  if (!birth || !on) return { refusal: 'BIRTH_DATE_PARTIAL' };
  const ageYears = completedYears(birth, on);
  return ageYears === undefined ? { refusal: 'BIRTH_AFTER_TEST' } : { ageYears };
}
