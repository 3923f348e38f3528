/**
 * A process to be killed: claims without end, ten at a time, and prints keys, one a line. `kept` prints a key when its claim
 * is on disk; `early` prints it at once, which is the mistake that the test must be able to see.
 */
import { randomUUID } from 'node:crypto';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';

const [file = '', when] = process.argv.slice(2);
const store = openSqliteStore({
  file,
  now: () => new Date(),
  onFatal: (cause) => {
    throw cause;
  },
});

async function claimOne(): Promise<void> {
  const key = randomUUID();
  const claim = store.claimOnce(key, new Date(Date.now() + 3_600_000));
  if (when === 'early') process.stdout.write(`${key}\n`);
  await claim?.kept();
  if (when === 'kept') process.stdout.write(`${key}\n`);
}

for (;;) await Promise.all(Array.from({ length: 10 }, claimOne));
