/**
 * What becomes of filed results when the chart changes. The last reading of a chart by a panel is the current one: a
 * result that it covers and does not give again is replaced; one that rests on what was amended or taken back is
 * withdrawn; one that is given again stands again. Each is a new version that says why: who reads the record must not
 * take two answers for one session, or a reading that the hospital has taken back, for current.
 */
import type { Observation } from 'fhir/r4.js';
import type { DocumentQuery, DocumentReader, DocumentRevision, StoredDocument } from '../document.ts';
import type { Correction, Evaluation, ResultState, Revision, Revisions, Sent } from '../evaluation.ts';
import { paragraph, type Sources } from './observation-parts.ts';
import { sourceKey } from './reference.ts';
import { draftOf } from './write-draft.ts';

/** What is kept beside a filed result, to know it again when the chart changes. */
export interface ResultFacts {
  readonly panel: string;
  /** Base of the server that the patient is on; null where the request did not say. */
  readonly server: string | null;
  /** Those of `read` that are figures of its own session. */
  readonly own: readonly string[];
  /** Those of `read` that it is not read from, but that it says something about. */
  readonly context: readonly string[];
  /** It rests on an Observation that has no name, too. */
  readonly unnamed?: boolean;
  /** Everything that was read of each of its sources, by reference without version. */
  readonly read: Readonly<Record<string, string>>;
  readonly state?: ResultState | undefined;
}

/** Name of the terms by which results are found that rest on an Observation. Never given out. */
export const SOURCE_TERM = '_source';

export function factsOf(evaluation: Evaluation, { basis, own, context }: Sources): ResultFacts {
  const said = evaluation.sent?.all ?? new Map<string, string>();
  const keysOf = (references: readonly string[]) => [...new Set(references.map(sourceKey))].filter(Boolean);
  return {
    panel: evaluation.panel.panel.ref.id,
    server: serverOf(evaluation),
    own: keysOf(own),
    ...(basis.some((reference) => sourceKey(reference) === '') ? { unnamed: true } : {}),
    context: keysOf(context).filter((key) => !keysOf(basis).includes(key)),
    read: Object.fromEntries(keysOf([...basis, ...context]).map((key) => [key, said.get(key) ?? ''])),
  };
}

function serverOf({ patient }: Evaluation): string | null {
  return /^(https?:\/\/.*)\/Patient\/[^/]+$/s.exec(patient)?.[1] ?? null;
}

const NOTHING_SENT: Sent = { all: new Map(), interpreted: new Set() };

/** With the first version of the result, which a replay does not have. */
export type FoundRevision = Revision & { readonly document: StoredDocument; readonly facts: ResultFacts };

/** What this evaluation makes of the results on record that rest on what it was sent. */
export function findRevisions(
  evaluation: Evaluation,
  client: string,
  store: DocumentReader,
): Revisions & { readonly found: readonly FoundRevision[] } {
  const sent = evaluation.sent ?? NOTHING_SENT;
  const changed = new Map((evaluation.corrections ?? []).map((each) => [sourceKey(each.reference), each]));
  const here = serverOf(evaluation);
  const found: FoundRevision[] = [];
  const readAgain = new Set<string>();
  let inPart = 0;
  for (const stored of resting(
    evaluation,
    client,
    [...new Set([...sent.all.keys(), ...changed.keys()])],
    store,
  )) {
    const facts: ResultFacts = JSON.parse(stored.facts ?? '{}');
    const { server, state } = facts;
    // `Patient/1` of another server is another patient; where one did not say, it is taken for the same.
    if (server !== null && here !== null && server !== here) continue;
    if (state && state.kind !== 'reinstated') {
      const { because } = state;
      const key = sourceKey(because?.reference ?? '');
      if (because && sent.all.get(key) && !changed.has(key)) readAgain.add(because.reference);
      continue;
    }
    const fate = fateOf(facts, { panel: evaluation.panel.panel.ref.id, sent, changed });
    if (fate === 'in-part') inPart += 1;
    const document = typeof fate === 'object' ? store.findDocument(stored.type, stored.id, 1) : undefined;
    if (document && typeof fate === 'object')
      found.push({ id: stored.id, version: stored.version + 1, ...fate, document, facts });
  }
  return { found, inPart, readAgain: [...readAgain] };
}

interface Chart {
  /** By which it is read. */
  readonly panel: string;
  readonly sent: Sent;
  readonly changed: ReadonlyMap<string, Correction>;
}

type Fate = Pick<Revision, 'kind' | 'because'> | 'in-part' | 'stands';

function fateOf({ panel, own, context, unnamed, read }: ResultFacts, chart: Chart): Fate {
  const { sent, changed } = chart;
  const key = Object.keys(read).find((each) => {
    const status = changed.get(each)?.status;
    // Of an amended Observation, what rests on what it still says is right.
    return status !== undefined && (TAKEN_BACK.has(status) || sent.all.get(each) !== read[each]);
  });
  const because = key === undefined ? undefined : changed.get(key);
  if (because) return { kind: 'withdrawn', because };
  if (panel !== chart.panel || !own.some((each) => sent.interpreted.has(each))) return 'stands';
  const sources = Object.keys(read).filter((each) => !context.includes(each));
  return !unnamed && sources.every((each) => sent.all.has(each)) ? { kind: 'replaced' } : 'in-part';
}

const TAKEN_BACK: ReadonlySet<Correction['status']> = new Set(['cancelled', 'entered-in-error']);

const RESULTS_AT_A_TIME = 1_000;

/** Every filed result of the patient that rests on one of these. */
function* resting(
  evaluation: Evaluation,
  client: string,
  keys: readonly string[],
  store: DocumentReader,
): Generator<StoredDocument> {
  if (keys.length === 0) return;
  const query: DocumentQuery = {
    type: 'Observation',
    owner: client,
    conditions: [
      { name: SOURCE_TERM, absent: false, anyOf: [{ kind: 'in', values: keys }] },
      { name: 'subject', absent: false, anyOf: [{ kind: 'value', value: sourceKey(evaluation.patient) }] },
    ],
    sort: [{ by: 'updated', descending: false }],
    limit: RESULTS_AT_A_TIME,
    offset: 0,
  };
  for (let offset = 0; ; offset += RESULTS_AT_A_TIME) {
    const { documents } = store.searchDocuments({ ...query, offset });
    yield* documents;
    if (documents.length < RESULTS_AT_A_TIME) return;
  }
}

/** Why a result is not current. */
function reasonOf({ kind, because, record }: ResultState): string {
  return kind === 'withdrawn'
    ? `Withdrawn: ${because?.reference}, on which it rests, was charted as ${because?.status} (evaluation ${record}).`
    : `Replaced: the same trials were read again, as they were charted then (evaluation ${record}).`;
}

/** A result, as it was first filed, as it reads in a later state; one that stands again says what it said first. */
export function inState(result: Observation, state: ResultState): Observation {
  const versioned: Observation = {
    ...result,
    meta: { ...result.meta, versionId: String(state.version), lastUpdated: state.at },
    issued: state.at,
  };
  if (state.kind === 'reinstated') return versioned;
  const reason = reasonOf(state);
  // Many readers show the narrative only.
  const div = result.text?.div.replace(
    /^<div[^>]*>/,
    (open) => `${open}${paragraph(`Not current. ${reason}`)}`,
  );
  return {
    ...versioned,
    ...(result.text && div ? { text: { ...result.text, div } } : {}),
    status: 'entered-in-error',
    note: [...(result.note ?? []), { text: reason }],
  };
}

/** The next version of a result on record. */
export function revisionOf(
  { document, facts, id: _id, ...revision }: FoundRevision,
  { id: record, at }: Evaluation,
): DocumentRevision {
  const state: ResultState = { ...revision, record, at };
  return revise(inState(JSON.parse(document.content ?? '{}'), state), { ...facts, state });
}

/** @param facts with the state that the result is in */
export function revise(result: Observation, facts: ResultFacts): DocumentRevision {
  const draft = draftOf(result, facts.state?.at ?? '', facts.state?.version);
  return { ...draft, terms: [...draft.terms, ...sourceTerms(facts)], facts };
}

export function sourceTerms({ read }: ResultFacts) {
  return Object.keys(read).map((value) => ({ name: SOURCE_TERM, value }));
}
