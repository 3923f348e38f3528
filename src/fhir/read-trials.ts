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

/** Observations already read in a request: reference without its version -> the content that came first. */
export type SeenObservations = Map<string, unknown>;

/**
 * Every Observation as a trial or a refusal. The same Observation with other content is a conflict, and no copy
 * of it is used: which one is current is not for this service to guess.
 * @param seen added to
 * @throws RequestError BODY_INVALID, or PATIENT_MISMATCH for an Observation of somebody else
 */
export function readTrials(
  placed: readonly Placed[],
  patient: ReadPatient,
  asOf: AsOf,
  seen: SeenObservations,
): ReadTrials {
  const conflicting = conflictsIn(placed);
  const trials: Trial[] = [];
  const expressions: (readonly [string, string])[] = [];
  const extensions: (readonly Extension[])[] = [];
  const refusals: Refusal[] = [];
  for (const { resource, expression, fullUrl } of placed) {
    const observation = requireForm(observationForm, resource, expression);
    requireOwn(observation.subject?.reference, patient, expression);
    const key = keyOf(observation, fullUrl) ?? `#${expression}`;
    const version = observation.meta?.versionId;
    const reference = observation.id && version ? `${key}/_history/${version}` : key;
    const before = seen.get(key);
    seen.set(key, before ?? resource);
    if (conflicting.has(key) || (before !== undefined && !isSameContent(before, resource))) {
      refusals.push(refuse('OBSERVATION_CONFLICT', { trial: reference, expression }));
      continue;
    }
    if (before !== undefined) {
      refusals.push(refuse('DUPLICATE_OBSERVATION', { trial: reference, expression }));
      continue;
    }
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

function requireOwn(subject: string | undefined, patient: ReadPatient, expression: string): void {
  if (!subject || patient.isMeantBy(subject)) return;
  const text = 'is not the patient of this request';
  throw new RequestError('PATIENT_MISMATCH', [{ expression: `${expression}.subject.reference`, text }]);
}

/** How an Observation is known in the record; undefined when it carries neither id nor fullUrl. */
function keyOf({ id }: { id?: string | undefined }, fullUrl: string | undefined): string | undefined {
  return id ? `Observation/${id}` : fullUrl;
}

/** Observations that come more than once with different content. */
function conflictsIn(placed: readonly Placed[]): ReadonlySet<string> {
  const first = new Map<string, unknown>();
  const conflicting = new Set<string>();
  for (const { resource, fullUrl } of placed) {
    const key = keyOf(resource as { id?: string }, fullUrl);
    if (key === undefined) continue;
    if (first.has(key) && !isSameContent(first.get(key), resource)) conflicting.add(key);
    else first.set(key, resource);
  }
  return conflicting;
}

/** The same to the letter: two copies that a server sent twice, not two versions. */
function isSameContent(a: unknown, b: unknown): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
