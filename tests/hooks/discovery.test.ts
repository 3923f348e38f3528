/** Discovery, and the prefetch templates that it publishes (STANDARDS D1 to D9, P1 to P5). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ServiceDescription } from '../../src/hooks/discovery.ts';
import { hookServices } from '../../src/hooks/services.ts';

const SERVICES = hookServices({ chartedHook: null }).map(({ description }) => description);

import { FHIR_DOOR, HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
let services: readonly ServiceDescription[];
beforeAll(async () => {
  service = await openForTests();
  services = (await service.get('/cds-services')).body.services;
});
afterAll(() => service.close());

describe('GET /cds-services', () => {
  it('D1 and D9: answers 200 in JSON, with or without a query', async () => {
    for (const path of ['/cds-services', '/cds-services?x=1']) {
      const reply = await service.get(path);
      expect(reply.status).toBe(200);
      expect(reply.headers['content-type']).toBe('application/json; charset=utf-8');
    }
  });

  it('D2: is an object with a list of services', async () => {
    const { body } = await service.get('/cds-services');
    expect(Object.keys(body)).toEqual(['services']);
    expect(body.services).toEqual(SERVICES);
    expect(body.services.length).toBeGreaterThan(0);
  });

  it('D3 to D5: gives each service hook, id, description, title, prefetch and requirements as text', () => {
    for (const each of services) {
      for (const text of [each.hook, each.id, each.description, each.title, each.usageRequirements])
        expect(text).toMatch(/\S/);
      expect(Object.values(each.prefetch).every((template) => typeof template === 'string')).toBe(true);
    }
  });

  it('K4: answers only hooks of the standard catalogue, or names with a reversed domain', () => {
    for (const { hook } of services)
      expect(hook).toMatch(/^(patient-view|encounter-(start|discharge)|[a-z]+(\.[a-z-]+){2,})$/);
  });

  it('D7: is called at its id, which is the last step of the address', async () => {
    for (const { id, hook } of services) {
      expect(id).toMatch(/^[a-z0-9-]+$/);
      const body = hookCallOf(PATIENT, SIX_TRIALS);
      const call = { ...body, hook, context: { ...body.context, encounterId: 'invented-stay' } };
      expect((await service.post(`/cds-services/${id}`, call)).status, id).toBe(200);
    }
  });

  it("K4: offers the organisation's own hook only where it is named, under its reverse-domain name", async () => {
    expect(services.map(({ id }) => id)).not.toContain('grip-interpretation-charted');
    const configured = await openForTests(undefined, undefined, {
      chartedHook: 'org.alder-reach.grip-charted',
    });
    const offered = (await configured.get('/cds-services')).body.services as ServiceDescription[];
    await configured.close();
    expect(offered.find(({ id }) => id === 'grip-interpretation-charted')?.hook).toBe(
      'org.alder-reach.grip-charted',
    );
    expect(new Set(offered.map(({ id }) => id)).size, 'D8').toBe(offered.length);
  });

  it('D8: has no id twice', () => {
    expect(new Set(services.map(({ id }) => id)).size).toBe(services.length);
  });

  it('J2 and J3: has no null and nothing empty', () => {
    expect(JSON.stringify(services)).not.toMatch(/null|""|\[\]|\{\}/);
  });

  it('is not put on record: it is about no patient', async () => {
    const before = service.store.head().seq;
    await service.get('/cds-services');
    expect(service.store.head().seq).toBe(before);
  });
});

describe('the prefetch templates', () => {
  const templates = () => services.flatMap(({ prefetch }) => Object.values(prefetch));

  it('P2 and P3: hold only tokens of first-level primitive fields of patient-view', () => {
    const allowed = ['context.patientId', 'context.userId', 'context.encounterId'];
    for (const template of templates()) {
      const tokens = [...template.matchAll(/\{\{(.*?)\}\}/g)].map(([, token]) => token);
      expect(tokens.length).toBeGreaterThan(0);
      for (const token of tokens) expect(allowed).toContain(token);
      expect(template.replaceAll(/\{\{.*?\}\}/g, '')).not.toMatch(/[{}]/);
    }
  });

  it('P4: are an instance read, or a type search of the restricted kind', () => {
    for (const template of templates()) {
      const [path = '', query, ...more] = template.split('?');
      expect(more).toEqual([]);
      expect(path).toMatch(/^[A-Z][A-Za-z]+(\/\{\{context\.[a-zA-Z]+\}\})?$/);
      if (query === undefined) continue;
      const names = query.split('&').map((pair) => pair.split('=')[0]);
      for (const name of names) expect(['patient', 'code', '_sort', '_count']).toContain(name);
      expect(new Set(names).size, 'no parameter twice (P12)').toBe(names.length);
    }
  });

  it('P12: ask for the patient, and for the newest grip Observations by every code that is read', () => {
    const prefetch = services[0]?.prefetch ?? {};
    expect(prefetch.patient).toBe('Patient/{{context.patientId}}');
    const query = new URLSearchParams(prefetch.grip?.split('?')[1]);
    expect(query.get('patient')).toBe('{{context.patientId}}');
    expect(query.get('code')?.split(',')).toEqual([
      'http://loinc.org|83174-3',
      'http://loinc.org|83173-5',
      'http://snomed.info/sct|251433001',
    ]);
    expect(query.get('_sort')).toBe('-date');
    expect(Number(query.get('_count'))).toBeGreaterThanOrEqual(12);
  });

  it('P12: ask for the newest measures besides grip by every code that is read, and for handedness', () => {
    const queryOf = (key: string) => new URLSearchParams(services[0]?.prefetch[key]?.split('?')[1]);
    const codesOf = (key: string) => queryOf(key).get('code')?.split(',');
    // What is charted once must not be pushed off the page by a weight a day.
    expect([codesOf('height'), codesOf('handedness')]).toEqual([
      ['http://loinc.org|8302-2'],
      ['http://snomed.info/sct|364940007'],
    ]);
    expect(codesOf('measures')).toEqual([
      'http://loinc.org|29463-7',
      'http://loinc.org|39156-5',
      'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength|gait-speed',
      'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength|five-chair-rises',
    ]);
    for (const key of ['height', 'handedness', 'measures']) {
      expect(queryOf(key).get('patient')).toBe('{{context.patientId}}');
      expect(queryOf(key).get('_sort')).toBe('-date');
    }
    expect(queryOf('measures').get('_count')).toBe('100');
  });

  it('P5: hold all that a call needs, and three keys that it may leave out', () => {
    const call = HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS) as { prefetch: object };
    const keys = Object.keys(services[0]?.prefetch ?? {});
    expect(keys.filter((key) => !Object.hasOwn(call.prefetch, key))).toEqual([
      'height',
      'handedness',
      'measures',
    ]);
    expect(Object.keys(call.prefetch).filter((key) => !keys.includes(key))).toEqual([]);
    expect(services[0]?.usageRequirements).toContain('height, handedness and measures are optional');
  });
});

describe('an address that is no service', () => {
  it.each(['/cds-services/unknown', '/cds-services/grip', '/cds-services/unknown/feedback'])(
    'POST %s is 404',
    async (path) => {
      const reply = await service.post(path, HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS));
      expect(reply.status).toBe(404);
      expect(reply.body.resourceType).toBe('OperationOutcome');
    },
  );

  it('of the other door does not read a hook call', async () => {
    const reply = await service.post(FHIR_DOOR.path, HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS));
    expect(reply.status).toBe(400);
  });
});
