import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { citationLine, loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { alter, copyOfNorms, faultOf, normsWith, sha256 } from './altered-norms.ts';

const library = loadLibrary(NORMS);
const sets = [...library.releases.tables, ...library.releases.cutPoints];

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
    expect(Object.fromEntries(loaded.map(({ path, ref }) => [path, ref.digest]))).toEqual(lock);
  });

  it('are four tables, seven sets of cut-points, six rules and two panels', () => {
    const { tables, cutPoints, rules, panels } = library.releases;
    expect(tables.map(({ ref }) => ref.id)).toEqual([
      'mathiowetz-1985-us-adults',
      'nhanes-2011-2014-best-either-hand',
      'nhanes-2011-2014-right-left-best-of-3',
      'nhanes-2011-2014-right-left-mean-of-3',
    ]);
    expect(cutPoints.map(({ ref }) => ref.id)).toEqual([
      'awgs-2014',
      'awgs-2019',
      'awgs-2025',
      'ewgsop1-2010',
      'ewgsop2-2019',
      'fnih-2014',
      'sdoc-2020',
    ]);
    expect(rules).toHaveLength(6);
    expect(panels.map(({ ref }) => ref.id)).toEqual(library.panelIds);
    expect(library.panelIds).toEqual(['adult-inpatient-us', 'all-published']);
  });

  it.each(sets.map((set) => [set.ref.id, set] as const))(
    '%s can be traced: citation, licence, and how its figures were checked',
    (_id, { file }) => {
      const { citation, licence, verification } = file;
      expect(citation.doi ?? citation.pmid ?? licence).toMatch(/^10\.\d{4,}\/\S+$|^\d+$|public domain/);
      expect(citation.where.length).toBeGreaterThan(3);
      expect(licence.length).toBeGreaterThan(20);
      expect(verification.comparedWith.length).toBeGreaterThan(20);
      expect(file.sourceAttributes.citation).toContain(
        String(citation.year === 2016 ? '2013-2014' : citation.year),
      );
    },
  );

  it.each(library.releases.cutPoints.map((set) => [set.ref.id, set] as const))(
    '%s shows by example what happens at each of its limits and below it',
    (_id, { file }) => {
      for (const { sex, value, operator } of file.rows) {
        const own = file.examples.filter(({ given, expect: e }) => given.sex === sex && e.limit === value);
        const at = own.find(({ given }) => given.value === value);
        expect(at?.expect.outcome).toBe(operator === '<' ? 'not-reduced' : 'reduced');
        expect(
          own.some(({ given, expect: e }) => Number(given.value) < Number(value) && e.outcome === 'reduced'),
        ).toBe(true);
      }
    },
  );

  it.each(library.releases.tables.map((table) => [table.ref.id, table] as const))(
    '%s shows by example what happens at a limit and above it, for both sexes',
    (_id, { file }) => {
      for (const sex of ['female', 'male']) {
        const own = file.examples.filter(({ given }) => given.sex === sex);
        expect(own.some(({ given, expect: e }) => given.value === e.limit && e.outcome === 'reduced')).toBe(
          true,
        );
        expect(own.some(({ expect: e }) => e.outcome === 'not-reduced')).toBe(true);
      }
    },
  );
});

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
    ]);
    expect(new Set(references.map(({ digest }) => digest)).size).toBe(references.length);
  });

  it('applies the parameters of its rules as released', () => {
    expect(panel('adult-inpatient-us').panel.rules).toMatchObject({
      trialsPerHand: { perHand: 3 },
      scatter: { maxCvPercent: '15' },
      bounds: { maxKg: '100' },
      session: { maxGapMinutes: 60 },
      unitPlausibility: { aboveSd: '3', withinSd: '3', cautionAboveSd: '1' },
    });
  });

  it('starts a set at its own age where it gives one, and says why', () => {
    const us = panel('adult-inpatient-us');
    const rows = us.panel.sets.find(({ ref }) => ref.id === 'ewgsop2-2019')?.rows;
    expect(rows?.map(({ ageMin, ageMax }) => [ageMin, ageMax])).toEqual([
      [65, null],
      [65, null],
    ]);
    expect(us.describe({ id: 'ewgsop2-2019', version: '1.0.0' }).ageReason).toContain('local policy');
    expect(us.describe({ id: 'mathiowetz-1985-us-adults', version: '1.0.0' }).ageReason).toBeNull();
  });

  it('chooses the summary only where the set states none, and says why', () => {
    const us = panel('adult-inpatient-us');
    expect(us.panel.sets.find(({ ref }) => ref.id === 'sdoc-2020')?.summary).toBe('highest-of-either-hand');
    expect(us.describe({ id: 'sdoc-2020', version: '1.0.0' }).summaryReason).toContain('do not state');
    expect(us.describe({ id: 'ewgsop2-2019', version: '1.0.0' }).summaryReason).toBeNull();
  });

  it('describes a set for a reader: citation on one line, meaning, rule and companions', () => {
    const described = panel('adult-inpatient-us').describe({ id: 'ewgsop2-2019', version: '1.0.0' });
    expect(described.citation).toBe(
      'Cruz-Jentoft AJ, et al. Sarcopenia: revised European consensus on definition and diagnosis. Age Ageing 2019;48(1):16-31. doi:10.1093/ageing/afy169',
    );
    expect(described).toMatchObject({ rule: null, superseded: false });
    expect(described.meaning?.reduced).toContain('probable sarcopenia');
    expect(described.companions.map(({ name }) => name)).toContain('gait speed');
    const table = panel('adult-inpatient-us').describe({ id: 'mathiowetz-1985-us-adults', version: '1.0.0' });
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

  it('tells what each set of cut-points says in its file, and its remark where it has one', () => {
    const all = panel('all-published');
    const applied = library.releases.cutPoints.filter(({ ref }) =>
      all.panel.sets.some((set) => set.ref === ref),
    );
    expect(applied.map(({ ref }) => ref.id)).not.toContain('ewgsop1-2010');
    for (const { ref, file } of applied) expect(all.describe(ref).meaning).toEqual(file.meaning);
    const remarks = library.releases.cutPoints.map(({ ref, file }) => [ref.id, file.meaning.remark]);
    expect(remarks).toEqual([
      ['awgs-2014', null],
      ['awgs-2019', null],
      ['awgs-2025', null],
      ['ewgsop1-2010', null],
      ['ewgsop2-2019', null],
      ['fnih-2014', '26 to 32 kg in men and 16 to 20 kg in women was called intermediate'],
      ['sdoc-2020', null],
    ]);
  });

  it('tells that a set is superseded by a later release, and that the later one is not', () => {
    const all = panel('all-published');
    const superseded = all.panel.sets.filter(({ ref }) => all.describe(ref).superseded);
    expect(superseded.map(({ ref }) => ref.id)).toEqual(['awgs-2019']);
  });

  it('tells that a set is superseded when only its own file says so, or only the later file', () => {
    const only = (own: string, later: boolean) => {
      const folder = normsWith('cut-points/awgs-2019/1.0.0.json', (file) => {
        file.status = own;
      });
      alter(folder, 'cut-points/awgs-2025/1.0.0.json', (file) => {
        if (!later) file.supersedes = null;
      });
      const found = panel('all-published', undefined, loadLibrary(folder));
      return found.describe({ id: 'awgs-2019', version: '1.0.0' }).superseded;
    };
    expect(only('superseded', false)).toBe(true);
    expect(only('active', true)).toBe(true);
    expect(only('active', false)).toBe(false);
  });

  it('is not superseded by a release that replaces another version or another set', () => {
    for (const supersedes of [
      { id: 'awgs-2019', version: '2.0.0', reason: 'x' },
      { id: 'fnih-2014', version: '2.0.0', reason: 'x' },
    ]) {
      const folder = normsWith('cut-points/awgs-2025/1.0.0.json', (file) => {
        file.supersedes = supersedes;
      });
      alter(folder, 'cut-points/awgs-2019/1.0.0.json', (file) => {
        file.status = 'active';
      });
      const all = panel('all-published', undefined, loadLibrary(folder));
      expect(all.panel.sets.filter(({ ref }) => all.describe(ref).superseded)).toEqual([]);
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
      'a lower age for a table',
      0,
      { ageMin: { years: 65, reason: 'x' } },
      'do not go with table mathiowetz-1985-us-adults',
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
      'names ewgsop2-2019 1.0.0 twice',
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
    expect(found.panelIds).toEqual(['adult-inpatient-us']);
    expect(found.findPanel('all-published')).toBeUndefined();
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

  it('leaves out the bands of a set that end before the age at which it starts', () => {
    const folder = normsWith('panels/all-published/1.0.0.json', (file) => {
      file.entries[6].ageMin = { years: 65, reason: 'site policy' };
    });
    const rows = panel('all-published', undefined, loadLibrary(folder)).panel.sets[6]?.rows;
    expect(rows?.map(({ ageMin, ageMax }) => [ageMin, ageMax])).toEqual([
      [65, null],
      [65, null],
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
    expect(several.panelIds).toEqual(['adult-inpatient-us', 'all-published']);
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
