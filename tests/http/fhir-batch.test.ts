/** `POST /fhir` with a batch: each entry as if it had come alone (STANDARDS X12). */
import type {
  Bundle,
  BundleEntry,
  BundleEntryRequest,
  FhirResource,
  Observation,
  Resource,
} from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { judge } from '../profiles/judges.ts';
import { codesOf, issuesOf, observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
let result: Observation;
beforeAll(async () => {
  service = await openForTests();
  const [first] = observationsOf(await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS)));
  result = first as Observation;
});
afterAll(() => service.close());

type Entry = Omit<BundleEntry, 'request'> & { request?: Partial<BundleEntryRequest> };

const batchOf = (entry: readonly unknown[], type = 'batch') => ({ resourceType: 'Bundle', type, entry });
const send = (entry: readonly unknown[], headers = {}) => service.post('/fhir', batchOf(entry), headers);
const get = (url: string, more: Partial<BundleEntryRequest> = {}): Entry => ({
  request: { method: 'GET', url, ...more },
});
const post = (url: string, resource?: FhirResource): Entry => ({
  request: { method: 'POST', url },
  ...(resource ? { resource } : {}),
});
const OPERATION = 'Observation/$interpret-grip';

async function answers(entry: readonly unknown[], headers = {}): Promise<BundleEntry<FhirResource>[]> {
  const reply = await send(entry, headers);
  expect(reply.status, JSON.stringify(reply.body.issue ?? '')).toBe(200);
  expect(reply.body).toMatchObject({ resourceType: 'Bundle', type: 'batch-response' });
  expect(reply.body.entry).toHaveLength(entry.length);
  return (reply.body as Bundle<FhirResource>).entry ?? [];
}

const statuses = (entries: readonly BundleEntry[]) => entries.map(({ response }) => response?.status);

function personOf(index: number): { patient: typeof PATIENT; trials: Observation[] } {
  const subject = { reference: `Patient/batch-${index}` };
  return {
    patient: { ...PATIENT, id: `batch-${index}` },
    trials: SIX_TRIALS.map((trial) => ({ ...trial, id: `batch-${index}-${trial.id}`, subject })),
  };
}

describe('a batch', () => {
  it('answers every entry in its order, with a status each, whatever becomes of the others', async () => {
    const { patient, trials } = personOf(1);
    const entries = await answers([
      get(`Observation/${result.id}`),
      get('Observation/nobody'),
      post(OPERATION, bundleOf(patient, trials)),
      post(OPERATION, { ...PATIENT }),
      get('Observation?patient=batch-1&_count=3'),
      get('Observation?date=rubbish'),
      get('metadata'),
      { request: { method: 'DELETE', url: `Observation/${result.id}` } },
      { request: { method: 'PUT', url: `Observation/${result.id}` }, resource: result },
      get(`Observation/${result.id}/_history/1`),
      { request: { method: 'HEAD', url: `Observation/${result.id}` } },
      post('Observation/_search?patient=batch-1&_count=3'),
      get('Patient/1'),
    ]);
    expect(statuses(entries)).toEqual('200 404 200 400 200 400 200 405 405 200 200 200 404'.split(' '));
    expect(entries[0]).toEqual({
      resource: result,
      response: { status: '200', etag: 'W/"1"', lastModified: '2026-11-25T12:00:00.000Z' },
    });
    expect(entries[9]?.resource).toEqual(result);
    expect(entries[10]).not.toHaveProperty('resource');
    // What an entry filed, the next ones find.
    const found = entries[4]?.resource as Bundle | undefined;
    expect(found?.total).toBeGreaterThan(4);
    expect(entries[11]?.resource).toEqual(found);
    for (const { resource, response } of entries) {
      const isError = Number(response?.status) >= 400;
      expect(response?.outcome?.resourceType).toBe(isError ? 'OperationOutcome' : undefined);
      if (isError) expect(resource).toBeUndefined();
    }
    expect(await service.get(`/fhir/Observation/${result.id}`)).toMatchObject({ status: 200, body: result });
  });

  it('has an answer that three judges find valid R4', async () => {
    const { body } = await send([
      get(`Observation/${result.id}`),
      get('Observation?_count=2'),
      get('Nothing/1'),
    ]);
    expect(judge(body as Resource)).toEqual([]);
  });

  it('gives each entry what it would have had alone, byte for byte', async () => {
    const urls = [
      `Observation/${result.id}`,
      'Observation?_count=5&code=mean-per-hand',
      'Library?_count=1',
      'metadata',
    ];
    const entries = await answers(urls.map((url) => get(url)));
    for (const [index, url] of urls.entries()) {
      const alone = await service.get(`/fhir/${url}`);
      expect(JSON.stringify(entries[index]?.resource)).toBe(alone.text);
    }
  });

  it('records every operation on its own, with its own answer', async () => {
    const before = service.store.head().seq;
    const people = [11, 12, 13].map(personOf);
    await answers(people.map(({ patient, trials }) => post(OPERATION, bundleOf(patient, trials))));
    const records = service.all().slice(before);
    expect(records.map(({ patient }) => patient)).toEqual(
      people.map(({ patient }) => `Patient/${patient.id}`),
    );
    expect(new Set(records.map(({ id }) => id)).size).toBe(3);
    expect(new Set(records.map(({ content }) => content.returned.sha256)).size).toBe(3);
    expect(service.verify().firstFault).toBeNull();
  });

  it('files the same request once, sent twice in it', async () => {
    const { patient, trials } = personOf(20);
    const call = post(OPERATION, bundleOf(patient, trials));
    const [first, second] = await answers([call, call]);
    const results = (entry?: BundleEntry<FhirResource>) => observationsOf({ body: entry?.resource });
    expect(results(second)).toEqual(results(first));
    expect((await service.get('/fhir/Observation?patient=batch-20')).body.total).toBe(results(first).length);
  });

  it('does a conditional read: 304 without the resource (X5)', async () => {
    const url = `Observation/${result.id}`;
    const entries = await answers([
      get(url, { ifNoneMatch: 'W/"1"' }),
      get(url, { ifNoneMatch: 'W/"2"' }),
      get(url, { ifModifiedSince: '2026-11-25T12:00:00Z' }),
      get(url, { ifModifiedSince: '2026-11-25T13:59:59+02:00' }),
    ]);
    expect(statuses(entries)).toEqual(['304', '200', '304', '200']);
    expect(entries[0]).toEqual({
      response: { status: '304', etag: 'W/"1"', lastModified: '2026-11-25T12:00:00.000Z' },
    });
  });

  it('takes entries with a fullUrl, and links beside them, and is empty where it is empty', async () => {
    const entry = {
      fullUrl: 'urn:uuid:2f1e0a53-9a1a-4a7e-8b1e-1d3f5a7b9c11',
      ...get(`Observation/${result.id}`),
    };
    expect(statuses(await answers([entry]))).toEqual(['200']);
    expect(await answers([])).toEqual([]);
    const bare = await service.post('/fhir', { resourceType: 'Bundle', type: 'batch' });
    expect(bare.status).toBe(200);
  });

  it('is answered in the form that the batch asks for', async () => {
    const reply = await service.post('/fhir?_format=json&_pretty=true', batchOf([get('metadata')]), {
      accept: 'text/html',
    });
    expect(reply.status).toBe(200);
    expect(reply.text).toContain('\n  "');
    const refused = await send([get('metadata')], { accept: 'application/fhir+xml' });
    expect(refused.status).toBe(406);
  });

  it('does nothing at all when its answer cannot be in the form asked for', async () => {
    const before = service.store.head().seq;
    const { patient, trials } = personOf(30);
    const entry = [post(OPERATION, bundleOf(patient, trials))];
    expect((await send(entry, { accept: 'application/fhir+xml' })).status).toBe(406);
    expect(service.store.head().seq).toBe(before);
  });

  it('holds no entry that is larger than it may be alone: that one is 413, the others are done', async () => {
    const large = { ...PATIENT, name: [{ text: 'x'.repeat(300_000) }] };
    const entries = await answers([post(OPERATION, bundleOf(large, SIX_TRIALS)), get('metadata')]);
    expect(statuses(entries)).toEqual(['413', '200']);
  });
});

describe('a batch that is refused whole, with nothing done,', () => {
  const valid = () => {
    const { patient, trials } = personOf(40);
    return post(OPERATION, bundleOf(patient, trials));
  };
  it.each<[string, readonly unknown[]]>([
    ['an entry without a request', [{ resource: PATIENT }]],
    ['an entry that is null', [null]],
    ['a method that is not one', [{ request: { method: 'TRACE', url: 'metadata' } }]],
    ['a request without an address', [{ request: { method: 'GET' } }]],
    ['an empty address', [get('')]],
    ['a batch in the batch', [post('', batchOf([]) as Bundle)]],
    ['a header with a line end', [get('metadata', { ifNoneMatch: 'x\r\nauthorization: y' })]],
    ['a time that is none', [get('metadata', { ifModifiedSince: '2026' })]],
    ['51 entries', Array.from({ length: 51 }, () => get('metadata'))],
  ])('has %s', async (_what, entry) => {
    const before = service.store.head().seq;
    const reply = await send(entry.length > 50 ? entry : [valid(), ...entry]);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)[0]).toBe('BODY_INVALID');
    expect(issuesOf(reply)[0]?.expression?.[0]).toMatch(/^Bundle\.entry/);
    expect(reply.text).not.toMatch(/evil|passwd|authorization/);
    expect(service.store.head().seq).toBe(before);
  });

  it.each<[string, readonly unknown[]]>([
    ['an absolute address', [get('http://evil.example/fhir/Observation/1')]],
    ['an absolute address of this service', [get('https://grip.example.org/fhir/metadata')]],
    ['an address with another scheme', [get('file:///etc/passwd')]],
    ['an address from the root', [get('/health/ready')]],
    ['two slashes', [get('//evil.example/fhir/x')]],
    ['a backslash', [get('\\\\evil.example\\fhir\\x')]],
    ['a way out', [get('../health/ready')]],
    ['a way out in the middle', [get('Observation/../../health/ready')]],
    ['an encoded way out', [get('%2e%2e/health/ready')]],
    ['a way out after a tab', [get('\t//evil.example/fhir/x')]],
    ['a batch in the batch, with a query', [post('?_format=json', batchOf([]) as Bundle)]],
    ['a batch in the batch, by a detour', [post('Observation/..', batchOf([]) as Bundle)]],
    ['a batch in the batch, by another', [post('../fhir', batchOf([]) as Bundle)]],
  ])('is done but for the entry that has %s', async (_what, entry) => {
    const before = service.store.head().seq;
    const reply = await send([get('metadata'), ...entry, valid()]);
    expect(reply.status).toBe(200);
    expect(statuses(reply.body.entry)).toEqual(['200', '400', '200']);
    const { outcome } = reply.body.entry[1].response;
    expect(outcome.issue[0].details.coding[0].code).toBe('BODY_INVALID');
    expect(outcome.issue[0].diagnostics).toContain('must be relative to the FHIR base');
    expect(JSON.stringify(reply.body.entry[1])).not.toMatch(/evil|passwd|ready/);
    expect(service.store.head().seq).toBe(before + 1);
  });

  it('of fifty entries is the largest that is done', async () => {
    const entries = await answers(Array.from({ length: 50 }, () => get('Observation/nobody')));
    expect(new Set(statuses(entries))).toEqual(new Set(['404']));
  });

  it.each([
    'transaction',
    'collection',
    'searchset',
    'history',
    'batch-response',
    'document',
    'message',
    undefined,
  ])('is of type %s', async (type) => {
    const reply = await service.post('/fhir', { ...batchOf([get('metadata')]), type });
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual(['Bundle.type']);
  });

  it('is no Bundle, or not JSON', async () => {
    expect((await service.post('/fhir', PATIENT)).status).toBe(400);
    expect((await service.post('/fhir', '<Bundle/>')).status).toBe(400);
    expect(
      (await service.post('/fhir', '<Bundle/>', { 'content-type': 'application/fhir+xml' })).status,
    ).toBe(415);
  });
});
