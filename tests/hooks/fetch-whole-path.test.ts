/** A call without prefetch, all the way: the same card as with prefetch, on record, replayed; and who may have which server asked. */
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FhirResource } from 'fhir/r4.js';
import { Client } from 'fhir-kit-client';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import type { Card } from '../../src/hooks/cards.ts';
import { replay } from '../../src/replay.ts';
import { readEngine } from '../../src/service.ts';
import { callOf, type FetchingService, openFetching, UNHURRIED_MS } from '../fetching-service.ts';
import { type FhirServerForTests, openFhirServer } from '../fhir-server-for-tests.ts';
import { PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { HEIGHT, handedness, RIGHT_HANDED, WEIGHT } from '../measure-fixtures.ts';
import { cardsOf, codesOf, issuesOf } from '../service-for-tests.ts';

/** Invented, for these tests only. */
const WARD = 'ward-token-for-tests.1';
const CLINIC = 'clinic-token-for-tests.2';

const EARLIER = sitting([27, 28, 26], [25, 26, 25.5], { id: 'earlier', at: '2026-10-16T14:05:00Z' });
const RECORD: readonly FhirResource[] = [
  PATIENT,
  ...EARLIER,
  ...SIX_TRIALS,
  HEIGHT,
  WEIGHT,
  handedness(RIGHT_HANDED),
];

let server: FhirServerForTests;
beforeAll(async () => {
  server = await openFhirServer(RECORD, { pageSize: 5 });
});
afterEach(() => server.behave());
afterAll(() => server.close());

/** As a client of CDS Hooks 2.0 does it (A:L288): the text of the token replaced, the rest as it stands. */
async function prefetchBy(
  client: Client,
  templates: Record<string, string>,
): Promise<Record<string, FhirResource>> {
  const found: Record<string, FhirResource> = {};
  for (const [key, template] of Object.entries(templates)) {
    const query = template.replaceAll('{{context.patientId}}', PATIENT.id ?? '');
    found[key] = (await client.request(query, { method: 'GET' })) as unknown as FhirResource;
  }
  return found;
}

/** What a card says, without the id of its evaluation. */
const told = ({ summary, indicator, detail }: Card) => [
  summary,
  indicator,
  detail.replaceAll(/[0-9a-f-]{36}/g, 'id'),
];

describe('a call without prefetch', () => {
  let service: FetchingService;
  beforeAll(async () => {
    service = await openFetching({ GRIP_CDS_FHIR_SERVERS: server.base }, UNHURRIED_MS);
  });
  afterAll(() => service.close());

  it('P1, P7: is answered as with what a client of 2.0 fetches by the published templates', async () => {
    const discovery = await service.app.inject({ method: 'GET', url: '/cds-services' });
    const { prefetch: templates } = discovery
      .json()
      .services.find(({ id }: { id: string }) => id === 'grip-interpretation');
    const whole = await openFhirServer(RECORD);
    const client = new Client({ baseUrl: whole.base, bearerToken: whole.token });
    const prefetch = await prefetchBy(client, templates);
    expect(Object.keys(prefetch).sort()).toEqual(['grip', 'handedness', 'height', 'measures', 'patient']);
    // The client asked for the same things as the service does below.
    const asked = ({ requests }: FhirServerForTests) =>
      requests.map(({ url }) => [url.split('?')[0], [...new URLSearchParams(url.split('?')[1])]]);
    const theirs = asked(whole);
    await whole.close();

    const { fhirAuthorization: _, ...given } = callOf(server, prefetch);
    const withPrefetch = await service.post(given);
    const before = service.last();
    expect(withPrefetch.status, withPrefetch.text.slice(0, 300)).toBe(200);
    const without = await service.post(callOf(server));
    const after = service.last();
    expect(without.status, without.text.slice(0, 300)).toBe(200);
    expect(asked(server)).toEqual(expect.arrayContaining(theirs));

    expect(after.findings).toEqual(before.findings);
    expect(after.input).toEqual(before.input);
    expect(after.refusals).toEqual(before.refusals);
    expect(after.findings[0]?.changes.length).toBeGreaterThan(0);
    const [first] = cardsOf(withPrefetch);
    const [second] = cardsOf(without);
    if (!first || !second) throw new Error('no card');
    expect(told(second)).toEqual(told(first));
    expect(after.asked.hook).toEqual({
      ...(before.asked.hook as object),
      // Each call of these tests opens a port of its own.
      base: expect.stringMatching(/^http:\/\/127\.0\.0\.1:\d+$/),
      fetched: ['patient', 'grip', 'height', 'handedness', 'measures'],
    });
  });

  it('is on record so that its reply is written again to the byte', async () => {
    expect((await service.post(callOf(server))).status).toBe(200);
    const [stored] = service.store.records(service.store.head().seq);
    if (!stored) throw new Error('nothing is on record');
    const replayed = replay(stored, service.library, readEngine().version);
    expect(replayed).toEqual({ outcome: 'same', replyCompared: true });
  });

  it('P9: asks for five things at once, each with the token, and nothing twice', async () => {
    let together = 0;
    let most = 0;
    server.behave((_request, reply, honest) => {
      together += 1;
      most = Math.max(most, together);
      reply.once('finish', () => {
        together -= 1;
      });
      setTimeout(honest, 20);
    });
    expect((await service.post(callOf(server))).status).toBe(200);
    expect(most).toBe(5);
    const urls = server.requests.map(({ url }) => url);
    expect(new Set(urls).size).toBe(urls.length);
    for (const { headers } of server.requests) expect(headers.authorization).toBe(`Bearer ${server.token}`);
  });

  it('that many make at once is answered each from its own data', async () => {
    const replies = await Promise.all(Array.from({ length: 20 }, () => service.post(callOf(server))));
    const summaries = new Set(replies.map((reply) => cardsOf(reply)?.[0]?.summary));
    expect(replies.map(({ status }) => status)).toEqual(replies.map(() => 200));
    expect(summaries.size).toBe(1);
  });
});

describe('T13: the allow-list is that of the client', () => {
  const folder = mkdtempSync(join(tmpdir(), 'grip-fetch-clients-'));
  const file = join(folder, 'clients.json');
  const digest = (token: string) => createHash('sha256').update(token, 'utf8').digest('hex');
  afterAll(() => rmSync(folder, { recursive: true }));

  it('and of no other', async () => {
    const clients = [
      { name: 'ward-7', tokenSha256: digest(WARD), fhirServers: [server.base] },
      { name: 'clinic', tokenSha256: digest(CLINIC), fhirServers: [`${server.base}2`] },
    ];
    writeFileSync(file, JSON.stringify({ clients }));
    const service = await openFetching({ GRIP_CDS_CLIENTS: file }, UNHURRIED_MS);
    const clinic = await service.post(callOf(server), { authorization: `Bearer ${CLINIC}` });
    expect([clinic.status, codesOf(clinic)]).toEqual([412, ['PREFETCH_MISSING', 'PREFETCH_MISSING']]);
    expect(issuesOf(clinic)[0]?.diagnostics).toBe(
      'prefetch.patient was not prefetched, and this client may not have its fhirServer asked',
    );
    const nobody = await service.post(callOf(server));
    expect([nobody.status, server.requests]).toEqual([401, []]);
    const ward = await service.post(callOf(server), { authorization: `Bearer ${WARD}` });
    expect([ward.status, cardsOf(ward)?.length]).toEqual([200, 1]);
    expect(service.last().asked.client).toBe('ward-7');
    // What the ward showed for itself goes to no FHIR server.
    expect(JSON.stringify(server.requests)).not.toContain(WARD);
    service.requireNoLeak(clinic, nobody, ward);
    await service.close();
  });

  it('which is empty for open access unless it is set', async () => {
    const service = await openFetching({});
    const reply = await service.post(callOf(server));
    expect([reply.status, server.requests]).toEqual([412, []]);
    service.requireNoLeak(reply);
    await service.close();
  });
});
