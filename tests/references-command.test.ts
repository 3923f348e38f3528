/** `grip-cds references` as it is shipped: what it prints is what the released files say. */
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { sha256, temporaryFolder } from './audit/raw-log.ts';
import { type Ended, ROOT, runCommand } from './audit/run-command.ts';

const folder = temporaryFolder();
const ended = new Map<string, Ended>();

/** Each command is run once: it depends on its words and the released files alone. */
function run(...args: string[]): Ended {
  const words = args.join(' ');
  const result = ended.get(words) ?? runCommand(folder, ['references', ...args]);
  ended.set(words, result);
  return result;
}

/** Prints one JSON document, with exit code 0 and nothing on stderr. */
function json(...args: string[]): Json {
  const { status, stdout, stderr } = run(...args, '--json');
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  return JSON.parse(stdout);
}

/** Lines of the text form, with exit code 0 and nothing on stderr. */
function lines(...args: string[]): readonly string[] {
  const { status, stdout, stderr } = run(...args);
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  return stdout.split('\n').slice(0, -1);
}

// biome-ignore lint/suspicious/noExplicitAny: released files and printed documents are read as plain JSON
type Json = any;

const FILES: readonly { text: string; file: Json }[] = readdirSync(join(ROOT, 'norms'), {
  recursive: true,
  encoding: 'utf8',
})
  .filter((path) => path.endsWith('.json') && path !== 'lock.json')
  .map((path) => {
    const text = readFileSync(join(ROOT, 'norms', path), 'utf8');
    return { text, file: JSON.parse(text) };
  });

/** Whether a panel names a set or a rule in this version. */
function names({ entries, rules }: Json, { id, version }: Json): boolean {
  const named = [...entries.flatMap(({ set, rule }: Json) => [set, rule]), ...Object.values<Json>(rules)];
  return named.some((one) => one?.id === id && one.version === version);
}

/** What replaces a file: the files that say so, and what it says itself. */
function replacedBy({ id, version, supersededBy }: Json): readonly string[] {
  const later = FILES.filter(
    ({ file: { supersedes } }) => supersedes?.id === id && supersedes.version === version,
  ).map(({ file }) => `${file.id} ${file.version}`);
  return supersededBy ? [...later.sort(), supersededBy.what] : later.sort();
}

describe('references list', () => {
  it('has every released file once, with its digest, the panels that apply it and what replaces it', () => {
    const printed: Json[] = json('list');
    const nameOf = ({ id, version }: Json) => `${id} ${version}`;
    expect(printed.map(nameOf).sort()).toEqual(FILES.map(({ file }) => nameOf(file)).sort());
    for (const { text, file } of FILES) {
      const panels = FILES.filter(({ file: panel }) => panel.kind === 'panel' && names(panel, file));
      const found = printed.find((each) => nameOf(each) === nameOf(file));
      expect({ ...found, usedIn: found.usedIn.toSorted() }).toEqual({
        kind: file.kind,
        id: file.id,
        version: file.version,
        status: file.status,
        supersededBy: replacedBy(file),
        title: file.title,
        usedIn: panels.map(({ file: panel }) => nameOf(panel)).sort(),
        digest: sha256(text),
      });
    }
  });

  it('prints a table in which provisional and superseded files are seen as such', () => {
    const [head = '', ...rows] = lines('list');
    expect(head).toMatch(/^kind +id +version +status +panels +superseded by +title$/);
    const cut = ['kind', 'id', 'version', 'status', 'panels', 'superseded by', 'title'].map((title) =>
      head.indexOf(title === 'id' ? ' id ' : title),
    );
    const cells = rows.map((row) => cut.map((from, index) => row.slice(from, cut[index + 1]).trim()));
    expect(cells).toEqual(
      (json('list') as Json[]).map(({ kind, id, version, status, supersededBy, usedIn, title }) => [
        kind,
        id,
        version,
        supersededBy.length > 0 ? 'superseded' : status,
        String(usedIn.length),
        supersededBy.join(', '),
        title,
      ]),
    );
    const stateOf = (id: string, version: string) =>
      cells.find((row) => row[1] === id && row[2] === version)?.slice(3, 6);
    expect(stateOf('steiber-2016-germany', '1.0.0')).toEqual(['provisional', '1', '']);
    expect(stateOf('awgs-2019', '1.0.0')).toEqual(['superseded', '1', 'awgs-2019 1.1.0, awgs-2025 1.0.0']);
    expect(stateOf('awgs-2014', '1.1.0')).toEqual(['superseded', '0', 'AWGS 2019']);
    expect(stateOf('awgs-2019', '1.1.0')).toEqual(['active', '1', '']);
  });
});

describe('references check', () => {
  const count = (kind: string) => FILES.filter(({ file }) => file.kind === kind).length;
  const examples = FILES.reduce((sum, { file }) => sum + (file.examples?.length ?? 0), 0);
  const counts = {
    ok: true,
    tables: count('table'),
    cutPoints: count('cut-points'),
    rules: count('rule'),
    panels: count('panel'),
    workedExamples: examples,
  };

  it('counts what was checked, as text and as JSON', () => {
    expect(json('check')).toEqual(counts);
    expect(lines('check')).toEqual([
      `All well: ${counts.tables} tables, ${counts.cutPoints} sets of cut-points, ${counts.rules} rules and ${counts.panels} panels match their digests; ${examples} worked examples come out.`,
    ]);
    expect(examples).toBeGreaterThan(150);
  });

  it('says what is from the folder of the site, and stops at a fault in it', () => {
    const site = join(folder, 'site');
    const path = join(site, 'cut-points', 'north-limits', '1.0.0.json');
    const { file } =
      FILES.find(({ file: each }) => each.id === 'awgs-2025' && each.version === '1.1.0') ?? {};
    mkdirSync(join(site, 'cut-points', 'north-limits'), { recursive: true });
    writeFileSync(path, JSON.stringify({ ...file, id: 'north-limits', version: '1.0.0', supersedes: null }));
    const at = (...words: string[]) =>
      runCommand(folder, ['references', ...words], { GRIP_CDS_SITE_NORMS: site });
    expect(at('check')).toMatchObject({ status: 1, stderr: `grip-cds: ${site}/lock.json is missing\n` });
    expect(JSON.parse(at('lock', 'site', '--json').stdout)).toEqual({
      folder: site,
      added: ['cut-points/north-limits/1.0.0.json'],
      locked: 1,
    });
    expect(JSON.parse(at('check', '--json').stdout)).toEqual({
      ...counts,
      cutPoints: counts.cutPoints + 1,
      workedExamples: examples + file.examples.length,
      site: { folder: site, files: 1 },
    });
    expect(at('check').stdout).toMatch(
      new RegExp(`^All well: .*\\n1 of these files are the site's own, from ${site}\\.\\n$`),
    );
    expect(at('show', 'north-limits').stdout).toContain('cut-points north-limits 1.0.0, active');
    writeFileSync(path, '{}');
    expect(at('check')).toMatchObject({ status: 1, stdout: '' });
    expect(at('lock', 'site').stderr).toBe(
      'grip-cds: released files were changed or removed; restore them and release a new version: cut-points/north-limits/1.0.0.json\n',
    );
  });
});

describe('references show', () => {
  const SHOWN = ['dodds-2014-great-britain', 'fried-2001', 'change-limits', 'older-adult-europe'];

  it.each(SHOWN)('%s --json is the released file with its digest', (id) => {
    const { text, file } = FILES.find(({ file: each }) => each.id === id) ?? { text: '', file: {} };
    const { digest, usedIn, ...printed } = json('show', id);
    expect(printed).toEqual(file);
    expect(digest).toBe(sha256(text));
    expect(usedIn).toEqual((json('list') as Json[]).find((each) => each.id === id).usedIn);
  });

  it('is the newest version, or the one named', () => {
    expect(lines('show', 'awgs-2019')).toContain(lines('show', 'awgs-2019', '1.1.0')[1]);
    expect(lines('show', 'awgs-2019', '1.1.0')).toEqual(lines('show', 'awgs-2019'));
    expect(lines('show', 'awgs-2019', '1.0.0')[1]).toBe(
      'cut-points awgs-2019 1.0.0, superseded, released 2026-11-25',
    );
  });
});

describe('references compare', () => {
  it('prints the limits side by side, and takes a version after @', () => {
    expect(lines('compare', 'awgs-2019@1.1.0', 'awgs-2025')).toEqual([
      'Limits in kg: what counts as reduced.',
      'A: awgs-2019 1.1.0, highest-of-either-hand',
      'B: awgs-2025 1.1.0, highest-of-either-hand',
      '',
      '   sex     hand    age    A        B        B - A',
      '*  female  either  0-49   < 18.00',
      '*  female  either  50-64  < 18.00  < 20.00  2.00',
      '   female  either  65+    < 18.00  < 18.00  0.00',
      '*  male    either  0-49   < 28.00',
      '*  male    either  50-64  < 28.00  < 34.00  6.00',
      '   male    either  65+    < 28.00  < 28.00  0.00',
      '',
      'Marked *: the limits are not the same.',
    ]);
  });

  it('prints the same as JSON', () => {
    const { a, b, unit, lines: compared, changed } = json('compare', 'awgs-2019', 'awgs-2025');
    expect([a, b]).toEqual([
      { id: 'awgs-2019', version: '1.1.0', summary: 'highest-of-either-hand', rule: null },
      { id: 'awgs-2025', version: '1.1.0', summary: 'highest-of-either-hand', rule: null },
    ]);
    expect({ unit, changed, lines: compared.length }).toEqual({ unit: 'kg', changed: 4, lines: 6 });
    expect(compared.slice(0, 3)).toEqual([
      {
        sex: 'female',
        hand: null,
        from: 0,
        to: 49,
        a: { operator: '<', limit: '18.00' },
        b: null,
        changed: true,
        difference: null,
      },
      {
        sex: 'female',
        hand: null,
        from: 50,
        to: 64,
        a: { operator: '<', limit: '18.00' },
        b: { operator: '<', limit: '20.00' },
        changed: true,
        difference: '2.00',
      },
      {
        sex: 'female',
        hand: null,
        from: 65,
        to: null,
        a: { operator: '<', limit: '18.00' },
        b: { operator: '<', limit: '18.00' },
        changed: false,
        difference: '0.00',
      },
    ]);
  });
});

describe('references refuses', () => {
  it.each([
    [['show', 'nobody'], 'there is no reference set nobody; see: references list'],
    [['show', 'awgs-2019', '9.9.9'], 'there is no reference set awgs-2019 9.9.9; see: references list'],
    [['show', 'awgs-2019@1.0.0'], 'there is no reference set awgs-2019@1.0.0; see: references list'],
    [
      ['compare', 'awgs-2019', 'two-sd-below-mean'],
      'two-sd-below-mean is a rule: only tables and cut-points can be compared',
    ],
    [['lock', 'no-such-folder'], 'there is no folder no-such-folder'],
  ])('%j with exit code 1 and one line that says why', (args, message) => {
    expect(run(...args)).toEqual({ status: 1, stdout: '', stderr: `grip-cds: ${message}\n` });
  });

  it('the same with --json: a fault is text on stderr', () => {
    expect(run('show', 'nobody', '--json')).toEqual(run('show', 'nobody'));
  });

  it('a site folder that is not there, naming the setting', () => {
    const missing = join(folder, 'nowhere');
    expect(runCommand(folder, ['references', 'list'], { GRIP_CDS_SITE_NORMS: missing })).toEqual({
      status: 1,
      stdout: '',
      stderr: `grip-cds: GRIP_CDS_SITE_NORMS must be a folder: there is none at ${missing}\n`,
    });
  });

  it.each([
    [[]],
    [['erase']],
    [['list', 'all']],
    [['check', 'awgs-2019']],
    [['show']],
    [['show', 'awgs-2019', '1.0.0', 'more']],
    [['compare']],
    [['compare', 'awgs-2019']],
    [['compare', 'awgs-2019', 'awgs-2025', 'fnih-2014']],
    [['lock']],
    [['lock', 'one', 'two']],
  ])('%j: what was not understood, then the usage, on stderr, exit code 2', (args) => {
    const { status, stdout, stderr } = run(...args);
    expect({ status, stdout }).toEqual({ status: 2, stdout: '' });
    const [said, blank, usage] = stderr.split('\n');
    expect(said).toBe(`grip-cds: not understood: ${['references', ...args].join(' ')}`);
    expect(blank).toBe('');
    expect(usage).toMatch(/^Usage: grip-cds/);
  });
});
