/** The Observations of a request -> trials and refusals; another patient's data stop the request. */
import { RequestError } from '../errors.ts';
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { Trial } from '../interpret/measurement.ts';
import { type Extension, observationForm, requireForm } from './forms.ts';
import { type AsOf, isTrial, readObservation } from './read-observation.ts';
import type { ReadPatient } from './read-patient.ts';
import type { Placed } from './read-request.ts';

export interface ReadTrials {
  readonly trials: readonly Trial[];
  /** Reference and FHIRPath of each trial. */
  readonly expressions: readonly (readonly [string, string])[];
  readonly extensions: readonly (readonly Extension[])[];
  readonly refusals: readonly Refusal[];
}

/**
 * Every Observation as a trial or a refusal.
 * @param seen Observations already read in this request, without their version; added to
 * @throws RequestError BODY_INVALID, or PATIENT_MISMATCH for an Observation of somebody else
 */
export function readTrials(
  placed: readonly Placed[],
  patient: ReadPatient,
  asOf: AsOf,
  seen: Set<string>,
): ReadTrials {
  const trials: Trial[] = [];
  const expressions: (readonly [string, string])[] = [];
  const extensions: (readonly Extension[])[] = [];
  const refusals: Refusal[] = [];
  for (const { resource, expression, fullUrl } of placed) {
    const observation = requireForm(observationForm, resource, expression);
    const subject = observation.subject?.reference;
    if (subject && !patient.isMeantBy(subject)) {
      const text = 'is not the patient of this request';
      throw new RequestError('PATIENT_MISMATCH', [{ expression: `${expression}.subject.reference`, text }]);
    }
    const version = observation.meta?.versionId;
    const unversioned = observation.id ? `Observation/${observation.id}` : (fullUrl ?? `#${expression}`);
    const reference = observation.id && version ? `${unversioned}/_history/${version}` : unversioned;
    if (seen.has(unversioned)) {
      refusals.push(refuse('DUPLICATE_OBSERVATION', { trial: reference, expression }));
      continue;
    }
    seen.add(unversioned);
    const read = readObservation(observation, expression, reference, asOf);
    if (!isTrial(read)) refusals.push(read);
    else {
      trials.push(read);
      expressions.push([reference, expression]);
      extensions.push(observation.extension ?? []);
    }
  }
  return { trials, expressions, extensions, refusals };
}
