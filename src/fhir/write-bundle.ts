/** An evaluation -> the Bundle that `$interpret-grip` returns, and the Observations that a card offers to file. */
import { createHash } from 'node:crypto';
import type { Bundle, BundleEntry, Device, FhirResource, Observation } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { DocumentDraft } from '../document.ts';
import type { Answer, Evaluation, Filing, Origin, Revision } from '../evaluation.ts';
import type { Interpretation, Summary } from '../interpret/finding.ts';
import type { Hand, SummaryKind } from '../interpret/measurement.ts';
import { ownBaselineHands, stopOf } from '../wording/session-statements.ts';
import { filingNotices } from './filing-notices.ts';
import type { Sources, WriteContext } from './observation-parts.ts';
import { type FoundRevision, factsOf, inState, revise, revisionOf, sourceTerms } from './revision.ts';
import { draftOf } from './write-draft.ts';
import {
  isSetRefusal,
  type Written,
  writeRefusalObservation,
  writeSummaryObservation,
  writeVerdictObservation,
} from './write-observation.ts';
import { writeEvaluationOutcome } from './write-operation-outcome.ts';
import { revisionProvenance, writeProvenance } from './write-provenance.ts';

/** `Prefer: return`: the whole Bundle, or of it the OperationOutcome only. */
export type Returns = 'representation' | 'OperationOutcome';

/** The reply of `$interpret-grip`, and what is filed of it. */
export function writeOperationAnswer(
  evaluation: Evaluation,
  filing: Filing,
  returns: Returns = 'representation',
): Answer {
  const { written, removed, again, outcome, found } = writeResults(evaluation, filing);
  const before = [...written, ...removed].filter(({ origin }) => origin.record !== evaluation.id);
  const drafts = written
    .filter(({ origin }) => origin.record === evaluation.id)
    .map((result) => filedDraft(result, evaluation, filing));
  const { inPart, readAgain } = filing.revisions;
  const revisions = [
    ...found.filter(isFound).map((each) => revisionOf(each, evaluation)),
    ...again.map(({ first, again: state, sources }) =>
      revise(state ? inState(first, state) : first, { ...factsOf(evaluation, sources), state }),
    ),
  ].map((revision) => ({ ...revision, owner: filing.client }));
  return {
    body: returns === 'OperationOutcome' ? outcome : bundleOf(evaluation, filing, written, outcome),
    returned: {
      resources: written.length + 1,
      // By which `audit verify` knows whether what is served is what was filed.
      filed: Object.fromEntries(
        [...drafts, ...revisions].map((draft) => [
          `${draft.type}/${draft.id}/_history/${draft.version}`,
          digestsOf(draft),
        ]),
      ),
      revisions: { found: found.map(recorded), inPart, readAgain },
      before: Object.fromEntries(
        before.map(({ resource, origin }) => [`${resource.resourceType}/${resource.id}`, origin]),
      ),
    },
    documents: drafts,
    revisions,
  };
}

/** What a replay needs of it. */
function recorded({ id, version, kind, because }: Revision): Revision {
  return { id, version, kind, ...(because ? { because } : {}) };
}

/** Of what is stored of a document, and of how it is found: the second holds for the current version only. */
function digestsOf({ content, owner, facts, moment, terms }: DocumentDraft): readonly [string, string] {
  const found = terms.map(({ name, system, value, low, high }) =>
    JSON.stringify([name, system ?? null, value ?? null, low ?? null, high ?? null]),
  );
  return [
    digestOf([content, owner ?? null, facts === undefined ? null : JSON.stringify(facts)]),
    digestOf([moment, ...found.sort()]),
  ];
}

function digestOf(parts: readonly unknown[]): string {
  return createHash('sha256').update(JSON.stringify(parts), 'utf8').digest('hex');
}

interface Result {
  readonly resource: FhirResource;
  readonly origin: Origin;
  /** Of an Observation. */
  readonly sources?: Sources;
}

function filedDraft(
  { resource, origin, sources }: Result,
  evaluation: Evaluation,
  { client }: Filing,
): DocumentDraft {
  const draft = draftOf(resource, origin.at);
  // The software is everybody's.
  if (resource.resourceType === 'Device') return draft;
  if (!sources) return { ...draft, owner: client };
  const facts = factsOf(evaluation, sources);
  return { ...draft, owner: client, terms: [...draft.terms, ...sourceTerms(facts)], facts };
}

function isFound(revision: Revision): revision is FoundRevision {
  return 'document' in revision;
}

/** Observations, the Device that made them, and a Provenance of each Observation and of each new version. */
function writeResults(evaluation: Evaluation, filing: Filing) {
  const device = deviceResult(evaluation, filing);
  const deviceId = device.resource.id ?? '';
  const every = evaluation.interpretations.flatMap((interpretation) =>
    sessionResults({ evaluation, interpretation, device: { reference: `Device/${deviceId}` }, filing }),
  );
  const observations = every.filter(({ origin }) => !origin.removed);
  const removed = every.filter(({ origin }) => origin.removed);
  const again = observations.filter((result) => result.again);
  // What this evaluation gives again is not out of date.
  const given = new Set(every.map(({ resource }) => resource.id));
  const found = filing.revisions.found.filter(({ id }) => !given.has(id));
  const standing = again.flatMap(({ resource, again: state }) =>
    state ? [{ id: resource.id ?? '', version: state.version, kind: state.kind }] : [],
  );
  const provenances = [
    ...observations.map((result) => writeProvenance(result, evaluation.panel, device.resource)),
    ...[...found, ...standing].map((revision) => ({
      resource: revisionProvenance(revision, evaluation, deviceId),
      origin: { record: evaluation.id, at: evaluation.at },
    })),
  ];
  const before = observations.filter(({ origin }) => origin.record !== evaluation.id);
  const outcome = writeEvaluationOutcome(
    evaluation,
    filingNotices({
      results: observations.length,
      before,
      again: again.length,
      removed: removed.length,
      found,
      ...rest(filing),
    }),
  );
  return {
    written: [...observations, device, ...provenances] as readonly Result[],
    removed,
    again,
    outcome,
    found,
  };
}

function rest({ revisions: { inPart, readAgain } }: Filing) {
  return { inPart, readAgain };
}

/** Type `collection`: a single `return` parameter that is a Bundle without the meaning of a search. */
function bundleOf(
  evaluation: Evaluation,
  { base }: Filing,
  written: readonly Result[],
  outcome: FhirResource,
): Bundle {
  const entry: BundleEntry[] = written.map(({ resource }) => ({
    fullUrl: `${base}/${resource.resourceType}/${resource.id}`,
    resource,
  }));
  return {
    resourceType: 'Bundle',
    identifier: { system: 'urn:ietf:rfc:3986', value: `urn:uuid:${evaluation.id}` },
    type: 'collection',
    timestamp: evaluation.at,
    entry: [...entry, { fullUrl: `urn:uuid:${uuidFor(evaluation.id, 'outcome')}`, resource: outcome }],
  };
}

/** The Observations of one session, each able to stand alone in the record; for a client that files them itself. */
export function writeFilingObservations(
  evaluation: Evaluation,
  interpretation: Interpretation,
): readonly Observation[] {
  const { name, version } = evaluation.engine;
  const context = { evaluation, interpretation, device: { display: `${name} ${version}` } };
  return [
    ...filedSummaries(interpretation).map((summary) => writeSummaryObservation(summary, context)),
    ...setResults(context),
  ].map(({ resource }) => resource);
}

function sessionResults(context: WriteContext): readonly Written[] {
  const keyOf = (kind: SummaryKind, hand: Hand | null) => `${kind} ${hand ?? 'either'}`;
  const summaries = filedSummaries(context.interpretation).map((summary) => ({
    key: keyOf(summary.kind, summary.hand),
    written: writeSummaryObservation(summary, context),
  }));
  const ids = new Map(summaries.map(({ key, written }) => [key, written.resource.id]));
  const results = setResults({
    ...context,
    summaryReference: (kind, hand) => {
      const id = ids.get(keyOf(kind, hand));
      return id === undefined ? undefined : { reference: `Observation/${id}` };
    },
  });
  return [...summaries.map(({ written }) => written), ...results];
}

/** A figure of one hand that is charted already is not charted again. */
function isChartedAlready({ hand, provisional }: Summary): boolean {
  return hand !== null && provisional.includes('SUMMARY_CHARTED');
}

/** Summaries that a result was read from, and the mean of a hand that is its own norm; none when the session was stopped: a doubtful figure is not filed. */
function filedSummaries(interpretation: Interpretation): readonly Summary[] {
  if (stopOf(interpretation)) return [];
  const used = interpretation.results.flatMap((result) =>
    result.kind === 'verdict' ? [result] : result.columns,
  );
  const own = ownBaselineHands(interpretation);
  return interpretation.summaries
    .filter((summary) => !isChartedAlready(summary))
    .filter(
      ({ kind, hand }) =>
        used.some((verdict) => verdict.summary === kind && verdict.hand === hand) ||
        (kind === 'mean-per-hand' && hand !== null && own.includes(hand)),
    );
}

function setResults(context: WriteContext): readonly Written[] {
  return context.interpretation.results.flatMap((result) => {
    if (result.kind === 'verdict') return [writeVerdictObservation(result, context)];
    return isSetRefusal(result) ? [writeRefusalObservation(result, context)] : [];
  });
}

/** The software; filed once for each version. */
function deviceResult({ engine, id, at }: Evaluation, { filedBefore }: Filing) {
  const deviceId = `${engine.name}-${engine.version}`;
  const origin: Origin = filedBefore('Device', deviceId) ?? { record: id, at };
  const resource: Device = {
    resourceType: 'Device',
    id: deviceId,
    meta: {
      versionId: '1',
      lastUpdated: origin.at,
    },
    status: 'active',
    deviceName: [{ name: engine.name, type: 'model-name' }],
    type: { text: 'Clinical decision support software for grip strength' },
    version: [{ value: engine.version }],
  };
  return { resource, origin };
}
