/**
 * A process to be killed: appends without end, twenty at a time, and prints ids, one a line.
 * `acknowledged` prints an id when its append has resolved; `early` prints it before, which is the mistake
 * that the test must be able to see.
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

async function appendOne(): Promise<void> {
  const entry = { id: randomUUID(), kind: 'evaluation', patient: null, content: 'x'.repeat(2_000) };
  if (when === 'early') process.stdout.write(`${entry.id}\n`);
  await store.append(entry);
  if (when === 'acknowledged') process.stdout.write(`${entry.id}\n`);
}

for (;;) await Promise.all(Array.from({ length: 20 }, appendOne));
