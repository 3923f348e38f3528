/** What a card offers to file (STANDARDS C9, C10, S1 to S5). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import type { Card } from '../../src/hooks/cards.ts';
import { HOOK_DOOR } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
const byId = new Map<string, Card>();

beforeAll(async () => {
  service = await openForTests();
  for (const { patient, observations } of DEMO_PATIENTS) {
    const [card] = cardsOf(await service.call(HOOK_DOOR, patient, observations));
    if (card) byId.set(patient.id ?? '', card);
  }
});
afterAll(() => service.close());

const cards = () => [...byId.values()];
const URN_UUID = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

describe('a suggestion', () => {
  it('C9, C10, S1: has a label and a uuid of its own, in a list with its selection behaviour', () => {
    for (const { uuid, suggestions, selectionBehavior } of cards().filter((card) => card.suggestions)) {
      expect(selectionBehavior).toBe('at-most-one');
      expect(suggestions).toHaveLength(1);
      expect(suggestions?.[0]?.label).toMatch(/^File the interpretation: \d+ preliminary Observations$/);
      expect(suggestions?.[0]?.uuid).not.toBe(uuid);
    }
  });

  it('S3 to S5: creates complete Observations that can stand alone in a record', () => {
    const actions = cards().flatMap(({ suggestions }) => suggestions?.flatMap((each) => each.actions) ?? []);
    expect(actions.length).toBeGreaterThan(40);
    for (const { type, description, resource } of actions) {
      expect(type).toBe('create');
      expect(description).toBe(`File as preliminary: ${resource.code.text}`);
      expect(resource).toMatchObject({ resourceType: 'Observation', status: 'preliminary' });
      expect(resource.subject?.reference).toMatch(/^Patient\/demo-/);
      expect(resource.effectiveDateTime).toMatch(/^2026-\d\d-\d\dT\d\d:\d\d:00Z$/);
      expect(resource.code.coding?.[0]?.code).toBeTruthy();
      expect(resource.valueQuantity ?? resource.valueCodeableConcept).toBeDefined();
      expect(resource).not.toHaveProperty('id');
      expect(resource.identifier).toEqual([
        { system: 'urn:ietf:rfc:3986', value: expect.stringMatching(URN_UUID) },
      ]);
      // Besides that, nothing that would resolve only inside another answer.
      expect(JSON.stringify({ ...resource, identifier: [] })).not.toContain('urn:uuid:');
      expect(resource.device?.display).toMatch(/^grip-strength-cds \d/);
      expect(resource.derivedFrom?.length).toBeGreaterThan(0);
    }
  });

  it('is of the latest session only', () => {
    const dates = byId
      .get('demo-augusta')
      ?.suggestions?.[0]?.actions.map(({ resource }) => resource.effectiveDateTime);
    expect(new Set(dates)).toEqual(new Set(['2026-11-19T14:00:00Z', '2026-11-19T14:03:00Z']));
  });

  it('is not made where the session was stopped', () => {
    expect(byId.get('demo-barnaby')).not.toHaveProperty('suggestions');
    expect(byId.get('demo-barnaby')).not.toHaveProperty('selectionBehavior');
  });
});
