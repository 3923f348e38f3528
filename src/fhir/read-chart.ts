/**
 * The Observations of a request -> trials, measures, handedness and refusals, wherever they come; another patient's
 * data stop the request.
 */
import { RequestError } from '../errors.ts';
import type { Correction } from '../evaluation.ts';
import { type Refusal, refuse } from '../interpret/finding.ts';
import { type ChartedSummary, isChartedSummary, type Measure, type Trial } from '../interpret/measurement.ts';
import { type Extension, type ObservationResource, observationForm, requireForm } from './forms.ts';
import type { LocalCode, Translated } from './local-codes.ts';
import { isOwnResult } from './read-code.ts';
import { type Handedness, readMeasure } from './read-measure.ts';
import type { Fault } from './read-observation.ts';
import { isPanel, isPresent, readPanel } from './read-panel.ts';
import { nameOfContained, type ReadPatient } from './read-patient.ts';
import type { Placed } from './read-request.ts';
import {
  type Charted,
  hasGripComponent,
  isAboutGrip,
  type Located,
  readTrials,
  type TrialContext,
} from './read-trial.ts';
import { sourceKey } from './reference.ts';
import { figureContent, measureContent } from './source-content.ts';

export interface ReadChart {
  readonly trials: readonly Trial[];
  /** Means and highests that were charted themselves. */
  readonly charted: readonly ChartedSummary[];
  /** Reference and FHIRPath of each trial and charted summary. */
  readonly expressions: readonly (readonly [string, string])[];
  /** Of each Observation that gave one. */
  readonly extensions: readonly (readonly Extension[])[];
  readonly measures: readonly Measure[];
  readonly handedness: readonly Handedness[];
  readonly refusals: readonly Refusal[];
  /** Local codes that were read. */
  readonly localCodes: readonly LocalCode[];
  readonly corrections: readonly Correction[];
  /** What every Observation with a name says, by that name; empty where it could not be read. */
  readonly sent: ReadonlyMap<string, string>;
}

/** What every Observation of a request is read with. */
export interface ChartContext extends TrialContext {
  readonly patient: ReadPatient;
  readonly repeats: Repeats;
}

/** Observations that come more than once, over every list of a request. */
export interface Repeats {
  /** With different content; by reference without its version. */
  readonly conflicting: ReadonlySet<string>;
  /** Every reference by which an Observation of the request is known. */
  readonly present: ReadonlySet<string>;
  /** Already read. Added to. */
  readonly seen: Set<string>;
}

/**
 * Every Observation as what it is or a refusal. The same Observation with other content is a conflict, and no copy
 * of it is used: which one is current is not for this service to guess.
 * @throws RequestError BODY_INVALID, or PATIENT_MISMATCH for an Observation of somebody else
 */
export function readChart(placed: readonly Placed[], context: ChartContext): ReadChart {
  const located: Located[] = [];
  const extensions: (readonly Extension[])[] = [];
  const others: Exclude<Result, Located>[] = [];
  const localCodes: LocalCode[] = [];
  const corrections: Correction[] = [];
  const sent = new Map<string, string>();
  const panels: Charted[] = [];
  const aboutGrip = new Set<string>();
  for (const each of placed) {
    const resource = requireForm(observationForm, each.resource, each.expression);
    requireOwn(resource, context.patient, each.expression);
    const reference = referenceOf(resource, each);
    const repeated = checkRepeated(each, reference, context.repeats);
    const { observation, read, fault } = context.localCodes?.translate(resource) ?? UNTRANSLATED(resource);
    const charted = { observation, expression: each.expression, reference };
    if (isAboutGrip(observation)) for (const name of namesOf(each)) aboutGrip.add(name);
    if (!repeated && !fault && isPanel(observation)) panels.push(charted);
    const results = repeated ? [repeated] : fault ? [refuseFault(charted, fault)] : readOne(charted, context);
    if (!repeated) localCodes.push(...read);
    // Of several copies, one that takes back is believed.
    corrections.push(...correctionOf(resource, each));
    if (repeated?.code !== 'DUPLICATE_OBSERVATION')
      sent.set(sourceKey(keyOf(each) ?? ''), contentOf(results));
    const figures = results.filter((result) => 'figure' in result);
    located.push(...figures);
    if (figures.length > 0) extensions.push(observation.extension ?? []);
    for (const result of results) {
      if (!('figure' in result)) others.push(asLocal(result, resource, context.localCodes));
    }
  }
  others.push(...panels.flatMap((panel) => readPanel(panel, context.repeats.present, aboutGrip)));
  const figures = located.map(({ figure }) => figure);
  return {
    trials: figures.filter((figure) => !isChartedSummary(figure)),
    charted: figures.filter(isChartedSummary),
    expressions: located.map(({ figure, expression }) => [figure.reference, expression] as const),
    extensions,
    measures: others.filter((each) => each.kind !== 'refusal' && each.kind !== 'handedness'),
    handedness: others.filter((each) => each.kind === 'handedness'),
    refusals: others.filter((each) => each.kind === 'refusal'),
    localCodes,
    corrections,
    sent,
  };
}

type Result = Located | Measure | Handedness | Refusal;

function contentOf(results: readonly Result[]): string {
  const said = results.flatMap((result) => {
    if ('figure' in result) return [figureContent(result.figure)];
    return result.kind === 'refusal' ? [] : [measureContent(result)];
  });
  return said.sort().join(' ');
}

const CHANGED: readonly Correction['status'][] = ['amended', 'corrected', 'cancelled', 'entered-in-error'];

function correctionOf({ status }: ObservationResource, placed: Placed): readonly Correction[] {
  const reference = keyOf(placed);
  const changed = CHANGED.find((each) => each === status);
  return reference && changed ? [{ reference, status: changed }] : [];
}

const UNTRANSLATED = (observation: ObservationResource): Translated => ({ observation, read: [] });

/** Of one Observation; of a panel only what its components say. */
function readOne(charted: Charted, context: ChartContext): readonly Result[] {
  const { observation, expression, reference } = charted;
  const measure = readMeasure(observation, expression, reference, context.asOf);
  if (measure) return [measure];
  if (isOwnResult(observation.code))
    return [refuse('RESULT_LEFT_ASIDE', { trial: reference, expression: `${expression}.code` })];
  const { present } = context.repeats;
  const withSent = { ...context, isSent: (sent: string | undefined) => isPresent(sent, present) };
  return isPanel(observation) && !hasGripComponent(observation) ? [] : readTrials(charted, withSent);
}

/** A trial under a code that the site forgot to map must not go by as something else. */
function asLocal<T extends Exclude<Result, Located>>(
  result: T | Refusal,
  { code }: ObservationResource,
  localCodes: ChartContext['localCodes'],
): T | Refusal {
  const isOurs = result.kind === 'refusal' && result.code === 'CODE_NOT_GRIP' && localCodes?.isUnknown(code);
  return isOurs ? { ...result, code: 'LOCAL_CODE_UNKNOWN' } : result;
}

function refuseFault({ expression, reference }: Charted, { code, element }: Fault): Refusal {
  return refuse(code, { trial: reference, expression: `${expression}.${element}` });
}

function requireOwn(observation: ObservationResource, patient: ReadPatient, expression: string): void {
  const subject = observation.subject?.reference;
  if (!subject) return;
  const name = subject.startsWith('#') ? nameOfContained(observation, subject) : subject;
  if (name !== undefined && patient.isMeantBy(name)) return;
  const text = 'is not the patient of this request';
  throw new RequestError('PATIENT_MISMATCH', [{ expression: `${expression}.subject.reference`, text }]);
}

/** Every name that a reference to it may use. */
function namesOf(placed: Placed): readonly string[] {
  const { id } = placed.resource as { id?: unknown };
  const byId = typeof id === 'string' && id !== '' ? `Observation/${id}` : undefined;
  return [keyOf(placed), byId, placed.fullUrl].filter((name) => name !== undefined);
}

/** How an Observation is known in the record; undefined when it carries neither id nor fullUrl. */
function keyOf({ resource, fullUrl, name }: Placed): string | undefined {
  if (name !== undefined) return name;
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
  const present = new Set<string>();
  for (const each of placed) {
    const key = keyOf(each);
    for (const name of namesOf(each)) present.add(name);
    if (key === undefined) continue;
    if (first.has(key) && !isSameContent(first.get(key), each.resource)) conflicting.add(key);
    else first.set(key, each.resource);
  }
  return { conflicting, present, seen: new Set() };
}

/** The same to the letter: two copies that a server sent twice, not two versions. */
function isSameContent(a: unknown, b: unknown): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
