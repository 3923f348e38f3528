/** Reads records of a log: on the store's own connection, or read-only from a file. */
import Database from 'better-sqlite3';
import { AuditFault, type LogReader, type StoredRecord } from './audit-record.ts';

export function readerOf(db: Database.Database): LogReader {
  const byId = db.prepare<[string], StoredRecord>('SELECT * FROM audit_record WHERE id = ?');
  const fromSeq = db.prepare<[number], StoredRecord>(
    'SELECT * FROM audit_record WHERE seq >= ? ORDER BY seq',
  );
  const ofKind = db.prepare<[string, number], StoredRecord>(
    'SELECT * FROM audit_record WHERE kind = ? AND seq >= ? ORDER BY seq',
  );
  return {
    findById: (id) => byId.get(id),
    ...indexOf(db),
    records: (first = 1, kind) => (kind === undefined ? fromSeq.iterate(first) : ofKind.iterate(kind, first)),
  };
}

/** A log that an older version wrote, opened read-only, has no such tables, and no names in its records. */
function indexOf(db: Database.Database): Pick<LogReader, 'findByName' | 'recordsAbout'> {
  const isThere = db.prepare("SELECT 1 FROM sqlite_master WHERE name = 'audit_about'").get();
  if (!isThere) return { findByName: () => undefined, recordsAbout: () => [] };
  const byName = db.prepare<[string], StoredRecord>(
    'SELECT r.* FROM audit_name n JOIN audit_record r ON r.seq = n.record WHERE n.name = ?',
  );
  const about = db.prepare<[string], StoredRecord>(
    'SELECT r.* FROM audit_about a JOIN audit_record r ON r.seq = a.record WHERE a.about = ? ORDER BY r.seq',
  );
  return { findByName: (name) => byName.get(name), recordsAbout: (id) => about.all(id) };
}

/**
 * Opens an existing log without changing it, uses it and closes it.
 * @throws AuditFault when the file is not a log
 */
export function withLog<T>(file: string, use: (reader: LogReader) => T): T {
  const db = new Database(file, { readonly: true, fileMustExist: true });
  try {
    return use(readerOf(db));
  } catch (cause) {
    if (cause instanceof Database.SqliteError) throw new AuditFault(`${file} is not an audit log`, { cause });
    throw cause;
  } finally {
    db.close();
  }
}
