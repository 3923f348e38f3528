/** The charts of docs/: up to date, complete, and readable without colour. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { spread } from '../../tools/chart/labels.ts';
import { styleOf } from '../../tools/chart/marks.ts';
import { isDrawn, seriesOf } from '../../tools/chart/series.ts';
import { chartFiles } from '../../tools/limits-chart.ts';
import { NORMS } from '../interpret/build.ts';
import { outsideLimits } from './outside-limits.ts';
import { STATED_PANELS } from './stated-panels.ts';

const applied = loadLibrary(NORMS).findPanel('all-published');
if (!applied) throw new Error('no panel');
const { panel } = applied;
const charts = [...chartFiles()];

describe.each(charts)('%s', (path, content) => {
  it('is up to date: npm run chart:limits writes it', () => {
    expect(readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8')).toBe(content);
  });

  it('has a title, a description, and names the panel with its version', () => {
    expect(content).toMatch(/role="img" aria-labelledby="(\S+)-title \1-desc"/);
    expect(content).toMatch(/<title id="\S+-title">.+<\/title>\n<desc id="\S+-desc">.+<\/desc>/);
    expect(content).toContain(`Panel ${panel.ref.id} ${panel.ref.version}.`);
  });

  it('labels each line that it draws, and says in its caption which sets it leaves out', () => {
    const sex = path.includes('women') ? 'female' : 'male';
    const text = content.replaceAll('</text>\n', ' ').replaceAll(/<[^>]+>/g, '');
    for (const { label } of seriesOf(applied, sex)) expect(content).toContain(`>${label}</text>`);
    for (const { ref } of panel.sets.filter((set) => !isDrawn(set)))
      expect(text.split('Left out')[1]).toContain(applied.describe(ref).shortTitle);
  });

  it('keeps every word inside the picture and off the others', () => {
    const words = [...content.matchAll(/<text x="([\d.]+)" y="([\d.]+)" font-size="10.5"[^>]*>([^<]+)</g)];
    const places = words.map(([, x, y, word = '']) => ({ x: Number(x), y: Number(y), word }));
    expect(places.length).toBeGreaterThan(15);
    for (const { x, y, word } of places) {
      // Wide letters: three fifths of the size each.
      expect(x + word.length * 10.5 * 0.6).toBeLessThan(960);
      expect(y).toBeLessThan(500);
      const near = places.filter((other) => Math.abs(other.y - y) < 12 && Math.abs(other.x - x) < 150);
      expect(near).toHaveLength(1);
    }
    const lowest = [...content.matchAll(/<text x="[\d.]+" y="([\d.]+)"/g)].map(([, y]) => Number(y));
    expect(Math.max(...lowest)).toBeLessThan(556);
  });
});

describe('the lines', () => {
  it('are told apart by dashes and markers alone', () => {
    for (const kind of ['table', 'cut-points'] as const) {
      const drawn = panel.sets.filter((set) => isDrawn(set) && set.ref.kind === kind);
      const looks = drawn.map((_set, place) => styleOf(kind, place));
      expect(new Set(looks.map(({ dash }) => dash)).size).toBe(looks.length);
      if (kind === 'table')
        expect(new Set(looks.map(({ marker, filled }) => `${marker} ${filled}`)).size).toBe(looks.length);
    }
  });

  it.each(['female', 'male'] as const)('of %s pass through the limits of the transcription', (sex) => {
    for (const { id, points } of seriesOf(applied, sex)) {
      const entry = STATED_PANELS[`all-published ${panel.ref.version}`]?.find((each) => each.id === id);
      const limits = outsideLimits(id, entry?.rule ?? null, entry?.ageMin ?? null);
      const pounds = id.startsWith('mathiowetz');
      const known = limits
        .filter(({ column, limit }) => column.startsWith(sex) && limit !== null)
        .map(({ limit }) => (Number(limit) / 1_000_000) * (pounds ? 0.45359237 : 1));
      for (const { kilograms } of points)
        expect(Math.min(...known.map((each) => Math.abs(each - kilograms))), id).toBeLessThan(1e-6);
      expect(points.length).toBeGreaterThan(1);
    }
  });
});

describe('labels', () => {
  const bounds = { gap: 10, top: 0, bottom: 100 };

  it('stay where they are wanted when there is room', () => {
    expect(spread([{ y: 20 }, { y: 50 }, { y: 35 }], bounds)).toEqual([20, 50, 35]);
  });

  it('move apart around what they want, and stay within the ends', () => {
    expect(spread([{ y: 50 }, { y: 50 }], bounds)).toEqual([45, 55]);
    expect(spread([{ y: 98 }, { y: 99 }, { y: 97 }], bounds)).toEqual([90, 100, 80]);
    const many = spread(
      Array.from({ length: 11 }, () => ({ y: 3 })),
      bounds,
    );
    expect(many).toEqual(Array.from({ length: 11 }, (_, index) => 10 * index));
  });
});
