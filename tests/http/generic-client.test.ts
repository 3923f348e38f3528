/** A FHIR client that nobody here wrote, over a real connection: what the service offers, done by it (STANDARDS 3.6). */
import type {
  Bundle,
  CapabilityStatement,
  FhirResource,
  Observation,
  OperationOutcome,
  Provenance,
} from 'fhir/r4.js';
import { CapabilityTool, Client } from 'fhir-kit-client';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, PATIENT, parametersOf, SIX_TRIALS, sitting } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

type Theirs = Awaited<ReturnType<Client['read']>>;
type Page = Parameters<Client['nextPage']>[0]['bundle'];

let service: TestService;
let client: Client;
let filed: readonly Observation[];

const ours = <T = FhirResource>(resource: Theirs): T => resource as unknown as T;
const theirs = (resource: FhirResource): Theirs => resource as unknown as Theirs;
const resourcesIn = (bundle: Theirs) =>
  (ours<Bundle<FhirResource>>(bundle).entry ?? []).flatMap(({ resource }) => resource ?? []);
const isObservation = (resource: FhirResource): resource is Observation =>
  resource.resourceType === 'Observation';
const headersOf = (resource: Theirs) => Client.httpFor(resource).response?.headers;

const interpret = (input: FhirResource) =>
  client.operation({ name: 'interpret-grip', resourceType: 'Observation', input: theirs(input) });

beforeAll(async () => {
  service = await openForTests(undefined, undefined, { publicUrl: null });
  const address = await service.app.listen({ host: '127.0.0.1', port: 0 });
  client = new Client({ baseUrl: `${address}/fhir` });
  // Sessions of seven days: more results than one page holds.
  const trials = [1, 2, 3, 4, 5, 6, 7].flatMap((day) =>
    sitting([31, 32, 30], [28, 29, 28.5], { id: `day-${day}`, at: `2026-11-0${day}T09:00:00Z` }),
  );
  filed = resourcesIn(await interpret(bundleOf(PATIENT, trials))).filter(isObservation);
});
afterAll(() => service.close());

/** What the client throws for a reply that is an error. */
interface Refusal {
  readonly status: number;
  readonly data: OperationOutcome;
}

async function refusalOf(call: Promise<Theirs>): Promise<Refusal> {
  try {
    await call;
  } catch (error) {
    return (error as { response: Refusal }).response;
  }
  throw new Error('the client was not refused');
}

async function walk(first: Theirs, step: (page: Page) => Promise<Theirs> | undefined): Promise<Theirs[]> {
  const pages = [first];
  for (let next = step(first as Page); next; next = step(pages.at(-1) as Page)) pages.push(await next);
  return pages;
}

const idsOf = (pages: readonly Theirs[]) =>
  pages.map((page) => resourcesIn(page).map((resource) => resource.id ?? ''));

describe('a generic FHIR client', () => {
  it('reads what the service can do (X3, X16)', async () => {
    const statement = await client.capabilityStatement();
    expect(ours<CapabilityStatement>(statement).fhirVersion).toBe('4.0.1');
    const tool = new CapabilityTool(statement);
    expect(tool.serverCan('batch')).toBe(true);
    expect(tool.serverCan('transaction')).toBe(false);
    for (const interaction of ['read', 'vread', 'search-type']) {
      expect(tool.resourceCan('Observation', interaction), interaction).toBe(true);
    }
    expect(tool.resourceCan('Observation', 'create')).toBe(false);
    expect(tool.resourceSearch('Observation', 'derived-from')).toBe(true);
    expect(tool.serverSearch('_lastUpdated')).toBe(true);
  });

  it('asks for an interpretation with a Bundle, and gets one (O1, O2, O3)', async () => {
    const answer = ours<Bundle>(await interpret(bundleOf(PATIENT, SIX_TRIALS)));
    expect(answer).toMatchObject({ resourceType: 'Bundle', type: 'collection' });
    expect(answer.entry?.at(-1)?.resource?.resourceType).toBe('OperationOutcome');
  });

  it('asks with Parameters, and gets the same results (O1)', async () => {
    const [byBundle, byParameters] = await Promise.all([
      interpret(bundleOf(PATIENT, SIX_TRIALS)),
      interpret(parametersOf(PATIENT, SIX_TRIALS)),
    ]);
    const results = (bundle: Theirs) => resourcesIn(bundle).filter(isObservation);
    expect(results(byParameters)).toEqual(results(byBundle));
    expect(results(byParameters).length).toBeGreaterThan(4);
  });

  it('reads and vreads each result as it was given out, with its ETag (X4)', async () => {
    for (const result of filed.slice(0, 5)) {
      const id = result.id ?? '';
      const read = await client.read({ resourceType: 'Observation', id });
      expect(read).toEqual(result);
      expect(headersOf(read)?.get('etag')).toBe('W/"1"');
      expect(headersOf(read)?.get('content-type')).toContain('application/fhir+json');
      expect(await client.vread({ resourceType: 'Observation', id, version: '1' })).toEqual(result);
    }
  });

  it('follows the references of a result to its Device and its summary', async () => {
    const result = filed.find(({ derivedFrom = [] }) =>
      filed.some(({ id }) => derivedFrom.some(({ reference }) => reference === `Observation/${id}`)),
    );
    const device = await client.resolve({ reference: result?.device?.reference ?? '' });
    expect(device.resourceType).toBe('Device');
    const summary = await client.resolve({ reference: result?.derivedFrom?.[0]?.reference ?? '' });
    expect(summary.resourceType).toBe('Observation');
  });

  it('follows a result to its Provenance, and that to the files of panel, set and rule (PV2)', async () => {
    const files = new Set<string>();
    for (const { id } of filed) {
      const [provenance, ...more] = resourcesIn(
        await client.search({ resourceType: 'Provenance', searchParams: { target: `Observation/${id}` } }),
      ) as Provenance[];
      expect(more).toEqual([]);
      for (const { what } of provenance?.entity ?? []) {
        if (what.reference?.startsWith('Library/')) files.add(what.reference);
      }
      for (const canonical of provenance?.policy ?? []) {
        const [url = '', version = ''] = canonical.split('|');
        const searchParams = { url, version, _elements: 'url' };
        const found = await client.search({ resourceType: 'Library', searchParams });
        expect(ours<Bundle>(found).total, canonical).toBe(1);
      }
    }
    expect(files.size).toBeGreaterThan(2);
    for (const reference of files) {
      expect((await client.resolve({ reference })).resourceType, reference).toBe('Library');
    }
  });

  it('searches by GET and by POST, with the same answer (X10)', async () => {
    const searchParams = { patient: PATIENT.id ?? '', date: 'ge2026-11-05', _count: 100 };
    const byGet = await client.search({ resourceType: 'Observation', searchParams });
    const byPost = await client.search({
      resourceType: 'Observation',
      searchParams,
      options: { postSearch: true },
    });
    expect(byPost).toEqual(byGet);
    const due = filed.filter(({ effectiveDateTime = '' }) => effectiveDateTime >= '2026-11-05');
    const late = resourcesIn(byGet).filter(({ id }) => filed.some((result) => result.id === id));
    expect(new Set(late.map(({ id }) => id))).toEqual(new Set(due.map(({ id }) => id)));
    expect(due.length).toBeLessThan(filed.length);
  });

  it.each([false, true])(
    'walks all pages there and back: every result once (X10), started by POST: %s',
    async (postSearch) => {
      const searchParams = { patient: PATIENT.id ?? '', date: 'lt2026-11-10', _count: 7 };
      const options = { postSearch };
      const first = await client.search({ resourceType: 'Observation', searchParams, options });
      const pages = await walk(first, (bundle) => client.nextPage({ bundle }));
      const ids = idsOf(pages);
      expect(pages.length).toBe(Math.ceil(filed.length / 7));
      expect(ids.flat()).toHaveLength(filed.length);
      expect(new Set(ids.flat())).toEqual(new Set(filed.map(({ id }) => id)));
      const back = await walk(pages.at(-1) as Theirs, (bundle) => client.prevPage({ bundle }));
      expect(idsOf(back)).toEqual([...ids].reverse());
    },
  );

  it('walks the pages of a search while results are filed: none twice, none missing (X10)', async () => {
    const searchParams = { patient: PATIENT.id ?? '', status: 'preliminary', _count: 10 };
    const first = await client.search({ resourceType: 'Observation', searchParams });
    const trials = sitting([20, 21, 22], [18, 18, 19], { id: 'later', at: '2026-11-24T09:00:00Z' });
    await interpret(bundleOf(PATIENT, trials));
    const ids = idsOf(await walk(first, (bundle) => client.nextPage({ bundle }))).flat();
    expect(new Set(ids).size).toBe(ids.length);
    expect(ids).toHaveLength(ours<Bundle>(first).total ?? -1);
    expect(ids.length).toBeGreaterThanOrEqual(filed.length);
  });

  it('sends a batch to the base address (X12)', async () => {
    const answer = ours<Bundle>(
      await client.batch({
        body: theirs({
          resourceType: 'Bundle',
          type: 'batch',
          entry: [
            { request: { method: 'GET', url: `Observation/${filed[0]?.id}` } },
            { request: { method: 'GET', url: 'Observation/nobody' } },
            {
              resource: bundleOf(PATIENT, SIX_TRIALS),
              request: { method: 'POST', url: 'Observation/$interpret-grip' },
            },
          ],
        }),
      }),
    );
    expect(answer.type).toBe('batch-response');
    expect(answer.entry?.map(({ response }) => response?.status)).toEqual(['200', '404', '200']);
    expect(answer.entry?.[0]?.resource).toEqual(filed[0]);
  });

  it.each(['StructureDefinition', 'Library', 'ValueSet', 'OperationDefinition', 'CodeSystem', 'ConceptMap'])(
    'finds each %s by search, and reads it (item 1)',
    async (resourceType) => {
      const found = resourcesIn(
        await client.search({ resourceType, searchParams: { _elements: 'id', _count: 100 } }),
      );
      expect(found.length).toBeGreaterThan(0);
      for (const { id = '' } of found.slice(0, 5)) {
        const read = await client.read({ resourceType, id });
        expect(read).toMatchObject({ resourceType, id, version: expect.any(String) });
      }
    },
  );

  it('reads the definition of the operation from where the CapabilityStatement says (O6)', async () => {
    const statement = ours<CapabilityStatement>(await client.capabilityStatement());
    const url =
      statement.rest?.[0]?.resource?.find(({ type }) => type === 'Observation')?.operation?.[0]?.definition ??
      '';
    const found = await client.search({ resourceType: 'OperationDefinition', searchParams: { url } });
    expect(resourcesIn(found)).toMatchObject([{ url, code: 'interpret-grip', kind: 'operation' }]);
  });
});

describe('a generic FHIR client, refused,', () => {
  const unknown = { resourceType: 'Observation', id: 'nobody' };
  it.each<[string, number, string, () => Promise<Theirs>]>([
    ['a read of what is not there', 404, 'not-found', () => client.read(unknown)],
    ['a version that is not there', 404, 'not-found', () => client.vread({ ...unknown, version: '9' })],
    ['a create', 405, 'not-supported', () => client.create({ ...unknown, body: theirs(PATIENT) })],
    ['an update', 405, 'not-supported', () => client.update({ ...unknown, body: theirs(PATIENT) })],
    ['a delete', 405, 'not-supported', () => client.delete(unknown)],
    [
      'a patch',
      405,
      'not-supported',
      () => client.patch({ ...unknown, jsonPatch: [{ op: 'remove', path: '/status' }] }),
    ],
    ['the history of all', 404, 'not-found', () => client.systemHistory()],
    [
      'a transaction',
      400,
      'structure',
      () => client.transaction({ body: theirs({ resourceType: 'Bundle', type: 'transaction' }) }),
    ],
    [
      'an unknown search parameter',
      400,
      'value',
      () => client.search({ resourceType: 'Observation', searchParams: { encounter: '1' } }),
    ],
    [
      'an operation without data',
      400,
      'structure',
      () => interpret(theirs(PATIENT) as unknown as FhirResource),
    ],
  ])('is told of %s with %i and an OperationOutcome (X13)', async (_what, status, code, call) => {
    const refusal = await refusalOf(call());
    expect(refusal.status).toBe(status);
    expect(refusal.data).toMatchObject({
      resourceType: 'OperationOutcome',
      issue: [{ severity: 'error', code }],
    });
  });
});
