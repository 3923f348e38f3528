/** What of JSON from outside is not read, and what is looked at before it is parsed. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { isParsedSoon, parseUntrusted } from '../src/untrusted-json.ts';

describe('JSON from outside', () => {
  it.each([
    '{"__proto__":1}',
    '{"a":{"__proto__":{}}}',
    String.raw`{"\u005f_proto__":1}`,
    String.raw`{"__p\u0072oto__":1}`,
    String.raw`{"__pr\u006Fto__":1}`,
    String.raw`"\ud800"`,
    String.raw`{"\uDC00":1}`,
    '{',
  ])('%s is not read', (text) => {
    expect(() => parseUntrusted(text)).toThrow(SyntaxError);
  });

  it('is otherwise read as what it is', () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        const text = JSON.stringify(value);
        expect(parseUntrusted(text)).toEqual(JSON.parse(text));
      }),
    );
    expect(parseUntrusted(String.raw`["\u00e9","\ud83d\ude00","\u003c"]`)).toEqual(['é', '😀', '<']);
  });
});

describe('a text is parsed soon', () => {
  const depthOf = (value: unknown): number =>
    typeof value === 'object' && value !== null ? 1 + Math.max(0, ...Object.values(value).map(depthOf)) : 0;

  it('when nothing in it is deeper than 64', () => {
    expect(isParsedSoon('['.repeat(64) + ']'.repeat(64))).toBe(true);
    expect(isParsedSoon('['.repeat(65) + ']'.repeat(65))).toBe(false);
    expect(isParsedSoon(`${'{"a":'.repeat(65)}1${'}'.repeat(65)}`)).toBe(false);
    expect(isParsedSoon('[],'.repeat(1_000))).toBe(true);
  });

  it('whatever its texts say', () => {
    for (const text of [
      '['.repeat(100),
      '{'.repeat(100),
      `\\"${'['.repeat(100)}`,
      `\\\\${','.repeat(100)}`,
      '"['.repeat(70),
    ]) {
      expect(isParsedSoon(JSON.stringify({ text, more: [text, text] })), text).toBe(true);
    }
    // After a backslash that is escaped itself, the quote ends the text.
    expect(isParsedSoon(`["\\\\",${'['.repeat(64)}`)).toBe(false);
    expect(isParsedSoon('"no end')).toBe(true);
    expect(isParsedSoon('"no end\\')).toBe(true);
  });

  it('when it holds no more than 100,000 values', () => {
    expect(isParsedSoon(`[${'1,'.repeat(99_999)}1]`)).toBe(true);
    expect(isParsedSoon(`[${'1,'.repeat(100_000)}1]`)).toBe(false);
    expect(isParsedSoon(`[${'{},'.repeat(50_001)}{}]`)).toBe(false);
  });

  it('as often as it is true of the value', () => {
    fc.assert(
      fc.property(fc.jsonValue({ maxDepth: 8 }), (value) => {
        expect(depthOf(value)).toBeLessThanOrEqual(64);
        expect(isParsedSoon(JSON.stringify(value))).toBe(true);
        // Wrapped until one level too many.
        const levels = 65 - depthOf(value);
        expect(isParsedSoon('['.repeat(levels) + JSON.stringify(value) + ']'.repeat(levels))).toBe(false);
        expect(isParsedSoon('['.repeat(levels - 1) + JSON.stringify(value) + ']'.repeat(levels - 1))).toBe(
          true,
        );
      }),
    );
  });
});
