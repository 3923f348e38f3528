/** Clients in a browser (STANDARDS T11): pages of listed origins may read every answer, the refusals too; others none. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import {
  bearer,
  claimsOf,
  clientWith,
  newSigner,
  openWithClients,
  type ServiceWithClients,
  type Signer,
  sign,
} from '../trust/sign-for-tests.ts';

const OURS = 'https://ehr.alder-reach.example';
const ALSO_OURS = 'http://localhost:3000';
const corsOrigins = [OURS, ALSO_OURS];

/** Origins that look like ours, as browsers and others write them. */
const FOREIGN = [
  'https://evil.example',
  `${OURS}.evil.example`,
  `${OURS}:8443`,
  `${OURS}/`,
  'http://ehr.alder-reach.example',
  'HTTPS://EHR.ALDER-REACH.EXAMPLE',
  'http://localhost',
  'http://localhost:30001',
  'null',
  '*',
  '',
  `${OURS}, ${ALSO_OURS}`,
];

let signer: Signer;
let service: ServiceWithClients;
let off: TestService;
beforeAll(async () => {
  signer = await newSigner();
  service = await openWithClients([clientWith([signer])], { config: { corsOrigins } });
  off = await openForTests();
});
afterAll(async () => {
  await service.close();
  await off.close();
});

const preflight = (of: TestService, url: string, origin: string, method = 'POST') =>
  of.app.inject({
    method: 'OPTIONS',
    url,
    headers: {
      origin,
      'access-control-request-method': method,
      'access-control-request-headers': 'authorization,content-type',
    },
  });
const corsHeaders = (headers: Record<string, unknown>) =>
  Object.keys(headers).filter((name) => name.startsWith('access-control-'));
const listed = (value: unknown) =>
  String(value)
    .split(',')
    .map((each) => each.trim().toLowerCase());

const ADDRESSES = [
  ['GET', '/cds-services'],
  ['POST', HOOK_DOOR.path],
  ['POST', `${HOOK_DOOR.path}/feedback`],
  ['GET', '/fhir/Observation'],
  ['POST', FHIR_DOOR.path],
  ['GET', '/fhir/metadata'],
] as const;

describe('the question beforehand (preflight)', () => {
  it.each(ADDRESSES)('T11: for %s %s is answered without credentials', async (method, path) => {
    for (const origin of corsOrigins) {
      const { statusCode, headers, payload } = await preflight(service, path, origin, method);
      expect([statusCode, payload]).toEqual([204, '']);
      expect(headers['access-control-allow-origin']).toBe(origin);
      expect(listed(headers['access-control-allow-methods'])).toContain(method.toLowerCase());
      const allowed = listed(headers['access-control-allow-headers']);
      for (const name of ['authorization', 'content-type', 'accept']) expect(allowed).toContain(name);
      expect(headers['access-control-allow-credentials']).toBeUndefined();
      expect(Number(headers['access-control-max-age'])).toBeGreaterThan(0);
      expect(listed(headers.vary)).toContain('origin');
    }
  });

  it.each(FOREIGN)('T11: of the origin %j gets no header of this kind, and no answer', async (origin) => {
    for (const [method, path] of ADDRESSES) {
      const { statusCode, headers } = await preflight(service, path, origin, method);
      expect(statusCode).toBe(401);
      expect(corsHeaders(headers)).toEqual([]);
      expect(listed(headers.vary)).toContain('origin');
    }
  });

  it('T11: lets nothing else through: a method or a header that is not read is not allowed', async () => {
    const { headers } = await preflight(service, '/cds-services', OURS);
    expect(listed(headers['access-control-allow-methods']).sort()).toEqual(['get', 'head', 'post']);
    expect(listed(headers['access-control-allow-headers'])).not.toContain('*');
    expect(listed(headers['access-control-allow-headers'])).not.toContain('cookie');
  });

  it('T11: is refused like any other method where no origins are listed', async () => {
    for (const [method, path] of ADDRESSES) {
      const { statusCode, headers } = await preflight(off, path, OURS, method);
      expect(statusCode).toBeGreaterThanOrEqual(404);
      expect(corsHeaders(headers)).toEqual([]);
      expect(headers.vary).toBeUndefined();
    }
  });
});

describe('an answer', () => {
  const discover = async (origin: string | undefined) => {
    const token = await sign(signer, { claims: claimsOf('/cds-services') });
    const headers = { ...bearer(token), ...(origin === undefined ? {} : { origin }) };
    return service.app.inject({ url: '/cds-services', headers });
  };

  it('T11: to a listed origin may be read by its page; to another, or none, it is the same without the header', async () => {
    const ours = await discover(OURS);
    expect(ours.statusCode).toBe(200);
    expect(ours.headers['access-control-allow-origin']).toBe(OURS);
    expect(ours.headers['access-control-allow-credentials']).toBeUndefined();
    expect(listed(ours.headers['access-control-expose-headers'])).toContain('www-authenticate');
    for (const origin of [...FOREIGN, undefined]) {
      const reply = await discover(origin);
      expect(corsHeaders(reply.headers)).toEqual([]);
      expect(listed(reply.headers.vary)).toContain('origin');
      expect(reply.payload).toBe(ours.payload);
    }
  });

  it('T11: that is a refusal may be read too (401, 404, 405, 412, 413, 415, 400)', async () => {
    const type = { 'content-type': 'application/json' };
    const lacking = JSON.stringify({ ...HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS), prefetch: {} });
    const replies: readonly (readonly [number, string, string, Record<string, string>, string?])[] = [
      [401, 'POST', HOOK_DOOR.path, type, '{}'],
      [401, 'GET', '/fhir/Observation', {}],
      [401, 'GET', '/no/such/address', {}],
      [404, 'POST', '/cds-services/none', { ...type, signed: 'yes' }, '{}'],
      [405, 'GET', HOOK_DOOR.path, { signed: 'yes' }],
      [412, 'POST', HOOK_DOOR.path, { ...type, signed: 'yes' }, lacking],
      [413, 'POST', HOOK_DOOR.path, { ...type, signed: 'yes' }, `"${'x'.repeat(2_000_000)}"`],
      [415, 'POST', HOOK_DOOR.path, { 'content-type': 'text/plain', signed: 'yes' }, 'x'],
      [400, 'POST', HOOK_DOOR.path, { ...type, signed: 'yes' }, '{'],
    ];
    for (const [status, method, url, { signed, ...given }, payload] of replies) {
      const token = signed ? bearer(await sign(signer, { claims: claimsOf(url) })) : {};
      const headers = { ...given, ...token, origin: OURS };
      const reply = await service.app.inject({
        method: method as 'GET',
        url,
        headers,
        ...(payload === undefined ? {} : { payload }),
      });
      expect([reply.statusCode, reply.headers['access-control-allow-origin']], url).toEqual([status, OURS]);
      expect(reply.json().resourceType).toBe('OperationOutcome');
    }
  });

  it('T11: of the FHIR door may be read as well', async () => {
    const open = await openForTests(undefined, undefined, { corsOrigins });
    const reply = await open.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS), { origin: OURS });
    expect([reply.status, reply.headers['access-control-allow-origin']]).toEqual([200, OURS]);
    const foreign = await open.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS), {
      origin: FOREIGN[0] as string,
    });
    expect([foreign.status, foreign.headers['access-control-allow-origin']]).toEqual([200, undefined]);
    await open.close();
  });

  it('T11: says nothing of origins where none are listed', async () => {
    const reply = await off.get('/cds-services', { origin: OURS });
    expect(reply.status).toBe(200);
    expect(corsHeaders(reply.headers)).toEqual([]);
    expect(reply.headers.vary).toBeUndefined();
  });

  it('T11: does not depend on the origin in what it does: a page that may not read cannot be told from no page', async () => {
    const statuses = await Promise.all(
      [OURS, ...FOREIGN].map(async (origin) => (await service.get('/cds-services', { origin })).status),
    );
    expect(new Set(statuses)).toEqual(new Set([401]));
  });
});
