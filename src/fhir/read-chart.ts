/**
 * The Observations of a request -> trials, measures, handedness and refusals, wherever they come; another patient's
 * data stop the request.
 */
import { RequestError } from '../errors.ts';
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { Measure, Trial } from '../interpret/measurement.ts';
import { type Extension, type ObservationResource, observationForm, requireForm } from './forms.ts';
import type { Instruments } from './read-instrument.ts';
import { type Handedness, readMeasure } from './read-measure.ts';
import type { AsOf } from './read-observation.ts';
import type { ReadPatient } from './read-patient.ts';
import type { Placed } from './read-request.ts';
import { readTrial } from './read-trial.ts';

export interface ReadChart {
  readonly trials: readonly Trial[];
  /** Reference and FHIRPath of each trial. */
  readonly expressions: readonly (readonly [string, string])[];
  /** Of each trial. */
  readonly extensions: readonly (readonly Extension[])[];
  readonly measures: readonly Measure[];
  readonly handedness: readonly Handedness[];
  readonly refusals: readonly Refusal[];
}

/** What every Observation of a request is read with. */
export interface ChartContext {
  readonly patient: ReadPatient;
  readonly asOf: AsOf;
  readonly instruments: Instruments;
  readonly repeats: Repeats;
}

/** Observations that come more than once, over every list of a request. */
export interface Repeats {
  /** With different content; by reference without its version. */
  readonly conflicting: ReadonlySet<string>;
  /** Already read. Added to. */
  readonly seen: Set<string>;
}

/**
 * Every Observation as what it is or a refusal. The same Observation with other content is a conflict, and no copy
 * of it is used: which one is current is not for this service to guess.
 * @throws RequestError BODY_INVALID, or PATIENT_MISMATCH for an Observation of somebody else
 */
export function readChart(placed: readonly Placed[], context: ChartContext): ReadChart {
  const trials: Trial[] = [];
  const expressions: (readonly [string, string])[] = [];
  const extensions: (readonly Extension[])[] = [];
  const measures: Measure[] = [];
  const handedness: Handedness[] = [];
  const refusals: Refusal[] = [];
  for (const each of placed) {
    const observation = requireForm(observationForm, each.resource, each.expression);
    requireOwn(observation.subject?.reference, context.patient, each.expression);
    const reference = referenceOf(observation, each);
    const read =
      checkRepeated(each, reference, context.repeats) ??
      readMeasure(observation, each.expression, reference, context.asOf) ??
      readTrial(observation, each.expression, reference, context.asOf, context.instruments);
    if ('reading' in read) {
      trials.push(read);
      expressions.push([reference, each.expression]);
      extensions.push(observation.extension ?? []);
    } else if (read.kind === 'refusal') refusals.push(read);
    else if (read.kind === 'handedness') handedness.push(read);
    else measures.push(read);
  }
  return { trials, expressions, extensions, measures, handedness, refusals };
}

function requireOwn(subject: string | undefined, patient: ReadPatient, expression: string): void {
  if (!subject || patient.isMeantBy(subject)) return;
  const text = 'is not the patient of this request';
  throw new RequestError('PATIENT_MISMATCH', [{ expression: `${expression}.subject.reference`, text }]);
}

/** How an Observation is known in the record; undefined when it carries neither id nor fullUrl. */
function keyOf({ resource, fullUrl }: Placed): string | undefined {
  // Repeats are looked for before any form is checked: the id may still be anything.
  const { id } = resource as { id?: unknown };
  return typeof id === 'string' && id !== '' ? `Observation/${id}` : fullUrl;
}

/** With its version where it says one. */
function referenceOf({ id, meta }: ObservationResource, placed: Placed): string {
  const key = keyOf(placed) ?? `#${placed.expression}`;
  return id && meta?.versionId ? `${key}/_history/${meta.versionId}` : key;
}

/** Conflict before duplicate; notes what is read. */
function checkRepeated(
  placed: Placed,
  reference: string,
  { conflicting, seen }: Repeats,
): Refusal | undefined {
  const { expression } = placed;
  const key = keyOf(placed);
  if (key === undefined) return undefined;
  if (conflicting.has(key)) return refuse('OBSERVATION_CONFLICT', { trial: reference, expression });
  if (seen.has(key)) return refuse('DUPLICATE_OBSERVATION', { trial: reference, expression });
  seen.add(key);
  return undefined;
}

/** @param placed every Observation of the request */
export function findRepeats(placed: readonly Placed[]): Repeats {
  const first = new Map<string, unknown>();
  const conflicting = new Set<string>();
  for (const each of placed) {
    const key = keyOf(each);
    if (key === undefined) continue;
    if (first.has(key) && !isSameContent(first.get(key), each.resource)) conflicting.add(key);
    else first.set(key, each.resource);
  }
  return { conflicting, seen: new Set() };
}

/** The same to the letter: two copies that a server sent twice, not two versions. */
function isSameContent(a: unknown, b: unknown): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
