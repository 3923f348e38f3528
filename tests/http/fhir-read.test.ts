/** Read and vread at the FHIR door: media types, conditional read, parts of a resource, and errors (STANDARDS X1 to X5, X8, X11, X13). */
import type { FhirResource, Observation, OperationOutcome, Resource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { OFFERED_TYPES } from '../../src/fhir/offered.ts';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { judge } from '../profiles/judges.ts';
import {
  codesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

const FHIR_JSON = 'application/fhir+json; charset=utf-8';
const FHIR_JSON_R4 = 'application/fhir+json; fhirVersion=4.0; charset=utf-8';
const PLAIN_JSON = 'application/json; charset=utf-8';

let service: TestService;
let result: Observation;
let path: string;
/** One of each type that is served. */
let samples: readonly FhirResource[];

beforeAll(async () => {
  service = await openForTests();
  const filed = observationsOf(await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS)));
  result = filed.find(({ component }) => component) as Observation;
  path = `/fhir/Observation/${result.id}`;
  const pages = await Promise.all(OFFERED_TYPES.map((type) => service.get(`/fhir/${type}?_count=1`)));
  samples = [...pages.flatMap(resourcesOf), result];
});
afterAll(() => service.close());

const send = (method: string, url: string, headers: Record<string, string> = {}, payload?: string) =>
  service.app.inject({
    method: method as 'GET',
    url,
    headers,
    ...(payload === undefined ? {} : { payload }),
  });

describe('the media type of a read', () => {
  it.each([
    ['', '', FHIR_JSON],
    ['', 'application/json', PLAIN_JSON],
    ['', 'application/fhir+json;fhirVersion=4.0', FHIR_JSON_R4],
    ['?_format=json', 'text/html', FHIR_JSON],
    ['?_format=text/json', 'text/html', FHIR_JSON],
    ['?_format=application/json', 'application/fhir+json', PLAIN_JSON],
    ['?_format=application/fhir+json', 'text/html', FHIR_JSON],
    ['?_format=application/fhir%2Bjson', 'text/html', FHIR_JSON],
    ['?_format=application/fhir%2Bjson;fhirVersion=4.0', 'text/html', FHIR_JSON_R4],
    ['?_format=application/json%2Bfhir', 'text/html', FHIR_JSON],
  ])('with %j and Accept %j is as asked (X1, X2)', async (query, accept, type) => {
    const reply = await service.get(`${path}${query}`, { accept });
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toBe(type);
    expect(reply.body).toEqual(result);
  });

  it.each([
    ['?_format=xml', '*/*'],
    ['?_format=application/fhir%2Bxml', '*/*'],
    ['?_format=ttl', '*/*'],
    ['?_format=', '*/*'],
    ['?_format=*/*', '*/*'],
    ['?_format=application/fhir%2Bjson;fhirVersion=5.0', '*/*'],
    ['', 'application/fhir+xml'],
    ['', 'application/fhir+json;fhirVersion=3.0'],
    ['', 'text/html,application/xml;q=0.9'],
  ])('with %j and Accept %j is none: 406 (X2)', async (query, accept) => {
    for (const url of [
      `${path}${query}`,
      `/fhir/Observation${query}`,
      `/fhir/metadata${query}`,
      `${path}/_history/1${query}`,
    ]) {
      const reply = await service.get(url, { accept });
      expect(reply.status, url).toBe(406);
      expect(codesOf(reply)).toEqual(['NOT_ACCEPTABLE']);
    }
  });

  it('is easy to read with _pretty=true, and the same data', async () => {
    const reply = await service.get(`${path}?_pretty=true`);
    expect(reply.text).toBe(JSON.stringify(result, null, 2));
    expect((await service.get(`${path}?_pretty=false`)).text).toBe(JSON.stringify(result));
  });
});

describe('a conditional read (X5)', () => {
  it('has an ETag with the version, and the time of the last change (X4)', async () => {
    const { headers } = await service.get(path);
    expect(headers.etag).toBe('W/"1"');
    expect(headers['last-modified']).toBe('Wed, 25 Nov 2026 12:00:00 GMT');
  });

  it.each([
    ['if-none-match', 'W/"1"', 304],
    ['if-none-match', '"1"', 304],
    ['if-none-match', '*', 304],
    ['if-none-match', 'W/"7", W/"1"', 304],
    ['if-none-match', 'W/"2"', 200],
    ['if-none-match', 'W/"11"', 200],
    ['if-none-match', '1', 200],
    ['if-none-match', '', 200],
    ['if-modified-since', 'Wed, 25 Nov 2026 12:00:00 GMT', 304],
    ['if-modified-since', 'Wed, 25 Nov 2026 11:59:59 GMT', 200],
    ['if-modified-since', 'yesterday', 200],
  ])('with %s: %s is %i', async (header, value, status) => {
    for (const url of [path, `${path}/_history/1`]) {
      const reply = await service.get(url, { [header]: value });
      expect(reply.status).toBe(status);
      expect(reply.headers.etag).toBe('W/"1"');
      expect(reply.text).toBe(status === 304 ? '' : JSON.stringify(result));
    }
  });

  it('lets If-None-Match go before If-Modified-Since', async () => {
    const since = { 'if-modified-since': 'Wed, 25 Nov 2026 12:00:00 GMT' };
    expect((await service.get(path, { ...since, 'if-none-match': 'W/"2"' })).status).toBe(200);
  });

  it('of a part is never 304: who holds the part does not hold the whole', async () => {
    expect((await service.get(`${path}?_elements=code`, { 'if-none-match': 'W/"1"' })).status).toBe(200);
  });

  it('of a definition follows from its content', async () => {
    const { headers } = await service.get('/fhir/StructureDefinition/grip-trial');
    const again = await service.get('/fhir/StructureDefinition/grip-trial', {
      'if-none-match': headers.etag ?? '',
    });
    expect(again.status).toBe(304);
    const version = /"(\d+)"/.exec(headers.etag ?? '')?.[1];
    expect((await service.get(`/fhir/StructureDefinition/grip-trial/_history/${version}`)).status).toBe(200);
  });

  it('HEAD has the headers of GET and no body', async () => {
    for (const url of [path, `${path}/_history/1`, '/fhir/Observation?_count=1', '/fhir/metadata']) {
      const [get, head] = [await send('GET', url), await send('HEAD', url)];
      expect(head.statusCode, url).toBe(200);
      expect(head.payload).toBe('');
      for (const name of ['etag', 'content-type', 'last-modified', 'content-length']) {
        expect(head.headers[name], `${url} ${name}`).toBe(get.headers[name]);
      }
    }
    expect((await send('HEAD', '/fhir/Observation/nobody')).statusCode).toBe(404);
  });
});

describe('part of a resource (X11)', () => {
  const subsetted = {
    system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue',
    code: 'SUBSETTED',
  };
  const part = async (query: string) => (await service.get(`${path}?${query}`)).body as Observation;

  it('has the elements asked for, the mandatory ones and the modifiers, and says that it is a part', async () => {
    const { meta, ...rest } = await part('_elements=valueCodeableConcept,subject');
    expect(rest).toEqual({
      resourceType: 'Observation',
      id: result.id,
      status: result.status,
      code: result.code,
      subject: result.subject,
      valueCodeableConcept: result.valueCodeableConcept,
    });
    expect(meta).toEqual({ ...result.meta, tag: [subsetted] });
  });

  it('knows an element with a choice of types by its stem, and by its path', async () => {
    for (const name of ['value', 'Observation.value', 'valueCodeableConcept', ' value ']) {
      expect((await part(`_elements=${encodeURIComponent(name)}`)).valueCodeableConcept, name).toEqual(
        result.valueCodeableConcept,
      );
    }
    expect(await part('_elements=val')).not.toHaveProperty('valueCodeableConcept');
    expect(await part('_elements=.*')).not.toHaveProperty('valueCodeableConcept');
  });

  it.each([
    ['_summary=true', ['valueCodeableConcept', 'derivedFrom', 'subject'], ['text', 'note', 'method']],
    ['_summary=text', ['text', 'status', 'code'], ['subject', 'valueCodeableConcept']],
    ['_summary=data', ['note', 'subject', 'method'], ['text']],
  ])('with %s has %j and not %j', async (query, present, absent) => {
    const resource = await part(query);
    for (const name of present) expect(resource, name).toHaveProperty(name);
    for (const name of absent) expect(resource, name).not.toHaveProperty(name);
    expect(resource.meta?.tag).toEqual([subsetted]);
  });

  it.each(['_summary=false', '_summary=count'])('is the whole with %s', async (query) => {
    expect(await part(query)).toEqual(result);
  });

  it('of every type is valid R4 by three judges, read and found', async () => {
    expect(new Set(samples.map(({ resourceType }) => resourceType)).size).toBe(OFFERED_TYPES.length);
    for (const { resourceType, id } of samples) {
      for (const query of ['_summary=true', '_summary=text', '_summary=data', '_elements=id', '_elements=']) {
        const read = (await service.get(`/fhir/${resourceType}/${id}?${query}`)).body as Resource;
        expect(read.meta?.tag).toContainEqual(subsetted);
        // What is marked as a part need not follow the profile of the whole. R4 wants a snapshot or differential
        // (sdf-6) and a base (sdf-4), which are no mandatory elements and not all of the summary.
        const { profile: _whole, ...meta } = read.meta ?? {};
        const faults = judge({ ...read, meta }).filter(({ rule }) => !/sdf-[46]\b/.test(rule));
        expect(faults, `${resourceType}/${id}?${query}`).toEqual([]);
        const [found] = resourcesOf(await service.get(`/fhir/${resourceType}?_id=${id}&${query}`));
        expect(found).toEqual(read);
      }
    }
  });

  it('that is not known is refused, on a read as on a search', async () => {
    for (const url of [`${path}?_summary=some`, '/fhir/Observation?_summary=some']) {
      expect((await service.get(url)).status).toBe(400);
    }
  });
});

const CANARY = 'Zephyrine-Quillfeather-1931';
const LONG = CANARY.repeat(5);

describe('an address with nothing there (X4, X13)', () => {
  it.each([
    `/fhir/Observation/${CANARY}`,
    `/fhir/Observation/${LONG}`,
    `/fhir/Observation/${LONG.slice(0, 65)}`,
    `/fhir/Observation/${CANARY}_a`,
    `/fhir/Observation/${CANARY}%20a`,
    `/fhir/Observation/${CANARY}%2f..%2f`,
    `/fhir/Observation/%zz${CANARY}`,
    `/fhir/Observation/${CANARY}/_history`,
    `/fhir/Observation/${CANARY}/_history/1`,
    `/fhir/Observation/${CANARY}/_history/0`,
    `/fhir/Observation/${CANARY}/_history/99999999999`,
    `/fhir/Patient/${CANARY}`,
    `/fhir/${CANARY}/1`,
    `/fhir/${CANARY}`,
    `/fhir/Observation/${CANARY}/$interpret-grip`,
    `/fhir/observation/${CANARY}`,
    `/fhir/:id(${CANARY}`,
    `/fhir/Observation/*${CANARY}`,
    `/${CANARY}?name=${CANARY}`,
  ])('%s is 404 with an OperationOutcome that repeats nothing of it', async (url) => {
    for (const headers of [{}, { 'x-name': CANARY, 'if-none-match': CANARY }]) {
      const reply = await send('GET', url, headers);
      expect(reply.statusCode).toBe(404);
      expect(reply.json<OperationOutcome>()).toMatchObject({
        resourceType: 'OperationOutcome',
        issue: [{ code: 'not-found' }],
      });
      expect(reply.payload + JSON.stringify(reply.headers)).not.toMatch(/Zephyrine|Quillfeather/);
    }
  });

  it('a version that there is not yet is 404', async () => {
    expect((await service.get(`${path}/_history/2`)).status).toBe(404);
  });

  it('an Observation that was sent to be read was not filed', async () => {
    expect((await service.get('/fhir/Observation/trial-1')).status).toBe(404);
  });
});

describe('a method that an address does not answer (X8)', () => {
  const READ = 'GET, HEAD';
  it.each([
    ['/fhir/Observation/x', READ],
    ['/fhir/Observation/x/_history/1', READ],
    ['/fhir/Library/x', READ],
    ['/fhir/metadata', READ],
    ['/fhir/Observation', READ],
    ['/fhir/Observation/_search', 'POST'],
    ['/fhir/Observation/$interpret-grip', 'POST'],
    ['/fhir', 'POST'],
    ['/fhir/', 'POST'],
  ])('at %s is 405, and Allow says %s', async (url, allow) => {
    const all = ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE', 'OPTIONS'];
    for (const method of all.filter((each) => !allow.split(', ').includes(each))) {
      const reply = await send(method, `${url}?${CANARY}=${CANARY}`);
      expect(reply.statusCode, method).toBe(405);
      expect(reply.headers.allow).toBe(allow);
      if (method !== 'HEAD') expect(reply.json<OperationOutcome>().issue[0]?.code).toBe('not-supported');
      expect(reply.payload).not.toContain(CANARY);
    }
  });

  it('with a body of any kind is 405 all the same', async () => {
    for (const type of [
      'application/fhir+json',
      'application/fhir+xml',
      'application/json-patch+json',
      'text/plain',
    ]) {
      expect((await send('PUT', path, { 'content-type': type }, '{}')).statusCode, type).toBe(405);
    }
    expect(service.last().kind).toBe('evaluation');
  });
});
