/** STANDARDS C8: text from outside never becomes markup in the detail of a card. */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { markdown } from '../../src/hooks/markdown.ts';
import { broken, HOOK_DOOR, PATIENT, SIX_TRIALS, sitting, TRIAL } from '../fixtures.ts';
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
    expect(detail).toContain('- Right hand: Not used: it has no valueQuantity\\.value');
  });

  it('lets no address become a link', () => {
    expect(markdown('see https://evil.example and www.evil.example or a@evil.example')).toBe(
      'see https\\:\\//evil\\.example and www\\.evil\\.example or a\\@evil\\.example',
    );
  });

  it('escapes a unit', async () => {
    const detail = await detailWith(
      broken(broken(TRIAL, 'id', 'trial-7'), 'valueQuantity.code', '<b>|`[a](b)\n# x'),
    );
    expectNoMarkup(detail);
    // A code that nobody charts by mistake is not repeated; one that people do is.
    expect(detail).toContain('Not used: the unit does not come in a form that is read');
    const known = await detailWith(broken(broken(TRIAL, 'id', 'trial-7'), 'valueQuantity.code', '[lb]'));
    expect(known).toContain('Not used: the unit "\\[lb\\]" does not come in a form that is read');
  });

  it('does not show an address of a trial that is no address', async () => {
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
    expect(detail).toContain('prefetch\\.grip\\.entry');
    expect(detail).not.toContain('onerror');
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

describe('the table of a card', () => {
  const rowsOf = (detail: string) => detail.split('\n').filter((line) => line.startsWith('| '));

  it('has a row for each result, with the figure as charted first', async () => {
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS));
    // 31 kg = 68.343 lb: (68.343 - 75.3) / 21.5 = -0.32; 28.5 kg = 62.832 lb: (62.832 - 64.8) / 18.1 = -0.11.
    expect(rowsOf(card?.detail ?? '')).toEqual([
      '| Reference set | Figure | Reduced is | Result |',
      '| US adults 1985, right | mean 31.0 kg (68.3 lb) | at or below 32.3 lb | not reduced (37th percentile) |',
      '| US adults 1985, left | mean 28.5 kg (62.8 lb) | at or below 28.6 lb | not reduced (46th percentile) |',
      '| US survey 2011-14, right | mean 31.0 kg | at or below 22.01 kg | not reduced (22nd percentile) |',
      '| US survey 2011-14, left | mean 28.5 kg | at or below 21.65 kg | not reduced (16th percentile) |',
      '| EWGSOP2 2019 | highest 32.0 kg | below 27 kg | not reduced |',
      '| SDOC 2020 | highest 32.0 kg | below 35.5 kg | **reduced** |',
      '| FNIH 2014 | highest 32.0 kg | below 26 kg | not reduced |',
    ]);
  });

  it('of every published set names both Asian ones, and none that is superseded', async () => {
    const everySet = await openForTests(undefined, 'all-published');
    const [card] = cardsOf(await everySet.call(HOOK_DOOR, PATIENT, SIX_TRIALS));
    await everySet.close();
    const asian = rowsOf(card?.detail ?? '').filter((row) => row.includes('AWGS'));
    expect(asian.map((row) => row.split(' | ')[0])).toEqual(['| AWGS 2019', '| AWGS 2025']);
    expect(card?.detail).toMatch(/men 65 and over \([^)]*AWGS 2019, AWGS 2025/);
    expect(card?.detail).not.toContain('(superseded');
    expect(card?.detail).toContain('figures of the set seen in one copy only');
    expect(card?.detail).toMatch(/ Panel all-published 1\.1\.0: mathiowetz-1985-us-adults 1\.1\.0, /);
  });

  it('has its small print at the end: rows, the rule and its basis, and what the panel chose', async () => {
    const RULE =
      'Limits of the tables: two standard deviations below the mean, inclusive (common practice, no source).';
    const NORMAL = 'Percentiles take the row as normally distributed.';
    const notesOn = async (birthDate: string) => {
      const reply = await service.call(HOOK_DOOR, broken(PATIENT, 'birthDate', birthDate), SIX_TRIALS);
      return (cardsOf(reply)[0]?.detail ?? '').split('\n\n').at(-3);
    };
    expect(await notesOn('1954-03-09')).toBe(
      `Read for men 70 to 74 (US adults 1985, US survey 2011-14); men 65 and over (EWGSOP2 2019, SDOC 2020, FNIH 2014). ${RULE} In older people two SD below the mean is a low limit. ${NORMAL} By choice of the panel: EWGSOP2 2019, SDOC 2020, FNIH 2014 from age 65; which figure SDOC 2020 is read from.`,
    );
    // At 45 the consensus sets are not read, so nothing is said of their ages, nor of older people.
    expect(await notesOn('1981-03-09')).toBe(
      `Read for men 45 to 49 (US adults 1985, US survey 2011-14). ${RULE} ${NORMAL}`,
    );
  });

  it('names the row in the table where the sex is not known', async () => {
    const [card] = cardsOf(await service.call(HOOK_DOOR, broken(PATIENT, 'gender', undefined), SIX_TRIALS));
    expect(rowsOf(card?.detail ?? '')).toContain(
      '| US adults 1985, right, women 70 to 74 | mean 31.0 kg (68.3 lb) | at or below 26.2 lb | not reduced (95th percentile) |',
    );
  });
});

describe('what the sets say besides', () => {
  const TITLE = '**In a nutrition assessment**';
  const besides = async (patient: typeof PATIENT, trials: ReturnType<typeof sitting>) => {
    const parts = (cardsOf(await service.call(HOOK_DOOR, patient, trials))[0]?.detail ?? '').split('\n\n');
    const at = parts.indexOf(TITLE);
    return at < 0 ? [] : (parts[at + 1] ?? '').split('\n').filter((line) => line.startsWith('- By '));
  };
  it('is the meaning and the companions of a set that says reduced', async () => {
    expect(await besides(PATIENT, sitting([31, 32, 30], [28, 29, 28.5]))).toEqual([
      '- By SDOC 2020, weak grip: one of the two parts of this definition; slow gait is the other. Not known here: gait speed.',
    ]);
    expect(await besides(PATIENT, sitting([40, 40, 40], [40, 40, 40]))).toEqual([]);
    const low = await besides(PATIENT, sitting([20, 20, 20], [19, 19, 19]));
    expect(low.join()).toContain('- By FNIH 2014: below its cut-point for weakness. Not known here: ');
  });

  it('is said too where one of both columns says reduced', async () => {
    const unknown = broken(PATIENT, 'gender', undefined);
    const lines = await besides(unknown, sitting([31, 32, 30], [28, 29, 28.5]));
    expect(lines).toEqual([
      '- By SDOC 2020, if read for men 65 and over, weak grip: one of the two parts of this definition; slow gait is the other. Not known here: gait speed.',
    ]);
  });

  it('is left out where no set that was read has anything to say', async () => {
    const younger = broken(PATIENT, 'birthDate', '1981-03-09');
    expect(await besides(younger, sitting([45, 45, 45], [44, 44, 44]))).toEqual([]);
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
