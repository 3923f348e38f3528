/** Reads records of a log: on the store's own connection, or read-only from a file. */
import Database from 'better-sqlite3';
import { AuditFault, type LogReader, type StoredRecord } from './audit-record.ts';

export function readerOf(db: Database.Database): LogReader {
  const byId = db.prepare<[string], StoredRecord>('SELECT * FROM audit_record WHERE id = ?');
  const fromSeq = db.prepare<[number], StoredRecord>(
    'SELECT * FROM audit_record WHERE seq >= ? ORDER BY seq',
  );
  return {
    findById: (id) => byId.get(id),
    records: (first = 1) => fromSeq.iterate(first),
  };
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
