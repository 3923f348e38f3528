/** The whole service on a temporary audit file with a fixed clock, and short ways to call it and read back. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Bundle, FhirResource, Observation, OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';
import request, { type Test } from 'supertest';
import type { AuditStore, StoredRecord } from '../src/audit/audit-record.ts';
import { openDocumentsInMemory } from '../src/audit/document-store.ts';
import { type Verification, verifyLog } from '../src/audit/verify.ts';
import type { Config } from '../src/config.ts';
import type { Card } from '../src/hooks/cards.ts';
import { accessFor } from '../src/http/access.ts';
import { buildApp } from '../src/http/build-app.ts';
import type { Refusal } from '../src/interpret/finding.ts';
import { openLibrary, openService, type Service } from '../src/service.ts';
import { type Door, NOW } from './fixtures.ts';
import { watchReplies } from './watch-replies.ts';

export interface TestService extends Service {
  readonly file: string;
  /** A string goes out as it is; anything else as JSON. */
  post(path: string, body: unknown, headers?: Readonly<Record<string, string>>): Test;
  get(path: string, headers?: Readonly<Record<string, string>>): Test;
  /** The valid call of a door with these data. */
  call(door: Door, ...data: Parameters<Door['bodyOf']>): Test;
  last(): Recorded;
  all(): readonly Recorded[];
  verify(): Verification;
  /** Stops the service and deletes its file. */
  close(): Promise<void>;
}

export interface Recorded extends StoredRecord {
  readonly content: RecordedContent;
}

/** What these tests read of a record. Sets are named `id|version`. */
export interface RecordedContent {
  readonly asked: { door: string; client: string; user: string | null; hook: unknown };
  readonly at: string;
  readonly engine: { name: string; version: string };
  readonly panel: NamedRef;
  readonly references: readonly NamedRef[];
  readonly sex: { sex: string | null; source: string };
  readonly input: { sessions: readonly { trials: readonly { reference: string }[]; prior: boolean }[] };
  readonly refusals: readonly RecordedRefusal[];
  readonly findings: readonly {
    readonly testedOn: string;
    readonly ageYears: number | null;
    readonly results: readonly RecordedResult[];
    readonly summaries: readonly { kind: string; hand: string | null; charted: { value: string } }[];
    readonly cautions: readonly { code: string; hand: string | null; facts: Record<string, string> }[];
    readonly changes: readonly unknown[];
  }[];
  readonly returned: {
    readonly sha256: string;
    readonly cards?: readonly { uuid: string; summary: string; indicator: string }[];
  };
}

export interface NamedRef {
  readonly kind: string;
  readonly id: string;
  readonly version: string;
  readonly digest: string;
}

export type RecordedRefusal = Omit<Refusal, 'set' | 'columns'> & {
  readonly set: string | null;
  readonly columns: readonly RecordedVerdict[];
};

export interface RecordedVerdict {
  readonly kind: 'verdict';
  readonly set: string;
  readonly hand: string | null;
  readonly sex: string;
  readonly outcome: string;
  readonly limit: { value: string; unit: string; operator: string };
  readonly compared: { value: string; unit: string };
  readonly provisional: readonly string[];
  readonly zScore: number | null;
}

export type RecordedResult = RecordedVerdict | RecordedRefusal;

/** As shipped: `openService`, with the clock and the panel of the installation given. */
export async function openForTests(
  now: () => Date = () => NOW,
  panelId = 'adult-inpatient-us',
  configured: Partial<Config> = {},
): Promise<TestService> {
  const folder = mkdtempSync(join(tmpdir(), 'grip-doors-'));
  const file = join(folder, 'audit.sqlite');
  const config = {
    host: '127.0.0.1',
    port: 0,
    auditFile: file,
    panelId,
    logLevel: '',
    publicUrl: 'https://grip.example.org',
    clientsFile: null,
    fhirServers: [],
    corsOrigins: [],
    chartedHook: null,
    ...configured,
  };
  const service = openService({
    config,
    logger: false,
    now,
    onFatal: (cause) => {
      throw cause;
    },
  });
  watchReplies(service.app);
  await service.app.ready();
  return { ...service, ...accessTo(service, file), close: () => closeAll(service, folder) };
}

/** The same application with another store, for what a real store does only on a broken disk. */
export async function openWithStore(store: AuditStore): Promise<Pick<TestService, 'app' | 'post' | 'call'>> {
  const app = buildApp({
    library: openLibrary(),
    store,
    engine: { name: 'test', version: '0.0.0' },
    defaultPanelId: 'adult-inpatient-us',
    now: () => NOW,
    newId: () => crypto.randomUUID(),
    logger: false,
    definitions: openDocumentsInMemory([]),
    access: accessFor(null),
    isProtected: false,
    publicUrl: null,
  });
  watchReplies(app);
  await app.ready();
  return { app, ...callsTo({ app }) };
}

async function closeAll({ app, store }: Service, folder: string): Promise<void> {
  await app.close();
  store.close();
  rmSync(folder, { recursive: true });
}

function callsTo({ app }: Pick<Service, 'app'>): Pick<TestService, 'post' | 'get' | 'call'> {
  const post: TestService['post'] = (path, body, headers = {}) =>
    request(app.server)
      .post(path)
      .set({ 'content-type': 'application/json', ...headers })
      .send(typeof body === 'string' ? body : JSON.stringify(body));
  return {
    post,
    get: (path, headers = {}) => request(app.server).get(path).set(headers),
    call: (door, ...data) => post(door.path, door.bodyOf(...data)),
  };
}

function accessTo(service: Service, file: string): Omit<TestService, keyof Service | 'close'> {
  const all = () => [...service.store.records()].map(toRecorded);
  return {
    ...callsTo(service),
    file,
    all,
    last: () => {
      const [record] = service.store.records(service.store.head().seq);
      if (!record) throw new Error('nothing is on record');
      return toRecorded(record);
    },
    verify: () => verifyLog(file),
  };
}

function toRecorded(stored: StoredRecord): Recorded {
  return { ...stored, content: JSON.parse(stored.record).content };
}

export function isRecordedVerdict(result: RecordedResult): result is RecordedVerdict {
  return result.kind === 'verdict';
}

/** Refusals of one call, whether made at the door or by the core. */
export function refusalsOf({ content }: Recorded): readonly RecordedRefusal[] {
  const results = content.findings.flatMap(({ results }) => results);
  return [...content.refusals, ...results.filter((result) => !isRecordedVerdict(result))];
}

export function verdictsOf({ content }: Recorded): readonly RecordedVerdict[] {
  return content.findings.flatMap(({ results }) => results.filter(isRecordedVerdict));
}

export function observationsOf(reply: { body: unknown }): readonly Observation[] {
  return resourcesOf(reply).filter((resource) => resource.resourceType === 'Observation');
}

export function resourcesOf({ body }: { body: unknown }): readonly FhirResource[] {
  return ((body as Bundle<FhirResource>).entry ?? []).flatMap(({ resource }) => (resource ? [resource] : []));
}

/** Issues of an error reply, or of the OperationOutcome in a Bundle of results. */
export function issuesOf(reply: { body: unknown }): readonly OperationOutcomeIssue[] {
  const body = reply.body as Bundle | OperationOutcome;
  if (body.resourceType === 'OperationOutcome') return body.issue;
  const outcome = resourcesOf(reply).find((resource) => resource.resourceType === 'OperationOutcome');
  return outcome?.issue ?? [];
}

export function codesOf(reply: { body: unknown }): readonly (string | undefined)[] {
  return issuesOf(reply).map(({ details }) => details?.coding?.[0]?.code);
}

export function cardsOf({ body }: { body: unknown }): readonly Card[] {
  return (body as { cards: Card[] }).cards;
}
