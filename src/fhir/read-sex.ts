/**
 * Which column of a table may be read, from the sources of sex in the record (STANDARDS FS1 to FS3):
 * the sex parameter for clinical use on the Observations, then on the Patient; else the US Core sex
 * extensions of four generations together with Patient.gender. Never a default: unknown, other, or sources
 * that disagree give no sex.
 */
import type { Sex } from '../interpret/measurement.ts';
import { SEX_SNOMED, SNOMED } from './codes.ts';
import type { CodeableConcept, Extension, PatientResource } from './forms.ts';

/** Where the sex came from, for the result and the record. */
export type SexSource =
  | 'sex-parameter-for-clinical-use'
  | 'us-core-individual-sex'
  | 'us-core-sex'
  | 'us-core-birthsex'
  | 'administrative-gender'
  | 'sources-disagree'
  | 'not-recorded';

export interface SexReading {
  readonly sex: Sex | null;
  readonly source: SexSource;
}

const SPCU_URL = 'http://hl7.org/fhir/StructureDefinition/patient-sexParameterForClinicalUse';
const SPCU_SYSTEM = 'http://terminology.hl7.org/CodeSystem/sex-parameter-for-clinical-use';
const US_CORE = 'http://hl7.org/fhir/us/core/StructureDefinition/';
/** Newest first: the source named is the first that says something. */
const US_CORE_SOURCES = ['us-core-individual-sex', 'us-core-sex', 'us-core-birthsex'] as const;

/**
 * @param observations extensions of each trial Observation used
 * @param dates calendar dates of the sessions, `YYYY-MM-DD`. A parameter valid on none of them is passed over; one
 *   valid on some of them only gives no sex
 */
export function readSex(
  patient: PatientResource,
  observations: readonly (readonly Extension[])[],
  dates: readonly string[],
): SexReading {
  const onObservations = clinicalUse(observations.flat(), dates);
  if (onObservations) return onObservations;
  const onPatient = clinicalUse(patient.extension ?? [], dates);
  if (onPatient) return onPatient;
  return fromAdministrative(patient);
}

function clinicalUse(extensions: readonly Extension[], dates: readonly string[]): SexReading | undefined {
  const parameters = extensions.filter(({ url }) => url === SPCU_URL);
  if (parameters.length === 0) return undefined;
  const sometimes = parameters.filter((parameter) => dates.some((date) => coversDate(parameter, date)));
  if (sometimes.length === 0) return undefined;
  const valid = sometimes.filter((parameter) => dates.every((date) => coversDate(parameter, date)));
  const sexes = new Set(
    valid.map((parameter) => sexOfParameter(partOf(parameter, 'value')?.valueCodeableConcept)),
  );
  const [sex] = sexes;
  if (sexes.size === 1 && sex) return { sex, source: 'sex-parameter-for-clinical-use' };
  return { sex: null, source: sexes.size > 1 ? 'sources-disagree' : 'sex-parameter-for-clinical-use' };
}

function partOf(parameter: Extension, url: string) {
  return parameter.extension?.find((part) => part.url === url);
}

/** A partial date counts from its first day, as a start, and to its last day, as an end. */
function coversDate(parameter: Extension, date: string): boolean {
  const { start, end } = partOf(parameter, 'period')?.valuePeriod ?? {};
  return (!start || start.slice(0, 10) <= date) && (!end || date.slice(0, end.length) <= end.slice(0, 10));
}

function sexOfParameter(concept: CodeableConcept | undefined): Sex | null {
  const codes = (concept?.coding ?? [])
    .filter(({ system }) => system === SPCU_SYSTEM)
    .map(({ code }) => code);
  const female = codes.includes('female-typical');
  const male = codes.includes('male-typical');
  if (female === male) return null;
  return female ? 'female' : 'male';
}

function fromAdministrative(patient: PatientResource): SexReading {
  const said: SexReading[] = [];
  for (const source of US_CORE_SOURCES) {
    for (const extension of patient.extension ?? []) {
      if (extension.url === US_CORE + source) said.push({ sex: sexOfExtension(extension), source });
    }
  }
  const { gender } = patient;
  if (gender)
    said.push({
      sex: gender === 'female' || gender === 'male' ? gender : null,
      source: 'administrative-gender',
    });
  const [first] = said;
  if (!first) return { sex: null, source: 'not-recorded' };
  if (said.some(({ sex }) => sex !== first.sex)) return { sex: null, source: 'sources-disagree' };
  return first;
}

/** valueCode (F, M or SNOMED CT) up to US Core 7; valueCoding (SNOMED CT) from US Core 8. */
function sexOfExtension(extension: Extension): Sex | null {
  const { valueCode, valueCoding } = extension;
  const snomed = valueCoding?.system === SNOMED ? valueCoding.code : valueCode;
  if (valueCode === 'F' || snomed === SEX_SNOMED.female.code) return 'female';
  if (valueCode === 'M' || snomed === SEX_SNOMED.male.code) return 'male';
  return null;
}
