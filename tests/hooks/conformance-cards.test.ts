/** Every card of every service about every patient of the demo, member by member: C1 to C12, S1 to S7, L1 to L3, E2. */
import type { Resource } from 'fhir/r4.js';
import MarkdownIt from 'markdown-it';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import { judge } from '../profiles/judges.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { addressOf, CHARTED_HOOK, callOf, type Discovered, discover, INVENTED } from './valid-calls.ts';

/** A card as a client reads it: nothing of our own types is taken for granted. */
interface ReadCard {
  readonly uuid?: string;
  readonly summary: string;
  readonly indicator: string;
  readonly detail?: string;
  readonly source: {
    readonly label: string;
    readonly url?: string;
    readonly icon?: string;
    readonly topic?: Coding;
  };
  readonly suggestions?: readonly {
    readonly label: string;
    readonly uuid?: string;
    readonly isRecommended?: boolean;
    readonly actions?: readonly {
      readonly type: string;
      readonly description: string;
      readonly resource?: Resource & { readonly subject?: { readonly reference?: string } };
      readonly resourceId?: string;
    }[];
  }[];
  readonly selectionBehavior?: string;
  readonly overrideReasons?: readonly Coding[];
  readonly links?: readonly Record<string, unknown>[];
}
interface Coding {
  readonly system?: string;
  readonly code?: string;
  readonly display?: string;
}

let service: TestService;
let services: readonly Discovered[];
const answers: {
  readonly service: string;
  readonly patientId: string;
  readonly card: ReadCard;
  readonly record: string;
}[] = [];

beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: CHARTED_HOOK });
  services = await discover(service);
  for (const each of services)
    for (const { patient, observations, measures } of DEMO_PATIENTS) {
      const patientId = patient.id ?? '';
      const person = { patient: { ...patient, id: patientId }, resources: [...observations, ...measures] };
      const reply = await service.post(addressOf(each), callOf(each, person));
      for (const card of cardsOf(reply) as unknown as readonly ReadCard[])
        answers.push({ service: each.id, patientId, card, record: service.last().record });
    }
}, 60_000);
afterAll(() => service.close());

const cards = () => answers.map(({ card }) => card);
const suggestions = () => cards().flatMap(({ suggestions: own = [] }) => own);
const actions = () => suggestions().flatMap(({ actions: own = [] }) => own);
const CODING = { system: expect.stringMatching(/^(https?|urn):/), code: expect.stringMatching(/^\S+$/) };

describe('a card', () => {
  it('C1: has one sentence or a few short ones, below 140 characters however they are counted', () => {
    expect(answers.length).toBeGreaterThanOrEqual(DEMO_PATIENTS.length);
    for (const { summary } of cards()) {
      expect(summary.length, summary).toBeLessThan(140);
      expect([...summary].length).toBeLessThan(140);
      expect(summary).not.toMatch(/[\n<>]|undefined|NaN|\[object/);
    }
  });

  it('C2: is info or warning; never critical', () => {
    for (const { indicator } of cards()) expect(['info', 'warning']).toContain(indicator);
  });

  it('C3: says in its source which software wrote it', () => {
    for (const { source } of cards()) expect(source.label).toMatch(/^grip-strength-cds \d/);
  });

  it('C4 to C6: has a source without patient, icon or half a topic', () => {
    for (const { card, patientId } of answers) {
      if (card.source.url !== undefined) expect(new URL(card.source.url).protocol).toMatch(/^https?:$/);
      expect(JSON.stringify(card.source)).not.toContain(patientId);
      expect(card.source).not.toHaveProperty('icon');
      if (card.source.topic) expect(card.source.topic).toMatchObject(CODING);
    }
  });

  it('C7: has a uuid that no other card has and that is on record', () => {
    const uuids = cards().map(({ uuid }) => uuid);
    expect(new Set(uuids).size).toBe(uuids.length);
    for (const { card, record } of answers) {
      expect(card.uuid).toMatch(/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/);
      expect(record).toContain(card.uuid);
    }
  });

  it('C9, C10, C12: has no empty list, and a selection behaviour exactly where there are suggestions', () => {
    for (const card of cards()) {
      for (const list of [card.suggestions, card.links, card.overrideReasons])
        if (list !== undefined) expect(list.length).toBeGreaterThan(0);
      expect(card.selectionBehavior !== undefined).toBe(card.suggestions !== undefined);
      if (card.selectionBehavior) expect(['at-most-one', 'any']).toContain(card.selectionBehavior);
    }
  });

  it('C11, E2: offers reasons to override as Codings, each once and with words', () => {
    for (const { overrideReasons = [] } of cards()) {
      expect(overrideReasons.length).toBeGreaterThan(0);
      for (const reason of overrideReasons)
        expect(reason).toMatchObject({ ...CODING, display: expect.stringMatching(/\S/) });
      const keys = overrideReasons.map(({ system, code }) => `${system}|${code}`);
      expect(new Set(keys).size).toBe(keys.length);
    }
  });

  it('E2: holds no Coding without its system', () => {
    for (const coding of codingsIn(answers.map(({ card }) => card))) expect(coding).toMatchObject(CODING);
  });
});

/** Members of every `coding`, `topic` and `overrideReasons`. */
function codingsIn(value: unknown): readonly unknown[] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([name, member]) =>
    name === 'coding' || name === 'overrideReasons' ? (member as unknown[]) : codingsIn(member),
  );
}

const reader = new MarkdownIt('default', { html: true, linkify: true });
type Token = ReturnType<typeof reader.parse>[number];
const tokensOf = (text: string): readonly Token[] =>
  reader.parse(text, {}).flatMap((token) => [token, ...(token.children ?? [])]);

describe('the detail of a card', () => {
  it('C8: is Markdown in which a reader that allows HTML finds none', () => {
    for (const { detail = '' } of cards()) {
      expect(detail).not.toBe('');
      expect(tokensOf(detail).filter(({ type }) => type.startsWith('html'))).toEqual([]);
    }
  });

  it('C8: makes nothing of what stands in the record of the patient', async () => {
    const evil = '<img src=x onerror=alert(7)> [click](https://evil.example.net/) **7b2e** | x |';
    for (const one of services) {
      const call = JSON.parse(JSON.stringify(callOf(one)), (name, value) => {
        if (['text', 'display', 'unit', 'family'].includes(name) && typeof value === 'string') return evil;
        return name === 'note' ? [{ text: evil }] : value;
      });
      const reply = await service.post(addressOf(one), call);
      expect([one.id, reply.status]).toEqual([one.id, 200]);
      for (const { detail = '', summary } of cardsOf(reply) as unknown as readonly ReadCard[]) {
        const tokens = tokensOf(`${detail}\n\n${summary}`);
        expect(tokens.filter(({ type }) => type.startsWith('html'))).toEqual([]);
        const addresses = tokens.flatMap((token) => token.attrGet('href') ?? token.attrGet('src') ?? []);
        expect(addresses.filter((address) => String(address).includes('evil'))).toEqual([]);
        for (const [index, { type }] of tokens.entries())
          if (type === 'strong_open') expect(tokens[index + 1]?.content).not.toContain('7b2e');
      }
    }
  });
});

describe('a suggestion', () => {
  it('S1: has a label and a uuid, which no other suggestion or card has', () => {
    expect(suggestions().length).toBeGreaterThan(0);
    const uuids = [...suggestions(), ...cards()].map(({ uuid }) => uuid);
    expect(new Set(uuids).size).toBe(uuids.length);
    for (const { label } of suggestions()) expect(label).toMatch(/\S/);
  });

  it('S2: is recommended at most once a card', () => {
    for (const { suggestions: own = [] } of cards())
      expect(own.filter(({ isRecommended }) => isRecommended).length).toBeLessThanOrEqual(1);
  });

  it('S3: has actions that belong together: all about the patient of the call', () => {
    for (const { card, patientId } of answers)
      for (const { actions: own = [] } of card.suggestions ?? []) {
        expect(own.length).toBeGreaterThan(0);
        const subjects = own.map(({ resource }) => resource?.subject?.reference);
        expect(new Set(subjects)).toEqual(new Set([`Patient/${patientId}`]));
      }
  });

  it('S4, S5: creates whole resources and says in words which', () => {
    for (const { type, description, resource } of actions()) {
      expect(type).toBe('create');
      expect(description).toMatch(/\S/);
      expect(resource).toBeDefined();
      if (resource) expect(judge(resource), JSON.stringify(resource)).toEqual([]);
    }
  });

  it('S6: deletes nothing', () => {
    expect(actions().filter(({ type, resourceId }) => type === 'delete' || resourceId !== undefined)).toEqual(
      [],
    );
  });

  it('S7: is all that writes: no reply has system actions', async () => {
    for (const one of services) {
      const reply = await service.post(addressOf(one), callOf(one, INVENTED));
      expect(Object.keys(reply.body)).toEqual(['cards']);
    }
  });
});

describe('a link', () => {
  const links = () => cards().flatMap(({ links: own = [] }) => own);
  it('L1: has a label, an absolute address of this service, and its type', () => {
    expect(links().length).toBeGreaterThan(0);
    for (const link of links()) {
      expect(link.label).toMatch(/\S/);
      expect(link.type).toBe('absolute');
      expect(new URL(String(link.url)).origin).toBe('https://grip.example.org');
    }
  });

  it('L2, L3: has no appContext, and is not launched by itself', () => {
    expect(links().length).toBeGreaterThan(0);
    for (const link of links()) expect(Object.keys(link).sort()).toEqual(['label', 'type', 'url']);
  });
});
