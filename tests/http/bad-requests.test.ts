/** Requests that are not what a door reads: each gets an OperationOutcome, none gets an interpretation. */
import type { OperationOutcome } from 'fhir/r4.js';
import request from 'supertest';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { REQUEST_ERRORS, type RequestErrorCode } from '../../src/errors.ts';
import { BODY_LIMIT_BYTES } from '../../src/http/build-app.ts';
import { DOORS, FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.store.head().seq, 'no bad request is on record as an evaluation').toBe(0);
  await service.close();
});

/** Status, media type, code and wording come from the one table (STANDARDS X13, V2, R4). */
function expectError(
  reply: { status: number; type: string; body: OperationOutcome; request: { url: string } },
  code: RequestErrorCode,
): void {
  const { status, issue, text } = REQUEST_ERRORS[code];
  expect(reply.status).toBe(status);
  const atFhirDoor = new URL(reply.request.url, 'http://localhost').pathname.startsWith('/fhir');
  expect(reply.type).toBe(atFhirDoor ? 'application/fhir+json' : 'application/json');
  expect(reply.body.resourceType).toBe('OperationOutcome');
  expect(reply.body.issue.length).toBeGreaterThan(0);
  for (const found of reply.body.issue) {
    expect(found).toMatchObject({ severity: 'error', code: issue, details: { coding: [{ code }], text } });
  }
}

function hookCallWith(grip: unknown): unknown {
  const call = structuredClone(HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS)) as {
    prefetch: Record<string, unknown>;
  };
  call.prefetch.grip = grip;
  return call;
}

describe.each(DOORS)('the %s', (_name, door) => {
  const valid = () => JSON.stringify(door.bodyOf(PATIENT, SIX_TRIALS));

  it.each(['{', 'resourceType=Bundle', '<Bundle/>', 'undefined', "{'a':1}", '{"a":1,}', '{} {}'])(
    'refuses %j: it is not JSON',
    async (body) => expectError(await service.post(door.path, body), 'BODY_NOT_JSON'),
  );

  it.each(['null', 'true', '7', '"Bundle"', '[]', '{}', '{"resourceType":null}', '{"resourceType":""}'])(
    'refuses the body %s',
    async (body) => {
      const reply = await service.post(door.path, body);
      expectError(reply, 'BODY_INVALID');
      expect(reply.body.issue[0].expression).toHaveLength(1);
    },
  );

  it('refuses half a surrogate pair, which no log can keep', async () => {
    expectError(await service.post(door.path, valid().replace('invented-1', '\\ud800')), 'BODY_NOT_JSON');
    expectError(await service.post(door.path, `{"\\udc00":1,${valid().slice(1)}`), 'BODY_NOT_JSON');
  });

  it('refuses a name hidden by escapes', async () => {
    expectError(await service.post(door.path, `{"__pr\\u006fto__":1,${valid().slice(1)}`), 'BODY_NOT_JSON');
  });

  it('names twenty faults and counts the rest: the reply is smaller than what was sent', async () => {
    const many = { resourceType: 'Bundle', entry: new Array(5000).fill(0) };
    const body = door.path.startsWith('/fhir') ? many : hookCallWith(many);
    const reply = await service.post(door.path, body);
    expectError(reply, 'BODY_INVALID');
    expect(reply.body.issue).toHaveLength(21);
    expect(reply.body.issue[20].diagnostics).toContain('has 4980 more faults');
  });

  it('refuses an empty body, and a call without one', async () => {
    expectError(await service.post(door.path, ''), 'BODY_NOT_JSON');
    expectError(await request(service.app.server).post(door.path), 'BODY_INVALID');
  });

  it('refuses one resource where the data of a call should be', async () => {
    expectError(await service.post(door.path, TRIAL), 'BODY_INVALID');
  });

  it('refuses bytes that are not UTF-8 (X1)', async () => {
    const body = Buffer.from(valid());
    // In UTF-8 the byte C3 begins a character of two bytes; what follows it here is a letter.
    body[body.indexOf('Bramblewick')] = 0xc3;
    const reply = await service.app.inject({
      method: 'POST',
      url: door.path,
      headers: { 'content-type': 'application/json' },
      payload: body,
    });
    const type = String(reply.headers['content-type']).split(';')[0] ?? '';
    const answer = { status: reply.statusCode, type, body: reply.json(), request: { url: door.path } };
    expectError(answer, 'BODY_NOT_JSON');
  });

  it.each(['"__proto__":{"x":1},', '"\\u005f_proto__":{"x":1},', '"_\\u005Fproto__":{"x":1},'])(
    'refuses a member called __proto__, written %s',
    async (member) => {
      const body = valid().replace('"birthDate"', `${member}"birthDate"`);
      expectError(await service.post(door.path, body), 'BODY_NOT_JSON');
    },
  );

  it('takes the words __proto__ in a text for what they are', async () => {
    const body = valid().replace('(invented)', '__proto__');
    const reply = await service.post(door.path, body.replace('"male"', '"neither"'));
    expect(reply.body.issue[0].expression).toEqual([`${door.patient}.gender`]);
  });

  it.each([
    'text/plain',
    'application/xml',
    'application/fhir+xml',
    'application/json-patch+json',
    'json',
    '',
  ])('refuses the media type %j with 415 (X2, Q8)', async (type) =>
    expectError(await service.post(door.path, valid(), { 'content-type': type }), 'MEDIA_TYPE_UNSUPPORTED'),
  );

  it.each(['5.0', '4.3', '3.0', '4.0.1', '"5.0"'])(
    'refuses fhirVersion=%s in the content type with 415 (X2)',
    async (version) => {
      const type = `application/fhir+json; fhirVersion=${version}`;
      expectError(await service.post(door.path, valid(), { 'content-type': type }), 'MEDIA_TYPE_UNSUPPORTED');
    },
  );

  it('Q8: refuses a body of 2 MB with 413', async () => {
    const reply = await service.app.inject({
      method: 'POST',
      url: door.path,
      headers: { 'content-type': 'application/json' },
      payload: JSON.stringify({ filler: 'x'.repeat(2 * 1024 * 1024) }),
    });
    const type = String(reply.headers['content-type']).split(';')[0] ?? '';
    const answer = { status: reply.statusCode, type, body: reply.json(), request: { url: door.path } };
    expectError(answer, 'BODY_TOO_LARGE');
  });

  it('refuses a body one byte over the limit, and reads one at the limit', async () => {
    const padded = (bytes: number) => `{}${' '.repeat(bytes - 2)}`;
    expectError(await service.post(door.path, padded(BODY_LIMIT_BYTES + 1)), 'BODY_TOO_LARGE');
    expectError(await service.post(door.path, padded(BODY_LIMIT_BYTES)), 'BODY_INVALID');
  });

  it.each(['get', 'put', 'patch', 'delete', 'options'] as const)(
    'answers %s with 405 and says what it allows',
    async (method) => {
      const reply = await request(service.app.server)[method](door.path);
      expectError(reply, 'METHOD_NOT_ALLOWED');
      expect(reply.headers.allow).toBe('POST');
    },
  );

  it('keeps replies out of caches and off content sniffing', async () => {
    const reply = await service.post(door.path, '{');
    expect(reply.headers['cache-control']).toBe('no-store');
    expect(reply.headers['x-content-type-options']).toBe('nosniff');
  });
});

describe('addresses', () => {
  it.each([
    '/',
    '/fhir/Observation/$interpret-grip/',
    '/fhir/Patient',
    '/fhir/Patient/$interpret-grip',
    '/cds-services/',
    '/cds-services/grip-interpretation/',
    '/cds-services/unknown',
    '/CDS-SERVICES/grip-interpretation',
    '/%zz',
    '/:id(',
  ])('POST %s is 404 with an OperationOutcome', async (path) => {
    expectError(await service.post(path, '{}'), 'NOT_FOUND');
  });

  it.each(['/cds-services', '/fhir/metadata', '/health/live', '/health/ready'])(
    'POST %s is 405 and allows GET',
    async (path) => {
      const reply = await service.post(path, '{}');
      expectError(reply, 'METHOD_NOT_ALLOWED');
      expect(reply.headers.allow).toBe('GET, HEAD');
    },
  );
});

describe('an error reply', () => {
  const CANARY = 'Zephyrine-31.337';
  const wrongPatient = { ...PATIENT, id: CANARY, gender: CANARY as 'male', birthDate: CANARY };
  const bodies: readonly (readonly [string, string, unknown])[] = [
    ['of no JSON', FHIR_DOOR.path, `{"name":"${CANARY}"`],
    ['of the wrong resource', FHIR_DOOR.path, { resourceType: CANARY, id: CANARY }],
    ['of an unknown panel', FHIR_DOOR.path, { resourceType: 'Parameters', parameter: [{ name: CANARY }] }],
    ['of elements of the wrong form', FHIR_DOOR.path, FHIR_DOOR.bodyOf(wrongPatient, SIX_TRIALS)],
    [
      'of a reading that is text',
      FHIR_DOOR.path,
      FHIR_DOOR.bodyOf(PATIENT, [{ ...TRIAL, valueQuantity: { value: CANARY as unknown as number } }]),
    ],
    [
      'of two patients',
      FHIR_DOOR.path,
      FHIR_DOOR.bodyOf(PATIENT, [{ ...TRIAL, subject: { reference: `Patient/${CANARY}` } }]),
    ],
    ['of a hook', HOOK_DOOR.path, { ...HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS), hook: CANARY }],
    ['of a hook call', HOOK_DOOR.path, { ...HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS), hookInstance: CANARY }],
    [
      'of another patient in the prefetch',
      HOOK_DOOR.path,
      HOOK_DOOR.bodyOf({ ...PATIENT, id: CANARY }, SIX_TRIALS),
    ],
    [
      'of the prefetch',
      HOOK_DOOR.path,
      { ...HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS), prefetch: { [CANARY]: CANARY } },
    ],
    ['of an unknown address', `/fhir/Patient/${CANARY}?name=${CANARY}`, { name: CANARY }],
  ];

  it.each(bodies)('%s does not repeat what was sent', async (_name, path, body) => {
    const reply = await service.post(path, body);
    expect(reply.status).toBeGreaterThanOrEqual(400);
    expect(reply.status).toBeLessThan(500);
    expect(JSON.stringify([reply.text, reply.headers])).not.toContain(CANARY);
    expect(reply.text).not.toContain('31.337');
  });
});
