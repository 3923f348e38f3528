/** Logs to test with: written by the store, then read and tampered with by SQLite alone. */
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll } from 'vitest';
import type { AuditEntry, AuditStore, StoredRecord } from '../../src/audit/audit-record.ts';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';

export type Raw = Database.Database;

/** A folder of its own for a test file, removed when its tests are done. */
export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'grip-cds-test-'));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

export function openStore(file: string): AuditStore {
  let ticks = 0;
  return openSqliteStore({
    file,
    now: () => new Date(Date.UTC(2026, 10, 24, 8, 0, 0, ticks++)),
    onFatal: (cause) => {
      throw cause;
    },
  });
}

/** Entries differ in everything that is stored; two in five are about nobody. */
export function entry(number: number, content: unknown = contentOf(number)): AuditEntry {
  return {
    id: `00000000-0000-4000-8000-${String(number).padStart(12, '0')}`,
    kind: number % 3 === 0 ? 'feedback' : 'evaluation',
    patient: number % 5 < 2 ? null : `Patient/p-${number % 4}`,
    content,
  };
}

function contentOf(number: number): unknown {
  const trials = Array.from({ length: 6 }, (_, trial) => ({
    reading: `${20 + number + trial}.5`,
    unit: 'kg',
  }));
  return { number, trials, note: 'μ, é, 握力, 💪, "quoted", a\ttab', zScore: -0.1 * number, none: null };
}

/** A log of `count` records, closed. */
export async function writeLog(file: string, count: number): Promise<void> {
  const store = openStore(file);
  await Promise.all(Array.from({ length: count }, (_, index) => store.append(entry(index + 1))));
  store.close();
}

/** The bytes of a closed log without its triggers: what somebody with the file can make of it. */
export function unguarded(file: string): Buffer {
  const copy = `${file}-unguarded`;
  writeFileSync(copy, readFileSync(file));
  const db = new Database(copy);
  dropTriggers(db);
  db.pragma('journal_mode = DELETE');
  db.close();
  return readFileSync(copy);
}

export function dropTriggers(db: Raw): void {
  for (const table of ['audit_record', 'audit_name', 'audit_about'])
    db.exec(`DROP TRIGGER ${table}_no_update; DROP TRIGGER ${table}_no_delete`);
}

/** Writes `bytes` to `file` and edits it, with no regard for the trust put in it. */
export function tamper<T>(file: string, bytes: Buffer, edit: (db: Raw) => T): T {
  writeFileSync(file, bytes);
  const db = new Database(file);
  try {
    db.pragma('synchronous = OFF');
    return edit(db);
  } finally {
    db.close();
  }
}

export function rowsOf(db: Raw): StoredRecord[] {
  return db.prepare<[], StoredRecord>('SELECT * FROM audit_record ORDER BY seq').all();
}

export function readRows(file: string): StoredRecord[] {
  const db = new Database(file, { readonly: true });
  try {
    return rowsOf(db);
  } finally {
    db.close();
  }
}

export function sha256(text: string): string {
  return createHash('sha256').update(text, 'utf8').digest('hex');
}

/** Numbers every record anew and chains it to the one before, as a forger would who knows the form. */
export function rechain(db: Raw): void {
  const rows = rowsOf(db);
  const put = db.prepare('UPDATE audit_record SET seq = ?, hash = ?, record = ? WHERE seq = ?');
  let previous = '0'.repeat(64);
  for (const [index, row] of rows.entries()) {
    const record = rfc8785({ ...JSON.parse(row.record), seq: index + 1, previous });
    previous = sha256(record);
    put.run(index + 1, previous, record, row.seq);
  }
}

/** JSON canonicalisation by RFC 8785, written from its text (sections 3.2.2 and 3.2.3). */
export function rfc8785(value: unknown): string {
  if (value === null || typeof value === 'boolean') return String(value);
  if (typeof value === 'number') return String(value);
  if (typeof value === 'string') return `"${Array.from(value, escapeCharacter).join('')}"`;
  if (Array.isArray(value)) return `[${value.map(rfc8785).join(',')}]`;
  const members = Object.entries(value as object).filter(([, member]) => member !== undefined);
  // By UTF-16 code unit, as < compares strings.
  members.sort(([a], [b]) => (a < b ? -1 : 1));
  return `{${members.map(([name, member]) => `${rfc8785(name)}:${rfc8785(member)}`).join(',')}}`;
}

const SHORT_ESCAPES: Readonly<Record<string, string>> = {
  '\b': '\\b',
  '\t': '\\t',
  '\n': '\\n',
  '\f': '\\f',
  '\r': '\\r',
  '"': '\\"',
  '\\': '\\\\',
};

function escapeCharacter(character: string): string {
  const code = character.charCodeAt(0);
  const long = code < 0x20 ? `\\u${code.toString(16).padStart(4, '0')}` : character;
  return SHORT_ESCAPES[character] ?? long;
}

/** Numbers in [0, 1) that are the same in every run (mulberry32). */
export function seededRandom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}
