/** Ways round the log that were open once. */
import { once } from 'node:events';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { verifyLog } from '../../src/audit/verify.ts';
import { entry, openStore, sha256, tamper, temporaryFolder, unguarded, writeLog } from './raw-log.ts';
import { runCommand } from './run-command.ts';

const folder = temporaryFolder();
const file = join(folder, 'whole.sqlite');
await writeLog(file, 3);
const bytes = unguarded(file);
const tampered = join(folder, 'tampered.sqlite');

function insert(seq: number, record: string): void {
  tamper(tampered, bytes, (db) =>
    db
      .prepare('INSERT INTO audit_record VALUES (?, ?, ?, ?, ?, ?, ?)')
      .run(seq, sha256(record), 'x', 'evaluation', 'forged', null, record),
  );
}

describe('verification', () => {
  it.each([0, -5])('finds a row numbered %s', (seq) => {
    insert(seq, '{}');
    expect(verifyLog(tampered).firstFault?.seq).toBe(seq);
  });

  it.each(['null', '7', '"x"', '[]'])('finds a record that is %s', (text) => {
    insert(4, text);
    expect(verifyLog(tampered).firstFault?.seq).toBe(4);
  });

  it('hashes the stored bytes, not what they decode to', async () => {
    const other = join(folder, 'bytes.sqlite');
    const store = openStore(other);
    await store.append(entry(1, 'a \ufffd'));
    store.close();
    tamper(tampered, unguarded(other), (db) =>
      db.exec(
        "UPDATE audit_record SET record = CAST(replace(CAST(record AS BLOB), x'EFBFBD', x'FF') AS TEXT)",
      ),
    );
    expect(verifyLog(tampered).firstFault?.seq).toBe(1);
  });
});

describe('the store', () => {
  it('refuses an entry with half a surrogate pair, and only that one of its turn', async () => {
    const other = join(folder, 'half.sqlite');
    const store = openStore(other);
    const results = await Promise.allSettled(
      [1, 2, 3].map((n) => store.append(entry(n, n === 2 ? '\ud800' : 'x'))),
    );
    store.close();
    expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
    expect(verifyLog(other)).toMatchObject({ ok: true, count: 2 });
  });
});

describe('the command line', () => {
  it('exits 1 when the port is in use', async () => {
    const other = createServer();
    other.listen(0, '127.0.0.1');
    await once(other, 'listening');
    const { port } = other.address() as { port: number };
    expect(runCommand(folder, ['serve'], { GRIP_CDS_PORT: String(port) }).status).toBe(1);
    other.close();
  });

  it.each([[['audit']], [['audit', 'erase']], [['audit', 'show']]])('%j exits 2 without a log', (args) => {
    expect(runCommand(folder, args).status).toBe(2);
  });
});
