/** What a FHIR server may do instead of answering: each a way to be slow, broken or malicious. */
import type { IncomingMessage, ServerResponse } from 'node:http';
import { gzipSync } from 'node:zlib';
import type { FhirResource } from 'fhir/r4.js';
import { type Behaviour, outcome, send } from './fhir-server-for-tests.ts';

/** Far longer than any test waits. */
const SLOW_MS = 5_000;
const BLOCK = Buffer.alloc(64 * 1_024, ' ');
/** 64 MB of spaces in some 64 KB. */
const BOMB = gzipSync(Buffer.alloc(64 * 1_024 * 1_024, ' '), { level: 9 });
const JSON_TYPE = { 'content-type': 'application/fhir+json' };

/** Words that only the tests' servers send, and the name of the patient of the fixtures. */
export const CANARY = /canary|Bramblewick|Thaddeus/i;

export const giving =
  (status: number, body: string | Buffer, headers: Record<string, string> = JSON_TYPE): Behaviour =>
  (_request, reply) =>
    reply.writeHead(status, headers).end(body);

export const holding =
  (resource: FhirResource | object): Behaviour =>
  (_request, reply) =>
    send(reply, 200, resource as FhirResource);

export const redirecting =
  (status: number, location: string): Behaviour =>
  (_request, reply) =>
    reply.writeHead(status, { location }).end();

/** 503 for the first so many requests. */
export function busy(times: number, headers: Record<string, string> = {}): Behaviour {
  let asked = 0;
  return (_request, reply, honest) => {
    asked += 1;
    if (asked > times) honest();
    else reply.writeHead(503, headers).end();
  };
}

const slow: Behaviour = (_request, reply, honest) => {
  const wait = setTimeout(honest, SLOW_MS);
  reply.once('close', () => clearTimeout(wait));
};

const dripping: Behaviour = (_request, reply) => {
  reply.writeHead(200, JSON_TYPE).write('{"resourceType":"Bundle","id":"canary');
  const drip = setInterval(() => reply.write('x'), 5);
  reply.once('close', () => clearInterval(drip));
};

const aGigabyte: Behaviour = (_request, reply) => {
  reply.writeHead(200, { ...JSON_TYPE, 'content-length': String(1_024 ** 3) });
  const more = () => {
    while (!reply.destroyed && reply.write(BLOCK));
  };
  reply.on('drain', more);
  more();
};

const hangingUp: Behaviour = (request) => request.socket.destroy();

const sayingMoreThanItSends: Behaviour = (_request, reply) =>
  reply.writeHead(200, { ...JSON_TYPE, 'content-length': '100000' }).write('{"resourceType":"canary"');

const nested = (opening: string, closing: string, inner = '1') =>
  `${opening.repeat(100_000)}${inner}${closing.repeat(100_000)}`;
const manyValues = `{"resourceType":"Bundle","type":"searchset","entry":[${'{},'.repeat(150_000)}{}]}`;

/** A server that does this gives nothing that can be used, whatever it was asked for. */
export const USELESS: readonly (readonly [what: string, behaviour: Behaviour])[] = [
  ['is slow', slow],
  ['never answers', () => undefined],
  ['drips for ever', dripping],
  ['says that it sends more than it sends', sayingMoreThanItSends],
  ['hangs up', hangingUp],
  ['is always busy', (request, reply) => busy(9)(request, reply, () => undefined)],
  ['wants to be asked in two minutes', busy(9, { 'retry-after': '120' })],
  ['wants to be asked on a date', busy(9, { 'retry-after': 'Wed, 25 Nov 2026 12:00:00 GMT' })],
  ...[400, 401, 403, 429, 500].map((status) => {
    const refuse: Behaviour = (_request, reply) => send(reply, status, outcome('exception'));
    return [`answers ${status}`, refuse] as const;
  }),
  ['answers 204', giving(204, '')],
  ['gives a gigabyte', aGigabyte],
  ['gives a bomb', giving(200, BOMB, { ...JSON_TYPE, 'content-encoding': 'gzip' })],
  ['gives headers without end', giving(200, '{}', { ...JSON_TYPE, 'x-canary': 'canary'.repeat(9_000) })],
  ['gives HTML', giving(200, '<html>canary</html>', { 'content-type': 'text/html' })],
  ['gives JSON as text', giving(200, '{"resourceType":"Bundle"}', { 'content-type': 'text/plain' })],
  ['gives nothing', giving(200, '')],
  ['gives no JSON', giving(200, '{"resourceType":"canary"')],
  ['gives no UTF-8', giving(200, Buffer.from('{"resourceType":"Bundle","id":"canary\xe9"}', 'latin1'))],
  ['gives half a character', giving(200, '{"resourceType":"Bundle","id":"canary\\ud800"}')],
  ['gives a member called __proto__', giving(200, '{"resourceType":"Bundle","__proto__":{"canary":1}}')],
  ['gives null', giving(200, 'null')],
  ['gives a list', giving(200, '[{"resourceType":"Bundle"}]')],
  ['gives something without a type', giving(200, '{"canary":true}')],
  ['gives arrays in arrays', giving(200, nested('[', ']'))],
  ['gives a Bundle that nests', giving(200, `{"resourceType":"Bundle","entry":${nested('[', ']')}}`)],
  ['gives a Patient that nests', giving(200, `{"resourceType":"Patient","photo":${nested('{"a":', '}')}}`)],
  ['gives 150,000 entries', giving(200, manyValues)],
  ['gives an OperationOutcome', (_request, reply) => send(reply, 200, outcome('exception'))],
  ['gives another type', holding({ resourceType: 'Practitioner', id: 'canary' })],
  ['gives a Bundle that is a failure', holding(searchset([outcome('exception')]))],
  [
    'gives entries that are none',
    holding({ resourceType: 'Bundle', type: 'searchset', entry: { canary: 1 } }),
  ],
  [
    'gives a Bundle of unknown meaning',
    holding({ ...searchset([]), implicitRules: 'http://canary.example' }),
  ],
];

export function searchset(resources: readonly FhirResource[], next?: string) {
  return {
    resourceType: 'Bundle' as const,
    type: 'searchset' as const,
    ...(next === undefined ? {} : { link: [{ relation: 'next', url: next }] }),
    entry: resources.map((resource) => ({ resource, search: { mode: 'match' as const } })),
  };
}

/** Which prefetch key a request is for, by the code that it asks for. */
const ASKED_BY: Readonly<Record<string, RegExp>> = {
  patient: /\/Patient\//,
  grip: /83174-3/,
  height: /8302-2/,
  handedness: /364940007/,
  measures: /29463-7/,
};

export function isFor(key: string, { url = '' }: Pick<IncomingMessage, 'url'>): boolean {
  return ASKED_BY[key]?.test(url) ?? false;
}

/** Honest but for one key. */
export function onlyFor(key: string, behaviour: Behaviour): Behaviour {
  return (request, reply: ServerResponse, honest) => {
    if (isFor(key, request)) behaviour(request, reply, honest);
    else honest();
  };
}
