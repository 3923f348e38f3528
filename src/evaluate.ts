/** One evaluation, whichever door: read -> interpret -> answer -> record -> return. */
import { createHash } from 'node:crypto';
import type { AuditEntry, AuditStore, Filed } from './audit/audit-record.ts';
import { RequestError } from './errors.ts';
import type { Answer, Evaluation, Filing, Origin } from './evaluation.ts';
import type { LocalCodes } from './fhir/local-codes.ts';
import type { AsOf } from './fhir/read-observation.ts';
import { PANEL_PARAMETER } from './fhir/read-request.ts';
import { findRevisions, type ResultFacts } from './fhir/revision.ts';
import type { Returns } from './fhir/write-bundle.ts';
import { interpret } from './interpret/interpret.ts';
import type { Outbound } from './outbound/outbound.ts';
import { type EvaluationInput, readInput } from './read-input.ts';
import { recordedFindings, recordedRefusal } from './recorded-findings.ts';
import type { AppliedPanel, ReferenceLibrary } from './reference/library.ts';

export interface EvaluateDeps {
  readonly library: ReferenceLibrary;
  readonly store: AuditStore;
  readonly engine: { readonly name: string; readonly version: string };
  readonly defaultPanelId: string;
  /** Absent: no local code is read. */
  readonly localCodes?: LocalCodes | undefined;
  /** How FHIR servers are asked for what a hook call lacks; absent: over the network. */
  readonly outbound?: Outbound | undefined;
  /** Milliseconds for all fetches of one call; absent: those of the hook services. */
  readonly fetchBudgetMs?: number | undefined;
  readonly now: () => Date;
  readonly newId: () => string;
}

/** Who asked, and through which door; all of it goes on record. */
export interface Asked {
  readonly door: 'fhir-operation' | 'cds-hooks';
  readonly client: string;
  /** Organisation of the user, as the token says that the client signed; absent when it says none. */
  readonly tenant?: string;
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
    /** Keys whose data were fetched from `fhirServer`; absent when none were. */
    readonly fetched?: readonly string[] | undefined;
    /** Keys, not required ones, that could not be had, or not with all the pages needed; absent when all were. */
    readonly unread?: readonly string[] | undefined;
    /** Address of the service, where evaluations have pages; absent: the answer links to none. */
    readonly base?: string;
    /** At a discharge: the stay that ends. */
    readonly stay?: AskedStay;
    /** References of the Observations that were just charted, for the organisation's own hook. */
    readonly charted?: readonly string[];
  } | null;
  /** Absent for a hook. */
  readonly fhir?: {
    /** Address of the FHIR door as the client knows it. */
    readonly base: string;
    /** `Prefer: return`. */
    readonly returns: Returns;
  };
}

/** What the Encounter of a discharge says of the stay. */
export interface AskedStay {
  /** `Encounter.period`, as charted; null when it is not known. */
  readonly start: string | null;
  readonly end: string | null;
  /** Why the start is not known; null when it is. */
  readonly why: 'not-sent' | 'no-start' | 'not-usable' | null;
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
  const panel = requirePanel(deps, input.panelId, PANEL_NAMED_AT[asked.door]);
  const read = readInput(input, asOfFor(input.asOf, now), panel, deps.localCodes);
  const evaluation: Evaluation = {
    id: deps.newId(),
    at: now.toISOString(),
    engine: deps.engine,
    panel,
    ...read,
    interpretations: interpret(read.input, panel.panel),
  };
  const { body, returned, documents, revisions } = answer(evaluation);
  const reply = JSON.stringify(body);
  await record(
    deps,
    asked,
    evaluation,
    { documents, revisions, names: returned.cards?.map(({ uuid }) => uuid) },
    {
      asOf: input.asOf,
      returned: { ...returned, sha256: createHash('sha256').update(reply, 'utf8').digest('hex') },
      durationMs: Math.round((performance.now() - started) * 1000) / 1000,
    },
  );
  return reply;
}

/**
 * What the store knows of results like those of `evaluation`.
 * @throws RequestError NOT_RECORDED, then and later, when the store cannot be read: it could not record either
 */
export function filingFor(
  { store }: EvaluateDeps,
  { client, base }: Pick<Filing, 'client' | 'base'>,
  evaluation: Evaluation,
): Filing {
  const guarded = <T>(look: () => T): T => {
    try {
      return look();
    } catch (cause) {
      throw new RequestError('NOT_RECORDED', [], { cause });
    }
  };
  return {
    client,
    base,
    filedBefore: (type, id) => guarded(() => originOf(store.findFiled(type, id))),
    revisions: guarded(() => findRevisions(evaluation, client, store)),
  };
}

function originOf(filed: Filed | undefined): Origin | undefined {
  if (!filed) return undefined;
  const { record, at, facts, removed } = filed;
  const state = (facts as ResultFacts | undefined)?.state;
  return { record, at, ...(state ? { state } : {}), ...(removed ? { removed } : {}) };
}

/** Where each door names the panel. */
const PANEL_NAMED_AT: Readonly<Record<Asked['door'], string>> = {
  'fhir-operation': PANEL_PARAMETER,
  'cds-hooks': 'request.extension',
};

/** @throws RequestError PANEL_UNKNOWN */
export function requirePanel(deps: EvaluateDeps, panelId: string | null, expression: string): AppliedPanel {
  const panel = deps.library.findPanel(panelId ?? deps.defaultPanelId);
  if (panel) return panel;
  const text = `must be one of: ${deps.library.panelIds.join(', ')}`;
  throw new RequestError('PANEL_UNKNOWN', [{ expression, text }]);
}

/** Up to which moment a record may be dated. @throws RequestError BODY_INVALID */
export function asOfFor(asOf: string | null, now: Date): AsOf {
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

async function record(
  deps: EvaluateDeps,
  asked: Asked,
  evaluation: Evaluation,
  filed: Pick<AuditEntry, 'documents' | 'revisions' | 'names'>,
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
    notices: evaluation.notices,
    localCodes: evaluation.localCodes,
    corrections: evaluation.corrections,
    handedness: evaluation.handedness,
    findings: recordedFindings(interpretations),
    ...rest,
  };
  try {
    await deps.store.append({ id, kind: 'evaluation', patient, content, ...filed });
  } catch (cause) {
    throw new RequestError('NOT_RECORDED', [], { cause });
  }
}
