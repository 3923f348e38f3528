import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { compare, exact } from '../../src/interpret/exact.ts';
import { citationLine } from '../../src/reference/describe.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { alter, copyOfNorms, faultOf, type Json, normsWith, sha256 } from './altered-norms.ts';

const library = loadLibrary(NORMS);
const sets = [...library.releases.tables, ...library.releases.cutPoints];
const nameOf = ({ ref }: { ref: { id: string; version: string } }) => `${ref.id} ${ref.version}`;

const PANELS = ['adult-inpatient-us', 'all-published', 'child-us', 'older-adult-asia', 'older-adult-europe'];

function panel(id: string, version?: string, from = library) {
  const found = from.findPanel(id, version);
  if (!found) throw new Error(`no panel ${id}`);
  return found;
}

describe('the released norms', () => {
  it('are every file of the folder, each locked by the digest of its bytes', () => {
    const lock = JSON.parse(readFileSync(join(NORMS, 'lock.json'), 'utf8')) as Record<string, string>;
    const files = readdirSync(NORMS, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && entry.name !== 'lock.json')
      .map((entry) => join(entry.parentPath, entry.name));
    expect(Object.fromEntries(files.map((file) => [file.slice(NORMS.length), sha256(file)]))).toEqual(lock);
    const { tables, cutPoints, rules, panels } = library.releases;
    const loaded = [...tables, ...cutPoints, ...rules, ...panels];
    expect(
      Object.fromEntries(loaded.map(({ path, ref }) => [path.replace(/^norms\//, ''), ref.digest])),
    ).toEqual(lock);
  });

  it('are each in the newest version and the older ones, and every panel is offered', () => {
    const { tables, cutPoints, rules, panels } = library.releases;
    const ids = (releases: readonly { ref: { id: string } }[]) => [
      ...new Set(releases.map(({ ref }) => ref.id)),
    ];
    expect(ids(tables)).toHaveLength(16);
    expect(ids(cutPoints)).toHaveLength(12);
    expect(ids(rules)).toHaveLength(18);
    expect(ids(panels)).toEqual(library.panelIds);
    expect(library.panelIds).toEqual(PANELS);
    const all = [...tables, ...cutPoints, ...rules, ...panels];
    expect(new Set(all.map(({ ref }) => `${ref.id} ${ref.version}`)).size).toBe(all.length);
  });

  it.each(sets.map((set) => [nameOf(set), set] as const))(
    '%s can be traced: citation, licence, and how its figures were checked',
    (_id, { file }) => {
      const { citation, licence, verification } = file;
      const place = citation.volume && citation.pages ? `${citation.volume}:${citation.pages}` : licence;
      expect(citation.doi ?? citation.pmid ?? place).toMatch(
        /^10\.\d{4,}\/\S+$|^\d+$|^\d+\(\d+\):\d+-\d+$|public domain/,
      );
      expect(citation.where.length).toBeGreaterThan(3);
      expect(licence).toMatch(/CC BY|public domain|quoted as facts|licence was not seen/);
      expect(verification.comparedWith.length).toBeGreaterThan(20);
      expect(file.sourceAttributes.citation).toMatch(new RegExp(`${citation.year}|2013-2014`));
    },
  );

  it.each(library.releases.cutPoints.map((set) => [nameOf(set), set] as const))(
    '%s shows by example what happens at each of its limits and below it',
    (_id, { file }) => {
      for (const { sex, value, operator, stratum } of file.rows) {
        const own = file.examples.filter(
          ({ given, expect: e }) => given.sex === sex && isSame(e.limit, value),
        );
        if (value === null || (stratum && own.length === 0)) continue;
        const at = own.find(({ given }) => isSame(given.value, value));
        expect(at?.expect.outcome).toBe(operator === '<' ? 'not-reduced' : 'reduced');
        const beside = operator === '<' ? 'reduced' : 'not-reduced';
        expect(own.some(({ given, expect: e }) => !isSame(given.value, value) && e.outcome === beside)).toBe(
          true,
        );
      }
    },
  );

  it.each(library.releases.tables.map((table) => [nameOf(table), table] as const))(
    '%s shows by example what happens at a limit and beside it, for each sex that it knows',
    (_id, { file }) => {
      const known = file.rows.filter(({ mean, percentiles }) => mean !== null || percentiles);
      for (const sex of new Set(known.map((row) => row.sex))) {
        const own = file.examples.filter(({ given }) => given.sex === sex);
        if (file.id === 'mathiowetz-1986-us-children' && sex === 'female') continue;
        const at = own.find(({ given, expect: e }) => isSame(given.value, e.limit));
        const beside = own.find(({ given, expect: e }) => !isSame(given.value, e.limit));
        expect([at?.expect.outcome, beside?.expect.outcome].sort()).toEqual(['not-reduced', 'reduced']);
      }
    },
  );
});

/** The same number, however it is written: `8.90` is `8.9`. */
function isSame(a: string, b: string | null): boolean {
  return b !== null && compare(exact(a), exact(b)) === 0;
}

describe('a panel', () => {
  it('names every set and rule it applies, with their digests', () => {
    const { references } = panel('adult-inpatient-us');
    expect(references.map(({ kind, id }) => `${kind} ${id}`)).toEqual([
      'table mathiowetz-1985-us-adults',
      'rule two-sd-below-mean',
      'table nhanes-2011-2014-right-left-mean-of-3',
      'cut-points ewgsop2-2019',
      'cut-points sdoc-2020',
      'cut-points fnih-2014',
      'rule three-trials-per-hand',
      'rule trial-scatter',
      'rule reading-bounds',
      'rule session-gap',
      'rule unit-plausibility',
      'rule trial-pattern',
      'rule calibration-yearly',
      'rule time-of-day',
      'rule change-limits',
      'rule record-window',
      'rule protocol-effects',
      'rule next-measurement',
    ]);
    expect(new Set(references.map(({ digest }) => digest)).size).toBe(references.length);
  });

  it('applies the parameters of its rules as released', () => {
    expect(panel('adult-inpatient-us').panel.rules).toMatchObject({
      trialsPerHand: { perHand: 3 },
      scatter: { maxCvPercent: '15' },
      bounds: { maxKg: '100' },
      session: { maxGapMinutes: 60 },
      unitPlausibility: {
        aboveSd: '3',
        withinSd: '3',
        cautionAboveSd: '1',
        previousFactor: { from: '1.9', to: '2.5', maxDays: 365 },
      },
      trialPattern: { firstBelowPercent: '20', fallPercent: '20' },
      calibration: { maxDays: 366 },
      timeOfDay: { maxMinutes: 240 },
      recordWindow: { days: { height: 1825, weight: 90 }, growing: { belowAge: 20, heightDays: 90 } },
      nextMeasurement: { afterDays: 14 },
    });
    expect(Object.keys(panel('adult-inpatient-us', '1.0.0').panel.rules)).toEqual([
      'trialsPerHand',
      'scatter',
      'bounds',
      'session',
      'unitPlausibility',
    ]);
  });

  it('starts a set at its own age where it gives one, and says why', () => {
    const us = panel('adult-inpatient-us');
    const rows = us.panel.sets.find(({ ref }) => ref.id === 'ewgsop2-2019')?.rows;
    expect(rows?.map(({ ageMin, ageMax }) => [ageMin, ageMax])).toEqual([
      [65, null],
      [65, null],
    ]);
    expect(us.describe({ id: 'ewgsop2-2019', version: '1.1.0' }).ageReason).toContain('local policy');
    expect(us.describe({ id: 'mathiowetz-1985-us-adults', version: '1.1.0' }).ageReason).toBeNull();
  });

  it('chooses the summary only where the set states none, and says why', () => {
    const us = panel('adult-inpatient-us');
    expect(us.panel.sets.find(({ ref }) => ref.id === 'sdoc-2020')?.summary).toBe('highest-of-either-hand');
    expect(us.describe({ id: 'sdoc-2020', version: '1.1.0' }).summaryReason).toContain('do not state');
    expect(us.describe({ id: 'ewgsop2-2019', version: '1.1.0' }).summaryReason).toBeNull();
  });

  it('describes a set for a reader: citation on one line, meaning, rule and companions', () => {
    const described = panel('adult-inpatient-us').describe({ id: 'ewgsop2-2019', version: '1.1.0' });
    expect(described.citation).toBe(
      'Cruz-Jentoft AJ, et al. Sarcopenia: revised European consensus on definition and diagnosis. Age Ageing 2019;48(1):16-31. doi:10.1093/ageing/afy169',
    );
    expect(described).toMatchObject({
      rule: null,
      superseded: false,
      supersededBy: null,
      interpolates: false,
    });
    expect(described.meaning?.reduced).toContain('probable sarcopenia');
    expect(described.companions).toContainEqual(
      expect.objectContaining({ name: 'gait speed', isRead: true }),
    );
    const table = panel('adult-inpatient-us').describe({ id: 'mathiowetz-1985-us-adults', version: '1.1.0' });
    expect(table).toMatchObject({
      meaning: null,
      superseded: false,
      rule: {
        title: 'Two standard deviations below the mean, inclusive',
        basis: 'common practice, no source',
      },
      companions: [],
    });
    expect(table.citation).toBe(
      'Mathiowetz V, Kashman N, Volland G, Weber K, Dowe M, Rogers S. ' +
        'Grip and pinch strength: normative data for adults. Arch Phys Med Rehabil 1985;66(2):69-74. PMID 3970660',
    );
  });

  it('tells what each set of cut-points says in its file', () => {
    const all = panel('all-published');
    const applied = library.releases.cutPoints.filter(({ ref }) =>
      all.panel.sets.some((set) => set.ref === ref),
    );
    expect(applied.map(({ ref }) => ref.id)).not.toContain('ewgsop1-2010');
    for (const { ref, file } of applied) expect(all.describe(ref).meaning).toEqual(file.meaning);
    const remarkOf = (version: string) =>
      panel('all-published', version).describe({ id: 'fnih-2014', version }).meaning?.remark;
    expect(remarkOf('1.0.0')).toBe('26 to 32 kg in men and 16 to 20 kg in women was called intermediate');
    expect(remarkOf('1.1.0')).toBeNull();
  });

  it('says which sets interpolate, and why unproven figures were taken', () => {
    const { describe: describeSet } = panel('older-adult-europe');
    expect(describeSet({ id: 'dodds-2014-great-britain', version: '1.0.0' })).toMatchObject({
      interpolates: true,
      unprovenReason: expect.stringContaining('one copy'),
    });
    expect(describeSet({ id: 'tomkinson-2025-international', version: '1.0.0' })).toMatchObject({
      interpolates: false,
      unprovenReason: null,
    });
  });

  it('says of no set that it is superseded because of a later release: a record must say the same on replay', () => {
    const replaced = sets.flatMap(({ file }) => (file.supersedes ? [nameOf({ ref: file.supersedes })] : []));
    const old = panel('all-published', '1.0.0');
    const applied = old.panel.sets.filter((set) => replaced.includes(nameOf(set)));
    const said = applied.map(({ ref }) => {
      const { superseded, supersededBy } = old.describe(ref);
      return [ref.id, superseded, supersededBy];
    });
    expect(said).toContainEqual(['sdoc-2020', false, null]);
    // Its own file says that it gave way, and not to what.
    expect(said).toContainEqual(['awgs-2019', true, null]);
    for (const [id, superseded] of said) if (id !== 'awgs-2019') expect(superseded, `${id}`).toBe(false);
    expect(said.length).toBeGreaterThan(3);
    const all = panel('all-published');
    expect(all.panel.sets.filter(({ ref }) => all.describe(ref).superseded)).toEqual([]);
  });

  it('describes a set the same when a later release of it is added', () => {
    const path = 'cut-points/fnih-2014/1.1.0.json';
    const later = normsWith('panels/child-us/1.0.0.json', () => undefined);
    const change = (file: Json) =>
      Object.assign(file, {
        version: '2.0.0',
        supersedes: { id: 'fnih-2014', version: '1.1.0', reason: 'a consensus of 2030' },
      });
    alter(later, path, change, path.replace('1.1.0', '2.0.0'));
    const described = (from: typeof library) =>
      panel('all-published', undefined, from).describe({ id: 'fnih-2014', version: '1.1.0' });
    expect(described(loadLibrary(later))).toEqual(described(library));
  });

  it('tells that a set is superseded when its own file says so, and only then', () => {
    const only = (own: string, later: boolean) => {
      const folder = normsWith('cut-points/fnih-2014/1.0.0.json', (file) => {
        file.status = own;
      });
      alter(folder, 'cut-points/fnih-2014/1.1.0.json', (file) => {
        if (!later) file.supersedes = null;
      });
      const found = panel('all-published', '1.0.0', loadLibrary(folder));
      const { superseded, supersededBy } = found.describe({ id: 'fnih-2014', version: '1.0.0' });
      return { superseded, supersededBy };
    };
    expect(only('superseded', false)).toEqual({ superseded: true, supersededBy: null });
    expect(only('superseded', true)).toEqual({ superseded: true, supersededBy: null });
    expect(only('active', true)).toEqual({ superseded: false, supersededBy: null });
    expect(only('active', false)).toEqual({ superseded: false, supersededBy: null });
  });

  it('names the later work that a file says its source gave way to', () => {
    const folder = normsWith('cut-points/fnih-2014/1.1.0.json', (file) => {
      file.status = 'superseded';
      file.supersededBy = { id: null, what: 'a consensus of 2030' };
    });
    const found = panel('all-published', undefined, loadLibrary(folder));
    expect(found.describe({ id: 'fnih-2014', version: '1.1.0' })).toMatchObject({
      superseded: true,
      supersededBy: 'a consensus of 2030',
    });
  });

  it('is not superseded by a release that replaces another version or another set', () => {
    for (const supersedes of [
      { id: 'fnih-2014', version: '2.0.0', reason: 'x' },
      { id: 'awgs-2014', version: '1.0.0', reason: 'x' },
    ]) {
      const folder = normsWith('cut-points/fnih-2014/1.1.0.json', (file) => {
        file.supersedes = supersedes;
      });
      const all = panel('all-published', '1.0.0', loadLibrary(folder));
      expect(all.describe({ id: 'fnih-2014', version: '1.0.0' }).superseded).toBe(false);
    }
  });

  it('describes no set that it does not apply', () => {
    expect(() => panel('adult-inpatient-us').describe({ id: 'awgs-2025', version: '1.0.0' })).toThrow(
      'awgs-2025',
    );
    expect(() => panel('adult-inpatient-us').describe({ id: 'ewgsop2-2019', version: '2.0.0' })).toThrow(
      '2.0.0',
    );
  });

  it.each([
    [
      'a summary for a set that states its own',
      2,
      { summaryWhenUnstated: { kind: 'highest-per-hand', reason: 'x' } },
      'ewgsop2-2019 states its own summary',
    ],
    [
      'a rule for cut-points',
      2,
      { rule: { id: 'two-sd-below-mean', version: '1.0.0' } },
      'a rule does not go with cut-points ewgsop2-2019',
    ],
    [
      'the same set twice',
      3,
      { set: { kind: 'cut-points', id: 'ewgsop2-2019', version: '1.0.0' }, summaryWhenUnstated: undefined },
      'panels/adult-inpatient-us/1.0.0.json names ewgsop2-2019 twice',
    ],
    [
      'two versions of one set',
      3,
      { set: { kind: 'cut-points', id: 'ewgsop2-2019', version: '1.1.0' }, summaryWhenUnstated: undefined },
      'panels/adult-inpatient-us/1.0.0.json names ewgsop2-2019 twice',
    ],
    [
      'a summary that the rows do not have',
      3,
      { summaryWhenUnstated: { kind: 'mean-per-hand', reason: 'x' } },
      'female right is missing',
    ],
  ])('is refused with %s', (_what, entry, change, message) => {
    const folder = normsWith('panels/adult-inpatient-us/1.0.0.json', (file) => {
      Object.assign(file.entries[entry], change);
    });
    expect(faultOf(folder)).toContain(message);
  });

  it('is not offered while it is provisional', () => {
    const folder = normsWith('panels/all-published/1.0.0.json', (file) => {
      file.status = 'provisional';
    });
    const found = loadLibrary(folder);
    expect(found.findPanel('all-published', '1.0.0')).toBeUndefined();
    expect(found.findPanel('all-published')?.panel.ref.version).toBe('1.1.0');
    const none = normsWith('panels/child-us/1.0.0.json', (file) => {
      file.status = 'provisional';
    });
    expect(loadLibrary(none).panelIds).toEqual(PANELS.filter((id) => id !== 'child-us'));
  });

  it('is refused with a provisional rule', () => {
    const folder = normsWith('rules/trial-scatter/1.0.0.json', (file) => {
      file.status = 'provisional';
    });
    expect(faultOf(folder)).toContain('needs rule trial-scatter 1.0.0, which is provisional');
  });

  it('cannot be changed after loading, nor can the releases', () => {
    const library = loadLibrary(NORMS);
    const us = panel('adult-inpatient-us', undefined, library);
    const row = us.panel.sets[0]?.rows[0];
    for (const part of [
      us,
      us.panel.sets,
      us.panel.sets[0],
      row,
      row?.norm,
      row?.limit,
      us.panel.rules.scatter,
    ]) {
      expect(Object.isFrozen(part)).toBe(true);
    }
    expect(Object.isFrozen(library.releases.tables[0]?.file.rows[0])).toBe(true);
  });

  it.each([
    ['awgs-2025', [[65, null]]],
    [
      'mathiowetz-1985-us-adults',
      [
        [65, 69],
        [70, 74],
        [75, null],
      ],
    ],
  ])('starts %s at its own age: bands that end before are left out, for tables too', (id, expected) => {
    const folder = normsWith('panels/all-published/1.1.0.json', (file) => {
      const entry = file.entries.find(({ set }: { set: { id: string } }) => set.id === id);
      entry.ageMin = { years: 65, reason: 'site policy' };
    });
    const sets = panel('all-published', undefined, loadLibrary(folder)).panel.sets;
    const rows = sets
      .find(({ ref }) => ref.id === id)
      ?.rows.filter(({ sex, hand }) => sex === 'male' && hand !== 'left');
    expect(rows?.map(({ ageMin, ageMax }) => [ageMin, ageMax])).toEqual(expected);
  });

  it('starts a band in its middle where the age lies in it', () => {
    const folder = normsWith('panels/adult-inpatient-us/1.1.0.json', (file) => {
      file.entries[0].ageMin = { years: 72, reason: 'site policy' };
    });
    const [table] = panel('adult-inpatient-us', undefined, loadLibrary(folder)).panel.sets;
    expect(table?.rows.slice(0, 2).map(({ ageMin, ageMax }) => [ageMin, ageMax])).toEqual([
      [72, 74],
      [75, null],
    ]);
  });

  it('is found by id, in the newest version unless one is asked for', () => {
    const path = 'panels/adult-inpatient-us/1.0.0.json';
    const folder = copyOfNorms();
    for (const version of ['1.10.0', '1.9.0'])
      alter(folder, path, (file) => Object.assign(file, { version }), path.replace('1.0.0', version));
    const several = loadLibrary(folder);
    const versionOf = (version?: string) => panel('adult-inpatient-us', version, several).panel.ref.version;
    expect(versionOf()).toBe('1.10.0');
    expect(versionOf('1.0.0')).toBe('1.0.0');
    expect(versionOf('1.9.0')).toBe('1.9.0');
    expect(several.panelIds).toEqual(PANELS);
  });

  it('is undefined when there is none of that id or version', () => {
    expect(library.findPanel('no-such-panel')).toBeUndefined();
    expect(library.findPanel('adult-inpatient-us', '9.9.9')).toBeUndefined();
  });
});

describe('a citation on one line', () => {
  it('leaves out what the source does not have', () => {
    const base = { authors: 'A B', title: 'T', journal: 'J', year: 2020, where: 'table 1' };
    const none = { volume: null, pages: null, doi: null, pmid: null };
    expect(citationLine({ ...base, ...none })).toBe('A B. T. J 2020.');
    expect(citationLine({ ...base, ...none, volume: '1', pages: '2-3', pmid: '4' })).toBe(
      'A B. T. J 2020;1:2-3. PMID 4',
    );
    expect(citationLine({ ...base, ...none, volume: '1', doi: '10.1/x', pmid: '4' })).toBe(
      'A B. T. J 2020;1. doi:10.1/x',
    );
  });
});
