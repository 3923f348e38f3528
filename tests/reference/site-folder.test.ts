/** A site's own folder of norms: loaded with ours, checked like ours, and locked file by file. */
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { ConfigFault } from '../../src/config.ts';
import { loadLibrary, type ReferenceLibrary } from '../../src/reference/library.ts';
import { lockFolder } from '../../src/reference/lock.ts';
import { NormsFault } from '../../src/reference/read-norms.ts';
import { openLibrary } from '../../src/service.ts';
import { NORMS } from '../interpret/build.ts';
import { type Json, relock, sha256 } from './altered-norms.ts';

const PANEL = 'panels/north-ward/1.0.0.json';

function emptyFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'site-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  return folder;
}

/** Writes a file made from one of ours into a site's folder. */
function write(
  folder: string,
  path: string,
  from: string,
  change: (file: Json) => void = () => undefined,
): void {
  const file: Json = JSON.parse(readFileSync(join(NORMS, from), 'utf8'));
  change(file);
  mkdirSync(dirname(join(folder, path)), { recursive: true });
  writeFileSync(join(folder, path), JSON.stringify(file));
}

/** A panel of the site that applies our sets, unlocked. */
function withPanel(change: (file: Json) => void = () => undefined): string {
  const folder = emptyFolder();
  write(folder, PANEL, 'panels/adult-inpatient-us/1.1.0.json', (file) => {
    Object.assign(file, { id: 'north-ward', version: '1.0.0', title: 'North ward', supersedes: null });
    change(file);
  });
  return folder;
}

function lockedPanel(change?: (file: Json) => void): string {
  const folder = withPanel(change);
  relock(folder);
  return folder;
}

const load = (site: string) => loadLibrary(NORMS, site);

function faultOf(act: () => unknown): string {
  try {
    act();
  } catch (fault) {
    if (fault instanceof NormsFault || fault instanceof ConfigFault) return `${fault.name}: ${fault.message}`;
    throw fault;
  }
  throw new Error('no fault');
}

describe('a site folder', () => {
  it('adds its panels to ours, and leaves ours as they are', () => {
    const [alone, both] = [loadLibrary(NORMS), load(lockedPanel())];
    expect(both.panelIds).toEqual([...alone.panelIds, 'north-ward'].sort());
    expect(both.findPanel('north-ward')).toMatchObject({ title: 'North ward' });
    const setsOf = (library: ReferenceLibrary, id: string) =>
      library.findPanel(id)?.panel.sets.map(({ ref }) => ref);
    expect(setsOf(both, 'north-ward')).toEqual(setsOf(alone, 'adult-inpatient-us'));
    expect(setsOf(both, 'adult-inpatient-us')).toEqual(setsOf(alone, 'adult-inpatient-us'));
  });

  it('may hold sets and rules of its own, which its panel applies', () => {
    const folder = withPanel((file) => {
      file.entries[0].set = { kind: 'table', id: 'north-table', version: '1.0.0' };
      file.entries[0].rule = { id: 'one-and-a-half-sd', version: '1.0.0' };
      file.rules.trialsPerHand = { id: 'two-trials', version: '1.0.0' };
    });
    write(folder, 'tables/north-table/1.0.0.json', 'tables/mathiowetz-1985-us-adults/1.1.0.json', (file) =>
      Object.assign(file, { id: 'north-table', version: '1.0.0', supersedes: null }),
    );
    write(folder, 'rules/one-and-a-half-sd/1.0.0.json', 'rules/two-sd-below-mean/1.0.0.json', (file) => {
      file.id = 'one-and-a-half-sd';
      file.parameters.sdBelow = '1.5';
    });
    write(folder, 'rules/two-trials/1.0.0.json', 'rules/three-trials-per-hand/1.0.0.json', (file) => {
      file.id = 'two-trials';
      file.parameters.perHand = 2;
    });
    relock(folder);
    const panel = load(folder).findPanel('north-ward')?.panel;
    expect(panel?.rules.trialsPerHand).toMatchObject({ perHand: 2, ref: { id: 'two-trials' } });
    expect(panel?.sets[0]).toMatchObject({ ref: { id: 'north-table' }, rule: { id: 'one-and-a-half-sd' } });
  });

  it.each<[string, (folder: string) => void, string]>([
    ['has no lock', (folder) => rmSync(join(folder, 'lock.json')), '/lock.json is missing'],
    [
      'has a lock that is none',
      (folder) => writeFileSync(join(folder, 'lock.json'), '[]'),
      '/lock.json is not a list of paths with SHA-256 digests',
    ],
    [
      'has a file that was changed after it was locked',
      (folder) => writeFileSync(join(folder, PANEL), `${readFileSync(join(folder, PANEL), 'utf8')}\n`),
      `/${PANEL} was changed after release`,
    ],
    [
      'has a file that is not locked',
      (folder) => write(folder, 'rules/x/1.0.0.json', 'rules/session-gap/1.0.0.json'),
      '/rules/x/1.0.0.json is not in',
    ],
    ['lacks a locked file', (folder) => rmSync(join(folder, PANEL)), `/${PANEL} is in`],
    [
      'has a file of no known kind',
      (folder) => write(folder, 'sets/x/1.0.0.json', 'rules/session-gap/1.0.0.json'),
      '/sets/x/1.0.0.json is in none of the folders tables, cut-points, rules, panels',
    ],
  ])('that %s stops the start, and the file is named with its folder', (_what, spoil, message) => {
    const folder = lockedPanel();
    spoil(folder);
    expect(faultOf(() => load(folder))).toContain(`NormsFault: ${folder}${message}`);
  });

  it.each<[string, (file: Json) => void, string]>([
    [
      'an unknown set',
      (file) => Object.assign(file.entries[0].set, { id: 'nowhere' }),
      'names nowhere 1.1.0, which is not in norms/',
    ],
    [
      'an unknown rule',
      (file) => Object.assign(file.rules.session, { version: '9.0.0' }),
      'needs rule session-gap 9.0.0 of form session-gap, which is not in norms/',
    ],
    ['a word that no panel has', (file) => Object.assign(file, { default: true }), 'Unrecognized key'],
    ['no rule for the trials', (file) => delete file.rules.scatter, 'at rules.scatter'],
    [
      'the id of another folder',
      (file) => Object.assign(file, { id: 'south-ward' }),
      'says it is south-ward 1.0.0',
    ],
  ])('with a panel that has %s stops the start', (_what, change, message) => {
    const folder = lockedPanel(change);
    const fault = faultOf(() => load(folder));
    expect(fault).toContain(`NormsFault: ${folder}/${PANEL}`);
    expect(fault).toContain(message);
  });

  it('with a set whose example does not come out stops the start', () => {
    const folder = emptyFolder();
    const path = 'cut-points/north-limits/1.0.0.json';
    write(folder, path, 'cut-points/ewgsop2-2019/1.1.0.json', (file) => {
      Object.assign(file, { id: 'north-limits', version: '1.0.0', supersedes: null });
      file.rows[0].value = '30';
    });
    relock(folder);
    expect(faultOf(() => load(folder))).toMatch(new RegExp(`${folder}/${path} example 1: the limit is not`));
  });

  it.each([
    ['panels/adult-inpatient-us/1.1.0.json'],
    ['tables/mathiowetz-1985-us-adults/1.1.0.json'],
    ['cut-points/awgs-2025/1.0.0.json'],
    ['rules/session-gap/1.0.0.json'],
    // A higher version of ours would silently become the newest, and the default.
    ['panels/child-us/1.0.0.json'],
  ])('that goes by the name of ours stops the start: %s', (path) => {
    const folder = emptyFolder();
    write(folder, path, path);
    relock(folder);
    const [kind, id] = path.split('/');
    const fault = faultOf(() => load(folder));
    expect(fault).toContain(`NormsFault: ${folder}/${path} goes by the name of norms/${kind}/${id}/`);
    expect(fault).toMatch(/: take an id of your own$/);
  });

  it.each([
    ['rules/child-us/1.0.0.json', 'rules/session-gap/1.0.0.json', 'panels/child-us/'],
    ['rules/awgs-2025/1.0.0.json', 'rules/session-gap/1.0.0.json', 'cut-points/awgs-2025/'],
    ['panels/session-gap/1.0.0.json', 'panels/child-us/1.0.0.json', 'rules/session-gap/'],
    [
      'cut-points/tomkinson-2025-international/1.0.0.json',
      'cut-points/awgs-2025/1.0.0.json',
      'tables/tomkinson-2025-international/',
    ],
  ])('that takes an id of ours for a file of another kind stops the start: %s', (path, from, ours) => {
    const folder = emptyFolder();
    write(folder, path, from, (file) => {
      file.id = path.split('/')[1];
    });
    relock(folder);
    expect(faultOf(() => load(folder))).toContain(
      `NormsFault: ${folder}/${path} goes by the name of norms/${ours}`,
    );
  });

  it('may be empty but for its lock', () => {
    const folder = emptyFolder();
    writeFileSync(join(folder, 'lock.json'), '{}');
    expect(load(folder).panelIds).toEqual(loadLibrary(NORMS).panelIds);
  });

  it('is opened by the service, and one that is not there names the setting', () => {
    expect(openLibrary(lockedPanel()).panelIds).toContain('north-ward');
    expect(openLibrary().panelIds).not.toContain('north-ward');
    const folder = emptyFolder();
    const missing = join(folder, 'nowhere');
    expect(faultOf(() => openLibrary(missing))).toBe(
      `ConfigFault: GRIP_CDS_SITE_NORMS must be a folder: there is none at ${missing}`,
    );
    writeFileSync(missing, '');
    expect(faultOf(() => openLibrary(missing))).toContain('GRIP_CDS_SITE_NORMS must be a folder');
  });
});

describe('locking a folder', () => {
  const lock = (folder: string) => lockFolder(folder, () => load(folder));
  const lockText = (folder: string) => readFileSync(join(folder, 'lock.json'), 'utf8');

  it('writes the digest of every file, and the folder then loads', () => {
    const folder = withPanel();
    expect(lock(folder)).toEqual({ added: [PANEL], count: 1 });
    expect(JSON.parse(lockText(folder))).toEqual({ [PANEL]: sha256(join(folder, PANEL)) });
    expect(load(folder).panelIds).toContain('north-ward');
  });

  it('adds what is new, and again adds nothing', () => {
    const folder = withPanel();
    lock(folder);
    const before = JSON.parse(lockText(folder));
    const path = 'rules/north-gap/1.0.0.json';
    write(folder, path, 'rules/session-gap/1.0.0.json', (file) => Object.assign(file, { id: 'north-gap' }));
    expect(lock(folder)).toEqual({ added: [path], count: 2 });
    expect(JSON.parse(lockText(folder))).toEqual({ ...before, [path]: sha256(join(folder, path)) });
    expect(lock(folder)).toEqual({ added: [], count: 2 });
  });

  it.each<[string, (file: string) => void]>([
    ['changed', (file) => writeFileSync(file, `${readFileSync(file, 'utf8')} `)],
    ['removed', (file) => rmSync(file)],
  ])('refuses when a locked file was %s, and leaves the lock as it is', (_what, spoil) => {
    const folder = withPanel();
    lock(folder);
    const before = lockText(folder);
    spoil(join(folder, PANEL));
    expect(faultOf(() => lock(folder))).toBe(
      `NormsFault: released files were changed or removed; restore them and release a new version: ${PANEL}`,
    );
    expect(lockText(folder)).toBe(before);
  });

  it('does not lock what does not load: it can still be corrected', () => {
    const folder = withPanel((file) => delete file.rules.scatter);
    expect(faultOf(() => lock(folder))).toContain(`${folder}/${PANEL} at rules.scatter`);
    expect(existsSync(join(folder, 'lock.json'))).toBe(false);

    const again = withPanel();
    lock(again);
    const before = lockText(again);
    write(again, 'rules/north-gap/1.0.0.json', 'rules/session-gap/1.0.0.json');
    expect(faultOf(() => lock(again))).toContain('says it is session-gap 1.0.0');
    expect(lockText(again)).toBe(before);
  });

  it('refuses a lock that is none, and a folder that is none', () => {
    const folder = withPanel();
    writeFileSync(join(folder, 'lock.json'), '{"panels/x": 1}');
    expect(faultOf(() => lock(folder))).toContain('/lock.json is not a list of paths');
    expect(lockText(folder)).toBe('{"panels/x": 1}');
    expect(faultOf(() => lock(join(folder, 'nowhere')))).toBe(
      `NormsFault: there is no folder ${join(folder, 'nowhere')}`,
    );
    expect(faultOf(() => lock(join(folder, PANEL)))).toContain('there is no folder');
  });

  it('refuses a copy of ours', () => {
    const folder = emptyFolder();
    cpSync(NORMS, folder, { recursive: true });
    const before = lockText(folder);
    expect(faultOf(() => lock(folder))).toContain('goes by the name of norms/');
    expect(lockText(folder)).toBe(before);
  });
});

describe('the panel of docs/charting.md', () => {
  const guide = readFileSync(new URL('../../docs/charting.md', import.meta.url), 'utf8');
  const [, path = '', block = ''] = /as `(panels\/\S+\.json)`:\n+```json\n([\s\S]+?)```/.exec(guide) ?? [];

  function folderWith(change: (file: Json) => void = () => undefined): string {
    const folder = emptyFolder();
    const file: Json = JSON.parse(block);
    change(file);
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), JSON.stringify(file));
    return folder;
  }

  it('locks and loads as it is printed, and applies what it names', () => {
    const folder = folderWith();
    writeFileSync(join(folder, path), block);
    expect(lockFolder(folder, () => load(folder))).toEqual({ added: [path], count: 1 });
    const applied = openLibrary(folder).findPanel('north-ward');
    expect(applied).toMatchObject({ title: 'North ward', audience: 'Adults of an invented ward' });
    expect(applied?.panel.sets.map(({ ref, rows }) => [ref.id, rows[0]?.ageMin])).toEqual([
      ['nhanes-2011-2014-right-left-mean-of-3', 6],
      ['ewgsop2-2019', 70],
    ]);
  });

  it('needs its first five rules, and none of the others, as it is said there', () => {
    const names = Object.keys(JSON.parse(block).rules);
    for (const [index, name] of names.entries()) {
      const folder = folderWith((file) => delete file.rules[name]);
      relock(folder);
      if (index < 5) expect(faultOf(() => load(folder))).toContain(`at rules.${name}`);
      else expect(load(folder).panelIds).toContain('north-ward');
    }
    expect(names.length).toBeGreaterThan(5);
  });

  it('needs a table for the check of the unit, as it is said there', () => {
    const folder = folderWith((file) => file.entries.shift());
    relock(folder);
    expect(faultOf(() => load(folder))).toContain('name one under unitGuards');
    const guarded = folderWith((file) => {
      const [{ set, rule }] = file.entries.splice(0, 1);
      file.unitGuards = [{ table: { id: set.id, version: set.version }, rule }];
    });
    relock(guarded);
    expect(load(guarded).panelIds).toContain('north-ward');
  });
});
