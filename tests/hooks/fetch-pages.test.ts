/** Further pages of a search (STANDARDS P10): read as far as they are needed, and never followed to where the token must not go. */
import type { Observation } from 'fhir/r4.js';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { callOf, type FetchingService, openFetching, UNHURRIED_MS } from '../fetching-service.ts';
import { holding, isFor, onlyFor, searchset } from '../fhir-server-behaviours.ts';
import {
  type Behaviour,
  type FhirServerForTests,
  openFhirServer,
  outcome,
  send,
} from '../fhir-server-for-tests.ts';
import { PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { HEIGHT, measureOf } from '../measure-fixtures.ts';
import { cardsOf } from '../service-for-tests.ts';

const SAID = 'The record holds further grip measurements that were not read for this card.';

const open: { close(): Promise<void> }[] = [];
async function opened(...parts: Parameters<typeof openFhirServer>): Promise<FhirServerForTests> {
  const server = await openFhirServer(...parts);
  open.push(server);
  return server;
}

/** Sessions of six trials, a day apart, the last on 16 November. */
const sessions = (days: number): readonly Observation[] =>
  Array.from({ length: days }, (_, day) =>
    sitting([31, 32, 30], [28, 29, 28.5], {
      id: `back-${day}`,
      at: new Date(Date.UTC(2026, 10, 16 - day, 14, 5)).toISOString().replace('.000Z', 'Z'),
    }),
  ).flat();

let server: FhirServerForTests;
let elsewhere: FhirServerForTests;
let service: FetchingService;
beforeAll(async () => {
  server = await openFhirServer([PATIENT, ...SIX_TRIALS, HEIGHT]);
  elsewhere = await openFhirServer([PATIENT, ...SIX_TRIALS, HEIGHT]);
  service = await openFetching({ GRIP_CDS_FHIR_SERVERS: server.base }, UNHURRIED_MS);
});
afterEach(async () => {
  server.behave();
  for (const each of open.splice(0)) await each.close();
});
afterAll(async () => {
  await service.close();
  await Promise.all([server.close(), elsewhere.close()]);
});

/** The service that may ask this server. */
async function serviceFor({ base }: FhirServerForTests): Promise<FetchingService> {
  const own = await openFetching({ GRIP_CDS_FHIR_SERVERS: base }, UNHURRIED_MS);
  open.unshift(own);
  return own;
}

const trialsRead = (own: FetchingService) =>
  own.last().input.sessions.flatMap(({ trials }) => trials.map(({ reference }) => reference));
const requestsFor = (key: string, from: FhirServerForTests) =>
  from.requests.filter((each) => isFor(key, each));

describe('P10: pages', () => {
  it.each([
    ['with absolute links', {}],
    ['with links relative to the address asked', { relativeLinks: true }],
  ])('%s are read as one answer', async (_what, parts) => {
    const whole = await service.post(callOf(server));
    const findings = service.last().findings;
    const paged = await opened([PATIENT, ...SIX_TRIALS, HEIGHT], { pageSize: 2, ...parts });
    const own = await serviceFor(paged);
    const reply = await own.post(callOf(paged));
    expect(reply.status, reply.text.slice(0, 300)).toBe(200);
    expect(requestsFor('grip', paged)).toHaveLength(3);
    expect(own.last().findings).toEqual(findings);
    expect(own.last().asked.hook.hasMore).toBe(false);
    expect(cardsOf(reply)[0]?.summary).toBe(cardsOf(whole)[0]?.summary);
    for (const { headers } of paged.requests) expect(headers.authorization).toBe(`Bearer ${paged.token}`);
    own.requireNoLeak(reply);
  });

  it('are read until there are as many as the template asks for, and that there are more is said', async () => {
    const paged = await opened([PATIENT, ...sessions(40)], { pageSize: 60 });
    const own = await serviceFor(paged);
    const reply = await own.post(callOf(paged));
    expect(reply.status, reply.text.slice(0, 300)).toBe(200);
    expect(requestsFor('grip', paged)).toHaveLength(2);
    expect(trialsRead(own)).toHaveLength(100);
    expect(own.last().asked.hook.hasMore).toBe(true);
    expect(cardsOf(reply)[0]?.detail).toContain(SAID);
  });

  it('of a server that does not sort are read to the end, and the newest are taken', async () => {
    const oldestFirst = sessions(40).toReversed();
    const paged = await opened([PATIENT, ...oldestFirst], { pageSize: 60, ignoresSort: true });
    const own = await serviceFor(paged);
    expect((await own.post(callOf(paged))).status).toBe(200);
    expect(requestsFor('grip', paged)).toHaveLength(4);
    expect(own.last().input.sessions.at(-1)).toMatchObject({ testedOn: '2026-11-16' });
    expect(own.last().asked.hook.hasMore).toBe(true);
  });

  it('after one that was prefetched are fetched with the token, and are said not to be read without', async () => {
    const next = `${server.base}/Observation?patient=invented-1&code=http://loinc.org|83173-5&_offset=0`;
    const prefetch = {
      patient: PATIENT,
      grip: searchset(SIX_TRIALS.slice(0, 3), next),
      height: null,
      measures: null,
      handedness: null,
    };
    await service.post(callOf(server, prefetch));
    expect(trialsRead(service)).toHaveLength(6);
    expect(service.last().asked.hook).toMatchObject({ hasMore: false, fetched: ['grip'] });
    server.behave();
    const { fhirAuthorization: _, ...untrusted } = callOf(server, prefetch);
    const reply = await service.post(untrusted);
    expect(trialsRead(service)).toHaveLength(3);
    expect(service.last().asked.hook).toMatchObject({ hasMore: true });
    expect(service.last().asked.hook).not.toHaveProperty('fetched');
    expect(cardsOf(reply)[0]?.detail).toContain(SAID);
    expect(server.requests).toEqual([]);
  });

  it('after a full one that was prefetched are not asked for', async () => {
    const full = searchset(sessions(17).slice(0, 100), `${server.base}/Observation?_offset=100`);
    const prefetch = { patient: PATIENT, grip: full, height: null, measures: null, handedness: null };
    expect((await service.post(callOf(server, prefetch))).status).toBe(200);
    expect(server.requests).toEqual([]);
    expect(service.last().asked.hook.hasMore).toBe(true);
  });

  it('of an optional key that cannot be had are said not to have been read', async () => {
    const weights = [1, 2, 3].map((day) => ({ ...measureOf('weight', 70 + day, 'kg'), id: `weight-${day}` }));
    server.behave(
      onlyFor('measures', holding(searchset(weights, `${elsewhere.base}/Observation?_offset=3`))),
    );
    expect((await service.post(callOf(server))).status).toBe(200);
    expect(service.last().asked.hook).toMatchObject({ hasMore: false, unread: ['measures'] });
    expect(service.last().asked.hook.fetched).toContain('measures');
  });
});

describe('T13: the link to a next page', () => {
  const paging = (next: string): Behaviour => onlyFor('grip', holding(searchset(SIX_TRIALS, next)));
  const origin = () => new URL(server.base).origin;

  it.each([
    ['to another origin', () => `${elsewhere.base}/Observation?83174-3`],
    ['to another host of the same port', () => server.base.replace('127.0.0.1', 'localhost')],
    ['without a scheme', () => `//${new URL(elsewhere.base).host}/fhir/Observation`],
    ['of another scheme', () => server.base.replace('http:', 'https:')],
    ['beside the base', () => `${origin()}/admin`],
    ['that begins like the base', () => `${server.base}2/Observation`],
    ['out of the base by dots', () => `${server.base}/../admin`],
    ['out of the base by encoded dots', () => `${server.base}/%2e%2e/admin`],
    ['out of the base by encoded slashes', () => `${server.base}/..%2Fadmin`],
    ['with a name and password', () => server.base.replace('//', '//canary:canary@')],
    ['to a file', () => 'file:///etc/hostname'],
    ['that is a script', () => 'javascript:canary()'],
    ['that is no address', () => 'http://[canary'],
    ['that says nothing', () => ''],
  ])('%s is not followed: the page that came is read, and it is said', async (_what, next) => {
    server.behave(paging(next()));
    const reply = await service.post(callOf(server));
    expect([reply.status, cardsOf(reply)?.length]).toEqual([200, 1]);
    expect(cardsOf(reply)[0]?.detail).toContain(SAID);
    expect(service.last().asked.hook.hasMore).toBe(true);
    expect(server.requests).toHaveLength(5);
    expect(elsewhere.requests).toEqual([]);
    service.requireNoLeak(reply);
  });

  it('to itself, or back and forth, is followed once', async () => {
    for (const [links, requests] of [
      [['a'], 2],
      [['a', 'b', 'a'], 3],
    ] as const) {
      const page = (name: string) => `${server.base}/Observation?83174-3&page=${name}`;
      let asked = -1;
      server.behave(
        onlyFor('grip', (_request, reply) => {
          asked += 1;
          send(
            reply,
            200,
            searchset(asked === 0 ? SIX_TRIALS : [], page(links[asked % links.length] ?? 'a')),
          );
        }),
      );
      expect(cardsOf(await service.post(callOf(server)))).toHaveLength(1);
      expect(requestsFor('grip', server)).toHaveLength(requests);
      expect(service.last().asked.hook.hasMore).toBe(true);
    }
  });

  it('to ever new pages is followed to the tenth', async () => {
    let asked = 0;
    server.behave(
      onlyFor('grip', (_request, reply) => {
        asked += 1;
        send(
          reply,
          200,
          searchset(asked === 1 ? SIX_TRIALS : [], `${server.base}/Observation?83174-3&p=${asked}`),
        );
      }),
    );
    const reply = await service.post(callOf(server));
    expect(cardsOf(reply)[0]?.detail).toContain(SAID);
    expect(requestsFor('grip', server)).toHaveLength(10);
  });

  it.each([
    ['fails', (_request, reply) => send(reply, 500, outcome('exception'))],
    ['is no Bundle', holding(PATIENT)],
    ['is a failure', holding(searchset([outcome('exception')]))],
    ['leads elsewhere', (_request, reply) => reply.writeHead(302, { location: elsewhere.base }).end()],
  ] as readonly (readonly [string, Behaviour])[])(
    'to a page that %s: the pages before it are read, and it is said',
    async (_what, behaviour) => {
      server.behave((request, reply, honest) => {
        if (request.url?.includes('second')) behaviour(request, reply, honest);
        else paging(`${server.base}/Observation?second`)(request, reply, honest);
      });
      const reply = await service.post(callOf(server));
      expect([reply.status, cardsOf(reply)?.length]).toEqual([200, 1]);
      expect(trialsRead(service)).toHaveLength(6);
      expect(service.last().asked.hook.hasMore).toBe(true);
      expect(elsewhere.requests).toEqual([]);
      service.requireNoLeak(reply);
    },
  );

  it('to a page that is slow is not waited for: what came is read', async () => {
    const hurried = await openFetching({ GRIP_CDS_FHIR_SERVERS: server.base });
    open.push(hurried);
    server.behave(() => undefined);
    const grip = searchset(SIX_TRIALS, `${server.base}/Observation?second`);
    const prefetch = { patient: PATIENT, grip, height: null, measures: null, handedness: null };
    const reply = await hurried.post(callOf(server, prefetch));
    expect([reply.status, cardsOf(reply)?.length]).toEqual([200, 1]);
    expect(hurried.last().asked.hook.hasMore).toBe(true);
  });

  it('that comes with too many bytes in all ends the reading of every key', async () => {
    const padding = ' '.repeat(900_000);
    let asked = 0;
    server.behave((request, reply, honest) => {
      if (!isFor('grip', request) && !isFor('measures', request)) return honest();
      asked += 1;
      const next = `${server.base}${request.url?.replace(/^\/fhir|&p=.*$/g, '')}&p=${asked}`;
      const page = searchset(isFor('grip', request) && asked < 3 ? SIX_TRIALS : [], next);
      reply.writeHead(200, { 'content-type': 'application/fhir+json' }).end(JSON.stringify(page) + padding);
    });
    expect((await service.post(callOf(server))).status).toBe(200);
    // Nine whole answers of 0.9 MB come to less than 8 MiB; of two more a part may have been read.
    expect(asked).toBeLessThan(12);
    expect(service.last().asked.hook).toMatchObject({ hasMore: true, unread: ['measures'] });
  });
});
