/**
 * kill -9 at any moment: no acknowledged record is lost. This says nothing about fsync, because what the
 * process has handed to the system outlives it; synchronous=FULL is checked in connection.test.ts. A control that
 * acknowledges before the commit shows that the kills do hit the moment that matters.
 * GRIP_TEST_KILLS sets how often each child is killed (default 15).
 */
import { spawn } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { verifyLog } from '../../src/audit/verify.ts';
import { entry, openStore, readRows, seededRandom, temporaryFolder } from './raw-log.ts';
import { ROOT } from './run-command.ts';

const KILLS = Number(process.env.GRIP_TEST_KILLS ?? 15);
const LONGEST_LIFE_MS = 80;
const PATIENCE_MS = 20_000 + KILLS * 3_000;

const folder = temporaryFolder();
const child = fileURLToPath(new URL('appending-child.ts', import.meta.url));
const random = seededRandom(9);

type When = 'acknowledged' | 'early';

/** Lets the child print its first id and live on for a moment, then kills it. @returns the ids it printed */
function appendUntilKilled(file: string, when: When): Promise<readonly string[]> {
  return new Promise((resolve, reject) => {
    const running = spawn(process.execPath, ['--import', 'tsx', child, file, when], { cwd: ROOT });
    let printed = '';
    let said = '';
    running.stderr.on('data', (bytes) => {
      said += bytes;
    });
    running.stdout.on('data', (bytes) => {
      if (printed === '') setTimeout(() => running.kill('SIGKILL'), random() * LONGEST_LIFE_MS);
      printed += bytes;
    });
    running.on('close', (_code, signal) => {
      if (signal !== 'SIGKILL') reject(new Error(`the child ended by itself: ${said}`));
      // Without the last piece: nothing, or an id of which only a part was printed.
      else resolve(printed.split('\n').slice(0, -1));
    });
  });
}

/** @returns how many ids were printed, and how many of them are not in the log */
async function killAgainAndAgain(when: When): Promise<{ printed: number; lost: number }> {
  const totals = { printed: 0, lost: 0 };
  for (let round = 0; round < KILLS; round += 1) {
    const file = join(folder, `${when}-${round}.sqlite`);
    const printed = await appendUntilKilled(file, when);
    const kept = new Set(readRows(file).map(({ id }) => id));
    totals.printed += printed.length;
    totals.lost += printed.filter((id) => !kept.has(id)).length;
    await expectGoesOn(file, kept.size);
  }
  return totals;
}

/** What is in the log is whole, and the next process continues its chain. */
async function expectGoesOn(file: string, count: number): Promise<void> {
  expect(verifyLog(file)).toMatchObject({ ok: true, count });
  const store = openStore(file);
  await store.append(entry(1));
  store.close();
  expect(verifyLog(file)).toMatchObject({ ok: true, count: count + 1 });
}

it.concurrent(
  `loses no acknowledged record in ${KILLS} kills, and the chain goes on`,
  async () => {
    const { printed, lost } = await killAgainAndAgain('acknowledged');
    expect(printed).toBeGreaterThanOrEqual(KILLS);
    expect(lost).toBe(0);
  },
  PATIENCE_MS,
);

it.concurrent(
  'control: a process that acknowledges before the commit is seen to lose records',
  async () => {
    const { lost } = await killAgainAndAgain('early');
    expect(lost).toBeGreaterThan(0);
  },
  PATIENCE_MS,
);

it.concurrent(
  'keeps one chain when two processes that write to one log are killed',
  async () => {
    const file = join(folder, 'shared.sqlite');
    openStore(file).close();
    for (let round = 0; round < Math.ceil(KILLS / 5); round += 1) {
      const both = [appendUntilKilled(file, 'acknowledged'), appendUntilKilled(file, 'acknowledged')];
      const printed = (await Promise.all(both)).flat();
      const rows = readRows(file);
      const kept = new Set(rows.map(({ id }) => id));
      expect(printed.filter((id) => !kept.has(id))).toEqual([]);
      expect(verifyLog(file)).toMatchObject({ ok: true, count: rows.length });
    }
  },
  PATIENCE_MS,
);
