/** One evaluation, whichever door: read -> interpret -> answer -> record -> return. */
import { createHash } from 'node:crypto';
import type { AuditStore } from './audit/audit-record.ts';
import { RequestError } from './errors.ts';
import type { Answer, Evaluation } from './evaluation.ts';
import type { AsOf } from './fhir/read-observation.ts';
import { readPatient } from './fhir/read-patient.ts';
import type { InterpretRequest } from './fhir/read-request.ts';
import { readSex } from './fhir/read-sex.ts';
import { readTrials, type SeenObservations } from './fhir/read-trials.ts';
import { interpret, type SessionInput, toSessions } from './interpret/interpret.ts';
import { recordedFindings, recordedRefusal } from './recorded-findings.ts';
import type { AppliedPanel, ReferenceLibrary } from './reference/library.ts';

export interface EvaluateDeps {
  readonly library: ReferenceLibrary;
  readonly store: AuditStore;
  readonly engine: { readonly name: string; readonly version: string };
  readonly defaultPanelId: string;
  readonly now: () => Date;
  readonly newId: () => string;
}

/** Who asked, and through which door; all of it goes on record. */
export interface Asked {
  readonly door: 'fhir-operation' | 'cds-hooks';
  readonly client: string;
  /** Resource reference of the user, e.g. `Practitioner/7`; null when the door does not say. */
  readonly user: string | null;
  readonly hook: {
    readonly service: string;
    readonly hook: string;
    readonly instance: string;
    /** Base URL of the client's FHIR server: `Patient/1` means nothing without it. Null when not given. */
    readonly fhirServer: string | null;
    readonly encounter: string | null;
    /** The client held further trials that were not sent. */
    readonly hasMore: boolean;
  } | null;
}

export interface EvaluationInput extends InterpretRequest {
  /** Interpret every session, or only the latest with the others as earlier measurements. */
  readonly scope: 'every-session' | 'latest-session';
}

/** A test charted this much after now is not yet called future: clocks differ. */
const CLOCK_TOLERANCE_MINUTES = 10;
/** The furthest time zone is 14 hours ahead of UTC: its date may be tomorrow's. */
const FURTHEST_ZONE_HOURS = 14;

/**
 * @param answer writes the reply; it must be a pure function of the evaluation
 * @returns the reply as JSON text, after its record is on disk
 * @throws RequestError for a bad request, NOT_RECORDED when the record cannot be written
 */
export async function evaluate(
  deps: EvaluateDeps,
  asked: Asked,
  input: EvaluationInput,
  answer: (evaluation: Evaluation) => Answer,
): Promise<string> {
  const started = performance.now();
  const now = deps.now();
  const panel = requirePanel(deps, input.panelId);
  const read = readInput(input, asOfFor(input.asOf, now), panel);
  const evaluation: Evaluation = {
    id: deps.newId(),
    at: now.toISOString(),
    engine: deps.engine,
    panel,
    ...read,
    interpretations: interpret(read.input, panel.panel),
  };
  const { body, returned } = answer(evaluation);
  const reply = JSON.stringify(body);
  await record(deps, asked, evaluation, {
    asOf: input.asOf,
    returned: { ...returned, sha256: createHash('sha256').update(reply, 'utf8').digest('hex') },
    durationMs: Math.round((performance.now() - started) * 1000) / 1000,
  });
  return reply;
}

function requirePanel(deps: EvaluateDeps, panelId: string | null): AppliedPanel {
  const panel = deps.library.findPanel(panelId ?? deps.defaultPanelId);
  if (panel) return panel;
  const text = `must be one of: ${deps.library.panelIds.join(', ')}`;
  throw new RequestError('PANEL_UNKNOWN', [
    { expression: "Parameters.parameter.where(name='panel').value", text },
  ]);
}

function asOfFor(asOf: string | null, now: Date): AsOf {
  const furthest = new Date(now.getTime() + FURTHEST_ZONE_HOURS * 3_600_000).toISOString().slice(0, 10);
  if (asOf && asOf > furthest) {
    const expression = "Parameters.parameter.where(name='asOf').value";
    throw new RequestError('BODY_INVALID', [{ expression, text: 'must not be in the future' }]);
  }
  if (asOf) return { date: asOf, minute: null };
  return {
    date: furthest,
    minute: Math.floor(now.getTime() / 60_000) + CLOCK_TOLERANCE_MINUTES,
  };
}

type ReadInput = Pick<Evaluation, 'patient' | 'sex' | 'input' | 'refusals' | 'expressions'>;

/** More than a chart holds; an answer grows with the sessions, so that a small body could ask for a huge one. */
const MOST_OBSERVATIONS = 300;
const MOST_SESSIONS = 60;

function requireFew(count: number, most: number, what: string, expression: string): void {
  if (count <= most) return;
  throw new RequestError('BODY_INVALID', [
    { expression, text: `holds ${count} ${what}; at most ${most} are read` },
  ]);
}

function readInput(input: EvaluationInput, asOf: AsOf, panel: AppliedPanel): ReadInput {
  const count = input.observations.length + input.prior.length;
  requireFew(count, MOST_OBSERVATIONS, 'Observations', input.observations[0]?.expression ?? '');
  const patient = readPatient(input.patient.resource, input.patient.expression, input.patient.fullUrl);
  const seen: SeenObservations = new Map();
  const current = readTrials(input.observations, patient, asOf, seen);
  const earlier = readTrials(input.prior, patient, asOf, seen);
  const every = toSessions(current.trials, earlier.trials, panel.panel, patient.ageOn);
  requireFew(every.length, MOST_SESSIONS, 'sessions', input.observations[0]?.expression ?? '');
  const sessions = input.scope === 'every-session' ? every : onlyLatest(every);
  const dates = sessions.map(({ testedOn }) => testedOn);
  const sex = readSex(patient.resource, [...current.extensions, ...earlier.extensions], dates);
  return {
    patient: patient.reference,
    sex,
    input: { sex: sex.sex, sessions },
    refusals: [...current.refusals, ...earlier.refusals],
    expressions: new Map([...current.expressions, ...earlier.expressions]),
  };
}

function onlyLatest(sessions: readonly SessionInput[]): readonly SessionInput[] {
  return sessions.map((session, index) => ({
    ...session,
    prior: session.prior || index < sessions.length - 1,
  }));
}

async function record(
  deps: EvaluateDeps,
  asked: Asked,
  evaluation: Evaluation,
  rest: Readonly<Record<string, unknown>>,
): Promise<void> {
  const { id, patient, panel, engine, sex, input, refusals, expressions, interpretations, at } = evaluation;
  const content = {
    asked,
    at,
    engine,
    panel: panel.panel.ref,
    references: panel.references,
    sex,
    input,
    refusals: refusals.map(recordedRefusal),
    expressions: Object.fromEntries(expressions),
    findings: recordedFindings(interpretations),
    ...rest,
  };
  try {
    await deps.store.append({ id, kind: 'evaluation', patient, content });
  } catch (cause) {
    throw new RequestError('NOT_RECORDED', [], { cause });
  }
}
