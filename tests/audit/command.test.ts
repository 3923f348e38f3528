/** `grip-cds audit`, on the log that the demo writes. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import {
  type Raw,
  readRows,
  rechain,
  rowsOf,
  sha256,
  tamper,
  temporaryFolder,
  unguarded,
} from './raw-log.ts';
import { runCommand } from './run-command.ts';

const folder = temporaryFolder();
const good = join(folder, 'good.sqlite');
const tampered = join(folder, 'tampered.sqlite');
let bytes: Buffer;

const run = (args: readonly string[], settings?: Record<string, string>) =>
  runCommand(folder, args, settings);

beforeAll(() => {
  const { status, stderr } = run(['demo', '--file', good]);
  if (status !== 0) throw new Error(`the demo, which writes the log for these tests, failed: ${stderr}`);
  bytes = unguarded(good);
});

describe('grip-cds audit verify', () => {
  it('finds a good log whole and prints its head', () => {
    const last = readRows(good).at(-1);
    const { status, stdout } = run(['audit', 'verify', '--file', good]);
    expect(status).toBe(0);
    expect(stdout).toContain(`${good}: whole. ${last?.seq} records, head ${last?.seq}:${last?.hash}\n`);
  });

  it('prints one JSON document with --json, for a good log and for a bad one', () => {
    const whole = run(['audit', 'verify', '--json', '-f', good]);
    expect(JSON.parse(whole.stdout)).toMatchObject({
      ok: true,
      count: 18,
      firstFault: null,
      head: { seq: 18 },
    });
    alter(5, (text) => text.replace('"findings"', '"findinks"'));
    const broken = run(['audit', 'verify', '--json', '-f', tampered]);
    expect(broken.status).toBe(1);
    expect(JSON.parse(broken.stdout)).toMatchObject({
      ok: false,
      count: 4,
      head: null,
      firstFault: { seq: 5 },
    });
  });

  it('names the first bad record of a tampered log, with exit code 1', () => {
    alter(5, (text) => text.replace('"findings"', '"findinks"'));
    const { status, stdout } = run(['audit', 'verify', '-f', tampered]);
    expect({ status, stdout }).toEqual({
      status: 1,
      stdout: `${tampered}: NOT WHOLE. First fault at record 5: the record does not match its hash.\n`,
    });
  });

  it('takes the log from GRIP_CDS_AUDIT_FILE when none is named', () => {
    expect(run(['audit', 'verify'], { GRIP_CDS_AUDIT_FILE: good }).stdout).toContain(`${good}: whole.`);
  });

  it('compares with a head that was noted', () => {
    const { seq, hash } = readRows(good)[15] ?? { seq: 0, hash: '' };
    const expectHead = (head: string, file = good) =>
      run(['audit', 'verify', '-f', file, '--expect-head', head]);
    expect(expectHead(`${seq}:${hash}`).status).toBe(0);
    expect(expectHead(`${seq}:${sha256('x')}`)).toMatchObject({
      status: 1,
      stdout: expect.stringContaining('First fault at record 16: the chain was rewritten'),
    });
    tamper(tampered, bytes, (db) => db.exec('DELETE FROM audit_record WHERE seq > 10'));
    expect(expectHead(`${seq}:${hash}`, tampered)).toMatchObject({
      status: 1,
      stdout: expect.stringContaining('First fault at record 11: the end of the log was cut off'),
    });
  });

  it.each([
    '',
    '16',
    `16:${'g'.repeat(64)}`,
    `16:${'a'.repeat(63)}`,
    `-1:${'a'.repeat(64)}`,
    `16:${'A'.repeat(64)}`,
  ])('refuses --expect-head=%s', (head) => {
    const { status, stdout, stderr } = run(['audit', 'verify', '-f', good, `--expect-head=${head}`]);
    expect({ status, stdout, stderr }).toEqual({
      status: 1,
      stdout: '',
      stderr: 'grip-cds: --expect-head must be SEQ:HASH, as printed by audit verify\n',
    });
  });

  it.each(['verify', 'replay', 'show x'])(
    'audit %s says that a log is missing and does not make one',
    (words) => {
      const missing = join(folder, 'missing.sqlite');
      const { status, stderr } = run(['audit', ...words.split(' '), '-f', missing]);
      expect({ status, stderr }).toEqual({
        status: 1,
        stderr: `grip-cds: there is no audit log ${missing}\n`,
      });
      expect(existsSync(missing)).toBe(false);
    },
  );
});

describe('grip-cds audit show', () => {
  it('prints the whole record of one evaluation as JSON', () => {
    const row = readRows(good)[7];
    const { status, stdout } = run(['audit', 'show', row?.id ?? '', '-f', good]);
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toEqual({ seq: 8, hash: row?.hash, record: JSON.parse(row?.record ?? '') });
  });

  it('takes the id as an answer gives it (Bundle.identifier), and nothing that only resembles it', () => {
    const { id = '' } = readRows(good)[7] ?? {};
    const bare = run(['audit', 'show', id, '-f', good]);
    expect(run(['audit', 'show', `urn:uuid:${id}`, '-f', good])).toEqual(bare);
    expect(bare.status).toBe(0);
    for (const other of [`urn:oid:${id}`, `urn:uuid:urn:uuid:${id}`, `x-urn:uuid:${id}`, 'urn:uuid:'])
      expect(run(['audit', 'show', other, '-f', good])).toEqual({
        status: 1,
        stdout: '',
        stderr: `grip-cds: ${good} has no record ${other}\n`,
      });
  });

  it('says that there is no such record', () => {
    const { status, stderr } = run(['audit', 'show', 'nobody', '-f', good]);
    expect({ status, stderr }).toEqual({ status: 1, stderr: `grip-cds: ${good} has no record nobody\n` });
  });
});

describe('grip-cds audit replay', () => {
  it('redoes every recorded evaluation to the same findings', () => {
    expect(run(['audit', 'replay', '-f', good])).toMatchObject({
      status: 0,
      stdout: `${good}: 18 records replayed the same, 0 different, 0 not replayable\n`,
    });
    const { status, stdout } = run(['audit', 'replay', '--json', '-f', good]);
    expect(status).toBe(0);
    expect(JSON.parse(stdout)).toEqual({
      counts: { same: 18, different: 0, 'not-replayable': 0 },
      faults: [],
    });
  });

  it('finds an altered finding even where the chain was made anew and verifies', () => {
    const { id } = readRows(good)[2] ?? { id: '' };
    alter(3, (text) => text.replace(/"outcome":"(not-)?reduced"/, flipOutcome), rechain);
    expect(run(['audit', 'verify', '-f', tampered]).status).toBe(0);
    expect(run(['audit', 'replay', '-f', tampered])).toMatchObject({
      status: 1,
      stdout: `${tampered}: 17 records replayed the same, 1 different, 0 not replayable\n  record 3 (${id}): the findings are not the same\n`,
    });
  });

  it.each([
    [
      'a panel version that is not installed',
      /"version":"1.1.0"\},"references"/,
      '"version":"9.9.9"},"references"',
    ],
    ['a panel of another digest', /("panel":\{"digest":")[0-9a-f]{8}/, '$100000000'],
    ['a record without findings', '"findings"', '"other"'],
  ])('says that it cannot redo %s', (_name, from, to) => {
    alter(3, (text) => text.replace(from, to), rechain);
    const { status, stdout } = run(['audit', 'replay', '--json', '-f', tampered]);
    expect(status).toBe(1);
    expect(JSON.parse(stdout)).toMatchObject({
      counts: { same: 17, different: 0, 'not-replayable': 1 },
      faults: [{ seq: 3, outcome: 'not-replayable' }],
    });
  });
});

/** Alters the text of one record; `afterwards` may make the log agree with it again. */
function alter(seq: number, change: (text: string) => string, afterwards?: (db: Raw) => void): void {
  tamper(tampered, bytes, (db) => {
    const text = rowsOf(db)[seq - 1]?.record ?? '';
    const changed = change(text);
    if (changed === text) throw new Error('nothing was altered');
    db.prepare('UPDATE audit_record SET record = ? WHERE seq = ?').run(changed, seq);
    afterwards?.(db);
  });
}

function flipOutcome(_found: string, not: string | undefined): string {
  return not ? '"outcome":"reduced"' : '"outcome":"not-reduced"';
}
