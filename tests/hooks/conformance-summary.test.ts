/** C1 at its boundary, through the shipped service: a site's own panel whose sets have titles of any length. */
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { NORMS } from '../interpret/build.ts';
import { type Json, relock } from '../reference/altered-norms.ts';
import { cardsOf, openForTests } from '../service-for-tests.ts';

/** Copies of one set, which differ by their names alone. */
const SETS = ['titled-a', 'titled-b', 'titled-c', 'titled-d', 'titled-e'] as const;
/** Characters that a set's title may have, by the schema of norms/. */
const MOST = 28;

/** A folder of norms with a panel of five sets of these titles; their limits are all below what is measured. */
function siteWith(titles: readonly string[]): string {
  const folder = mkdtempSync(join(tmpdir(), 'grip-titles-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  const write = (path: string, from: string, change: (file: Json) => void) => {
    const file: Json = JSON.parse(readFileSync(join(NORMS, from), 'utf8'));
    change(file);
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), JSON.stringify(file));
  };
  for (const [index, id] of SETS.entries())
    write(`cut-points/${id}/1.0.0.json`, 'cut-points/ewgsop2-2019/1.1.0.json', (file) =>
      Object.assign(file, { id, version: '1.0.0', supersedes: null, shortTitle: titles[index] }),
    );
  write('panels/titled/1.0.0.json', 'panels/adult-inpatient-us/1.1.0.json', (file) => {
    Object.assign(file, { id: 'titled', version: '1.0.0', supersedes: null });
    const [{ set, rule }] = file.entries;
    file.unitGuards = [{ table: { id: set.id, version: set.version }, rule }];
    file.entries = SETS.map((id) => ({
      set: { kind: 'cut-points', id, version: '1.0.0' },
      ageMin: { years: 65, reason: 'invented' },
    }));
  });
  relock(folder);
  return folder;
}

async function summaryWith(titles: readonly string[], patient = PATIENT): Promise<string> {
  const siteNorms = siteWith(titles);
  const service = await openForTests(undefined, 'titled', { siteNorms });
  try {
    const [card] = cardsOf(await service.call(HOOK_DOOR, patient, SIX_TRIALS));
    return card?.summary ?? '';
  } finally {
    await service.close();
  }
}

/** Five titles of this many UTF-16 units together, beginning alike in no two. */
function titlesOf(units: number, filling: string): readonly string[] {
  return SETS.map((_id, index) => {
    const own = Math.floor(units / SETS.length) + (index < units % SETS.length ? 1 : 0);
    const start = String.fromCodePoint(0x41 + index);
    const filled = filling.repeat(Math.floor((own - 1) / filling.length));
    return `${start}${filled}`.padEnd(own, 'z');
  });
}

describe('the summary of a card', () => {
  it('C1: names every set where that makes 139 characters, and not where it makes 140', async () => {
    const plain = await summaryWith(titlesOf(5, 'x'));
    expect(plain).toMatch(/A, B, C, D and E/);
    const around = plain.length - 5;
    for (const filling of ['x', '𝒳']) {
      const fitting = titlesOf(139 - around, filling);
      expect(Math.max(...fitting.map(({ length }) => length))).toBeLessThanOrEqual(MOST);
      const longest = await summaryWith(fitting);
      expect(longest.length).toBe(139);
      for (const title of fitting) expect(longest).toContain(title);
      const tooLong = await summaryWith(titlesOf(140 - around, filling));
      expect(tooLong.length).toBeLessThan(140);
      expect(tooLong).not.toContain(filling);
    }
  }, 60_000);

  it('C1: is whole characters below 140 with titles as long as they may be, of any script', async () => {
    for (const filling of ['x', '𝒳', 'é', '超']) {
      const summary = await summaryWith(titlesOf(SETS.length * MOST, filling));
      expect(summary.isWellFormed()).toBe(true);
      expect(summary.length).toBeLessThan(140);
    }
  }, 60_000);

  it('C1: says nothing of the name of the patient, however long it is', async () => {
    const long = { ...PATIENT, name: [{ family: '𝒳'.repeat(10_000), given: ['超'.repeat(10_000)] }] };
    expect(await summaryWith(titlesOf(5, 'x'), long)).toBe(await summaryWith(titlesOf(5, 'x')));
  });
});
