/**
 * A small FHIR R4 server on loopback, of these tests' own: reads, and searches by patient and code with _sort, _count
 * and paging, for who has the token. `behave` makes it do anything else.
 */
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Bundle, FhirResource, Observation } from 'fhir/r4.js';

/** Answers a request; `honest` answers it as a FHIR server does. */
export type Behaviour = (request: IncomingMessage, reply: ServerResponse, honest: () => void) => void;

export interface FhirServerForTests {
  /** e.g. `http://127.0.0.1:40000/fhir` */
  readonly base: string;
  /** Bearer token that it asks for. */
  readonly token: string;
  /** Every request so far, with its path and query and its headers. */
  readonly requests: readonly { readonly url: string; readonly headers: IncomingMessage['headers'] }[];
  /** Connections that are open now. */
  connections(): Promise<number>;
  /** From now on; without an argument it is honest again, and forgets its requests. */
  behave(behaviour?: Behaviour): void;
  hold(resources: readonly FhirResource[]): void;
  close(): Promise<void>;
}

export interface ServerParts {
  /** Most entries of one page, whatever `_count` says. */
  readonly pageSize?: number;
  /** Gives what it holds in its own order. */
  readonly ignoresSort?: boolean;
  /** Links of pages are relative to the base. */
  readonly relativeLinks?: boolean;
}

/** Invented, for these tests only; nothing of it may appear anywhere. */
export const CANARY_TOKEN = 'canary-fhir-token.7f3a';

const honestly: Behaviour = (_request, _reply, honest) => honest();

export async function openFhirServer(
  resources: readonly FhirResource[] = [],
  parts: ServerParts = {},
): Promise<FhirServerForTests> {
  const requests: { url: string; headers: IncomingMessage['headers'] }[] = [];
  let behaviour = honestly;
  let held = resources;
  const server = createServer((request, reply) => {
    reply.on('error', () => undefined);
    requests.push({ url: request.url ?? '', headers: request.headers });
    behaviour(request, reply, () => send(reply, ...answer(request, { base, held, parts })));
  });
  await new Promise<void>((ready) => server.listen(0, '127.0.0.1', ready));
  const base = `http://127.0.0.1:${(server.address() as AddressInfo).port}/fhir`;
  return {
    base,
    token: CANARY_TOKEN,
    requests,
    connections: () => new Promise((count) => server.getConnections((_error, number) => count(number))),
    behave: (next = honestly) => {
      behaviour = next;
      requests.length = 0;
    },
    hold: (next) => {
      held = next;
    },
    close: () => new Promise((closed) => server.close(() => closed())),
  };
}

interface Holding {
  readonly base: string;
  readonly held: readonly FhirResource[];
  readonly parts: ServerParts;
}

function answer(request: IncomingMessage, holding: Holding): readonly [status: number, body: FhirResource] {
  const url = new URL(request.url ?? '', holding.base);
  const [, door, type = '', id] = url.pathname.split('/');
  if (request.headers.authorization !== `Bearer ${CANARY_TOKEN}`) return [401, outcome('login')];
  if (request.method !== 'GET' || door !== 'fhir' || !type) return [404, outcome('not-found')];
  if (id === undefined) return [200, search(type, url, holding)];
  const found = holding.held.find((each) => each.resourceType === type && each.id === id);
  return found ? [200, found] : [404, outcome('not-found')];
}

export function send(reply: ServerResponse, status: number, body: FhirResource): void {
  reply
    .writeHead(status, { 'content-type': 'application/fhir+json; charset=utf-8' })
    .end(JSON.stringify(body));
}

export function outcome(code: 'login' | 'not-found' | 'exception', severity: 'error' | 'warning' = 'error') {
  const diagnostics = 'canary-diagnostics';
  return {
    resourceType: 'OperationOutcome',
    issue: [{ severity, code, diagnostics }],
  } satisfies FhirResource;
}

function search(type: string, url: URL, { base, held, parts }: Holding): Bundle {
  const { pageSize = 1_000, ignoresSort = false, relativeLinks = false } = parts;
  const query = url.searchParams;
  const found = held.filter((each) => each.resourceType === type && isFound(each as Observation, query));
  const ordered = ignoresSort || query.get('_sort') !== '-date' ? found : found.toSorted(newestFirst);
  const count = Math.min(pageSize, Number(query.get('_count') ?? pageSize));
  const offset = Number(query.get('_offset') ?? 0);
  const page = ordered.slice(offset, offset + count);
  query.set('_offset', String(offset + count));
  const next = `${relativeLinks ? '' : `${base}/`}${type}?${query}`;
  const hasMore = offset + count < ordered.length;
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    total: ordered.length,
    ...(hasMore ? { link: [{ relation: 'next', url: next }] } : {}),
    entry: page.map((resource) => ({
      fullUrl: `${base}/${type}/${resource.id}`,
      resource,
      search: { mode: 'match' },
    })),
  };
}

/** `patient` is an id, or a reference; `code` is `system|code`, and a comma means or. */
function isFound({ subject, code }: Observation, query: URLSearchParams): boolean {
  const patient = (query.get('patient') ?? '').replace(/^Patient\//, '');
  const wanted = (query.get('code') ?? '').split(',');
  const codes = (code?.coding ?? []).map((each) => `${each.system}|${each.code}`);
  return subject?.reference === `Patient/${patient}` && codes.some((each) => wanted.includes(each));
}

function newestFirst(a: FhirResource, b: FhirResource): number {
  const [one, other] = [a, b].map((each) => (each as Observation).effectiveDateTime ?? '');
  return (one ?? '') < (other ?? '') ? 1 : -1;
}
