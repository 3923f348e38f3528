/** Start and stop of the service as it is shipped. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { connect, createServer, type Socket } from 'node:net';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, describe, expect, it } from 'vitest';
import { verifyLog } from '../src/audit/verify.ts';
import { readRows, tamper, temporaryFolder, unguarded, writeLog } from './audit/raw-log.ts';
import { CLI, environmentWith, ROOT, requireBuild, runCommand } from './audit/run-command.ts';

const folder = temporaryFolder();
let files = 0;
const newFile = () => join(folder, `start-${++files}.sqlite`);

interface Running {
  readonly base: string;
  readonly port: number;
  /** Lines of the log written so far. */
  readonly log: () => readonly Record<string, unknown>[];
  /** Sends SIGTERM. @returns how the process ended and after how many milliseconds */
  stop(): Promise<{ code: number | null; signal: string | null; afterMs: number }>;
}

const started = new Set<ChildProcess>();
afterEach(() => {
  for (const child of started) child.kill('SIGKILL');
  started.clear();
});

/** Starts the service on a free port and waits until it listens. */
async function start(file: string, settings: Readonly<Record<string, string>> = {}): Promise<Running> {
  requireBuild();
  const env = environmentWith({ GRIP_CDS_PORT: '0', GRIP_CDS_AUDIT_FILE: file, ...settings });
  const child = spawn(process.execPath, [CLI, 'serve'], { cwd: folder, env });
  started.add(child);
  let written = '';
  child.stderr.on('data', (bytes) => {
    written += bytes;
  });
  const base = await new Promise<string>((resolve, reject) => {
    child.stdout.on('data', (bytes) => {
      written += bytes;
      const address = /listening at (http:\/\/127\.0\.0\.1:\d+)/.exec(written)?.[1];
      if (address) resolve(address);
    });
    child.on('exit', (code) => reject(new Error(`the service ended with ${code}: ${written}`)));
  });
  return {
    base,
    port: Number(new URL(base).port),
    log: () =>
      written
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line)),
    async stop() {
      const asked = performance.now();
      const ended = once(child, 'exit');
      child.kill('SIGTERM');
      const [code, signal] = await ended;
      return { code, signal, afterMs: performance.now() - asked };
    },
  };
}

const PATH = '/fhir/Observation/$interpret-grip';

/** A request that is answered with an interpretation. */
function requestBody(): string {
  const trial = (value: number) => ({
    resourceType: 'Observation',
    status: 'final',
    code: { coding: [{ system: 'http://loinc.org', code: '83174-3' }] },
    subject: { reference: 'Patient/start' },
    effectiveDateTime: '2024-03-01',
    valueQuantity: { value, unit: 'kg', system: 'http://unitsofmeasure.org', code: 'kg' },
  });
  const patient = { resourceType: 'Patient', id: 'start', birthDate: '1950-02-03', gender: 'male' };
  const entry = [patient, trial(21), trial(22), trial(23)].map((resource) => ({ resource }));
  return JSON.stringify({ resourceType: 'Bundle', type: 'collection', entry });
}

async function interpret(base: string): Promise<string> {
  const headers = { 'content-type': 'application/fhir+json' };
  const response = await fetch(`${base}${PATH}`, { method: 'POST', headers, body: requestBody() });
  expect(response.status).toBe(200);
  const { identifier } = (await response.json()) as { identifier: { value: string } };
  return identifier.value.replace('urn:uuid:', '');
}

/** A connection that says what it has received so far. */
async function open(port: number): Promise<{ socket: Socket; received: () => string }> {
  const socket = connect(port, '127.0.0.1');
  await once(socket, 'connect');
  let received = '';
  socket.on('data', (bytes) => {
    received += bytes;
  });
  socket.on('error', () => undefined);
  return { socket, received: () => received };
}

async function until(isSo: () => boolean): Promise<void> {
  for (let waited = 0; !isSo() && waited < 5_000; waited += 10) await pause(10);
}

describe('a start', () => {
  it('answers at every address of the service', async () => {
    const { base, stop, log } = await start(newFile());
    const answers = await Promise.all(
      ['/health/live', '/health/ready', '/cds-services', '/fhir/metadata'].map(async (path) => {
        const response = await fetch(base + path);
        return [response.status, await response.json()];
      }),
    );
    expect(answers).toMatchObject([
      [200, { status: 'live' }],
      [200, { status: 'ready', records: 0 }],
      [
        200,
        {
          services: [
            { id: 'grip-interpretation', hook: 'patient-view' },
            { id: 'grip-test-readiness', hook: 'patient-view' },
          ],
        },
      ],
      [200, { resourceType: 'CapabilityStatement', fhirVersion: '4.0.1' }],
    ]);
    expect(log().map(({ msg }) => msg)).toContain(
      'access is open: anyone who reaches this loopback address is answered',
    );
    expect(await stop()).toMatchObject({ code: 0 });
  });

  it('makes the log where it is missing, and writes its head to the service log at start and stop', async () => {
    const file = join(folder, 'new', 'folder', 'log.sqlite');
    const { base, stop, log } = await start(file);
    await interpret(base);
    await stop();
    const { head } = verifyLog(file);
    expect(log()).toEqual(
      expect.arrayContaining([
        expect.objectContaining({ msg: 'audit log open', auditFile: file, records: 0, head: '0'.repeat(64) }),
        expect.objectContaining({ msg: 'audit log closed', records: 1, head: head?.hash }),
      ]),
    );
  });

  it('on the same log continues its chain', async () => {
    const file = newFile();
    const ids: string[] = [];
    for (const records of [0, 1, 2]) {
      const { base, stop } = await start(file);
      expect(await (await fetch(`${base}/health/ready`)).json()).toMatchObject({ records });
      ids.push(await interpret(base));
      expect(await stop()).toMatchObject({ code: 0 });
    }
    expect(readRows(file).map(({ id }) => id)).toEqual(ids);
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 3 });
  });

  it('is refused to a log whose end is broken, and the record is named', async () => {
    const file = newFile();
    await writeLog(file, 12);
    tamper(file, unguarded(file), (db) =>
      db.exec("UPDATE audit_record SET patient = 'Patient/x' WHERE seq = 11"),
    );
    expect(runCommand(folder, ['serve'], { GRIP_CDS_PORT: '0', GRIP_CDS_AUDIT_FILE: file })).toMatchObject({
      status: 1,
      stderr: 'grip-cds: GRIP_CDS_AUDIT_FILE: record 11: the column patient does not match the record\n',
    });
  });

  it('on a port that is taken ends with one line: the address, and what can be done', async () => {
    const other = createServer();
    other.listen(0, '127.0.0.1');
    await once(other, 'listening');
    const { port } = other.address() as { port: number };
    const settings = { GRIP_CDS_PORT: String(port), GRIP_CDS_AUDIT_FILE: newFile() };
    const { status, stderr } = runCommand(folder, ['serve'], settings);
    other.close();
    expect({ status, stderr }).toEqual({
      status: 1,
      stderr: `grip-cds: listen EADDRINUSE: address already in use 127.0.0.1:${port}; set GRIP_CDS_PORT or stop the other process\n`,
    });
  });
});

describe('a site with a panel of its own', () => {
  const site = join(folder, 'site-norms');
  const path = join(site, 'panels', 'north-ward', '1.0.0.json');
  const settings = { GRIP_CDS_SITE_NORMS: site, GRIP_CDS_PANEL: 'north-ward' };

  it('locks it, is answered by it, and finds it again at replay', async () => {
    const ours = join(ROOT, 'norms', 'panels', 'older-adult-europe', '1.0.0.json');
    const panel = { ...JSON.parse(readFileSync(ours, 'utf8')), id: 'north-ward', title: 'North ward' };
    mkdirSync(join(site, 'panels', 'north-ward'), { recursive: true });
    writeFileSync(path, JSON.stringify(panel));
    expect(runCommand(folder, ['references', 'lock', site], settings)).toEqual({
      status: 0,
      stdout: `added panels/north-ward/1.0.0.json\n1 added, 1 locked in ${site}\n`,
      stderr: '',
    });

    const file = newFile();
    const { base, stop } = await start(file, settings);
    const id = await interpret(base);
    await stop();
    const shown = JSON.parse(runCommand(folder, ['audit', 'show', id, '--file', file]).stdout);
    expect(JSON.stringify(shown.record)).toContain('"north-ward"');

    const replay = (more: Readonly<Record<string, string>>) =>
      runCommand(folder, ['audit', 'replay', '--file', file, '--json'], more);
    const { status, stdout } = replay(settings);
    expect(JSON.parse(stdout)).toEqual({
      counts: { same: 1, different: 0, 'not-replayable': 0 },
      faults: [],
    });
    expect(status).toBe(0);
    expect(JSON.parse(replay({}).stdout).counts).toMatchObject({ same: 0, 'not-replayable': 1 });
  });

  it('is told when the name of the panel is not there', () => {
    const { status, stderr } = runCommand(folder, ['serve'], { ...settings, GRIP_CDS_PANEL: 'south-ward' });
    expect(status).toBe(1);
    expect(stderr).toMatch(/^grip-cds: GRIP_CDS_PANEL must be one of: .*north-ward.*\n$/);
  });

  it('does not start once the panel was changed', () => {
    writeFileSync(path, `${readFileSync(path, 'utf8')}\n`);
    const { status, stderr } = runCommand(folder, ['serve'], settings);
    expect(status).toBe(1);
    expect(stderr).toContain(`grip-cds: ${path} was changed after release`);
    expect(runCommand(folder, ['references', 'lock', site], settings)).toMatchObject({
      status: 1,
      stdout: '',
      stderr: `grip-cds: released files were changed or removed; restore them and release a new version: panels/north-ward/1.0.0.json\n`,
    });
  });
});

describe('SIGTERM', () => {
  it('stops the service within 3 s although a connection is kept alive', async () => {
    const { port, stop } = await start(newFile());
    const { socket, received } = await open(port);
    socket.write('GET /health/live HTTP/1.1\r\nHost: x\r\nConnection: keep-alive\r\n\r\n');
    await until(() => received().includes('"live"'));
    const closed = once(socket, 'close');
    const { code, afterMs } = await stop();
    await closed;
    expect({ code }).toEqual({ code: 0 });
    expect(afterMs).toBeLessThan(3_000);
  });

  it('lets a request that is under way have its answer, on record, and then stops within 3 s', async () => {
    const file = newFile();
    const { port, stop } = await start(file);
    const body = requestBody();
    const { socket, received } = await open(port);
    const half = Math.floor(body.length / 2);
    socket.write(
      `POST ${PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${body.length}\r\n\r\n`,
    );
    socket.write(body.slice(0, half));
    await pause(300);
    const stopped = stop();
    await refusesConnections(port);
    socket.write(body.slice(half));
    const { code, afterMs } = await stopped;
    expect(received()).toMatch(/^HTTP\/1\.1 200 OK\r\n/);
    expect(received().toLowerCase()).toContain('\r\nconnection: close\r\n');
    const id = /"identifier":\{[^}]*urn:uuid:([0-9a-f-]{36})/.exec(received())?.[1];
    expect(readRows(file).map((row) => row.id)).toEqual([id]);
    expect({ code }).toEqual({ code: 0 });
    expect(afterMs).toBeLessThan(3_000);
  });

  it('leaves one file: the log is closed and nothing waits beside it', async () => {
    const file = newFile();
    const { base, stop } = await start(file);
    await interpret(base);
    await stop();
    expect([file, `${file}-wal`, `${file}-shm`].map((path) => existsSync(path))).toEqual([
      true,
      false,
      false,
    ]);
  });
});

/** Waits until the service takes no new connection: it has begun to stop. */
async function refusesConnections(port: number): Promise<void> {
  for (let tries = 0; tries < 200; tries += 1) {
    const socket = connect(port, '127.0.0.1');
    const taken = await new Promise<boolean>((resolve) => {
      socket.on('connect', () => resolve(true));
      socket.on('error', () => resolve(false));
    });
    socket.destroy();
    if (!taken) return;
    await pause(10);
  }
  throw new Error('the service still takes connections');
}
