/**
 * Proves that a log is whole. Shares no code with the writer: it re-hashes the stored bytes and compares the
 * columns with what was hashed.
 */
import { createHash } from 'node:crypto';
import Database from 'better-sqlite3';

export interface Verification {
  readonly ok: boolean;
  /** Records checked. */
  readonly count: number;
  readonly head: { readonly seq: number; readonly hash: string } | null;
  /** The first record at fault and what is wrong with it. */
  readonly firstFault: { readonly seq: number; readonly problem: string } | null;
}

interface Row {
  seq: number;
  hash: string;
  recorded_at: string;
  kind: string;
  id: string;
  patient: string | null;
  record: string;
  /** The stored bytes of `record`: decoding could hide a change. */
  bytes: Buffer;
}

export interface VerifyOptions {
  /** First record to check; the one before it is taken as given. Default 1: the whole log. */
  readonly fromSeq?: number;
  /** A head noted earlier, outside the file: shows a cut tail or a rewritten chain. */
  readonly expectedHead?: { readonly seq: number; readonly hash: string };
}

/**
 * @param file an existing log; it is opened read-only
 * @throws Error when the file cannot be read as a log
 */
export function verifyLog(file: string, options: VerifyOptions = {}): Verification {
  const db = new Database(file, { readonly: true, fileMustExist: true });
  try {
    return verifyRows(db, options);
  } finally {
    db.close();
  }
}

function verifyRows(db: Database.Database, { fromSeq = 1, expectedHead }: VerifyOptions): Verification {
  let previous = '0'.repeat(64);
  if (fromSeq > 1) {
    const before = db.prepare<[number], { hash: string }>('SELECT hash FROM audit_record WHERE seq = ?');
    previous = before.get(fromSeq - 1)?.hash ?? previous;
  }
  let seq = fromSeq - 1;
  let count = 0;
  const fault = (problem: string, at: number): Verification => ({
    ok: false,
    count,
    head: null,
    firstFault: { seq: at, problem },
  });
  // From the very first when the whole log is checked: nothing may hide below record 1.
  const rows = db
    .prepare<[number], Row>(
      'SELECT *, CAST(record AS BLOB) AS bytes FROM audit_record WHERE seq >= ? ORDER BY seq',
    )
    .iterate(fromSeq === 1 ? Number.MIN_SAFE_INTEGER : fromSeq);
  for (const row of rows) {
    seq += 1;
    if (row.seq < seq) return fault('the record is not one of this log', row.seq);
    if (row.seq !== seq) return fault('the record is missing', seq);
    const problem = problemOf(row, previous);
    if (problem) return fault(problem, seq);
    if (expectedHead?.seq === seq && expectedHead.hash !== row.hash) {
      return fault('the chain was rewritten: another hash was noted for this record', seq);
    }
    previous = row.hash;
    count += 1;
  }
  if (expectedHead && expectedHead.seq > seq) return fault('the end of the log was cut off', seq + 1);
  return { ok: true, count, head: count > 0 ? { seq, hash: previous } : null, firstFault: null };
}

function problemOf(row: Row, previous: string): string | undefined {
  if (createHash('sha256').update(row.bytes).digest('hex') !== row.hash) {
    return 'the record does not match its hash';
  }
  let said: Partial<Record<string, unknown>>;
  try {
    said = JSON.parse(row.record) ?? {};
  } catch {
    // Hashed correctly but not JSON: somebody wrote it who is not the service.
    return 'the record is not JSON';
  }
  if (said.previous !== previous) return 'the record is not chained to the one before it';
  const columns = {
    seq: row.seq,
    recordedAt: row.recorded_at,
    kind: row.kind,
    id: row.id,
    patient: row.patient,
  };
  for (const [name, value] of Object.entries(columns)) {
    if (said[name] !== value) return `the column ${name} does not match the record`;
  }
  return undefined;
}
