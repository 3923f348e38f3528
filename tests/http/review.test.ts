/** The page of an evaluation: what it shows, to whom, and that a browser loads and runs nothing for it. */
import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_OVERRIDES } from '../../src/fhir/codes.ts';
import { STYLE } from '../../src/review/page.ts';
import { broken, FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { TWENTY_CALLS } from '../hooks/twenty-cards.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const pageOf = (id: string) => service.get(`/review/evaluations/${id}`);

async function pageAfter(...data: Parameters<typeof HOOK_DOOR.bodyOf>) {
  await service.call(HOOK_DOOR, ...data);
  return pageOf(service.last().id);
}

/** Cells of the table with a caption, row by row, without markup. */
function rowsOf(page: string, caption: string): readonly (readonly string[])[] {
  const [, body = ''] = page.split(`<caption>${caption}</caption>`);
  const rows = body.split('</table>', 1)[0]?.match(/<tr>.*?<\/tr>/gs) ?? [];
  return rows.map((row) =>
    [...row.matchAll(/<t[hd][^>]*>(.*?)<\/t[hd]>/gs)].map(([, cell = '']) =>
      cell.replace(/<br>/g, ' ').replace(/<[^>]*>/g, ''),
    ),
  );
}

describe('GET /review/evaluations/{id}', () => {
  it('shows what came in, in the unit as charted, with its Observations', async () => {
    const { text, status } = await pageAfter(
      PATIENT,
      sitting([62, 64, 61], [58, 57, 60], { unit: '[lb_av]' }),
    );
    expect(status).toBe(200);
    const rows = rowsOf(text, 'Readings, as charted');
    expect(rows[1]).toEqual(['right', '62 lb', '[lb_av]', '16 Nov 2026 14:05', 'Observation/trial-1']);
    expect(rows).toHaveLength(7);
    expect(rowsOf(text, 'Figures that stand for the readings')[1]).toEqual([
      'right hand, mean',
      '62.3 lb',
      '28.3 kg',
      '3 readings',
      'stands',
    ]);
  });

  it('shows each set with its limit, and how the limit came about', async () => {
    const { text } = await pageAfter(PATIENT, SIX_TRIALS);
    const rows = rowsOf(text, 'Each reference set that was read');
    // 75.3 - 2 x 21.5 = 32.3 lb.
    expect(rows[1]).toEqual([
      'US adults 1985 mathiowetz-1985-us-adults 1.1.0',
      '68.3 lb 1 lb = 0.45359237 kg',
      'at or below 32.3 lb',
      'not reduced (z -0.32, 37th percentile)',
      'right hand, mean; men 70 to 74',
      'mean 75.3, SD 21.5 lb of the row; rule two-sd-below-mean 1.0.0; verified: two-sources',
    ]);
    expect(rows.at(-2)?.slice(0, 4)).toEqual([
      'SDOC 2020 sdoc-2020 1.1.0',
      '32.0 kg',
      'below 35.5 kg',
      'reduced',
    ]);
    expect(text).toContain(
      'two-sd-below-mean 1.0.0: two standard deviations below the mean, inclusive (common practice, no source).',
    );
  });

  it('shows what clinicians answered to its cards, the newest last', async () => {
    await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS);
    const { id, content } = service.last();
    const card = content.returned.cards?.[0]?.uuid;
    const report = (more: object) =>
      service.post(`${HOOK_DOOR.path}/feedback`, {
        feedback: [{ card, outcome: 'overridden', outcomeTimestamp: '2026-11-25T11:00:00Z', ...more }],
      });
    expect(rowsOf((await pageOf(id)).text, 'Feedback on the cards of this evaluation')).toEqual([]);
    await report({});
    const reason = { system: GRIP_OVERRIDES, code: 'own-baseline' };
    await report({ overrideReason: { reason, userComment: '<b>left</b> arm only' } });
    const { text } = await pageOf(id);
    expect(rowsOf(text, 'Feedback on the cards of this evaluation').slice(1)).toEqual([
      ['25 Nov 2026 12:00 UTC', 'overridden', 'no reason given'],
      [
        '25 Nov 2026 12:00 UTC',
        'overridden',
        'The person is followed against their own baseline &quot;&lt;b&gt;left&lt;/b&gt; arm only&quot;',
      ],
    ]);
  });

  it('names every released file with its digest and citation, and the record with its hash', async () => {
    const { text } = await pageAfter(PATIENT, SIX_TRIALS);
    const { content, seq, hash, id } = service.last();
    const rows = rowsOf(text, 'Released files that were applied');
    for (const { id: name, version, digest } of content.references)
      expect(rows).toContainEqual([`${name} ${version}`, expect.any(String), expect.any(String), digest]);
    // No file is without what it rests on, and what is published is not called our own.
    expect(rows.slice(1).filter(([, , basis]) => !basis)).toEqual([]);
    const basisOf = (name: string) => rows.find(([file]) => file?.startsWith(`${name} `))?.[2];
    expect(basisOf('change-limits')).toMatch(/^published\. .*doi:/s);
    expect(basisOf('two-sd-below-mean')).toBe('common practice, no source.');
    expect(basisOf('mathiowetz-1985-us-adults')).toContain('1985');
    expect(rows.find(([name]) => name === 'mathiowetz-1985-us-adults 1.1.0')?.[2]).toContain('Mathiowetz');
    for (const said of [`<dd>${seq}, written `, `<code>${hash}</code>`, `<code>${id}</code>`])
      expect(text).toContain(said);
  });

  it('says what was not used, and where it stood in the request', async () => {
    const wrong = broken(broken(SIX_TRIALS[0] as object, 'id', 'wrong'), 'valueQuantity.code', 'lb');
    const { text } = await pageAfter(PATIENT, [...SIX_TRIALS, wrong as (typeof SIX_TRIALS)[0]]);
    expect(rowsOf(text, 'Entries that were not used, and why')[1]).toEqual([
      'Observation/wrong',
      expect.stringContaining('&quot;lb&quot; is not one of the UCUM codes'),
      'UNIT_UNKNOWN',
      expect.stringContaining('prefetch.grip.entry[6].resource'),
    ]);
  });

  it('is there for an evaluation through the FHIR operation too, with every session', async () => {
    const earlier = sitting([33, 34, 33], [30, 31, 30], { id: 'earlier', at: '2026-10-19T09:00:00Z' });
    await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, ...earlier]);
    const { text, status } = await pageOf(service.last().id);
    expect(status).toBe(200);
    expect(text.match(/<h2>Session of [^<]*/g)).toEqual([
      '<h2>Session of 16 Nov 2026',
      '<h2>Session of 19 Oct 2026',
    ]);
    expect(text).toContain('through the FHIR operation');
  });

  it('is written for every kind of card, without a hole', async () => {
    for (const { name, body } of TWENTY_CALLS) {
      await service.post(HOOK_DOOR.path, body);
      const { text, status } = await pageOf(service.last().id);
      expect(status, name).toBe(200);
      expect(text, name).not.toMatch(/undefined|\[object|NaN|null/);
      expect(text, name).not.toMatch(/<(h3|ul|tbody|td)[^>]*><\/\1>/);
    }
  });

  it('names no person', async () => {
    const { text } = await pageAfter(PATIENT, SIX_TRIALS);
    expect(text).not.toContain('Bramblewick');
    expect(text).toContain('<dd>Patient/invented-1</dd>');
  });
});

describe('what a browser does with it', () => {
  it('loads, runs, frames and sends nothing: the one stylesheet is named by its hash', async () => {
    const { headers, text } = await pageAfter(PATIENT, SIX_TRIALS);
    const hash = createHash('sha256').update(STYLE, 'utf8').digest('base64');
    expect(text).toContain(`<style>${STYLE}</style>`);
    expect(headers['content-security-policy']).toBe(
      `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'`,
    );
    expect(text).not.toMatch(/<(script|img|link|iframe|form|object|embed)\b|\s(style|on\w+|src|href)=/i);
  });

  it('keeps it out of caches, search engines and the addresses that it gives on', async () => {
    const { headers, text } = await pageAfter(PATIENT, SIX_TRIALS);
    expect(headers).toMatchObject({
      'content-type': 'text/html; charset=utf-8',
      'cache-control': 'no-store',
      'referrer-policy': 'no-referrer',
      'x-robots-tag': 'noindex, nofollow',
      'x-content-type-options': 'nosniff',
    });
    expect(text).toContain('<meta name="robots" content="noindex, nofollow">');
  });

  it('has one main heading, headings in order, a language, and says that access is open', async () => {
    const { text } = await pageAfter(PATIENT, SIX_TRIALS);
    expect(text).toMatch(/^<!doctype html>\n<html lang="en">/);
    expect(text).toContain('Open access: anyone who reaches this address sees this page.');
    const levels = [...text.matchAll(/<h([1-6])>/g)].map(([, level]) => Number(level));
    expect(levels.filter((level) => level === 1)).toHaveLength(1);
    for (const [index, level] of levels.entries())
      expect(level - (levels[index - 1] ?? 0)).toBeLessThanOrEqual(1);
  });

  it('shows its words dark enough on their ground (WCAG 2.2 AA, 1.4.3: 4.5 to 1)', () => {
    const grounds = ['#ffffff', '#f3f3ee'];
    const inks = [...STYLE.matchAll(/[^-]color: (#[0-9a-f]{6})/g)].map(([, ink = '']) => ink);
    expect(inks.length).toBeGreaterThan(2);
    for (const ink of inks)
      for (const ground of grounds) expect(contrast(ink, ground), ink).toBeGreaterThan(4.5);
  });
});

describe('an address that is no evaluation', () => {
  it.each(['00000000-0000-4000-8000-000000000000', 'x', '%3Cscript%3E', '..%2F..'])(
    '%s is 404, as a page',
    async (id) => {
      const { status, headers, text } = await pageOf(id);
      expect(status).toBe(404);
      expect(headers['content-type']).toBe('text/html; charset=utf-8');
      expect(text).toContain('There is no such evaluation');
      expect(text).not.toContain('script');
    },
  );

  it('takes nothing but GET', async () => {
    expect((await service.post('/review/evaluations/x', {})).status).toBe(405);
  });

  it('of a record of another kind is 404', async () => {
    await service.store.append({ id: 'another-kind', kind: 'readiness', patient: null, content: {} });
    expect((await pageOf('another-kind')).status).toBe(404);
  });

  it('is not put on record, and changes nothing', async () => {
    const before = service.store.head();
    await pageOf('x');
    expect(service.store.head()).toEqual(before);
  });
});

/** Ratio of WCAG 2.2 between two colours of the form `#rrggbb`. */
function contrast(one: string, other: string): number {
  const [light = 0, dark = 0] = [luminance(one), luminance(other)].sort((a, b) => b - a);
  return (light + 0.05) / (dark + 0.05);
}

function luminance(colour: string): number {
  const [red = 0, green = 0, blue = 0] = [1, 3, 5].map((at) => {
    const part = Number.parseInt(colour.slice(at, at + 2), 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}
