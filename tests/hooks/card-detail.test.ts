/** STANDARDS C8: text from outside never becomes markup in the detail of a card. */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { markdown } from '../../src/hooks/card-detail.ts';
import { broken, HOOK_DOOR, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const HOSTILE = '<img src=x onerror=alert(1)> [x](javascript:alert(1)) | \n# `code` **bold** _it_ ~s~ &lt; !';
/** Every character that Markdown or HTML takes as markup. */
const MARKUP = '\\`*_{}[]<>#|~!&';

const notPerformed = (code: string) => ({
  ...broken(TRIAL, 'valueQuantity', undefined),
  id: 'trial-7',
  dataAbsentReason: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code }],
  },
});

async function detailWith(trial: typeof TRIAL): Promise<string> {
  const reply = await service.call(HOOK_DOOR, PATIENT, [...SIX_TRIALS, trial]);
  expect(reply.status).toBe(200);
  return cardsOf(reply)[0]?.detail ?? '';
}

function expectNoMarkup(detail: string): void {
  expect(detail.match(/(?<!\\)[<>[\]`]/g)).toBeNull();
  const lines = detail.split('\n');
  expect(lines.filter((line) => /^\s*#/.test(line))).toEqual([]);
}

describe('the detail of a card', () => {
  it('repeats a reason for absent data only when it is one of the code system', async () => {
    expect(await detailWith(notPerformed('asked-declined'))).toContain(
      'No reading: charted as asked-declined.',
    );
    const detail = await detailWith(notPerformed(HOSTILE));
    expectNoMarkup(detail);
    expect(detail).not.toContain('onerror');
    expect(detail).toContain('- Right hand: Not used: it has no valueQuantity.value');
  });

  it('lets no address become a link', () => {
    expect(markdown('see https://evil.example and www.evil.example or a@evil.example')).toBe(
      'see https\\://evil.example and www\\.evil.example or a\\@evil.example',
    );
  });

  it('escapes a unit', async () => {
    const detail = await detailWith(
      broken(broken(TRIAL, 'id', 'trial-7'), 'valueQuantity.code', '<b>|`[a](b)\n# x'),
    );
    expectNoMarkup(detail);
    expect(detail).toContain('"\\<b\\>\\|\\`\\[a\\](b) \\# x" is not one of the UCUM codes');
  });

  it('escapes the address of a trial without an id', async () => {
    const call = HOOK_DOOR.bodyOf(PATIENT, []) as { prefetch: Record<string, unknown> };
    call.prefetch.grip = {
      resourceType: 'Bundle',
      type: 'searchset',
      entry: [
        {
          fullUrl: `urn:x:${HOSTILE}`,
          resource: broken(broken(TRIAL, 'id', undefined), 'valueQuantity.code', 'lb'),
        },
      ],
    };
    const reply = await service.post(HOOK_DOOR.path, call);
    expect(reply.status).toBe(200);
    const detail = cardsOf(reply)[0]?.detail ?? '';
    expectNoMarkup(detail);
    expect(detail).toContain('onerror');
  });

  it('does not show what nobody asked for: text, display, note, performer', async () => {
    const canary = 'Canary-5521';
    const trial = {
      ...broken(TRIAL, 'id', 'trial-7'),
      text: { status: 'generated', div: canary },
      note: [{ text: canary }],
      performer: [{ display: canary }],
      code: { ...TRIAL.code, text: canary },
      subject: { reference: 'Patient/invented-1', display: canary },
    } as typeof TRIAL;
    await detailWith(trial);
    const reply = await service.call(HOOK_DOOR, PATIENT, [trial]);
    expect(reply.text).not.toContain(canary);
    expect(reply.text).not.toContain('Bramblewick');
    expect(service.last().record).not.toContain(canary);
  });
});

describe('markdown', () => {
  it('escapes each character of markup, and only those', () => {
    for (const character of MARKUP) expect(markdown(`a${character}b`)).toBe(`a\\${character}b`);
    expect(markdown('mean 62.3 lb (28.3 kg), 27th percentile: -0.6 + 1; "quoted"')).toBe(
      'mean 62.3 lb (28.3 kg), 27th percentile: -0.6 + 1; "quoted"',
    );
  });

  it('gives one line in which every character of markup is escaped, for any text', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        const escaped = markdown(text);
        expect(escaped).not.toMatch(/[\r\n]/);
        const unescaped = escaped.replaceAll(/\\[\\`*_{}[\]<>#|~!&]/g, '');
        for (const character of MARKUP) expect(unescaped).not.toContain(character);
      }),
    );
  });
});
