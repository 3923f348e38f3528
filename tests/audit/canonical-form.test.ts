import { join } from 'node:path';
import canonicalize from 'canonicalize';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { entry, openStore, rfc8785, temporaryFolder } from './raw-log.ts';

const store = openStore(join(temporaryFolder(), 'canonical.sqlite'));
let appended = 0;

/** The stored text of a record with this content, and the same by the serialisation written in these tests. */
async function stored(content: unknown): Promise<{ text: string; independent: string }> {
  const given = { ...entry(++appended), content };
  const previous = store.head();
  await store.append(given);
  const row = store.findById(given.id);
  const said = { seq: previous.seq + 1, previous: previous.hash, recordedAt: row?.recorded_at, ...given };
  return { text: row?.record ?? '', independent: rfc8785(said) };
}

const halfSurrogate = /\p{Surrogate}/u;
const text = fc
  .oneof(
    fc.string({ unit: 'binary' }),
    fc.string({ unit: 'grapheme' }),
    fc.string({
      unit: fc.constantFrom(
        '\u0000',
        '\u001f',
        '\b',
        '\f',
        '"',
        '\\',
        '/',
        '\u007f',
        '\u2028',
        '😀',
        '\ufb33',
      ),
    }),
  )
  .filter((candidate) => !halfSurrogate.test(candidate));
const number = fc.oneof(
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.integer(),
  fc.maxSafeInteger(),
  fc.constantFrom(-0, 1e21, 1e-7, 123456789012345680000, 5e-324, 1.7976931348623157e308, 0.1 + 0.2),
);
const { json } = fc.letrec<{ json: unknown }>((tie) => ({
  json: fc.oneof(
    { depthSize: 'small', withCrossShrink: true },
    fc.oneof(text, number, fc.boolean(), fc.constant(null)),
    fc.array(tie('json'), { maxLength: 5 }),
    fc.dictionary(text, tie('json'), { maxKeys: 6 }),
  ),
}));

describe('the stored text of a record', () => {
  it('is its canonical form (RFC 8785), for generated JSON with any number and any text', async () => {
    const property = fc.asyncProperty(json, async (content) => {
      const { text, independent } = await stored(content);
      expect(text).toBe(independent);
      expect(text).toBe(canonicalize(JSON.parse(text)));
      expect(JSON.parse(text).content).toEqual(JSON.parse(JSON.stringify(content)));
    });
    await fc.assert(property, { numRuns: 400 });
  });

  it('is the same whatever order the members came in', async () => {
    const shuffled = fc.asyncProperty(
      fc.dictionary(text, json, { minKeys: 2, maxKeys: 8 }),
      async (content) => {
        const turned = Object.fromEntries(Object.entries(content).reverse());
        const contentOf = async (given: unknown) =>
          /"content":.*?,"id":"0000/s.exec((await stored(given)).text)?.[0];
        expect(await contentOf(turned)).toBe(await contentOf(content));
      },
    );
    await fc.assert(shuffled, { numRuns: 60 });
  });

  // RFC 8785, sections 3.2.2 and 3.2.3: the examples printed there.
  it('writes the printed examples of the standard as printed', async () => {
    const numbers = JSON.parse('[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001]');
    const words = { string: '\u20ac$\u000f\u000aA\'\u0042\u0022\u005c\\"/', literals: [null, true, false] };
    const { text: first } = await stored({ numbers, ...words });
    expect(first).toContain(
      '"content":{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],' +
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
    );
    const { text: second } = await stored({
      '\u20ac': 'Euro Sign',
      '\r': 'Carriage Return',
      '\ufb33': 'Hebrew Letter Dalet With Dagesh',
      '1': 'One',
      '\ud83d\ude00': 'Emoji: Grinning Face',
      '\u0080': 'Control',
      '\u00f6': 'Latin Small Letter O With Diaeresis',
    });
    const order = ['Carriage Return', 'One', 'Control', 'Latin Small', 'Euro Sign', 'Emoji', 'Hebrew'];
    const places = order.map((word) => second.indexOf(word));
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect(Math.min(...places)).toBeGreaterThan(0);
  });

  it('leaves out members that are undefined, and keeps null', async () => {
    const { text: record } = await stored({ there: null, absent: undefined });
    expect(record).toContain('"content":{"there":null}');
  });
});
