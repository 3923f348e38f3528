/** Writes the rows by which a record is found: its names, and the earlier record that it points back to. */
import type Database from 'better-sqlite3';
import type { AuditEntry } from './audit-record.ts';

/**
 * @param db a connection on which SCHEMA was run
 * @returns writes inside the caller's transaction, which an Error ends: a name is another record's
 */
export function indexWriterOf(db: Database.Database): (seq: number, entry: AuditEntry) => void {
  const insertName = db.prepare<[string, number]>('INSERT INTO audit_name (name, record) VALUES (?, ?)');
  const insertAbout = db.prepare<[number, string]>('INSERT INTO audit_about (record, about) VALUES (?, ?)');
  return (seq, { names = [], about }) => {
    for (const name of names) insertName.run(name, seq);
    if (about) insertAbout.run(seq, about);
  };
}
