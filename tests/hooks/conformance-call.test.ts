/**
 * The call of every service that can be offered, broken one way at a time (Q1 to Q8), what its prefetched values mean
 * (P6 to P9, P11), and extensions (E1).
 */
import type { FhirResource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PANEL_EXTENSION } from '../../src/hooks/discovery.ts';
import { broken, type HookBody } from '../fixtures.ts';
import { cardsOf, codesOf, issuesOf, openForTests, type TestService } from '../service-for-tests.ts';
import { addressOf, CHARTED_HOOK, callOf, type Discovered, discover } from './valid-calls.ts';

let service: TestService;
let services: readonly Discovered[];
beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: CHARTED_HOOK });
  services = await discover(service);
});
afterAll(() => service.close());

const AUTHORIZATION = {
  access_token: 'canary-token-9b3e',
  token_type: 'Bearer',
  expires_in: 300,
  scope: 'user/Observation.rs user/Patient.rs',
  subject: 'canary-subject-9b3e',
};
const authorised = (call: HookBody): HookBody => ({
  ...call,
  fhirServer: 'https://ehr.example.org/fhir',
  fhirAuthorization: AUTHORIZATION,
});

/** A call that is valid but for one thing; the address of the fault in the reply. */
const FAULTS: readonly (readonly [name: string, path: string, value: unknown])[] = [
  ['Q1: hook absent', 'hook', undefined],
  ['Q1: hook a number', 'hook', 7],
  ['Q1: a hook that is not offered', 'hook', 'order-sign'],
  ['Q2: hookInstance absent', 'hookInstance', undefined],
  ['Q2: hookInstance no UUID', 'hookInstance', 'instance-1'],
  ['Q3: context absent', 'context', undefined],
  ['Q3: context a text', 'context', 'Patient/invented-1'],
  ['Q3: context without userId', 'context.userId', undefined],
  ['Q3: context without patientId', 'context.patientId', undefined],
  ['Q3: userId of another type', 'context.userId', 'Group/1'],
  ['Q3: encounterId a number', 'context.encounterId', 7],
  ['Q4: fhirServer absent beside fhirAuthorization', 'fhirServer', undefined],
  ['Q4: fhirServer no URL', 'fhirServer', 'ehr'],
  ['Q5: access_token absent', 'fhirAuthorization.access_token', undefined],
  ['Q5: token_type another', 'fhirAuthorization.token_type', 'Basic'],
  ['Q5: expires_in a text', 'fhirAuthorization.expires_in', '300'],
  ['Q5: scope absent', 'fhirAuthorization.scope', undefined],
  ['Q5: subject absent', 'fhirAuthorization.subject', undefined],
  ['Q6: prefetch a list', 'prefetch', []],
  ['Q6: prefetch a text', 'prefetch', 'patient'],
  ['Q6: a value that is no resource', 'prefetch.patient', 'Patient/invented-1'],
  ['Q7: extension a list', 'extension', [1]],
  ['Q7: extension a text', 'extension', 'x'],
];

describe('a call of each service', () => {
  it('is answered when nothing is wrong with it', async () => {
    for (const one of services) {
      const reply = await service.post(addressOf(one), authorised(callOf(one)));
      expect([one.id, reply.status]).toEqual([one.id, 200]);
    }
  });

  it.each(FAULTS)('%s is 400 naming the member, and nothing is recorded', async (_name, path, value) => {
    for (const one of services) {
      const before = service.store.head().seq;
      const reply = await service.post(addressOf(one), broken(authorised(callOf(one)), path, value));
      expect([one.id, reply.status]).toEqual([one.id, 400]);
      const named = path.startsWith('prefetch.') ? path : `request.${path}`;
      expect(issuesOf(reply).flatMap(({ expression = [] }) => expression)).toContain(named);
      expect(service.store.head().seq).toBe(before);
      expect(reply.text).not.toContain('9b3e');
    }
  });

  it('Q1: of the hook of another service is 400', async () => {
    for (const one of services)
      for (const hook of new Set(services.map((other) => other.hook))) {
        const reply = await service.post(addressOf(one), { ...callOf(one), hook });
        expect([one.id, hook, reply.status]).toEqual([one.id, hook, hook === one.hook ? 200 : 400]);
      }
  });

  it('Q8: by another method is 405, of another media type 415, too large 413, no JSON 400', async () => {
    for (const one of services) {
      const url = addressOf(one);
      for (const method of ['GET', 'PUT', 'PATCH', 'DELETE'] as const) {
        const reply = await service.app.inject({ method, url });
        expect([one.id, method, reply.statusCode]).toEqual([one.id, method, 405]);
        expect(reply.headers.allow).toContain('POST');
      }
      for (const type of ['text/plain', 'application/xml', 'application/x-www-form-urlencoded'])
        expect((await service.post(url, '{}', { 'content-type': type })).status, type).toBe(415);
      const padded = { ...callOf(one), extension: { 'org.example.padding': 'x'.repeat(2_000_000) } };
      expect((await service.post(url, padded)).status).toBe(413);
      expect((await service.post(url, '{"hook":')).status).toBe(400);
    }
  });
});

const failure = (severity: 'error' | 'warning'): FhirResource => ({
  resourceType: 'OperationOutcome',
  issue: [{ severity, code: 'exception' }],
});
const searchset = (...resources: FhirResource[]): FhirResource => ({
  resourceType: 'Bundle',
  type: 'searchset',
  ...(resources.length > 0 ? { entry: resources.map((resource) => ({ resource })) } : {}),
});
const send = (one: Discovered, key: string, value: unknown) =>
  service.post(addressOf(one), broken(callOf(one), `prefetch.${key}`, value));
const optionalKeys = async (one: Discovered): Promise<readonly string[]> => {
  const statuses = await Promise.all(
    Object.keys(one.prefetch).map(async (key) => [key, (await send(one, key, undefined)).status] as const),
  );
  return statuses.filter(([, status]) => status === 200).map(([key]) => key);
};

describe('a prefetched value', () => {
  it('P6: that is an OperationOutcome, alone or among the hits, is no data: 412 where the key is required', async () => {
    for (const one of services) {
      const optional = await optionalKeys(one);
      for (const [key, template] of Object.entries(one.prefetch)) {
        const expected = optional.includes(key) ? 200 : 412;
        const alone = await send(one, key, failure('error'));
        expect([one.id, key, alone.status]).toEqual([one.id, key, expected]);
        if (!template.includes('?')) continue;
        const among = await send(one, key, searchset(failure('error')));
        expect([one.id, key, among.status]).toEqual([one.id, key, expected]);
      }
    }
  });

  it('P6: that holds only a warning of the search is data', async () => {
    for (const one of services)
      for (const [key, template] of Object.entries(one.prefetch))
        if (template.includes('?'))
          expect((await send(one, key, searchset(failure('warning')))).status).toBe(200);
  });

  it('P7, P8: that is absent is a 412 naming its key, or the key is one that can be left out', async () => {
    for (const one of services) {
      const optional = await optionalKeys(one);
      const required = Object.keys(one.prefetch).filter((key) => !optional.includes(key));
      expect(required, one.id).toContain('patient');
      for (const key of required) {
        const reply = await send(one, key, undefined);
        expect([one.id, reply.status, codesOf(reply)]).toEqual([one.id, 412, ['PREFETCH_MISSING']]);
        expect(issuesOf(reply)[0]?.expression).toEqual([`prefetch.${key}`]);
      }
    }
  });

  it('P11: that is null or an empty Bundle says that there is nothing: 200, but for the patient', async () => {
    for (const one of services)
      for (const [key, template] of Object.entries(one.prefetch)) {
        const isSearch = template.includes('?');
        const expected = key === 'patient' ? 412 : 200;
        expect([one.id, key, (await send(one, key, null)).status]).toEqual([one.id, key, expected]);
        if (isSearch) expect((await send(one, key, searchset())).status).toBe(200);
      }
  });

  it('P11: that is null and one that is an empty Bundle have the same answer', async () => {
    for (const one of services)
      for (const [key, template] of Object.entries(one.prefetch)) {
        if (!template.includes('?')) continue;
        const said = [await send(one, key, null), await send(one, key, searchset())].map((reply) =>
          cardsOf(reply).map(({ summary, indicator }) => ({ summary, indicator })),
        );
        expect(said[0]).toEqual(said[1]);
      }
  });

  it('P11: of another type is 400, and of another patient is never read', async () => {
    const stranger = {
      resourceType: 'Patient',
      id: 'stranger-6a1f',
      birthDate: '1931-01-01',
      gender: 'female',
    };
    for (const one of services) {
      const before = service.store.head().seq;
      for (const key of Object.keys(one.prefetch)) {
        const reply = await send(one, key, { resourceType: 'Practitioner', id: 'x' });
        expect([one.id, key, reply.status]).toEqual([one.id, key, 400]);
      }
      const reply = await send(one, 'patient', stranger);
      expect([one.id, reply.status, codesOf(reply)]).toEqual([one.id, 400, ['PATIENT_MISMATCH']]);
      expect(service.store.head().seq).toBe(before);
    }
  });

  it('P9: comes with a token that is in no reply and in no record', async () => {
    for (const one of services) {
      const reply = await service.post(addressOf(one), authorised(callOf(one)));
      expect([one.id, reply.status]).toEqual([one.id, 200]);
      expect(reply.text + service.last().record).not.toContain('9b3e');
    }
  });
});

/** The example of the specification (index.md, section "Extensions"), which holds of its context only the user. */
const PUBLISHED_EXAMPLE = {
  hookInstance: 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea',
  fhirServer: 'http://fhir.example.org:9080',
  hook: 'patient-view',
  context: { userId: 'Practitioner/example' },
  extension: { 'com.example.timestamp': '2017-11-27T22:13:25Z' },
};

describe('an extension', () => {
  it('E1, Q7: of the published example is ignored; what the example lacks is named', async () => {
    const [one] = services;
    if (!one) throw new Error('no service');
    const bare = await service.post(addressOf(one), PUBLISHED_EXAMPLE);
    expect(bare.status).toBe(400);
    expect(issuesOf(bare).map(({ expression }) => expression)).toEqual([['request.context.patientId']]);
    const { context, prefetch } = callOf(one);
    const whole = {
      ...PUBLISHED_EXAMPLE,
      context: { ...context, ...PUBLISHED_EXAMPLE.context },
      prefetch,
    };
    const reply = await service.post(addressOf(one), whole);
    expect(reply.status, reply.text).toBe(200);
    expect(cardsOf(reply)).toHaveLength(1);
    expect(reply.text).not.toContain('2017-11-27');
  });

  it('E1: of ours has a reversed domain at its start, and no other member of a reply is one', async () => {
    expect(PANEL_EXTENSION).toMatch(/^[a-z]+(\.[a-z][a-z0-9-]*){2,}$/);
    for (const one of services) {
      const reply = await service.post(addressOf(one), callOf(one));
      expect(reply.body).not.toHaveProperty('extension');
      for (const card of cardsOf(reply)) expect(card).not.toHaveProperty('extension');
    }
  });
});
