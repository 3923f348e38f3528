import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { cpSync, existsSync, mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { SETTINGS } from '../src/config.ts';
import { openStore, sha256, temporaryFolder } from './audit/raw-log.ts';
import { CLI, environmentWith, ROOT, requireBuild, runCommand } from './audit/run-command.ts';

const folder = temporaryFolder();
const good = join(folder, 'good.sqlite');
openStore(good).close();

const run = (args: readonly string[], settings?: Record<string, string>, cli?: string) =>
  runCommand(folder, args, settings, cli);

const COMMANDS = [
  'serve',
  'demo',
  'audit verify',
  'audit show ID',
  'audit replay',
  'feedback export',
  'results remove Observation/ID',
  'references list',
  'references show ID [VERSION]',
  'references check',
  'references compare A B',
  'references lock FOLDER',
];

describe('grip-cds', () => {
  it.each([[['--help']], [['-h']], [['serve', '--help']], [['audit', 'verify', '-h']]])(
    'prints the usage with every setting and its default for %j',
    (args) => {
      const { status, stdout, stderr } = run(args);
      expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
      expect(stdout).toMatch(/^Usage: grip-cds/);
      for (const command of COMMANDS) {
        expect(stdout).toContain(`\n  ${command}`);
      }
      for (const [name, { meaning, fallback }] of Object.entries(SETTINGS)) {
        expect(stdout).toMatch(
          new RegExp(`\\n  ${name} +${escaped(meaning)} Default: ${escaped(fallback)}\\n`),
        );
      }
    },
  );

  it.each([
    [[], 'no command given'],
    [['-f', good], 'no command given'],
    [['nonsense'], 'not understood: nonsense'],
    [['serve', 'now'], 'not understood: serve now'],
    [['demo', 'twice'], 'not understood: demo twice'],
    [['audit', '-f', good], 'not understood: audit'],
    [['audit', 'erase', '-f', good], 'not understood: audit erase'],
    [['audit', 'show', '-f', good], 'not understood: audit show'],
    [['audit', 'verify', 'all', '-f', good], 'not understood: audit verify all'],
    [['feedback'], 'not understood: feedback'],
    [['feedback', 'import', '-f', good], 'not understood: feedback import'],
    [['feedback', 'export', 'all', '-f', good], 'not understood: feedback export all'],
    [['references'], 'not understood: references'],
    [['references', 'erase'], 'not understood: references erase'],
    [['reference', 'list'], 'not understood: reference list'],
  ])('does not understand %j and says so before the usage, on stderr, exit code 2', (args, said) => {
    const { status, stdout, stderr } = run(args);
    expect({ status, stdout }).toEqual({ status: 2, stdout: '' });
    expect(stderr).toBe(`grip-cds: ${said}\n\n${run(['--help']).stdout}`);
  });

  it.each([
    [['--nonsense']],
    [['audit', 'verify', '--files', 'x']],
    [['serve', '-x']],
    [['audit', 'verify', '--file']],
  ])('refuses the unknown or unfinished option of %j with exit code 2 and without a stack trace', (args) => {
    const { status, stderr } = run(args);
    expect(status).toBe(2);
    expect(stderr).toMatch(/^grip-cds: .*option/i);
    expect(stderr).not.toMatch(/\n\s+at /);
  });
});

describe('a reader that closes the pipe', () => {
  it('before anything is printed is no fault: exit code 0 and nothing on stderr', async () => {
    requireBuild();
    const child = spawn(process.execPath, [CLI, 'references', 'list', '--json'], {
      cwd: folder,
      env: environmentWith({}),
    });
    child.stdout.destroy();
    let stderr = '';
    child.stderr.on('data', (bytes) => {
      stderr += bytes;
    });
    const [code, signal] = await once(child, 'close');
    expect({ code, signal, stderr }).toEqual({ code: 0, signal: null, stderr: '' });
  });
});

describe('grip-cds serve does not start', () => {
  it('on an address that others reach', () => {
    const { status, stdout, stderr } = run(['serve'], { GRIP_CDS_HOST: '0.0.0.0' });
    expect({ status, stdout }).toEqual({ status: 1, stdout: '' });
    expect(stderr).toBe(
      'grip-cds: GRIP_CDS_HOST must be a loopback address (127.0.0.1, ::1, localhost) unless GRIP_CDS_CLIENTS names the clients and GRIP_CDS_PUBLIC_URL is https: the service has no TLS of its own, a proxy in front of it has\n',
    );
  });

  it('with an unknown setting or an unknown panel, which it names', () => {
    expect(run(['serve'], { GRIP_CDS_PROT: '80' })).toMatchObject({
      status: 1,
      stderr:
        'grip-cds: GRIP_CDS_PROT is not a setting of this service; settings: GRIP_CDS_HOST, GRIP_CDS_PORT, GRIP_CDS_AUDIT_FILE, GRIP_CDS_PANEL, GRIP_CDS_SITE_NORMS, GRIP_CDS_PUBLIC_URL, GRIP_CDS_CLIENTS, GRIP_CDS_FHIR_SERVERS, GRIP_CDS_CORS_ORIGINS, GRIP_CDS_CHARTED_HOOK, GRIP_CDS_LOCAL_CODES, GRIP_CDS_LOG_LEVEL\n',
    });
    const { status, stderr } = run(['serve'], { GRIP_CDS_PANEL: 'no-such-panel' });
    expect(status).toBe(1);
    expect(stderr).toMatch(/^grip-cds: GRIP_CDS_PANEL must be one of: .*adult-inpatient-us.*\n$/);
  });

  it('with a site folder that is not there, or is not locked: the setting or the file is named', () => {
    const missing = join(folder, 'no-such-folder');
    const at = (site: string) => run(['serve'], { GRIP_CDS_SITE_NORMS: site });
    expect(at(missing)).toEqual({
      status: 1,
      stdout: '',
      stderr: `grip-cds: GRIP_CDS_SITE_NORMS must be a folder: there is none at ${missing}\n`,
    });
    mkdirSync(join(folder, 'site-without-lock'));
    const site = join(folder, 'site-without-lock');
    expect(at(site)).toEqual({ status: 1, stdout: '', stderr: `grip-cds: ${site}/lock.json is missing\n` });
    // From the folder that the command runs in, as the audit log is.
    expect(at('site-without-lock')).toEqual(at(site));
    expect(at('site-without-lock/')).toEqual(at(site));
  });

  it('when a digit of a released table was changed: file, digests and what to do are named', () => {
    const path = 'norms/tables/mathiowetz-1985-us-adults/1.0.0.json';
    const copy = copyOfInstallation();
    const table = readFileSync(join(copy, path), 'utf8');
    const changed = table.replace(/"mean": "?(\d)/, (found, digit) =>
      found.replace(digit, String((+digit + 1) % 10)),
    );
    expect(changed).not.toBe(table);
    writeFileSync(join(copy, path), changed);
    const audit = join(copy, 'log.sqlite');
    const started = run(['serve'], { GRIP_CDS_AUDIT_FILE: audit }, join(copy, 'dist', 'cli.js'));
    expect(started).toEqual({
      status: 1,
      stdout: '',
      stderr: `grip-cds: ${path} was changed after release: SHA-256 is ${sha256(changed)}, norms/lock.json has ${sha256(table)}. Restore the file; a correction is a new version beside it.\n`,
    });
    expect(existsSync(audit)).toBe(false);
  });
});

function copyOfInstallation(): string {
  const copy = join(folder, 'installation');
  mkdirSync(copy);
  for (const part of ['dist', 'norms', 'package.json']) {
    cpSync(join(ROOT, part), join(copy, part), { recursive: true });
  }
  symlinkSync(join(ROOT, 'node_modules'), join(copy, 'node_modules'));
  return copy;
}

function escaped(text: string): string {
  return text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
}
