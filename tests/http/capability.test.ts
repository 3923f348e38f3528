/** The CapabilityStatement says what the addresses really do, and nothing else (STANDARDS X3, X16, O6). */
import type {
  CapabilityStatement,
  CapabilityStatementRestResource,
  FhirResource,
  Resource,
} from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { judge } from '../profiles/judges.ts';
import { issuesOf, openForTests, resourcesOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
let statement: CapabilityStatement;
let resources: readonly CapabilityStatementRestResource[];

beforeAll(async () => {
  service = await openForTests();
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
  statement = (await service.get('/fhir/metadata')).body;
  resources = statement.rest?.[0]?.resource ?? [];
});
afterAll(() => service.close());

const send = (method: string, url: string, payload?: object) =>
  service.app.inject({ method: method as 'GET', url, ...(payload ? { payload } : {}) });

async function sampleOf(type: string): Promise<FhirResource> {
  const [sample] = resourcesOf(await service.get(`/fhir/${type}?_count=1`));
  if (!sample) throw new Error(`no ${type} is served`);
  return sample;
}

/** How each interaction that may be stated of a type is done (R4, RESTful API). */
const INTERACTIONS: Readonly<
  Record<string, (type: string, sample: FhirResource) => readonly [string, string]>
> = {
  read: (type, { id }) => ['GET', `${type}/${id}`],
  vread: (type, { id, meta }) => ['GET', `${type}/${id}/_history/${meta?.versionId}`],
  'search-type': (type) => ['GET', `${type}?_count=1`],
  create: (type) => ['POST', type],
  update: (type, { id }) => ['PUT', `${type}/${id}`],
  patch: (type, { id }) => ['PATCH', `${type}/${id}`],
  delete: (type, { id }) => ['DELETE', `${type}/${id}`],
  'history-instance': (type, { id }) => ['GET', `${type}/${id}/_history`],
  'history-type': (type) => ['GET', `${type}/_history`],
};

describe('the CapabilityStatement', () => {
  it('is valid R4 by three judges, and keeps the rules of an instance (X16)', () => {
    expect(judge(statement as Resource)).toEqual([]);
    expect(statement.kind).toBe('instance');
    expect(statement.implementation?.url).toBe('https://grip.example.org/fhir');
  });

  it('has an ETag that a client can ask with (X3)', async () => {
    const { headers } = await service.get('/fhir/metadata');
    const again = await service.get('/fhir/metadata', { 'if-none-match': headers.etag ?? '' });
    expect(again.status).toBe(304);
    expect(again.text).toBe('');
    expect((await service.get('/fhir/metadata', { 'if-none-match': 'W/"0"' })).status).toBe(200);
  });

  it('of every type states what is answered, and what is not stated is not', async () => {
    for (const { type, interaction = [] } of resources) {
      const sample = await sampleOf(type);
      const stated = interaction.map(({ code }) => code as string);
      for (const [code, requestOf] of Object.entries(INTERACTIONS)) {
        const [method, url] = requestOf(type, sample);
        const { statusCode } = await send(method, `/fhir/${url}`, method === 'GET' ? undefined : sample);
        if (stated.includes(code)) expect(statusCode, `${method} ${url}`).toBe(200);
        else expect([404, 405], `${method} ${url} ${statusCode}`).toContain(statusCode);
      }
    }
  });

  it('of every type states conditional read and versions, and they are so (X4, X5)', async () => {
    for (const stated of resources) {
      expect(stated).toMatchObject({
        versioning: 'versioned',
        conditionalRead: 'full-support',
        conditionalCreate: false,
        conditionalUpdate: false,
        conditionalDelete: 'not-supported',
        updateCreate: false,
        readHistory: false,
      });
      const { id, meta } = await sampleOf(stated.type);
      const url = `/fhir/${stated.type}/${id}`;
      const { headers } = await service.get(url);
      expect(headers.etag).toBe(`W/"${meta?.versionId}"`);
      for (const held of [
        { 'if-none-match': headers.etag ?? '' },
        { 'if-modified-since': headers['last-modified'] ?? '' },
      ]) {
        expect((await service.get(url, held)).status).toBe(304);
      }
    }
  });

  it('states every search parameter that is known, and no other', async () => {
    const common = (statement.rest?.[0]?.searchParam ?? []).map(({ name }) => name);
    for (const { type, searchParam = [] } of resources) {
      const stated = [...common, ...searchParam.map(({ name }) => name)];
      expect(new Set(stated).size).toBe(stated.length);
      for (const name of stated) {
        expect((await service.get(`/fhir/${type}?${name}:missing=true`)).status, `${type} ${name}`).toBe(200);
      }
      const unknown = issuesOf(await service.get(`/fhir/${type}?nothing-like-it=1`))[0]?.diagnostics ?? '';
      const known = (/known: (.*)$/.exec(unknown)?.[1] ?? '').split(', ');
      const ofTheReply = ['_count', '_sort', '_summary', '_elements', '_total', '_revinclude', '_page'];
      expect(known.filter((name) => !ofTheReply.includes(name)).sort()).toEqual([...stated].sort());
    }
  });

  it('states what _revinclude is for, and elsewhere it is refused', async () => {
    for (const { type, searchRevInclude = [], searchInclude = [] } of resources) {
      expect(searchInclude).toEqual([]);
      for (const value of searchRevInclude) {
        const reply = await service.get(`/fhir/${type}?_count=3&_revinclude=${value}`);
        expect(
          reply.body.entry.some((each: { search: { mode: string } }) => each.search.mode === 'include'),
        ).toBe(true);
      }
      if (searchRevInclude.length === 0) {
        expect((await service.get(`/fhir/${type}?_revinclude=Provenance:target`)).status).toBe(400);
      }
    }
    expect(resources.flatMap(({ searchRevInclude = [] }) => searchRevInclude)).toEqual(['Provenance:target']);
  });

  it('states the operations that are answered, each with a definition and profiles that are served here (O6)', async () => {
    const operations = resources.flatMap(({ type, operation = [] }) =>
      operation.map((each) => ({ type, ...each })),
    );
    expect(operations.map(({ type, name }) => `${type}/$${name}`)).toEqual(['Observation/$interpret-grip']);
    for (const { type, name, definition } of operations) {
      expect((await service.post(`/fhir/${type}/$${name}`, bundleOf(PATIENT, SIX_TRIALS))).status).toBe(200);
      const [found] = resourcesOf(await service.get(`/fhir/OperationDefinition?url=${definition}`));
      expect(found).toMatchObject({
        code: name,
        resource: [type],
        type: true,
        system: false,
        instance: false,
      });
    }
    for (const profile of resources.flatMap(({ supportedProfile = [] }) => supportedProfile)) {
      expect((await service.get(`/fhir/StructureDefinition?url=${profile}`)).body.total, profile).toBe(1);
    }
  });

  it('states the batch, and no other interaction of the whole (X12)', async () => {
    expect(statement.rest?.[0]?.interaction).toEqual([{ code: 'batch' }]);
    const batch = { resourceType: 'Bundle', type: 'batch', entry: [] };
    expect((await send('POST', '/fhir', batch)).statusCode).toBe(200);
    expect((await send('POST', '/fhir', { ...batch, type: 'transaction' })).statusCode).toBe(400);
  });

  it('states the formats that are written, and no other', async () => {
    for (const format of statement.format) {
      expect((await service.get(`/fhir/metadata?_format=${encodeURIComponent(format)}`)).status, format).toBe(
        200,
      );
    }
    for (const format of ['xml', 'ttl', 'application/fhir+xml', 'html']) {
      expect((await service.get(`/fhir/metadata?_format=${encodeURIComponent(format)}`)).status, format).toBe(
        406,
      );
    }
  });
});

describe('what it does not state', () => {
  it.each([
    ['GET', '/fhir?_id=1'],
    ['GET', '/fhir/?_type=Observation'],
    ['POST', '/fhir/_search'],
    ['GET', '/fhir/_history'],
    ['GET', '/fhir/$versions'],
    ['GET', '/fhir/Patient'],
    ['GET', '/fhir/Patient/invented-1'],
    ['GET', '/fhir/Patient/invented-1/Observation'],
    ['GET', '/fhir/Patient/invented-1/$everything'],
    ['POST', '/fhir/Observation/$validate'],
    ['POST', '/fhir/Observation/x/$interpret-grip'],
    ['POST', '/fhir/$interpret-grip'],
    ['GET', '/fhir/Observation/$interpret-grip'],
    ['GET', '/fhir/Observation/$lastn'],
    ['POST', '/fhir/ValueSet/$expand'],
    ['GET', '/fhir/CodeSystem/$lookup'],
    ['GET', '/fhir/CapabilityStatement'],
    ['GET', '/fhir/CapabilityStatement/grip-strength-cds'],
    ['GET', '/fhir/AuditEvent'],
    ['GET', '/fhir/Bundle'],
    ['GET', '/fhir/SearchParameter'],
    ['DELETE', '/fhir/Observation?patient=invented-1'],
    ['PUT', '/fhir/Observation?identifier=x'],
    ['PATCH', '/fhir/Observation?identifier=x'],
    ['PUT', '/fhir/Observation/new'],
  ])('%s %s is not answered, and says so with an OperationOutcome', async (method, url) => {
    const records = service.store.head().seq;
    const reply = await send(method, url);
    expect([404, 405]).toContain(reply.statusCode);
    expect(reply.json().resourceType).toBe('OperationOutcome');
    expect(service.store.head().seq).toBe(records);
  });
});
