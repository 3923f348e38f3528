import { chmodSync, existsSync, mkdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { AuditFault } from '../../src/audit/audit-record.ts';
import { GENESIS } from '../../src/audit/sqlite-store.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import { entry, openStore, readRows, sha256, temporaryFolder } from './raw-log.ts';

const folder = temporaryFolder();
let files = 0;
const newFile = () => join(folder, `append-${++files}.sqlite`);

describe('the file', () => {
  const modeOf = (path: string) => (statSync(path).mode & 0o777).toString(8);

  it('and what SQLite puts beside it are for this account only, and so are the folders made for it', async () => {
    const made = join(folder, 'made', 'here');
    const file = join(made, 'log.sqlite');
    // The widest mask: what nothing asks for would be open to everybody.
    const mask = process.umask(0);
    try {
      const store = openStore(file);
      await store.append(entry(1));
      for (const path of [file, `${file}-wal`, `${file}-shm`]) {
        expect(existsSync(path), path).toBe(true);
        expect(modeOf(path), path).toBe('600');
      }
      store.close();
    } finally {
      process.umask(mask);
    }
    expect([modeOf(file), modeOf(made), modeOf(join(folder, 'made'))]).toEqual(['600', '700', '700']);
  });

  it('is closed to others when an older one is opened; a folder that was there stays as it was', () => {
    const there = join(folder, 'there');
    mkdirSync(there, { mode: 0o755 });
    const file = join(there, 'log.sqlite');
    openStore(file).close();
    chmodSync(file, 0o644);
    openStore(file).close();
    expect([modeOf(file), modeOf(there)]).toEqual(['600', '755']);
  });
});

describe('append', () => {
  it('stores what it was given, readable by id and in order', async () => {
    const store = openStore(newFile());
    const head = await store.append(entry(1));
    const stored = store.findById(entry(1).id);
    expect(stored).toMatchObject({ ...head, id: entry(1).id, kind: 'evaluation', patient: null });
    expect(JSON.parse(stored?.record ?? '')).toEqual({
      ...entry(1),
      seq: 1,
      previous: GENESIS.hash,
      recordedAt: stored?.recorded_at,
    });
    await store.append(entry(2));
    expect([...store.records()].map(({ id }) => id)).toEqual([entry(1).id, entry(2).id]);
    expect([...store.records(2)].map(({ seq }) => seq)).toEqual([2]);
    expect([...store.records(3)]).toEqual([]);
    expect(store.findById('unknown')).toBeUndefined();
    store.close();
  });

  it('numbers from 1 without a gap and chains each record to the one before', async () => {
    const file = newFile();
    const store = openStore(file);
    expect(store.head()).toEqual({ seq: 0, hash: '0'.repeat(64) });
    for (let number = 1; number <= 40; number += 1) {
      const append = store.append(entry(number));
      if (number % 3 > 0) continue;
      const head = await append;
      expect(store.head()).toEqual(head);
    }
    store.close();
    const rows = readRows(file);
    expect(rows.map(({ seq }) => seq)).toEqual(Array.from({ length: 40 }, (_, index) => index + 1));
    for (const [index, { record, hash }] of rows.entries()) {
      expect(hash).toBe(sha256(record));
      expect(JSON.parse(record).previous).toBe(rows[index - 1]?.hash ?? '0'.repeat(64));
    }
  });

  it('resolves the appends of one turn together, in order, and only when all can be read by others', async () => {
    const file = newFile();
    const store = openStore(file);
    const resolved: number[] = [];
    const seenByOthers: number[] = [];
    const appends = Array.from({ length: 100 }, async (_, index) => {
      const { seq } = await store.append(entry(index + 1));
      if (resolved.length === 0) seenByOthers.push(readRows(file).length);
      resolved.push(seq);
    });
    await Promise.resolve();
    expect(resolved).toEqual([]);
    expect(readRows(file)).toEqual([]);
    await Promise.all(appends);
    expect(resolved).toEqual(Array.from({ length: 100 }, (_, index) => index + 1));
    expect(seenByOthers).toEqual([100]);
    store.close();
  });

  it('rejects a whole batch with AuditFault when one record cannot be written, and leaves nothing of it', async () => {
    const file = newFile();
    const store = openStore(file);
    const before = await store.append(entry(1));
    const batch = [entry(2), entry(3), entry(2), entry(4)].map((one) => store.append(one));
    for (const outcome of await Promise.allSettled(batch)) {
      expect(outcome).toMatchObject({
        status: 'rejected',
        reason: { message: 'the record was not written' },
      });
      expect(outcome.status === 'rejected' && outcome.reason).toBeInstanceOf(AuditFault);
    }
    expect(store.head()).toEqual(before);
    expect(readRows(file)).toHaveLength(1);
    expect(await store.append(entry(3))).toMatchObject({ seq: 2 });
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });

  it.each([
    ['an id that is on record', entry(1)],
    ['a number that JSON does not have', entry(2, { value: Number.NaN })],
    ['a number too large for JSON', entry(2, { value: Number.POSITIVE_INFINITY })],
    ['a value that contains itself', entry(2, selfContaining())],
    ['a bigint', entry(2, { value: 1n })],
  ])('refuses %s and goes on afterwards', async (_name, refused) => {
    const file = newFile();
    const store = openStore(file);
    await store.append(entry(1));
    await expect(store.append(refused)).rejects.toBeInstanceOf(AuditFault);
    await expect(store.append(entry(5))).resolves.toMatchObject({ seq: 2 });
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });

  it('rejects after close; what was waiting at close is written first', async () => {
    const file = newFile();
    const store = openStore(file);
    const waiting = store.append(entry(1));
    store.close();
    await expect(waiting).resolves.toMatchObject({ seq: 1 });
    await expect(store.append(entry(2))).rejects.toThrow(new AuditFault('the audit log is closed'));
    expect(readRows(file)).toHaveLength(1);
  });

  it('continues the chain of an existing log', async () => {
    const file = newFile();
    for (let number = 1; number <= 5; number += 1) {
      const store = openStore(file);
      expect(store.head().seq).toBe(number - 1);
      await store.append(entry(number));
      store.close();
    }
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 5 });
  });

  it('does not fork the chain when two stores write to one file', async () => {
    const file = newFile();
    const stores = [openStore(file), openStore(file)] as const;
    const appends: Promise<unknown>[] = [];
    for (let number = 1; number <= 120; number += 1) {
      appends.push(stores[number % 2 === 0 ? 0 : 1].append(entry(number)));
      if (number % 7 === 0) await Promise.all(appends);
    }
    await Promise.all(appends);
    expect(stores[0].head()).toEqual(stores[1].head());
    for (const store of stores) store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 120 });
  });
});

describe('opening', () => {
  it('makes the folders that are missing', () => {
    const file = join(folder, 'deep', 'er', 'log.sqlite');
    openStore(file).close();
    expect(readRows(file)).toEqual([]);
  });

  it('stops at a file that cannot be a log, and names it', () => {
    const notALog = newFile();
    writeFileSync(notALog, 'this is a text, and longer than the header of a database would be '.repeat(9));
    const isFolder = newFile();
    mkdirSync(isFolder);
    for (const file of [notALog, isFolder]) {
      expect(() => openStore(file)).toThrow(new AuditFault(`the audit log ${file} cannot be opened`));
    }
  });
});

function selfContaining(): unknown {
  const value: Record<string, unknown> = {};
  value.itself = value;
  return value;
}
