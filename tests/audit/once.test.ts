/** What may happen once only (STANDARDS T9: a `jti` is remembered): in one process, across restarts, in several processes. */
import { spawn } from 'node:child_process';
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { AuditFault, type AuditStore, type Claim } from '../../src/audit/audit-record.ts';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import { entry, openStore, readRows, temporaryFolder } from './raw-log.ts';
import { ROOT } from './run-command.ts';

const folder = temporaryFolder();
let files = 0;
const newFile = () => join(folder, `once-${++files}.sqlite`);
const UNTIL = new Date('2026-11-25T13:00:00Z');

function claimIn(store: AuditStore, key: string, until = UNTIL): Claim {
  const claim = store.claimOnce(key, until);
  if (!claim) throw new Error(`${key} was taken before`);
  return claim;
}

function keysIn(file: string): readonly string[] {
  const db = new Database(file, { readonly: true });
  try {
    return db
      .prepare<[], { key: string }>('SELECT key FROM once ORDER BY key')
      .all()
      .map(({ key }) => key);
  } finally {
    db.close();
  }
}

describe('a claim', () => {
  it('T9: is given once, before and after it is on disk', async () => {
    const store = openStore(newFile());
    const claim = claimIn(store, 'a');
    expect(store.claimOnce('a', UNTIL)).toBeUndefined();
    expect(await claim.kept()).toBe(true);
    expect(await claim.kept()).toBe(true);
    expect(store.claimOnce('a', UNTIL)).toBeUndefined();
    expect(store.claimOnce('b', UNTIL)).toBeDefined();
    store.close();
  });

  it('T9: is remembered after a restart, also when nobody waited for it and the store was closed', async () => {
    const file = newFile();
    const before = openStore(file);
    await claimIn(before, 'waited').kept();
    claimIn(before, 'not-waited');
    before.close();
    const after = openStore(file);
    expect(after.claimOnce('waited', UNTIL)).toBeUndefined();
    expect(after.claimOnce('not-waited', UNTIL)).toBeUndefined();
    expect(after.claimOnce('new', UNTIL)).toBeDefined();
    after.close();
  });

  it('T9: of one of two stores on a file is refused to the other, whichever saw it first', async () => {
    const file = newFile();
    const [one, other] = [openStore(file), openStore(file)];
    expect(await claimIn(one, 'a').kept()).toBe(true);
    expect(other.claimOnce('a', UNTIL)).toBeUndefined();
    // Both before either is on disk: the commit decides, for one of them.
    const both = [claimIn(one, 'b'), claimIn(other, 'b')];
    const kept = await Promise.all(both.map((claim) => claim.kept()));
    expect(kept.filter(Boolean)).toHaveLength(1);
    expect(keysIn(file)).toEqual(['a', 'b']);
    one.close();
    other.close();
  });

  it('T9: of fifty stores on a file is given to exactly one', async () => {
    const file = newFile();
    const stores = Array.from({ length: 50 }, () => openStore(file));
    const claims = stores.map((store) => claimIn(store, 'a'));
    const kept = await Promise.all(claims.map((claim) => claim.kept()));
    expect(kept.filter(Boolean)).toHaveLength(1);
    for (const store of stores) store.close();
  });
});

describe('the record of a claim', () => {
  it('goes to disk with it, in one commit', async () => {
    const file = newFile();
    const store = openStore(file);
    const claim = claimIn(store, 'a');
    expect(keysIn(file)).toEqual([]);
    await store.append({ ...entry(1), claim });
    expect([keysIn(file), readRows(file).length]).toEqual([['a'], 1]);
    const bytes = bytesLogged(file);
    expect(await claim.kept()).toBe(true);
    expect(bytesLogged(file)).toBe(bytes);
    store.close();
  });

  it('is not written when another process was first; its neighbours in the commit are', async () => {
    const file = newFile();
    const [first, second] = [openStore(file), openStore(file)];
    const lost = claimIn(second, 'a');
    expect(await claimIn(first, 'a').kept()).toBe(true);
    const [refused, neighbour] = await Promise.allSettled([
      second.append({ ...entry(1), claim: lost }),
      second.append(entry(2)),
    ]);
    expect(refused).toMatchObject({ status: 'rejected', reason: { name: 'AuditFault' } });
    expect(neighbour.status).toBe('fulfilled');
    expect(await lost.kept()).toBe(false);
    await expect(second.append({ ...entry(3), claim: lost })).rejects.toBeInstanceOf(AuditFault);
    expect(readRows(file).map(({ id }) => id)).toEqual([entry(2).id]);
    first.close();
    second.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 1 });
  });

  it('says nothing of the claim: the chain is the same with and without', async () => {
    const [withClaim, without] = [newFile(), newFile()];
    const heads = [];
    for (const file of [withClaim, without]) {
      const store = openSqliteStore({ file, now: () => UNTIL, onFatal: () => undefined });
      const claim = file === withClaim ? claimIn(store, 'a') : undefined;
      heads.push(await store.append({ ...entry(1), claim }));
      store.close();
    }
    expect(JSON.stringify(readRows(withClaim))).not.toContain('claim');
    expect(readRows(withClaim)[0]?.record).toBe(readRows(without)[0]?.record);
    expect(heads[0]).toEqual(heads[1]);
  });
});

/** Bytes of the write-ahead log: a commit makes it longer. */
const bytesLogged = (file: string) => statSync(`${file}-wal`).size;

describe('a claim that cannot be written', () => {
  it('is told so to who waits, and can be asked again when the disk has room', async () => {
    const file = newFile();
    const store = openStore(file);
    const other = new Database(file);
    other.exec('BEGIN IMMEDIATE');
    const claim = claimIn(store, 'a');
    await expect(claim.kept()).rejects.toMatchObject({ name: 'AuditFault', cause: { code: 'SQLITE_BUSY' } });
    expect(store.claimOnce('a', UNTIL)).toBeUndefined();
    other.exec('ROLLBACK');
    other.close();
    expect(await claim.kept()).toBe(true);
    expect(keysIn(file)).toEqual(['a']);
    store.close();
  });

  it('because a neighbour in the commit fails is written by the next one', async () => {
    const file = newFile();
    const store = openStore(file);
    await store.append(entry(1));
    const claim = claimIn(store, 'a');
    await expect(store.append(entry(1))).rejects.toBeInstanceOf(AuditFault);
    expect(keysIn(file)).toEqual([]);
    expect(await claim.kept()).toBe(true);
    expect(keysIn(file)).toEqual(['a']);
    store.close();
  });

  it('because the store is closed is a fault, not a claim', async () => {
    const store = openStore(newFile());
    const claim = claimIn(store, 'a');
    store.close();
    expect(await claim.kept()).toBe(true);
    expect(() => store.claimOnce('b', UNTIL)).toThrow(new AuditFault('the audit log is closed'));
  });
});

describe('claims that have expired', () => {
  it('are forgotten, the others are not, and what is forgotten does not grow the file', async () => {
    const file = newFile();
    let now = new Date('2026-11-25T12:00:00Z');
    const store = openSqliteStore({ file, now: () => now, onFatal: () => undefined });
    const soon = new Date('2026-11-25T12:10:00Z');
    await Promise.all(['a', 'b'].map((key) => claimIn(store, key, soon).kept()));
    await claimIn(store, 'c', UNTIL).kept();
    now = new Date('2026-11-25T12:10:00Z');
    await claimIn(store, 'd', UNTIL).kept();
    expect(keysIn(file)).toEqual(['a', 'b', 'c', 'd']);
    now = new Date('2026-11-25T12:11:30Z');
    await claimIn(store, 'e', UNTIL).kept();
    expect(keysIn(file)).toEqual(['c', 'd', 'e']);
    expect(store.claimOnce('c', UNTIL)).toBeUndefined();
    store.close();
  });

  it('by the thousand are forgotten in several commits', async () => {
    const file = newFile();
    let now = new Date('2026-11-25T12:00:00Z');
    const store = openSqliteStore({ file, now: () => now, onFatal: () => undefined });
    const many = Array.from({ length: 5_000 }, (_, index) => claimIn(store, `k${index}`, now));
    await Promise.all(many.map((claim) => claim.kept()));
    now = new Date('2026-11-25T12:30:00Z');
    const left: number[] = [];
    for (const key of ['x', 'y', 'z']) {
      await claimIn(store, key, UNTIL).kept();
      left.push(keysIn(file).length);
    }
    expect(left).toEqual([3_001, 1_002, 3]);
    store.close();
  });
});

describe('kill -9', () => {
  const child = fileURLToPath(new URL('claiming-child.ts', import.meta.url));

  function claimUntilKilled(file: string, when: 'kept' | 'early'): Promise<readonly string[]> {
    return new Promise((resolve, reject) => {
      const running = spawn(process.execPath, ['--import', 'tsx', child, file, when], { cwd: ROOT });
      let printed = '';
      running.stdout.on('data', (bytes) => {
        if (printed === '') setTimeout(() => running.kill('SIGKILL'), 40);
        printed += bytes;
      });
      running.on('close', (_code, signal) =>
        signal === 'SIGKILL' ? resolve(printed.split('\n').slice(0, -1)) : reject(new Error(`${signal}`)),
      );
    });
  }

  it('loses no claim that was answered; a process that answers before the commit is seen to lose some', async () => {
    const lost = { kept: 0, early: 0 };
    const printed = { kept: 0, early: 0 };
    for (const when of ['kept', 'early'] as const) {
      for (let round = 0; round < 4; round += 1) {
        const file = newFile();
        const keys = await claimUntilKilled(file, when);
        const store = openStore(file);
        printed[when] += keys.length;
        lost[when] += keys.filter((key) => store.claimOnce(key, UNTIL) !== undefined).length;
        store.close();
      }
    }
    expect(printed.kept).toBeGreaterThan(4);
    expect(lost.kept).toBe(0);
    expect(lost.early).toBeGreaterThan(0);
  });
});
