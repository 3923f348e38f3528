/**
 * A trial that was amended or entered in error after its results were filed: those results are withdrawn, as a new
 * version with status `entered-in-error` that says why. Who reads the record must not take a figure for current whose
 * reading the hospital has taken back.
 */
import type { Observation, Provenance } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type {
  DocumentQuery,
  DocumentReader,
  DocumentRevision,
  DocumentTerm,
  StoredDocument,
} from '../document.ts';
import type { Correction, Evaluation, Origin, Withdrawal } from '../evaluation.ts';
import { DATA_OPERATION, PROVENANCE_PARTICIPANT } from './codes.ts';
import { keyOf } from './observation-parts.ts';
import { draftOf } from './write-draft.ts';

/** Everything that was read of each Observation, its components together, by its reference without the version. */
function readings({ input }: Evaluation): ReadonlyMap<string, string> {
  const figures = input.sessions.flatMap(({ trials, charted = [] }) => [...trials, ...charted]);
  const measures = input.sessions.flatMap((session) => session.measures ?? []);
  const read = [
    ...figures.map((each) => [each.reference, `${each.reading} ${each.unit} ${each.effective}`] as const),
    ...measures.map((each) => [each.reference, `${each.charted} ${each.measuredOn}`] as const),
  ];
  const whole = new Map<string, readonly string[]>();
  for (const [reference, text] of read) {
    const key = keyOf(reference);
    const [, component = ''] = reference.split('#');
    // A measure may be near several sessions: it is one reading all the same.
    whole.set(key, [...new Set([...(whole.get(key) ?? []), `${component} ${text}`])]);
  }
  return new Map([...whole].map(([key, texts]) => [key, [...texts].sort().join('; ')]));
}

const basisName = (key: string) => `_basis ${key}`;

/** Terms by which a result is found again when one of its sources changes. Never given out. */
export function basisTerms(evaluation: Evaluation, sources: readonly string[]): readonly DocumentTerm[] {
  const read = readings(evaluation);
  const keys = [...new Set(sources.map(keyOf))].filter(Boolean);
  return keys.map((key) => ({ name: basisName(key), value: read.get(key) ?? '' }));
}

/** With the stored result, which a replay does not have. */
export type FoundWithdrawal = Withdrawal & { readonly document: StoredDocument };

/** Results on record that rest on what the request says was taken back or changed. */
export function findWithdrawals(
  evaluation: Evaluation,
  client: string,
  { searchDocuments }: Pick<DocumentReader, 'searchDocuments'>,
): readonly FoundWithdrawal[] {
  const found = new Map<string, FoundWithdrawal>();
  for (const correction of evaluation.corrections ?? []) {
    const { documents } = searchDocuments(staleQuery(evaluation, client, correction));
    for (const document of documents) {
      const { id, version } = document;
      if (!found.has(id)) found.set(id, { id, version: version + 1, ...correction, document });
    }
  }
  return [...found.values()];
}

/** More results than rest on any one trial. */
const MOST_WITHDRAWN = 1_000;

function staleQuery(
  evaluation: Evaluation,
  client: string,
  { reference, status }: Correction,
): DocumentQuery {
  const now = readings(evaluation).get(reference);
  // Of an amended trial, what rests on the reading as it is now is right.
  const isChanged = status === 'amended' || status === 'corrected';
  const values = isChanged && now !== undefined ? [now] : [];
  return {
    type: 'Observation',
    owner: client,
    conditions: [
      { name: basisName(reference), absent: false, anyOf: [{ kind: 'other', values }] },
      { name: 'patient', absent: false, anyOf: [{ kind: 'value', value: evaluation.patient }] },
      { name: 'status', absent: true, anyOf: [{ kind: 'value', value: 'entered-in-error' }] },
    ],
    sort: { by: 'moment', descending: false },
    limit: MOST_WITHDRAWN,
    offset: 0,
  };
}

/** When and by which evaluation. */
export type Withdrawn = Omit<Withdrawal, 'id'> & Origin;

/** The result as it reads from then on. */
export function asWithdrawn(
  result: Observation,
  { version, reference, status, record, at }: Withdrawn,
): Observation {
  const text = `Withdrawn: ${reference}, on which it rests, was charted as ${status} (evaluation ${record}).`;
  return {
    ...result,
    meta: { ...result.meta, versionId: String(version), lastUpdated: at },
    status: 'entered-in-error',
    note: [...(result.note ?? []), { text }],
  };
}

/** The next version of each result; terms that are not read from the resource stay as they were. */
export function revisionsOf(
  found: readonly FoundWithdrawal[],
  { id: record, at }: Evaluation,
): readonly DocumentRevision[] {
  return found.map(({ document, id: _id, ...withdrawal }) => {
    const facts: Withdrawn = { ...withdrawal, record, at };
    const resource = asWithdrawn(JSON.parse(document.content ?? '{}'), facts);
    const draft = draftOf(resource, at, facts.version);
    return { ...draft, facts };
  });
}

/** What made the new version, and why (STANDARDS PV1). */
export function withdrawalProvenance(
  { id, version, reference }: Withdrawal,
  { at }: Evaluation,
  deviceId: string,
): Provenance {
  const result = `Observation/${id}`;
  return {
    resourceType: 'Provenance',
    id: uuidFor(`${id} ${version}`, 'provenance'),
    meta: { versionId: '1', lastUpdated: at },
    target: [{ reference: `${result}/_history/${version}` }],
    recorded: at,
    activity: {
      coding: [{ system: DATA_OPERATION, code: 'UPDATE' }],
      text: 'Withdrawal of a grip strength result',
    },
    agent: [
      {
        type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
        who: { reference: `Device/${deviceId}` },
      },
    ],
    entity: [
      { role: 'revision', what: { reference: `${result}/_history/${version - 1}` } },
      { role: 'source', what: { reference } },
    ],
  };
}
