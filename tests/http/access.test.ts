/** Who is let in (item 5; STANDARDS X3, X14): metadata and health answer anybody, everything else the clients of the deployment. */
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { observationsOf, openForTests, resourcesOf, type TestService } from '../service-for-tests.ts';

/** Invented, for these tests only. */
const WARD = 'ward-token-for-tests.1';
const CLINIC = 'clinic-token-for-tests.2';
const REVIEW = 'review-token-for-tests.3';
const folder = mkdtempSync(join(tmpdir(), 'grip-access-'));
const clientsFile = join(folder, 'clients.json');

let service: TestService;
beforeAll(async () => {
  const clients = [
    { name: 'ward-7', tokenSha256: digest(WARD) },
    { name: 'ward-7', tokenSha256: digest('the-next-token-of-the-ward') },
    { name: 'clinic', tokenSha256: digest(CLINIC) },
    { name: 'review', tokenSha256: digest(REVIEW), reads: 'all' },
  ];
  writeFileSync(clientsFile, JSON.stringify({ clients }));
  service = await openForTests(undefined, undefined, { clientsFile });
});
afterAll(async () => {
  await service.close();
  rmSync(folder, { recursive: true });
});

function digest(token: string): string {
  return createHash('sha256').update(token, 'utf8').digest('hex');
}

const bearer = (token: string) => ({ authorization: `Bearer ${token}` });
const send = (method: string, url: string, headers: Record<string, string> = {}, payload?: string) =>
  service.app.inject({
    method: method as 'GET',
    url,
    headers,
    ...(payload === undefined ? {} : { payload }),
  });
const ask = (token: string, trials: readonly Observation[] = SIX_TRIALS) =>
  service.post(FHIR_DOOR.path, bundleOf(PATIENT, trials), bearer(token));

/** Every address and method that the application knows, from the tree that it prints. */
function routes(): readonly (readonly [method: string, path: string])[] {
  const path: string[] = [];
  return service.app
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((line) => {
      const [, indent = '', part = '', methods = ''] =
        /^((?:│ {3}| {4})*)[├└]── (\S+)(?: \(([A-Z, ]+)\))?$/.exec(line) ?? [];
      if (!part) return [];
      path.length = indent.length / 4;
      path.push(part);
      const whole = path
        .join('')
        .replaceAll(/:id\([^)]*\)/g, 'some-id')
        .replaceAll(/:version\([^)]*\)/g, '1');
      return methods ? methods.split(', ').map((method) => [method, whole] as const) : [];
    });
}

const OPEN = ['/fhir/metadata', '/health/live', '/health/ready'];

describe('without credentials', () => {
  it.each(OPEN)('%s answers (X3)', async (path) => {
    for (const headers of [{}, bearer('wrong'), { authorization: 'nonsense' }]) {
      expect((await send('GET', path, headers)).statusCode).toBe(200);
      expect((await send('HEAD', path, headers)).statusCode).toBe(200);
    }
  });

  it('the statement says that the others ask for a token', async () => {
    const { body } = await service.get('/fhir/metadata');
    expect(body.rest[0].security.description).toBe(
      'Every FHIR address but metadata asks for a bearer token; a client reads what it filed itself, or all where the installation lets it.',
    );
  });

  it('every other address of every method is 401, in the same words (X14)', async () => {
    const known = routes();
    expect(known).toContainEqual(['POST', '/fhir/Observation/$interpret-grip']);
    expect(known).toContainEqual(['GET', '/fhir/Library/some-id/_history/1']);
    expect(known).toContainEqual(['GET', '/cds-services']);
    expect(known.length).toBeGreaterThan(60);
    const closed = known.filter(([, path]) => !OPEN.includes(path));
    expect(known.length - closed.length).toBe(2 * OPEN.length);
    for (const [method, path] of closed) {
      const reply = await send(method, path);
      expect(reply.statusCode, `${method} ${path}`).toBe(401);
      expect(reply.headers['www-authenticate']).toBe('Bearer');
      if (method === 'HEAD') continue;
      expect(reply.json()).toEqual({
        resourceType: 'OperationOutcome',
        issue: [
          {
            severity: 'error',
            code: 'login',
            details: {
              coding: [expect.objectContaining({ code: 'UNAUTHENTICATED' })],
              text: 'Valid credentials are required.',
            },
          },
        ],
      });
    }
  });

  it.each([
    ['GET', '/'],
    ['GET', '/fhir/Patient/1'],
    ['GET', '/fhir/nothing/like/it'],
    ['PUT', '/fhir/Observation/x'],
    ['DELETE', '/fhir/metadata'],
    ['POST', '/fhir/metadata'],
    ['OPTIONS', '/fhir/Observation'],
    ['GET', '/fhir/metadata/'],
    ['GET', '/fhir//metadata'],
    ['GET', '/FHIR/metadata'],
    ['GET', '/fhir/%zz'],
    ['GET', `/fhir/Observation/${'a'.repeat(300)}`],
    ['GET', '/health/ready/x'],
  ])('%s %s is no different, though nothing is there: it is not told apart', async (method, url) => {
    const [known, unknown] = [await send('GET', '/fhir/Observation'), await send(method, url)];
    expect(unknown.statusCode).toBe(401);
    expect(unknown.headers.allow).toBeUndefined();
    expect(unknown.headers['www-authenticate']).toBe('Bearer');
    expect(unknown.json()).toEqual(known.json());
  });

  it('a body is not read: neither a wrong one nor a large one changes the answer', async () => {
    for (const body of ['{', 'x'.repeat(2_000_000), JSON.stringify(bundleOf(PATIENT, SIX_TRIALS))]) {
      const reply = await send('POST', FHIR_DOOR.path, { 'content-type': 'application/json' }, body);
      expect(reply.statusCode).toBe(401);
    }
    expect(service.store.head().seq).toBe(0);
  });
});

describe('a token that is not right', () => {
  it.each([
    ['of nobody', 'Bearer somebody-elses'],
    ['empty', 'Bearer '],
    ['without its scheme', WARD],
    ['of another scheme', `Basic ${Buffer.from(`ward:${WARD}`).toString('base64')}`],
    ['cut short', `Bearer ${WARD.slice(0, -1)}`],
    ['with more behind it', `Bearer ${WARD}x`],
    ['in other letters', `Bearer ${WARD.toUpperCase()}`],
    ['twice', `Bearer ${WARD} ${WARD}`],
    ['two at once', `Bearer ${WARD}, Bearer ${CLINIC}`],
    ['that is the digest', `Bearer ${digest(WARD)}`],
    ['with a letter that no token has', `Bearer ${WARD}\u00e9`],
    ['that is the name', 'Bearer ward-7'],
    ['of ten thousand letters', `Bearer ${'a'.repeat(5_000)}`],
  ])('(%s) gets the same bytes as none', async (_what, authorization) => {
    const [none, wrong] = [
      await send('GET', '/fhir/Observation'),
      await send('GET', '/fhir/Observation', { authorization }),
    ];
    expect(wrong.statusCode).toBe(401);
    expect(wrong.payload).toBe(none.payload);
    const headersOf = ({ headers }: typeof none) => ({ ...headers, date: '' });
    expect(headersOf(wrong)).toEqual(headersOf(none));
  });

  it('is not taken from the query or the body', async () => {
    expect((await send('GET', `/fhir/Observation?access_token=${WARD}`)).statusCode).toBe(401);
    const form = { 'content-type': 'application/x-www-form-urlencoded' };
    expect((await send('POST', '/fhir/Observation/_search', form, `access_token=${WARD}`)).statusCode).toBe(
      401,
    );
  });
});

describe('a client that is let in', () => {
  it('is answered at both doors, and its name is on record, not its token', async () => {
    expect((await ask(WARD)).status).toBe(200);
    expect(service.last().content.asked.client).toBe('ward-7');
    const hook = await service.post(HOOK_DOOR.path, HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS), bearer(CLINIC));
    expect(hook.status).toBe(200);
    expect(service.last().content.asked.client).toBe('clinic');
    const log = service
      .all()
      .map(({ record }) => record)
      .join('');
    for (const secret of [WARD, CLINIC, digest(WARD), digest(CLINIC)]) expect(log).not.toContain(secret);
  });

  it.each(['bearer', 'BEARER', 'Bearer'])('may write the scheme as %s', async (scheme) => {
    expect((await send('GET', '/fhir/Observation', { authorization: `${scheme} ${WARD}` })).statusCode).toBe(
      200,
    );
  });

  it('is told of what is not there as such', async () => {
    expect((await send('GET', '/fhir/Patient/1', bearer(WARD))).statusCode).toBe(404);
    expect((await send('GET', '/fhir/%zz', bearer(WARD))).statusCode).toBe(404);
    const put = await send('PUT', '/fhir/Observation/x', bearer(WARD));
    expect([put.statusCode, put.headers.allow]).toEqual([405, 'GET, HEAD']);
  });

  it('with a new token is the same client: its results are its own still', async () => {
    const before = observationsOf(await ask(WARD));
    expect(observationsOf(await ask('the-next-token-of-the-ward'))).toEqual(before);
  });

  it('carries its credentials to the entries of a batch, and nobody else gets one (X12)', async () => {
    const batch = {
      resourceType: 'Bundle',
      type: 'batch',
      entry: [
        { request: { method: 'GET', url: 'Observation?_count=1' } },
        {
          request: { method: 'POST', url: 'Observation/$interpret-grip' },
          resource: bundleOf(PATIENT, SIX_TRIALS),
        },
        { request: { method: 'GET', url: 'metadata' } },
      ],
    };
    const reply = await service.post('/fhir', batch, bearer(CLINIC));
    expect(reply.body.entry.map((each: { response: { status: string } }) => each.response.status)).toEqual([
      '200',
      '200',
      '200',
    ]);
    expect(service.last().content.asked.client).toBe('clinic');
    expect((await service.post('/fhir', batch)).status).toBe(401);
    expect((await service.post('/fhir/', batch)).status).toBe(401);
  });
});

describe('two clients with the same reference of a patient and the same trials', () => {
  it('get results of their own: one does not say of the other that it was here', async () => {
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, id: `two-${trial.id}` }));
    const ward = await ask(WARD, trials);
    const clinic = await ask(CLINIC, trials);
    const ids = (reply: { body: unknown }) => new Set(observationsOf(reply).map(({ id }) => id));
    expect(ids(ward).size).toBeGreaterThan(4);
    expect(ids(clinic).size).toBe(ids(ward).size);
    expect([...ids(clinic)].filter((id) => ids(ward).has(id))).toEqual([]);
    expect(clinic.text).not.toContain('not filed again');
    expect(clinic.text).not.toContain(service.all().at(-2)?.id);
    const again = await ask(WARD, trials);
    expect(ids(again)).toEqual(ids(ward));
  });

  it("read and search their own only, with their Provenance; the software is everybody's", async () => {
    const ward = await ask(WARD, SIX_TRIALS);
    await ask(CLINIC, SIX_TRIALS);
    const own = observationsOf(ward).map(({ id }) => id);
    const search = async (token: string, query: string) =>
      resourcesOf({ body: (await send('GET', `/fhir/${query}`, bearer(token))).json() });
    const query = 'Observation?patient=invented-1&_count=100&_revinclude=Provenance:target';
    const ofWard = await search(WARD, query);
    const ofClinic = await search(CLINIC, query);
    const ofReview = await search(REVIEW, query);
    const ids = (resources: readonly { id?: string | undefined }[]) => new Set(resources.map(({ id }) => id));
    expect(own.every((id) => ids(ofWard).has(id) && !ids(ofClinic).has(id))).toBe(true);
    expect(ofReview.length).toBe(ofWard.length + ofClinic.length);
    expect(ids(ofReview)).toEqual(new Set([...ids(ofWard), ...ids(ofClinic)]));
    for (const { resourceType, id } of [ofWard[0], ofWard.at(-1)] as { resourceType: string; id: string }[]) {
      const status = async (token: string, more = '') =>
        (await send('GET', `/fhir/${resourceType}/${id}${more}`, bearer(token))).statusCode;
      expect([await status(WARD), await status(CLINIC), await status(CLINIC, '/_history/1')]).toEqual([
        200, 404, 404,
      ]);
      expect(await status(REVIEW)).toBe(200);
    }
    expect((await search(CLINIC, 'Device')).length).toBe(1);
    expect((await search(CLINIC, `Provenance?target=Observation/${own[0]}`)).length).toBe(0);
  });

  it("do not withdraw each other's results", async () => {
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, id: `mine-${trial.id}` }));
    await ask(WARD, trials);
    await ask(CLINIC, [{ ...(trials[0] as Observation), status: 'entered-in-error' }]);
    const found = await send('GET', '/fhir/Observation?derived-from=Observation/mine-trial-1', bearer(WARD));
    const statuses = observationsOf({ body: found.json() }).map(({ status }) => status);
    expect(new Set(statuses)).toEqual(new Set(['preliminary']));
  });
});
