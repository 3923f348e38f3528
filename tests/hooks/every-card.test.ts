/** What holds for every card, over the twenty calls of twenty-cards.ts and the services that answer them. */
import { createHash } from 'node:crypto';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Card } from '../../src/hooks/cards.ts';
import { replay } from '../../src/replay.ts';
import { openLibrary } from '../../src/service.ts';
import { temporaryFolder } from '../audit/raw-log.ts';
import { type HookBody, hookCallOf, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { TWENTY_CALLS } from './twenty-cards.ts';

let service: TestService;
const replies: { readonly name: string; readonly id: string; readonly cards: readonly Card[] }[] = [];
const every = () => replies.flatMap(({ cards }) => cards);

beforeAll(async () => {
  service = await openForTests();
  for (const { name, body } of TWENTY_CALLS) {
    for (const [path, call] of [
      ['grip-interpretation', body],
      ['grip-interpretation-discharge', atDischarge(body)],
    ] as const) {
      const reply = await service.post(`/cds-services/${path}`, call);
      expect(reply.status, name).toBe(200);
      replies.push({ name: `${name}, ${path}`, id: service.last().id, cards: cardsOf(reply) });
    }
  }
});
afterAll(() => service.close());

/** One client, whose token is `test-token`. */
function clientsFile(): string {
  const file = join(temporaryFolder(), 'clients.json');
  const tokenSha256 = createHash('sha256').update('test-token', 'utf8').digest('hex');
  writeFileSync(file, JSON.stringify({ clients: [{ name: 'ehr', tokenSha256 }] }));
  return file;
}

function atDischarge(body: HookBody): HookBody {
  return { ...body, hook: 'encounter-discharge', context: { ...body.context, encounterId: 'invented-stay' } };
}

describe('every card', () => {
  it('R1: is one, for each call', () => {
    expect(TWENTY_CALLS).toHaveLength(20);
    for (const { name, cards } of replies) expect(cards, name).toHaveLength(1);
  });

  it('C1: has a summary below 140 characters, in UTF-16 units and so in code points', () => {
    for (const { summary } of every()) {
      expect(summary.length).toBeLessThan(140);
      expect([...summary].length).toBeLessThanOrEqual(summary.length);
    }
  });

  it('C2: is info or warning, never critical', () => {
    for (const { indicator } of every()) expect(['info', 'warning']).toContain(indicator);
  });

  it('C11: offers the same eight reasons, of which none is there twice', () => {
    for (const { overrideReasons } of every()) {
      const names = overrideReasons.map(({ system, code }) => `${system}|${code}`);
      expect(new Set(names).size).toBe(8);
    }
  });

  it('L1, L2, L3: has one absolute link to the page of its evaluation, which is there', async () => {
    for (const { id, cards } of replies) {
      const [card] = cards;
      expect(card?.links).toEqual([
        {
          label: 'The figures behind this card',
          url: `https://grip.example.org/review/evaluations/${id}`,
          type: 'absolute',
        },
      ]);
      const page = await service.get(`/review/evaluations/${id}`);
      expect(page.status).toBe(200);
    }
  });

  it('L1: has no link where no page is offered, and still names every version that was used', async () => {
    const protectedService = await openForTests(undefined, undefined, { clientsFile: clientsFile() });
    const reply = await protectedService.post(
      '/cds-services/grip-interpretation',
      hookCallOf(PATIENT, SIX_TRIALS),
      {
        authorization: 'Bearer test-token',
      },
    );
    const [card] = cardsOf(reply);
    const asked = protectedService.last().content.asked.hook;
    const page = await protectedService.get(`/review/evaluations/${protectedService.last().id}`, {
      authorization: 'Bearer test-token',
    });
    await protectedService.close();
    expect(reply.status).toBe(200);
    expect(card).not.toHaveProperty('links');
    expect(asked).not.toHaveProperty('base');
    expect(card?.detail).toContain('Panel adult-inpatient-us 1.1.0: mathiowetz-1985-us-adults 1.1.0, ');
    expect(page.status).toBe(404);
  });

  it('C4, C6: names its source without an address that could be about the patient', () => {
    for (const { source } of every()) expect(Object.keys(source)).toEqual(['label']);
  });

  it('S1 to S4: suggests at most one thing, each action with its description, none recommended', () => {
    for (const { suggestions = [], selectionBehavior } of every()) {
      expect(suggestions.length).toBeLessThan(2);
      expect(selectionBehavior).toBe(suggestions.length > 0 ? 'at-most-one' : undefined);
      for (const suggestion of suggestions) {
        expect(suggestion).not.toHaveProperty('isRecommended');
        for (const { type, description } of suggestion.actions) {
          expect(type).toBe('create');
          expect(description).toMatch(/^File as preliminary: \S/);
        }
      }
    }
  });

  it('C8: says no figure and no reason twice in its lists', () => {
    for (const { name, cards } of replies) {
      const lines = (cards[0]?.detail ?? '').split('\n').filter((line) => line.startsWith('- '));
      expect(new Set(lines).size, name).toBe(lines.length);
    }
  });

  it('C8: can be read at a bedside: at most 740 words, and 160 before the table', () => {
    for (const { name, cards } of replies) {
      const detail = cards[0]?.detail ?? '';
      const words = (text: string) => text.split(/\s+/).filter((word) => /\w/.test(word)).length;
      expect(words(detail), name).toBeLessThan(740);
      const [before = '', table] = detail.split('| Reference set');
      if (table) expect(words(before), name).toBeLessThan(160);
    }
  });

  it('P11: says in words which optional data could not be had', () => {
    const unread = replies.find(({ name }) => name.startsWith('optional keys'))?.cards[0]?.detail;
    expect(unread).toContain(
      'Not available, or not in full: height, weight, body mass index, gait speed and chair rises.',
    );
    const whole = replies.find(({ name }) => name === 'one trial, grip-interpretation')?.cards[0]?.detail;
    expect(whole).not.toContain('Not available, or not in full');
  });

  it('replays to the byte', () => {
    const library = openLibrary();
    for (const record of service.all()) {
      const { engine } = record.content;
      expect(replay(record, library, engine.version)).toEqual({ outcome: 'same', replyCompared: true });
    }
  });
});

describe('the sentence for the patient', () => {
  const sentences = () =>
    every().flatMap(({ detail }) => /\*\*For the patient:\*\* (.*)/.exec(detail)?.[1] ?? []);

  it('is one sentence for a reader of 12, by the grade level of Kincaid and others (1975): 7 at most', () => {
    expect(sentences().length).toBeGreaterThan(20);
    for (const sentence of sentences()) expect(gradeOf(sentence), sentence).toBeLessThanOrEqual(7);
  });

  it('frightens nobody and judges nothing', () => {
    for (const sentence of sentences())
      expect(sentence).not.toMatch(/reduced|weak|low|poor|risk|normal|malnutrition/i);
  });
});

/** 0.39 words per sentence + 11.8 syllables per word - 15.59; a figure and its unit count as one syllable each. */
function gradeOf(sentence: string): number {
  expect(sentence.match(/[.!?](?=\s|$)/g)).toHaveLength(1);
  const words = sentence.split(/\s+/);
  const syllables = words.map(
    (word) =>
      word
        .toLowerCase()
        .replace(/[^a-z]/g, '')
        .replace(/e$/, '')
        .match(/[aeiouy]+/g)?.length ?? 1,
  );
  return (
    0.39 * words.length + 11.8 * (syllables.reduce((sum, count) => sum + count, 0) / words.length) - 15.59
  );
}
