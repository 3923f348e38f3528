/**
 * What the store does with its own connection. better-sqlite3 is wrapped so that the connection can be asked
 * and made to fail; everything else is the real thing. That FULL reaches the disk can only be shown by
 * cutting the power: here it is shown that the setting is in force after writes.
 */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { AuditFault } from '../../src/audit/audit-record.ts';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import { entry, openStore, type Raw, readRows, temporaryFolder, writeLog } from './raw-log.ts';

const wrapped = vi.hoisted(() => ({
  connections: [] as unknown[],
  deafTo: '',
  batches: [] as number[],
  failNext: undefined as unknown,
}));

vi.mock('better-sqlite3', async (original) => {
  const { default: Real } = await original<{ default: typeof Database }>();
  class Wrapped extends Real {
    constructor(...options: ConstructorParameters<typeof Database>) {
      super(...options);
      wrapped.connections.push(this);
    }
    override pragma(source: string, options?: Database.PragmaOptions): unknown {
      return source === wrapped.deafTo ? undefined : super.pragma(source, options);
    }
    // biome-ignore lint/suspicious/noExplicitAny: the signature of better-sqlite3
    override transaction(write: (...given: any[]) => unknown): any {
      const real = super.transaction(write);
      const immediate = (batch: unknown[]) => {
        wrapped.batches.push(batch.length);
        const fault = wrapped.failNext;
        wrapped.failNext = undefined;
        if (fault) throw fault;
        return real.immediate(batch);
      };
      return Object.assign(() => undefined, { immediate });
    }
  }
  return { default: Wrapped };
});

const folder = temporaryFolder();
let files = 0;
const newFile = () => join(folder, `connection-${++files}.sqlite`);

/** Opens a store and gives the connection that it made. */
function openWatched(file: string) {
  wrapped.connections.length = 0;
  const store = openStore(file);
  wrapped.batches.length = 0;
  return { store, connection: wrapped.connections[0] as Raw };
}

afterEach(() => {
  wrapped.deafTo = '';
  wrapped.failNext = undefined;
});

const setting = (connection: Raw, name: string) => connection.pragma(name, { simple: true });

const REWRITES: readonly (readonly [string, string])[] = [
  ['UPDATE', "UPDATE audit_record SET patient = 'Patient/other' WHERE seq = 2"],
  ['an UPDATE of nothing but the kind', 'UPDATE audit_record SET kind = kind'],
  ['DELETE', 'DELETE FROM audit_record WHERE seq = 3'],
  ['DELETE of everything', 'DELETE FROM audit_record'],
  [
    'INSERT OR REPLACE by number',
    "INSERT OR REPLACE INTO audit_record VALUES (2, 'h', 't', 'k', 'i', NULL, '{}')",
  ],
  [
    'INSERT OR REPLACE by id',
    "INSERT OR REPLACE INTO audit_record SELECT 9, hash, recorded_at, kind, id, patient, '{}' FROM audit_record WHERE seq = 2",
  ],
  [
    'an upsert',
    "INSERT INTO audit_record VALUES (2, 'h', 't', 'k', 'i', NULL, '{}') ON CONFLICT DO UPDATE SET record = '{}'",
  ],
];

describe('settings of the connection', () => {
  it('hold before the first write, after it, and after many', async () => {
    const { store, connection } = openWatched(newFile());
    for (let number = 1; number <= 30; number += 1) {
      expect(setting(connection, 'synchronous')).toBe(2);
      await store.append(entry(number));
    }
    expect(setting(connection, 'synchronous')).toBe(2);
    expect(setting(connection, 'journal_mode')).toBe('wal');
    expect(setting(connection, 'recursive_triggers')).toBe(1);
    expect(setting(connection, 'busy_timeout')).toBe(250);
    store.close();
  });

  it('hold for a log that exists already', async () => {
    const file = newFile();
    await writeLog(file, 3);
    const { store, connection } = openWatched(file);
    await store.append(entry(4));
    expect(setting(connection, 'synchronous')).toBe(2);
    store.close();
  });

  it('stop the opening when synchronous=FULL does not take effect', () => {
    const file = newFile();
    wrapped.deafTo = 'synchronous = FULL';
    const fault = `the audit log ${file} cannot be opened`;
    const cause = new AuditFault('synchronous=FULL did not hold');
    expect(() => openStore(file)).toThrow(new AuditFault(fault, { cause }));
  });
});

describe('the triggers', () => {
  it.each(REWRITES)('abort %s through the connection of the store', async (_name, sql) => {
    const file = newFile();
    await writeLog(file, 4);
    const { store, connection } = openWatched(file);
    expect(() => connection.exec(sql)).toThrow('the audit log is append-only');
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 4 });
  });

  it.each(REWRITES)('abort %s through another connection with recursive_triggers=ON', async (_name, sql) => {
    const file = newFile();
    await writeLog(file, 4);
    const other = new Database(file);
    other.pragma('recursive_triggers = ON');
    expect(() => other.exec(sql)).toThrow('the audit log is append-only');
    other.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 4 });
  });

  // The reason for the setting: and what it does not stop, the chain shows.
  it('do not abort INSERT OR REPLACE through a connection without the setting; verify finds it', async () => {
    const file = newFile();
    await writeLog(file, 4);
    const other = new Database(file);
    other.exec(REWRITES[4]?.[1] ?? '');
    other.close();
    expect(readRows(file)).toHaveLength(4);
    expect(verifyLog(file).firstFault).toMatchObject({ seq: 2 });
  });
});

describe('group commit', () => {
  it('writes all records of one turn in one transaction, and those of the next turn in the next', async () => {
    const { store } = openWatched(newFile());
    await Promise.all(Array.from({ length: 200 }, (_, index) => store.append(entry(index + 1))));
    expect(wrapped.batches).toEqual([200]);
    for (const number of [201, 202, 203]) await store.append(entry(number));
    expect(wrapped.batches).toEqual([200, 1, 1, 1]);
    store.close();
  });
});

describe('a failing disk', () => {
  it('that is full rejects the batch; with room again the log goes on', async () => {
    const file = newFile();
    const { store, connection } = openWatched(file);
    await store.append(entry(1));
    const pages = setting(connection, 'page_count');
    connection.pragma(`max_page_count = ${pages}`);
    const big = store.append(entry(2, 'x'.repeat(100_000)));
    await expect(big).rejects.toMatchObject({ name: 'AuditFault', cause: { code: 'SQLITE_FULL' } });
    expect(readRows(file)).toHaveLength(1);
    connection.pragma('max_page_count = 100000');
    await expect(store.append(entry(3))).resolves.toMatchObject({ seq: 2 });
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });

  it('or a log that somebody else holds locked rejects the batch; afterwards the log goes on', async () => {
    const file = newFile();
    const { store, connection } = openWatched(file);
    connection.pragma('busy_timeout = 20');
    const other = new Database(file);
    other.exec('BEGIN IMMEDIATE');
    await expect(store.append(entry(1))).rejects.toMatchObject({ cause: { code: 'SQLITE_BUSY' } });
    other.exec('COMMIT');
    other.close();
    await expect(store.append(entry(1))).resolves.toMatchObject({ seq: 1 });
    store.close();
  });

  it.each(['SQLITE_IOERR_FSYNC', 'SQLITE_IOERR_WRITE', 'SQLITE_CORRUPT', 'SQLITE_NOTADB'])(
    'that answers %s ends the log: said once, and every later append rejects',
    async (code) => {
      const onFatal = vi.fn();
      const store = openSqliteStore({ file: newFile(), now: () => new Date(), onFatal });
      await store.append(entry(1));
      const cause = new Database.SqliteError('the disk failed', code);
      wrapped.failNext = cause;
      const [first, second] = await Promise.allSettled([store.append(entry(2)), store.append(entry(3))]);
      expect(first).toMatchObject({ status: 'rejected', reason: { name: 'AuditFault', cause } });
      expect(second).toMatchObject({ status: 'rejected', reason: { name: 'AuditFault', cause } });
      await expect(store.append(entry(4))).rejects.toMatchObject({
        message: 'the audit log has failed',
        cause,
      });
      expect(onFatal.mock.calls).toEqual([[cause]]);
      expect(store.head().seq).toBe(1);
      store.close();
    },
  );
});
