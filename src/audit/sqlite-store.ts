/** The audit log in one SQLite file: WAL, synchronous=FULL, one commit for all records of an event-loop turn. */
import { createHash } from 'node:crypto';
import { chmodSync, mkdirSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import type { DocumentReader } from '../document.ts';
import { type AuditEntry, AuditFault, type AuditStore, type ChainHead, type Filed } from './audit-record.ts';
import { canonicalJson } from './canonical-json.ts';
import { DOCUMENT_SCHEMA, documentsOf } from './document-store.ts';
import { readerOf } from './log-reader.ts';
import { claimsOf, ONCE_SCHEMA } from './once.ts';
import { indexWriterOf } from './record-index.ts';
import { SCHEMA } from './schema.ts';

export const GENESIS: ChainHead = Object.freeze({ seq: 0, hash: '0'.repeat(64) });

/** SQLITE_FULL is survivable: the batch is rolled back and a later one may succeed. These are not. */
const FATAL_CODES = /^SQLITE_(IOERR|CORRUPT|NOTADB)/;

export interface SqliteStoreOptions {
  readonly file: string;
  readonly now: () => Date;
  /** Called once when the file can no longer be trusted to keep what it acknowledges: stop the process. */
  readonly onFatal: (cause: unknown) => void;
}

interface Waiting {
  readonly entry: AuditEntry;
  /** Canonical text of the entry's content. */
  readonly content: string;
  readonly resolve: (head: ChainHead) => void;
  readonly reject: (fault: AuditFault) => void;
}

/**
 * Opens or creates the log.
 * @throws AuditFault when the file cannot be opened or does not hold `synchronous=FULL`
 */
export function openSqliteStore(options: SqliteStoreOptions): AuditStore {
  const db = openDatabase(options.file);
  const insert = db.prepare(
    'INSERT INTO audit_record (seq, hash, recorded_at, kind, id, patient, record) VALUES (?, ?, ?, ?, ?, ?, ?)',
  );
  const readHead = db.prepare<[], ChainHead>('SELECT seq, hash FROM audit_record ORDER BY seq DESC LIMIT 1');
  const storedHead = () => readHead.get() ?? GENESIS;
  const documents = documentsOf(db);
  const reader = readerOf(db);
  const indexEntry = indexWriterOf(db);
  const claims = claimsOf(db, options.now, commitSoon);

  let isDue = false;
  let waiting: Waiting[] = [];
  let failed: unknown;

  /** The head is read inside the transaction: no copy in memory to go wrong after a rollback. */
  const writeBatch = db.transaction((batch: readonly Waiting[]): readonly (ChainHead | undefined)[] => {
    claims.write();
    let head = storedHead();
    return batch.map(({ entry, content }) => {
      // Looked up here, where no other process can come between.
      if (entry.claim && claims.isLost(entry.claim)) return undefined;
      const there = entry.unlessOnRecord ? reader.findById(entry.id) : undefined;
      if (there) return { seq: there.seq, hash: there.hash };
      const recordedAt = options.now().toISOString();
      const { record, next } = chain(entry, content, recordedAt, head);
      insert.run(next.seq, next.hash, recordedAt, entry.kind, entry.id, entry.patient, record);
      indexEntry(next.seq, entry);
      documents.file(entry.documents ?? [], entry.id);
      documents.revise(entry.revisions ?? [], entry.id);
      for (const { type, id } of entry.removals ?? []) documents.remove(type, id, recordedAt, entry.id);
      head = next;
      return next;
    });
  });

  function commitBatch(): void {
    isDue = false;
    const batch = waiting;
    if (batch.length === 0 && !claims.isWaiting()) return;
    // Nothing is tried after a failure: a later write would only seem to succeed. Claims alone can come here then.
    const fault = faultNow();
    if (fault) {
      claims.rolledBack(fault);
      return;
    }
    waiting = [];
    try {
      const heads = writeBatch.immediate(batch);
      claims.committed();
      for (const [index, { resolve, reject }] of batch.entries()) {
        const head = heads[index];
        if (head) resolve(head);
        else reject(new AuditFault('another process made the claim of this record first'));
      }
    } catch (cause) {
      failBatch(batch, cause);
    }
  }

  /** With everything else of this turn of the event loop. */
  function commitSoon(): void {
    if (!isDue) setImmediate(commitBatch);
    isDue = true;
  }

  function failBatch(batch: readonly Waiting[], cause: unknown): void {
    const code = cause instanceof Database.SqliteError ? cause.code : '';
    if (FATAL_CODES.test(code)) failed = cause;
    const fault = new AuditFault('the record was not written', { cause });
    claims.rolledBack(fault);
    for (const { reject } of batch) reject(fault);
    if (failed) options.onFatal(failed);
  }

  const findId = db.prepare<[string], { id: string }>('SELECT id FROM audit_record WHERE id = ?');
  const isOnRecord = (id: string) =>
    waiting.some(({ entry }) => entry.id === id) || findId.get(id) !== undefined;

  function faultNow(): AuditFault | undefined {
    if (failed) return new AuditFault('the audit log has failed', { cause: failed });
    return db.open ? undefined : new AuditFault('the audit log is closed');
  }

  return {
    append(entry) {
      const fault = faultNow();
      if (fault) return Promise.reject(fault);
      // Before it waits with others: an entry that cannot be written must not take them down.
      let content: string;
      try {
        content = canonicalJson(entry.content);
      } catch (cause) {
        return Promise.reject(new AuditFault('the record is not JSON data', { cause }));
      }
      if (entry.about && !isOnRecord(entry.about))
        return Promise.reject(new AuditFault('the record that it is about is not there'));
      return new Promise((resolve, reject) => {
        commitSoon();
        waiting.push({ entry, content, resolve, reject });
      });
    },
    head: storedHead,
    findFiled: (type, id) => filedIn(waiting, type, id) ?? filedAs(documents, type, id),
    findDocument: documents.findDocument,
    // What waits is written first: a withdrawal must find the results of a call that came just before it.
    searchDocuments: (query) => {
      if (waiting.length > 0) commitBatch();
      return documents.searchDocuments(query);
    },
    ...reader,
    claimOnce(key, until) {
      const fault = faultNow();
      if (fault) throw fault;
      try {
        return claims.claim(key, until);
      } catch (cause) {
        throw new AuditFault('the audit log cannot be asked', { cause });
      }
    },
    close() {
      if (db.open) commitBatch();
      db.close();
    },
  };
}

function filedIn(waiting: readonly Waiting[], type: string, id: string): Filed | undefined {
  for (const { entry } of waiting) {
    const found = entry.documents?.find((draft) => draft.type === type && draft.id === id);
    if (found) return { record: entry.id, at: found.updated };
  }
  return undefined;
}

function filedAs(documents: DocumentReader, type: string, id: string): Filed | undefined {
  const first = documents.findDocument(type, id, 1);
  if (!first?.record) return undefined;
  if (first.content === null) return { record: first.record, at: first.updated, removed: true };
  const facts = documents.findDocument(type, id)?.facts;
  return { record: first.record, at: first.updated, ...(facts ? { facts: JSON.parse(facts) } : {}) };
}

function openDatabase(file: string): Database.Database {
  try {
    // It holds references of patients: for the service's own account only. SQLite gives -wal and -shm the same.
    mkdirSync(dirname(file), { recursive: true, mode: 0o700 });
    const db = new Database(file);
    chmodSync(file, 0o600);
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    db.pragma('recursive_triggers = ON');
    // What is removed is overwritten in the file, not only unlinked.
    db.pragma('secure_delete = ON');
    db.pragma('busy_timeout = 250');
    db.exec(SCHEMA);
    db.exec(DOCUMENT_SCHEMA);
    db.exec(ONCE_SCHEMA);
    // better-sqlite3 falls back to NORMAL at the first write in WAL mode unless FULL is set: asked after the schema.
    if (db.pragma('synchronous', { simple: true }) !== 2)
      throw new AuditFault('synchronous=FULL did not hold');
    return db;
  } catch (cause) {
    throw new AuditFault(`the audit log ${file} cannot be opened`, { cause });
  }
}

/** The canonical text of one record, its members in canonical order, and the head it makes. */
function chain(
  { id, kind, names = [], about, patient }: AuditEntry,
  content: string,
  recordedAt: string,
  head: ChainHead,
): { record: string; next: ChainHead } {
  const seq = head.seq + 1;
  const named = names.length > 0 ? names : undefined;
  const rest = canonicalJson({ id, kind, names: named, patient, previous: head.hash, recordedAt, seq });
  const first = about ? `"about":${canonicalJson(about)},` : '';
  const record = `{${first}"content":${content},${rest.slice(1)}`;
  return { record, next: { seq, hash: createHash('sha256').update(record, 'utf8').digest('hex') } };
}
