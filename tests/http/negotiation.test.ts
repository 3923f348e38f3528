/** Which media type goes out, and what the service says of itself (STANDARDS X1 to X3, X16). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CANONICAL } from '../../src/fhir/codes.ts';
import { FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const FHIR_JSON = 'application/fhir+json; charset=utf-8';
const FHIR_JSON_R4 = 'application/fhir+json; fhirVersion=4.0; charset=utf-8';
const PLAIN_JSON = 'application/json; charset=utf-8';

describe('the FHIR operation', () => {
  const body = FHIR_DOOR.bodyOf(PATIENT, SIX_TRIALS);

  it.each([
    ['application/fhir+json', FHIR_JSON],
    ['application/fhir+json; fhirVersion=4.0', FHIR_JSON_R4],
    ['*/*', FHIR_JSON],
    ['application/*', FHIR_JSON],
    ['text/html, application/fhir+json;q=0.9', FHIR_JSON],
    ['application/fhir+json; fhirVersion="4.0"', FHIR_JSON_R4],
    ['application/json;q=0.5, application/fhir+json;q=0.9', FHIR_JSON],
    ['application/fhir+json;q=0.5, application/json', PLAIN_JSON],
    ['application/json+fhir', FHIR_JSON],
    ['application/json;q=0, application/fhir+json', FHIR_JSON],
    ['application/json', PLAIN_JSON],
    ['APPLICATION/JSON', PLAIN_JSON],
    ['application/fhir+json; fhirVersion=5.0, application/json', PLAIN_JSON],
  ])('answers Accept: %s with %s (X1)', async (accept, type) => {
    const reply = await service.post(FHIR_DOOR.path, body, { accept });
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toBe(type);
  });

  it.each([
    'application/fhir+xml',
    'text/html',
    'application/fhir+json; fhirVersion=5.0',
    'application/json; fhirVersion=3.0',
    'application/json;q=0',
  ])('answers Accept: %s with 406 and records nothing (X2)', async (accept) => {
    const before = service.store.head().seq;
    const reply = await service.post(FHIR_DOOR.path, body, { accept });
    expect(reply.status).toBe(406);
    expect(reply.body.issue[0].details.coding[0].code).toBe('NOT_ACCEPTABLE');
    expect(service.store.head().seq).toBe(before);
  });

  it.each([
    ['json', 200, FHIR_JSON],
    ['application/fhir%2Bjson', 200, FHIR_JSON],
    ['application/json', 200, PLAIN_JSON],
    ['xml', 406, FHIR_JSON],
  ])('lets _format=%s go before Accept: %i (X1)', async (format, status, type) => {
    const reply = await service.post(`${FHIR_DOOR.path}?_format=${format}`, body, { accept: '*/*' });
    expect(reply.status).toBe(status);
    expect(reply.headers['content-type']).toBe(type);
  });

  it.each([
    'application/json',
    'application/fhir+json',
    'application/fhir+json; charset=utf-8',
    'application/fhir+json; fhirVersion=4.0',
    'application/fhir+json; fhirVersion="4.0"',
    'Application/FHIR+JSON; FHIRVERSION=4.0',
  ])('reads a body of type %s (X2)', async (type) => {
    expect((await service.post(FHIR_DOOR.path, body, { 'content-type': type })).status).toBe(200);
  });
});

describe('the hook service', () => {
  it('answers in plain JSON', async () => {
    const reply = await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS);
    expect(reply.headers['content-type']).toBe(PLAIN_JSON);
  });
});

describe('GET /fhir/metadata', () => {
  it('is a CapabilityStatement of an R4 instance that offers the operation (X3, X16, O6)', async () => {
    const reply = await service.get('/fhir/metadata');
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toBe(FHIR_JSON);
    expect(reply.body).toMatchObject({
      resourceType: 'CapabilityStatement',
      status: 'active',
      kind: 'instance',
      fhirVersion: '4.0.1',
      implementation: { description: expect.any(String) },
    });
    expect(reply.body.date).toBe('2026-11-25T12:00:00.000Z');
    expect(reply.body.format).toContain('application/fhir+json');
    const [resource] = reply.body.rest[0].resource;
    expect(reply.body.rest[0].mode).toBe('server');
    expect(resource.type).toBe('Observation');
    expect(resource.operation).toMatchObject([
      {
        name: 'interpret-grip',
        definition: `${CANONICAL}/OperationDefinition/Observation-interpret-grip`,
      },
    ]);
  });

  it('is negotiated like any other resource (X2)', async () => {
    expect((await service.get('/fhir/metadata', { accept: 'application/json' })).type).toBe(
      'application/json',
    );
    expect((await service.get('/fhir/metadata', { accept: 'application/fhir+xml' })).status).toBe(406);
  });
});

describe('health', () => {
  it('says live, and ready with the number of records', async () => {
    expect((await service.get('/health/live')).body).toEqual({ status: 'live' });
    const { body } = await service.get('/health/ready');
    expect(body).toMatchObject({ status: 'ready', records: service.store.head().seq });
  });
});
