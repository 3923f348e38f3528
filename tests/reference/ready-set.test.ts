/** What stops the start: files that do not fit together. Each test breaks one thing in a copy of norms/. */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { alter, faultOf, type Json, normsWith } from './altered-norms.ts';

const TABLE = 'tables/mathiowetz-1985-us-adults/1.0.0.json';
const CUT_POINTS = 'cut-points/ewgsop2-2019/1.0.0.json';
const RULE = 'rules/two-sd-below-mean/1.0.0.json';
const PANEL = 'panels/adult-inpatient-us/1.0.0.json';

describe('what may not drive a result', () => {
  it('a row that is one-source stops a panel that names its table', () => {
    const folder = normsWith(TABLE, (file) => Object.assign(file.rows[5], { verification: 'one-source' }));
    expect(faultOf(folder)).toBe(
      `norms/${TABLE}: male right from 45 is one-source: it may not drive a result`,
    );
  });

  it('a cut-point that is one-source does so too', () => {
    const folder = normsWith(CUT_POINTS, (file) =>
      Object.assign(file.rows[0], { verification: 'one-source' }),
    );
    expect(faultOf(folder)).toContain('is one-source: it may not drive a result');
  });

  it.each([
    [TABLE, 'mathiowetz-1985-us-adults'],
    [CUT_POINTS, 'ewgsop2-2019'],
  ])('a set that is provisional stops a panel that names it: %s', (path, id) => {
    const folder = normsWith(path, (file) => Object.assign(file, { status: 'provisional' }));
    expect(faultOf(folder)).toBe(
      `norms/${PANEL} names ${id} 1.0.0, which is provisional: it may not drive a result`,
    );
  });
});

describe('a figure from memory', () => {
  const CENTILES = 'tables/dodds-2014-great-britain/1.0.0.json';

  it.each([
    [TABLE, 5, 'male right from 45'],
    [CUT_POINTS, 0, 'male either hand from 0'],
    // Named by one panel, which takes its unproven figures, and by none.
    [CENTILES, 3, 'male either hand from 20'],
    ['cut-points/awgs-2014/1.1.0.json', 0, 'male either hand from 0'],
  ])('never ships, whoever names it: %s', (path, row, where) => {
    const folder = normsWith(path, (file) => Object.assign(file.rows[row], { verification: 'from-memory' }));
    expect(faultOf(folder)).toContain(
      `norms/${path}: ${where}: a figure from memory never ships; leave the cell null`,
    );
  });

  it('never ships in a panel that takes unproven figures on purpose either', () => {
    const folder = normsWith(CUT_POINTS, (file) =>
      Object.assign(file.rows[0], { verification: 'from-memory' }),
    );
    for (const path of [PANEL, 'panels/all-published/1.0.0.json'])
      alter(folder, path, (file) => {
        const entry = file.entries.find(({ set }: Json) => set.id === 'ewgsop2-2019');
        entry.acceptUnproven = { reason: 'x' };
      });
    expect(faultOf(folder)).toContain('a figure from memory never ships; leave the cell null');
  });

  it('is left out: its row says from-memory and has no figure, which is no fault', () => {
    const folder = normsWith(TABLE, (file) =>
      Object.assign(file.rows[5], { verification: 'from-memory', mean: null, sd: null }),
    );
    expect(loadLibrary(folder).findPanel('adult-inpatient-us', '1.0.0')).toBeDefined();
  });
});

describe('what a panel takes on purpose', () => {
  const EUROPE = 'panels/older-adult-europe/1.0.0.json';
  const ALL = 'panels/all-published/1.1.0.json';
  const entryOf = (file: Json, id: string) => file.entries.find(({ set }: Json) => set.id === id);
  const setIn = (folder: string, panelId: string, id: string) =>
    loadLibrary(folder)
      .findPanel(panelId)
      ?.panel.sets.find(({ ref }) => ref.id === id);

  it('is an unproven row: it is marked, and a proven one beside it is not', () => {
    const rows = setIn(NORMS, 'older-adult-europe', 'dodds-2014-great-britain')?.rows ?? [];
    const marks = (sex: string) =>
      new Set(rows.filter((row) => row.sex === sex && row.limit).map((row) => row.unproven));
    expect(marks('female')).toEqual(new Set([true]));
    expect(marks('male')).toEqual(new Set([true, undefined]));
    expect(rows.find(({ sex, ageMin }) => sex === 'male' && ageMin === 70)).not.toHaveProperty('unproven');
  });

  it('and without that it stops the panel, naming the first such figure', () => {
    const folder = normsWith(
      EUROPE,
      (file) => delete entryOf(file, 'dodds-2014-great-britain').acceptUnproven,
    );
    expect(faultOf(folder)).toBe(
      'norms/tables/dodds-2014-great-britain/1.0.0.json: male either hand from 15 is one-source: it may not drive a result',
    );
  });

  it('is not needed for an unproven row without a figure: there is nothing to drive a result', () => {
    const folder = normsWith(TABLE, (file) =>
      Object.assign(file.rows[5], { verification: 'one-source', mean: null }),
    );
    // The worked examples of this table are of other rows.
    expect(loadLibrary(folder).findPanel('adult-inpatient-us', '1.0.0')).toBeDefined();
  });

  it('is a cut-point too', () => {
    const folder = normsWith(CUT_POINTS, (file) =>
      Object.assign(file.rows[0], { verification: 'one-source' }),
    );
    alter(folder, PANEL, (file) => {
      entryOf(file, 'ewgsop2-2019').acceptUnproven = { reason: 'x' };
    });
    alter(folder, 'panels/all-published/1.0.0.json', (file) => {
      entryOf(file, 'ewgsop2-2019').acceptUnproven = { reason: 'x' };
    });
    const set = loadLibrary(folder)
      .findPanel('adult-inpatient-us', '1.0.0')
      ?.panel.sets.find(({ ref }) => ref.id === 'ewgsop2-2019');
    expect(set?.rows.map(({ verification, unproven }) => [verification, unproven])).toEqual([
      ['one-source', true],
      ['secondary-seen', undefined],
    ]);
  });

  it('is a provisional set, which stops the panel without it', () => {
    expect(
      setIn(NORMS, 'all-published', 'steiber-2016-germany')?.rows.every(({ unproven }) => unproven),
    ).toBe(true);
    const folder = normsWith(ALL, (file) => delete entryOf(file, 'steiber-2016-germany').acceptUnproven);
    expect(faultOf(folder)).toBe(
      `norms/${ALL} names steiber-2016-germany 1.0.0, which is provisional: it may not drive a result`,
    );
  });

  it('is a summary, where the set states none: its rows are then read by it', () => {
    const change = (kind: string) =>
      normsWith(ALL, (file) => {
        entryOf(file, 'mathiowetz-1986-us-children').summaryWhenUnstated = { kind, reason: 'site policy' };
      });
    const id = 'mathiowetz-1986-us-children';
    expect(setIn(change('highest-per-hand'), 'all-published', id)?.summary).toBe('highest-per-hand');
    expect(faultOf(change('highest-of-either-hand'))).toContain(
      `norms/tables/${id}/1.0.0.json: female either hand is missing`,
    );
    expect(faultOf(change('mean-of-both-hands'))).toContain('female either hand is missing');
  });

  it('is no summary that the set states itself, nor one that nobody states', () => {
    const stated = normsWith(ALL, (file) => {
      entryOf(file, 'tomkinson-2025-international').summaryWhenUnstated = {
        kind: 'mean-per-hand',
        reason: 'x',
      };
    });
    expect(faultOf(stated)).toBe(`norms/${ALL}: tomkinson-2025-international states its own summary`);
    const unstated = normsWith(
      ALL,
      (file) => delete entryOf(file, 'steiber-2016-germany').summaryWhenUnstated,
    );
    expect(faultOf(unstated)).toBe(
      'norms/tables/steiber-2016-germany/1.0.0.json states no summary: the panel must give summaryWhenUnstated',
    );
  });
});

describe('a worked example that does not come out', () => {
  it.each<[string, string, (file: Json) => void, string, number]>([
    [
      'the limit',
      TABLE,
      (file) => Object.assign(file.rows[24], { mean: '70.5' }),
      'the limit is not 41.4',
      1,
    ],
    [
      'the outcome',
      TABLE,
      (file) => Object.assign(file.examples[1].given, { value: '41.4' }),
      'the outcome is reduced, not not-reduced',
      2,
    ],
    [
      'the person',
      TABLE,
      (file) => Object.assign(file.examples[2].given, { ageYears: 19 }),
      'no row for this person',
      3,
    ],
    [
      'the unit',
      TABLE,
      (file) => Object.assign(file.examples[3].given, { value: '36.1' }),
      'the outcome is reduced',
      4,
    ],
    [
      'the strictness',
      CUT_POINTS,
      (file) => Object.assign(file.rows[0], { operator: '<=' }),
      'the outcome is reduced, not not-reduced',
      1,
    ],
    [
      'the figure',
      CUT_POINTS,
      (file) => Object.assign(file.rows[1], { value: '18' }),
      'the limit is not 16',
      3,
    ],
  ])('because of %s is named', (_what, path, change, message, number) => {
    expect(faultOf(normsWith(path, change))).toMatch(
      new RegExp(`^norms/${path} example ${number}: ${message}`),
    );
  });

  it('because of a changed rule is named with the first table that shows it', () => {
    const folder = normsWith(RULE, (file) => Object.assign(file.parameters, { operator: '<' }));
    expect(faultOf(folder)).toMatch(
      /^norms\/tables\/[a-z0-9-]+\/1\.0\.0\.json example 1: the outcome is not-reduced, not reduced$/,
    );
  });
});

describe('a panel that cannot be applied', () => {
  it.each<[string, (file: Json) => void, string]>([
    [
      'an unknown set',
      (file) => Object.assign(file.entries[0].set, { version: '2.0.0' }),
      'names mathiowetz-1985-us-adults 2.0.0, which is not in norms/',
    ],
    [
      'a set of another kind',
      (file) => Object.assign(file.entries[2].set, { kind: 'table' }),
      'names ewgsop2-2019 1.0.0, which is not in norms/',
    ],
    [
      'an unknown rule for a table',
      (file) => Object.assign(file.entries[1].rule, { id: 'three-sd' }),
      'needs rule three-sd 1.0.0 of form sd-below-mean or centile, which is not in norms/',
    ],
    [
      'a rule of another form',
      (file) => Object.assign(file.rules, { scatter: file.rules.bounds }),
      'needs rule reading-bounds 1.0.0 of form trial-scatter, which is not in norms/',
    ],
    [
      'an unknown rule for the trials',
      (file) => Object.assign(file.rules.session, { version: '1.0.1' }),
      'needs rule session-gap 1.0.1 of form session-gap, which is not in norms/',
    ],
    [
      'a table without its rule',
      (file) => delete file.entries[0].rule,
      'names table mathiowetz-1985-us-adults without the rule it is read by',
    ],
  ])('for %s is named', (_what, change, message) => {
    expect(faultOf(normsWith(PANEL, change))).toBe(`norms/${PANEL} ${message}`);
  });

  it('for a summary that neither set nor panel states names the set', () => {
    const folder = normsWith(PANEL, (file) => delete file.entries[3].summaryWhenUnstated);
    expect(faultOf(folder)).toContain('norms/cut-points/sdoc-2020/1.0.0.json states no summary');
  });
});
