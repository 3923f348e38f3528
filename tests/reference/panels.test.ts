/** What the newest panels apply, stated by hand (stated-panels.ts), and what must hold of every panel. */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS, read, threeEach } from '../interpret/build.ts';
import type { Json } from './outside.ts';
import { CUT_POINTS, PANELS, TABLES } from './released-json.ts';
import { STATED_PANELS, STATED_RULES, type StatedEntry } from './stated-panels.ts';

const library = loadLibrary(NORMS);
const SETS = [...TABLES, ...CUT_POINTS];

/** The newest version of each id; versions are sorted. */
function newestOf<T extends { readonly id: string }>(all: readonly T[]): readonly T[] {
  return [...new Map(all.map((each) => [each.id, each])).values()];
}

const setOf = ({ id, version }: { id: string; version: string }): Json =>
  SETS.find((set) => set.id === id && set.version === version)?.file;

function entryOf(entry: Json): StatedEntry {
  return {
    id: entry.set.id,
    version: entry.set.version,
    rule: entry.rule?.id ?? null,
    ageMin: entry.ageMin?.years ?? null,
    summary: entry.summaryWhenUnstated?.kind ?? null,
    unproven: entry.acceptUnproven !== undefined,
  };
}

describe('the newest panels', () => {
  const newest = newestOf(PANELS);

  it('are the five that are stated here', () => {
    expect(newest.map(({ id, version }) => `${id} ${version}`)).toEqual(Object.keys(STATED_PANELS));
    expect(library.panelIds).toEqual(newest.map(({ id }) => id));
    for (const { id, version } of newest) expect(library.findPanel(id)?.panel.ref.version).toBe(version);
  });

  it.each(newest.map((panel) => [panel.id, panel] as const))(
    '%s applies the sets stated, in their order, with rule, age and summary',
    (_id, { id, version, file }) => {
      expect(file.entries.map(entryOf)).toEqual(STATED_PANELS[`${id} ${version}`]);
      for (const { rule } of file.entries) expect(rule?.version ?? '1.0.0').toBe('1.0.0');
      const sets = library.findPanel(id)?.panel.sets.map(({ ref }) => `${ref.id} ${ref.version}`);
      expect(sets).toEqual(STATED_PANELS[`${id} ${version}`]?.map((each) => `${each.id} ${each.version}`));
    },
  );

  it.each(newest.map((panel) => [panel.id, panel] as const))(
    '%s applies the rules stated',
    (_id, { file }) => {
      const names = Object.fromEntries(
        Object.entries<Json>(file.rules).map(([name, rule]) => [name, `${rule.id} ${rule.version}`]),
      );
      expect(names).toEqual(STATED_RULES);
    },
  );

  it('name the newest version of each set and rule', () => {
    const versions = new Map(newestOf(SETS).map(({ id, version }) => [id, version]));
    for (const { file } of newest)
      for (const { set } of file.entries) expect(set.version, set.id).toBe(versions.get(set.id));
  });

  it('name no set that its own newest version calls superseded', () => {
    for (const { id, file } of newest) {
      const superseded = file.entries.filter(({ set }: Json) => setOf(set).status === 'superseded');
      expect(superseded, id).toEqual([]);
    }
  });

  it('take a provisional set, or figures that are unproven, only on purpose and with the reason', () => {
    const unproven = new Set(['one-source', 'from-memory']);
    for (const { id, file } of newest) {
      for (const { set, acceptUnproven } of file.entries) {
        const { status, rows } = setOf(set);
        const weak = rows.some(
          ({ verification, mean, value, percentiles }: Json) =>
            unproven.has(verification) && (mean ?? value ?? percentiles ?? null) !== null,
        );
        const must = status === 'provisional' || weak;
        expect(acceptUnproven !== undefined, `${id} ${set.id}`).toBe(must);
        if (must) expect(acceptUnproven.reason.length).toBeGreaterThan(20);
      }
    }
  });

  it('give a reason for every age and every summary of their own', () => {
    for (const { file } of newest) {
      for (const { set, ageMin, summaryWhenUnstated } of file.entries) {
        const { summary, rows } = setOf(set);
        expect(summaryWhenUnstated !== undefined, set.id).toBe(summary.kind === null);
        if (ageMin) expect(ageMin.reason.length).toBeGreaterThan(20);
        // A consensus without a numeric lower age starts where the panel says.
        if (set.kind === 'cut-points') expect(ageMin !== undefined).toBe(rows[0].ageMin === null);
      }
    }
  });
});

describe('the tables that a panel checks units by', () => {
  /** Panels without a table of the mean of one hand among their sets: another table serves for the unit only. */
  const STATED: Readonly<Record<string, readonly string[]>> = {
    'older-adult-asia': ['nhanes-2011-2014-right-left-mean-of-3 1.1.0 by two-sd-below-mean 1.0.0'],
    'older-adult-europe': ['nhanes-2011-2014-right-left-mean-of-3 1.1.0 by two-sd-below-mean 1.0.0'],
  };

  it.each(newestOf(PANELS).map(({ id, file }) => [id, file] as const))('%s: as stated', (id, file) => {
    const guards = (file.unitGuards ?? []).map(
      ({ table, rule }: Json) => `${table.id} ${table.version} by ${rule.id} ${rule.version}`,
    );
    expect(guards).toEqual(STATED[id] ?? []);
  });

  it.each(library.panelIds)('%s stops pounds charted as kilograms', (id) => {
    const applied = library.findPanel(id)?.panel;
    if (!applied) throw new Error(`no panel ${id}`);
    const { results } = read(applied, { sex: 'male', ageYears: 72 }, threeEach('90', { unit: 'kg' }));
    expect(results.map((result) => result.kind === 'refusal' && result.code)).toEqual(['UNIT_IMPLAUSIBLE']);
  });
});

describe('all-published', () => {
  it('applies the newest version of every set that is not superseded, and no other', () => {
    const applied = library.findPanel('all-published')?.panel.sets.map(({ ref }) => ref.id);
    const live = newestOf(SETS).filter(({ file }) => file.status !== 'superseded');
    expect(applied?.toSorted()).toEqual(live.map(({ id }) => id).sort());
    expect(live).toHaveLength(26);
  });
});

it('older panels are still offered by their version', () => {
  for (const { id, version } of PANELS)
    expect(library.findPanel(id, version)?.panel.ref).toMatchObject({ id, version });
});
