/** What discovery says of every service that can be offered, and the templates that it publishes: D1 to D10, P1 to P5, P12. */
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { judgeDiscovery } from './judge-exchange.ts';
import { parseTemplate } from './template-parser.ts';
import { addressOf, CHARTED_HOOK, callOf, type Discovered, discover } from './valid-calls.ts';

let service: TestService;
let services: readonly Discovered[];
beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: CHARTED_HOOK });
  services = await discover(service);
});
afterAll(() => service.close());

describe('discovery', () => {
  it('D1, D2, D9: answers a GET with 200 and an object with a list, and other methods not', async () => {
    const reply = await service.get('/cds-services');
    expect([reply.status, Object.keys(reply.body)]).toEqual([200, ['services']]);
    expect(Array.isArray(reply.body.services)).toBe(true);
    expect((await service.post('/cds-services', {})).status).toBe(405);
    expect((await service.get('/cds-services/')).status).toBe(404);
  });

  it('D1: is the same each time', async () => {
    const [first, second] = [await service.get('/cds-services'), await service.get('/cds-services')];
    expect(first.text).toBe(second.text);
  });

  it("D3, D4, D5: keeps to HL7's logical model of it", async () => {
    expect(judgeDiscovery((await service.get('/cds-services')).body)).toEqual([]);
    for (const { title, usageRequirements } of services)
      for (const text of [title, usageRequirements]) expect(text).toMatch(/\S/);
  });

  it('D6: has no member of a later version, which a 2.0 client need not know', () => {
    for (const each of services)
      expect(
        Object.keys(each).filter(
          (member) => !/^(hook|title|description|id|prefetch|usageRequirements)$/.test(member),
        ),
      ).toEqual([]);
  });

  it('D7, D8: names each service by an id of its own, by which it is called', async () => {
    expect(new Set(services.map(({ id }) => id)).size).toBe(services.length);
    for (const each of services) {
      const reply = await service.post(addressOf(each), callOf(each));
      expect([each.id, reply.status]).toEqual([each.id, 200]);
    }
  });

  it('D9: refuses what is asked for in vain with a status of its own', async () => {
    expect((await service.get('/cds-services/unknown')).status).toBe(404);
  });
});

describe('discovery of a protected service', () => {
  const folder = mkdtempSync(join(tmpdir(), 'grip-discovery-'));
  const clientsFile = join(folder, 'clients.json');
  const token = 'discovery-token-for-tests.1';
  let guarded: TestService;
  beforeAll(async () => {
    const tokenSha256 = createHash('sha256').update(token, 'utf8').digest('hex');
    writeFileSync(clientsFile, JSON.stringify({ clients: [{ name: 'ward-7', tokenSha256 }] }));
    guarded = await openForTests(undefined, undefined, { clientsFile });
  });
  afterAll(async () => {
    await guarded.close();
    rmSync(folder, { recursive: true });
  });

  it('D10: asks for credentials like every call', async () => {
    expect((await guarded.get('/cds-services')).status).toBe(401);
    expect((await guarded.get('/cds-services', { authorization: `Bearer ${token}` })).status).toBe(200);
  });
});

/** Fields of the hook library that may stand in a template: patient-view, encounter-start, encounter-discharge. */
const CONTEXT_FIELDS = ['context.userId', 'context.patientId', 'context.encounterId'];

describe('the templates', () => {
  const each = () =>
    services.flatMap(({ id, prefetch }) =>
      Object.entries(prefetch).map(([key, text]) => ({ place: `${id}.${key}`, text })),
    );

  it('P1: stand in discovery, each under a key of its own', () => {
    for (const { id, prefetch } of services) {
      expect(Object.keys(prefetch).length, id).toBeGreaterThan(0);
      for (const key of Object.keys(prefetch)) expect(key).toMatch(/^[A-Za-z][A-Za-z0-9_-]*$/);
      const texts = Object.values(prefetch);
      expect(new Set(texts).size, `${id} asks for nothing twice`).toBe(texts.length);
    }
  });

  it('P2, P3: name first-level primitive fields of the context, and nothing else', () => {
    for (const { place, text } of each()) {
      const { tokens } = parseTemplate(text);
      expect([place, tokens.filter((token) => !CONTEXT_FIELDS.includes(token))]).toEqual([place, []]);
      expect(tokens.length, place).toBeGreaterThan(0);
    }
  });

  it('P4, P12: are reads and searches of the restricted subset, with R4 search parameters, none twice', () => {
    for (const { place, text } of each()) expect(() => parseTemplate(text), place).not.toThrow();
  });

  it('P12: are about the patient of the call, or the encounter of the call', () => {
    for (const { place, text } of each()) {
      const { tokens, parameters, type } = parseTemplate(text);
      const isSearch = parameters.some((name) => /^(patient|subject)$/.test(name));
      const token = type === 'Encounter' && !isSearch ? 'context.encounterId' : 'context.patientId';
      expect([place, tokens]).toEqual([place, [token]]);
      expect(isSearch || type === 'Patient' || type === 'Encounter', place).toBe(true);
    }
  });

  it('P5: are all that a call needs: data under another key change nothing', async () => {
    for (const one of services) {
      const call = callOf(one);
      const plain = cardsOf(await service.post(addressOf(one), call)).map(({ summary }) => summary);
      const canary = { resourceType: 'Patient', id: 'canary-5e1d', birthDate: '1901-01-01' };
      const reply = await service.post(addressOf(one), broken(call, 'prefetch.ofAnotherService', canary));
      expect([one.id, reply.status]).toEqual([one.id, 200]);
      expect(cardsOf(reply).map(({ summary }) => summary)).toEqual(plain);
      expect(service.last().record).not.toContain('5e1d');
    }
  });
});

describe('the reader of templates that these tests use', () => {
  it.each([
    'Patient/{{context.patientId}}',
    'Observation?patient={{context.patientId}}&code=http://loinc.org|8302-2,http://loinc.org|3141-9&_sort=-date&_count=5',
    'Condition?patient={{context.patientId}}&code:in=http://example.org/ValueSet/x',
    'Observation?subject=Patient/{{context.patientId}}&date=ge2026-01-01',
  ])('takes %s', (text) => {
    expect(parseTemplate(text).tokens).toEqual(['context.patientId']);
  });

  it.each([
    ['Patient/1', /a read is/],
    ['Pateint/{{context.patientId}}', /no type/],
    ['Patient/{{context.patientId}}/_history', /a read is/],
    ['Observation?patient={{context.patientId}}&patient=2', /patient as 2|twice/],
    ['Observation?patient={{context.patientId}}&_count=5&_count=6', /twice/],
    ['Observation?patient={{context.patientId}}&_include=Observation:device', /no reference, token or date/],
    ['Observation?patient.name={{context.patientId}}', /no reference, token or date/],
    ['Observation?code:not=x&patient={{context.patientId}}', /modifier/],
    ['Observation?sort:desc=date', /modifier/],
    ['Observation?_sort=-mood', /not sorted by/],
    ['Observation?value-quantity=5', /no reference, token or date/],
    ['Observation?patient={{context.patientId}}?code=x', /question mark/],
    ['Observation?patient={{context.{{x}}}}', /not a template/],
  ])('does not take %s', (text, why) => {
    expect(() => parseTemplate(text)).toThrow(why);
  });
});
