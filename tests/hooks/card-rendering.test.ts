/**
 * STANDARDS C8: whatever comes from outside, a renderer makes nothing of a card but paragraphs, lists, tables and bold
 * text. Rendered by markdown-it with HTML and links on, which is more than a careful client allows.
 */
import fc from 'fast-check';
import MarkdownIt from 'markdown-it';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { markdown } from '../../src/hooks/markdown.ts';
import { broken, HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { TWENTY_CALLS } from './twenty-cards.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const renderer = new MarkdownIt({ html: true, linkify: true, typographer: false });
const ALLOWED = ['p', 'strong', 'ul', 'li', 'table', 'thead', 'tbody', 'tr', 'th', 'td'];

/** Elements that a renderer makes, without those that are allowed. */
function elementsOf(text: string): readonly string[] {
  const rendered = renderer.render(text);
  const names = [...rendered.matchAll(/<\/?([A-Za-z!?][^\s>]*)/g)].map(([, name = '']) => name.toLowerCase());
  return [...new Set(names)].filter((name) => !ALLOWED.includes(name));
}

const NASTY = [
  '<script>alert(1)</script>',
  '<img src=x onerror=alert(1)>',
  '<!-- x -->',
  '[x](javascript:alert(1))',
  '![x](https://evil.example/p.png)',
  '[^1]',
  '[^1]: x',
  '@octocat',
  '#123',
  'https://evil.example/a?b=c',
  'ftp://evil.example',
  'www.evil.example',
  'evil.com',
  '//evil.com',
  'mailto:a@evil.com',
  'a@evil.com',
  '<https://evil.example>',
  '&lt;b&gt;',
  '&#60;b&#62;',
  '| a | b |',
  '\n\n# heading',
  '\n---\n',
  '\n===\n',
  '\n\n    code',
  '\n```\ncode\n```\n',
  '1. one',
  '- [ ] task',
  '> quote',
  '**bold**',
  '~~gone~~',
  '\\',
  '\u2028',
  '\u0000',
  '\u{1D54F}',
];
const hostile = fc
  .array(fc.oneof(fc.constantFrom(...NASTY), fc.string({ unit: 'grapheme', maxLength: 6 })), {
    minLength: 1,
    maxLength: 6,
  })
  .map((parts) => parts.join(''));
/** An id may hold letters, digits, dashes and dots: enough for the name of a host. */
const hostileId = fc.constantFrom('www.evil.com', 'evil.com', '-x', '1.', '---', 'a.b.c.example', '-.-');

const CONTEXTS: readonly ((text: string) => string)[] = [
  (text) => text,
  (text) => `- ${text}\n- x`,
  (text) => `**x ${text}**`,
  (text) => `x ${text}`,
  (text) => `| a | b |\n|---|---|\n| ${text} | x |`,
];

describe('text from outside', () => {
  it('C8: becomes no element, wherever it stands', () => {
    fc.assert(
      fc.property(hostile, fc.constantFrom(...CONTEXTS), (text, within) => {
        expect(elementsOf(within(markdown(text)))).toEqual([]);
      }),
      { numRuns: 2_000 },
    );
  });

  it('C8: reads the same after rendering, but for white space', () => {
    fc.assert(
      fc.property(hostile, (text) => {
        const plain = renderer
          .renderInline(`x${markdown(text)}`)
          .replace(
            /&(amp|lt|gt|quot);/g,
            (_, name: string) => ({ amp: '&', lt: '<', gt: '>', quot: '"' })[name] ?? '',
          );
        const spaced = (words: string) => words.replaceAll('\u0000', '\uFFFD').replace(/\s+/g, '');
        expect(spaced(plain)).toBe(spaced(`x${text}`));
      }),
      { numRuns: 1_000 },
    );
  });

  it('C8: what could be markup makes links and elements of its own without the escape', () => {
    const bare = NASTY.filter((text) => elementsOf(`x ${text}`).length > 0);
    expect(bare.length, 'or this test shows nothing').toBeGreaterThan(12);
  });
});

/** A call with hostile text in every place that a client fills. */
function callWith(text: string, id: string): object {
  const refused = {
    ...broken(TRIAL, 'valueQuantity.code', text),
    id,
    code: { ...TRIAL.code, text },
    note: [{ text }],
    performer: [{ display: text }],
    subject: { reference: 'Patient/invented-1', display: text },
    method: { text, coding: [{ system: text, code: text, display: text }] },
  };
  const absent = {
    ...broken(TRIAL, 'valueQuantity', undefined),
    id: `absent-${id.length}`,
    dataAbsentReason: { text, coding: [{ system: text, code: text }] },
  };
  const wrongUnit = { ...broken(TRIAL, 'valueQuantity.code', 'lb'), id };
  const patient = { ...PATIENT, name: [{ text, family: text }], address: [{ text }] };
  const call = hookCallOf(patient, [...SIX_TRIALS, refused as typeof TRIAL, absent as typeof TRIAL]);
  const grip = call.prefetch.grip as { entry: object[] };
  grip.entry.push({ fullUrl: text, resource: broken(wrongUnit, 'id', `${id}x`) });
  return { ...call, extension: { [text || 'x']: text } };
}

describe('a card', () => {
  it('C8: holds no element beyond the fixed list, for hostile text in every place that a client fills', async () => {
    let cards = 0;
    await fc.assert(
      fc.asyncProperty(hostile, hostileId, async (text, id) => {
        const reply = await service.post(HOOK_DOOR.path, callWith(text, id));
        expect([200, 400]).toContain(reply.status);
        for (const { detail, summary, suggestions = [], links = [], source } of cardsOf(reply) ?? []) {
          cards += 1;
          expect(elementsOf(detail)).toEqual([]);
          const labels = [
            summary,
            source.label,
            ...links.map(({ label }) => label),
            ...suggestions.map(({ label }) => label),
          ];
          for (const label of labels) expect(label).not.toMatch(/[<>\n]/);
        }
      }),
      { numRuns: 150 },
    );
    expect(cards, 'or this test shows nothing').toBeGreaterThan(50);
  });

  it('C8: never repeats the name of the patient', async () => {
    const reply = await service.post(HOOK_DOOR.path, callWith('Canary-7719', 'trial-9'));
    expect(reply.status).toBe(200);
    expect(reply.text).not.toContain('Canary-7719');
  });

  it('C8: of every kind renders to paragraphs, lists and tables', async () => {
    for (const { name, body } of TWENTY_CALLS) {
      const [card] = cardsOf(await service.post(HOOK_DOOR.path, body));
      expect(elementsOf(card?.detail ?? ''), name).toEqual([]);
    }
  });
});
