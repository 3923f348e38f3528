import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { verifyLog } from '../../src/audit/verify.ts';
import {
  entry,
  openStore,
  readRows,
  rechain,
  tamper,
  temporaryFolder,
  unguarded,
  writeLog,
} from './raw-log.ts';

const folder = temporaryFolder();
const whole = join(folder, 'whole.sqlite');
await writeLog(whole, 20);
const rows = readRows(whole);
const bytes = unguarded(whole);
const head = { seq: 20, hash: rows[19]?.hash ?? '' };
const other = join(folder, 'tampered.sqlite');

describe('verify', () => {
  it('finds a log that the store wrote whole, and gives its count and head', () => {
    expect(verifyLog(whole)).toEqual({ ok: true, count: 20, head, firstFault: null });
  });

  it('gives no head for an empty log', () => {
    const empty = join(folder, 'empty.sqlite');
    openStore(empty).close();
    expect(verifyLog(empty)).toEqual({ ok: true, count: 0, head: null, firstFault: null });
  });

  it('agrees with a head that was noted, be it of the last record or of an earlier one', () => {
    expect(verifyLog(whole, { expectedHead: head }).ok).toBe(true);
    expect(verifyLog(whole, { expectedHead: { seq: 7, hash: rows[6]?.hash ?? '' } }).ok).toBe(true);
  });

  it('refuses a noted head that has another hash, or that the log does not reach', () => {
    const wrong = { seq: 7, hash: 'f'.repeat(64) };
    expect(verifyLog(whole, { expectedHead: wrong })).toEqual({
      ok: false,
      count: 6,
      head: null,
      firstFault: { seq: 7, problem: 'the chain was rewritten: another hash was noted for this record' },
    });
    expect(verifyLog(whole, { expectedHead: { seq: 22, hash: head.hash } }).firstFault).toEqual({
      seq: 21,
      problem: 'the end of the log was cut off',
    });
  });

  it('can begin at a later record, and then takes the one before as given', () => {
    tamper(other, bytes, (db) => db.exec("UPDATE audit_record SET record = '{}' WHERE seq = 4"));
    expect(verifyLog(other).firstFault?.seq).toBe(4);
    expect(verifyLog(other, { fromSeq: 4 }).firstFault?.seq).toBe(4);
    expect(verifyLog(other, { fromSeq: 5 })).toEqual({ ok: true, count: 16, head, firstFault: null });
    expect(verifyLog(whole, { fromSeq: 2 })).toEqual({ ok: true, count: 19, head, firstFault: null });
    tamper(other, bytes, (db) => db.exec('DELETE FROM audit_record WHERE seq = 9'));
    expect(verifyLog(other, { fromSeq: 9 }).firstFault).toEqual({ seq: 9, problem: 'the record is missing' });
  });

  // Trap 4 of a plain chain, and the reason why a head is to be kept elsewhere.
  it('cannot see a cut end or a complete rewrite without a head noted elsewhere', () => {
    const forge = (sql: string) =>
      tamper(other, bytes, (db) => {
        db.exec(sql);
        rechain(db);
      });
    tamper(other, bytes, (db) => db.exec('DELETE FROM audit_record WHERE seq > 12'));
    expect(verifyLog(other)).toMatchObject({ ok: true, count: 12 });
    expect(verifyLog(other, { expectedHead: head }).firstFault?.seq).toBe(13);
    forge("UPDATE audit_record SET record = json_set(record, '$.content.number', 99) WHERE seq = 3");
    expect(verifyLog(other)).toMatchObject({ ok: true, count: 20 });
    expect(verifyLog(other, { expectedHead: head }).firstFault?.seq).toBe(20);
  });

  it('reads the log while a store writes to it', async () => {
    const live = join(folder, 'live.sqlite');
    const store = openStore(live);
    for (let number = 1; number <= 10; number += 1) {
      await store.append(entry(number));
      expect(verifyLog(live)).toMatchObject({ ok: true, count: number, head: store.head() });
    }
    store.close();
  });

  it('changes nothing in the file', () => {
    const before = readFileSync(whole);
    verifyLog(whole);
    expect(readFileSync(whole).equals(before)).toBe(true);
  });

  it('throws for a file that is missing and for one that is not a log', () => {
    expect(() => verifyLog(join(folder, 'missing.sqlite'))).toThrow('unable to open');
    tamper(other, bytes, (db) => db.exec('DROP TABLE audit_record'));
    expect(() => verifyLog(other)).toThrow('no such table');
  });

  it('shares no code with the writer: its files import SHA-256, SQLite and each other, and nothing else of ours', () => {
    const sourceOf = (name: string) =>
      readFileSync(new URL(`../../src/audit/${name}`, import.meta.url), 'utf8');
    const importsOf = (name: string): string[] =>
      [...sourceOf(name).matchAll(/\b(?:from|import)\s*\(?\s*'([^']+)'/g)].map(([, from = '']) => from);
    expect(importsOf('verify.ts')).toEqual(['node:crypto', 'better-sqlite3', './verify-index.ts']);
    expect(importsOf('verify-index.ts')).toEqual(['better-sqlite3']);
    for (const name of ['verify.ts', 'verify-index.ts'])
      expect(sourceOf(name)).not.toMatch(/\brequire\b|canonicalize/);
    // Nor does the writer import them.
    for (const name of readdirSync(new URL('../../src/audit/', import.meta.url)))
      if (!name.startsWith('verify')) expect(importsOf(name).join(' '), name).not.toContain('verify');
  });
});
