/**
 * Proves that a log is whole. Shares no code with the writer: it re-hashes the stored bytes and compares the
 * columns with what was hashed.
 */
import { createHash } from 'node:crypto';
import Database from 'better-sqlite3';
import { indexCheckOf } from './verify-index.ts';

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
    // One view of the file: the service may be writing.
    db.exec('BEGIN');
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
  const documents = documentsOf(db);
  const index = indexCheckOf(db);
  for (const row of rows) {
    seq += 1;
    if (row.seq < seq) return fault('the record is not one of this log', row.seq);
    if (row.seq !== seq) return fault('the record is missing', seq);
    const said = saidBy(row, previous);
    const problem =
      typeof said === 'string' ? said : (index.problemOf(seq, said) ?? documents.problemOf(row));
    if (problem) return fault(problem, seq);
    if (expectedHead?.seq === seq && expectedHead.hash !== row.hash) {
      return fault('the chain was rewritten: another hash was noted for this record', seq);
    }
    previous = row.hash;
    count += 1;
  }
  if (expectedHead && expectedHead.seq > seq) return fault('the end of the log was cut off', seq + 1);
  const atEnd = fromSeq === 1 ? (documents.problemAtEnd() ?? index.problemAtEnd()) : undefined;
  if (atEnd) return fault(atEnd, seq);
  return { ok: true, count, head: count > 0 ? { seq, hash: previous } : null, firstFault: null };
}

interface FiledRow {
  readonly seq: number;
  readonly moment: number;
  readonly current: number;
  readonly removed: number;
  readonly owner: string | null;
  readonly content: string | null;
  readonly facts: string | null;
}

/** The documents filed beside the log: each record holds digests of those that it filed, and names what it removed. */
function documentsOf(db: Database.Database) {
  const isThere = db.prepare("SELECT 1 FROM sqlite_master WHERE name = 'document_version'").get();
  if (!isThere) return { problemOf: () => undefined, problemAtEnd: () => undefined };
  const find = db.prepare<[number, string, string, string], FiledRow>(
    `SELECT d.seq, d.moment, d.version AS current, d.removed, d.owner, v.content, v.facts FROM document d
     LEFT JOIN document_version v ON v.document = d.seq AND v.version = ? AND v.record = ?
     WHERE d.type = ? AND d.id = ?`,
  );
  const terms = db.prepare<[number], Record<'name' | 'system' | 'value' | 'low' | 'high', unknown>>(
    'SELECT name, system, value, low, high FROM document_term WHERE document = ?',
  );
  const removed = new Set<string>();
  let known = 0;

  const isAsRecorded = (found: FiledRow, version: number, [stored, indexed]: readonly unknown[]) => {
    if (digestOf([found.content, found.owner, found.facts]) !== stored) return false;
    if (found.current !== version) return true;
    const lines = terms
      .all(found.seq)
      .map(({ name, system, value, low, high }) => JSON.stringify([name, system, value, low, high]));
    return digestOf([found.moment, ...lines.sort()]) === indexed;
  };
  return {
    problemOf(row: Row): string | undefined {
      const { filed, removals } = documentsIn(row);
      for (const name of removals) removed.add(name);
      for (const [name, digests] of filed) {
        const [type = '', id = '', , version = ''] = name.split('/');
        const found = find.get(Number(version), row.id, type, id);
        if (found?.removed === 1) continue;
        known += 1;
        if (!found || !isAsRecorded(found, Number(version), digests)) {
          return `the filed ${name} is not what was recorded`;
        }
      }
      return undefined;
    },
    problemAtEnd: () => problemAtEnd(db, known, removed),
  };
}

/** What no single record shows. */
function problemAtEnd(
  db: Database.Database,
  known: number,
  removed: ReadonlySet<string>,
): string | undefined {
  const one = (sql: string) => db.prepare<[], { n: number }>(sql).get()?.n ?? 0;
  if (one('SELECT count(*) AS n FROM document_version WHERE content IS NOT NULL') !== known) {
    return 'a filed document is there that no record names';
  }
  const newest = '(SELECT max(v.version) FROM document_version v WHERE v.document = d.seq)';
  if (one(`SELECT count(*) AS n FROM document d WHERE d.version IS NOT ${newest}`) > 0) {
    return 'a filed document is not at its newest version';
  }
  const gone = db.prepare<[], { name: string }>(
    "SELECT type || '/' || id AS name FROM document WHERE removed = 1",
  );
  const names = gone.all().map(({ name }) => name);
  const isSame = names.length === removed.size && names.every((name) => removed.has(name));
  return isSame ? undefined : 'what was removed is not what records say was removed';
}

function digestOf(parts: readonly unknown[]): string {
  return createHash('sha256').update(JSON.stringify(parts), 'utf8').digest('hex');
}

/** None in a record that filed and removed nothing, or is not read here. */
function documentsIn(row: Row): {
  readonly filed: readonly (readonly [name: string, digests: readonly unknown[]])[];
  readonly removals: readonly string[];
} {
  if (row.kind !== 'removal' && !row.record.includes('"filed"')) return { filed: [], removals: [] };
  const { returned, removed } = JSON.parse(row.record).content ?? {};
  const filed = Object.entries(returned?.filed ?? {}).map(
    ([name, digests]) => [name, [digests].flat()] as const,
  );
  return { filed, removals: row.kind === 'removal' ? (removed ?? []) : [] };
}

/** What the record says, or what is wrong with it. */
function saidBy(row: Row, previous: string): string | Partial<Record<string, unknown>> {
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
  return said;
}
