/** JSON and replies of every service that can be offered: J1 to J6, R1 to R4. */
import type { Resource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import { broken, HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { judge } from '../profiles/judges.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { emptyIn } from './published-invariants.ts';
import { addressOf, CHARTED_HOOK, callOf, type Discovered, discover } from './valid-calls.ts';

let service: TestService;
let services: readonly Discovered[];
/** The replies to valid calls: of every service about every patient of the demo. */
const replies: { readonly id: string; readonly text: string; readonly type: string }[] = [];

beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: CHARTED_HOOK });
  services = await discover(service);
  for (const each of services)
    for (const { patient, observations, measures } of DEMO_PATIENTS) {
      const person = {
        patient: { ...patient, id: patient.id ?? '' },
        resources: [...observations, ...measures],
      };
      const reply = await service.post(addressOf(each), callOf(each, person));
      expect(reply.status, reply.text).toBe(200);
      replies.push({ id: each.id, text: reply.text, type: String(reply.headers['content-type']) });
    }
}, 60_000);
afterAll(() => service.close());

const parsed = () => replies.map(({ text }) => JSON.parse(text) as { cards: unknown[] });

/** Every object of a value with the path to it. */
function objectsIn(value: unknown, path: readonly string[] = []): readonly (readonly string[])[] {
  if (typeof value !== 'object' || value === null) return [];
  const inside = Object.entries(value).flatMap(([name, member]) => objectsIn(member, [...path, name]));
  return Array.isArray(value) ? inside : [path, ...inside];
}

describe('JSON', () => {
  it('J1: is what every service answers in, in UTF-8, whatever the outcome', async () => {
    for (const { type } of replies) expect(type).toBe('application/json; charset=utf-8');
    const refused = await service.post(HOOK_DOOR.path, {});
    expect([refused.status, refused.headers['content-type']]).toEqual([
      400,
      'application/json; charset=utf-8',
    ]);
  });

  it('J1: is all that is read', async () => {
    const form = await service.post(HOOK_DOOR.path, 'hook=patient-view', {
      'content-type': 'application/x-www-form-urlencoded',
    });
    expect(form.status).toBe(415);
  });

  it('J2 to J4: has no null, nothing empty and no member without a value, anywhere in any reply', () => {
    const used = new Set(parsed().map(({ cards }) => cards.length > 0));
    expect(used, 'some replies have cards').toContain(true);
    for (const reply of parsed()) expect(emptyIn(reply, ['cards'])).toEqual([]);
  });

  it('J2 to J4: holds for an empty answer, for discovery and for a refusal too', async () => {
    const [nothing, discovery, refusal] = [
      await service.post(HOOK_DOOR.path, broken(HOOK_DOOR.bodyOf(PATIENT, []), 'prefetch.grip', null)),
      await service.get('/cds-services'),
      await service.post(HOOK_DOOR.path, {}),
    ];
    expect(nothing.text).toBe('{"cards":[]}');
    for (const { body } of [discovery, refusal]) expect(emptyIn(body)).toEqual([]);
  });

  it('J5: embeds FHIR resources that three judges of FHIR take for what they are', () => {
    const resources = replies.flatMap(({ text }) => resourcesIn(JSON.parse(text)));
    expect(resources.length).toBeGreaterThan(40);
    for (const resource of resources) expect(judge(resource), JSON.stringify(resource)).toEqual([]);
  });

  it('J6: may have a member that nobody knows, in any object of a call', async () => {
    for (const each of services) {
      const call = callOf(each);
      const plain = cardsOf(await service.post(addressOf(each), call)).map(({ summary }) => summary);
      const places = objectsIn(call);
      expect(places.length).toBeGreaterThan(10);
      for (const place of places) {
        const path = [...place, 'vendor-member'].join('.');
        const reply = await service.post(addressOf(each), broken(call, path, { a: [1] }));
        expect([path, reply.status]).toEqual([path, 200]);
        expect(cardsOf(reply).map(({ summary }) => summary)).toEqual(plain);
      }
    }
  }, 60_000);
});

/** Resources that stand in the actions of a reply. */
function resourcesIn(value: unknown): readonly Resource[] {
  if (typeof value !== 'object' || value === null) return [];
  if ('resourceType' in value) return [value as Resource];
  return Object.values(value).flatMap(resourcesIn);
}

describe('a reply', () => {
  it('R1: is an object with a list of cards and nothing else', () => {
    for (const reply of parsed()) {
      expect(Object.keys(reply)).toEqual(['cards']);
      expect(Array.isArray(reply.cards)).toBe(true);
    }
  });

  it('R2: is 200 and an empty list where a service has nothing to say', async () => {
    const before = service.store.head().seq;
    const reply = await service.post(
      HOOK_DOOR.path,
      broken(HOOK_DOOR.bodyOf(PATIENT, []), 'prefetch.grip', { resourceType: 'Bundle', type: 'searchset' }),
    );
    expect([reply.status, reply.text]).toEqual([200, '{"cards":[]}']);
    expect(service.store.head().seq).toBe(before + 1);
  });

  it('R3: is 412 where data are missing, and another 4xx for another fault', async () => {
    for (const each of services) {
      const call = callOf(each);
      const statuses = [
        (await service.post(addressOf(each), broken(call, 'prefetch', undefined))).status,
        (await service.post(addressOf(each), broken(call, 'hook', undefined))).status,
        (await service.post(`${addressOf(each)}-unknown`, call)).status,
      ];
      expect([each.id, ...statuses]).toEqual([each.id, 412, 400, 404]);
    }
  });

  it('R4: that is a refusal has an OperationOutcome, valid as such, which repeats nothing of the person', async () => {
    const valid = HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS);
    const refusals = [
      await service.post(HOOK_DOOR.path, '{'),
      await service.post(HOOK_DOOR.path, broken(valid, 'hookInstance', 'Bramblewick')),
      await service.post(HOOK_DOOR.path, broken(valid, 'prefetch.grip', undefined)),
      await service.post(HOOK_DOOR.path, broken(valid, 'context.patientId', 'someone-else')),
      await service.post('/cds-services/unknown', valid),
      await service.post(HOOK_DOOR.path, 'x', { 'content-type': 'text/plain' }),
      await service.post(HOOK_DOOR.path, `"${'x'.repeat(2_000_000)}"`),
      await service.get(HOOK_DOOR.path),
    ];
    expect(refusals.map(({ status }) => status)).toEqual([400, 400, 412, 400, 404, 415, 413, 405]);
    for (const { body, text } of refusals) {
      expect(body.resourceType).toBe('OperationOutcome');
      expect(judge(body)).toEqual([]);
      expect(text).not.toMatch(/Bramblewick|someone-else/);
    }
  });
});
