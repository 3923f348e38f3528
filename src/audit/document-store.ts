/** Documents in SQLite: written in the transaction of their audit record, found by their terms. */
import Database from 'better-sqlite3';
import type {
  DocumentDraft,
  DocumentPage,
  DocumentQuery,
  DocumentReader,
  DocumentRevision,
  DocumentTerm,
  StoredDocument,
  TermCondition,
  TermMatch,
} from '../document.ts';

export const DOCUMENT_SCHEMA = `
CREATE TABLE IF NOT EXISTS document (
  seq     INTEGER PRIMARY KEY,              -- order of filing
  type    TEXT NOT NULL,
  id      TEXT NOT NULL,
  version INTEGER NOT NULL,                 -- the current one
  updated TEXT NOT NULL,                    -- RFC 3339, UTC, of the current version
  moment  INTEGER NOT NULL,                 -- what a search sorts by: milliseconds since 1970
  removed INTEGER NOT NULL DEFAULT 0,       -- 1: a mark that it was there
  owner   TEXT,                             -- client that it was filed for; null: everybody's
  UNIQUE (type, id)
) STRICT;

CREATE TABLE IF NOT EXISTS document_version (
  document INTEGER NOT NULL REFERENCES document (seq),
  version  INTEGER NOT NULL,
  updated  TEXT NOT NULL,
  record   TEXT,                            -- audit_record.id
  content  TEXT,                            -- JSON; null when it was removed
  facts    TEXT,                            -- JSON, for the filer
  PRIMARY KEY (document, version)
) STRICT, WITHOUT ROWID;

-- Of current versions only.
CREATE TABLE IF NOT EXISTS document_term (
  document INTEGER NOT NULL REFERENCES document (seq),
  name     TEXT NOT NULL,
  system   TEXT,
  value    TEXT,
  low      INTEGER,
  high     INTEGER
) STRICT;

CREATE INDEX IF NOT EXISTS document_by_moment ON document (type, moment, seq);
CREATE INDEX IF NOT EXISTS document_term_by_value ON document_term (name, value, document) WHERE value IS NOT NULL;
CREATE INDEX IF NOT EXISTS document_term_by_time ON document_term (name, low, document) WHERE low IS NOT NULL;
CREATE INDEX IF NOT EXISTS document_term_by_document ON document_term (document);
`;

export interface DocumentStore extends DocumentReader {
  /** Inside the caller's transaction, which an Error ends: another process filed it since the caller looked. */
  file(drafts: readonly DocumentDraft[], record: string | null): void;
  /** Inside the caller's transaction, which an Error ends: the version before it is not the current one. */
  revise(revisions: readonly DocumentRevision[], record: string): void;
  /**
   * Takes the content of every version away and leaves the mark that it was there; inside the caller's transaction.
   * @returns false when there is no such document
   */
  remove(type: string, id: string, at: string, record: string): boolean;
}

/** Documents that live as long as the process: nothing is on disk. */
export function openDocumentsInMemory(drafts: readonly DocumentDraft[]): DocumentReader {
  const db = new Database(':memory:');
  db.exec(DOCUMENT_SCHEMA);
  const documents = documentsOf(db);
  db.transaction(() => documents.file(drafts, null))();
  return documents;
}

/** @param db a connection on which DOCUMENT_SCHEMA was run */
export function documentsOf(db: Database.Database): DocumentStore {
  const select = `SELECT d.type, d.id, d.owner, v.version, v.updated, v.record, v.content, v.facts FROM document d
    JOIN document_version v ON v.document = d.seq`;
  const current = db.prepare<[string, string], StoredDocument>(
    `${select} AND v.version = d.version WHERE d.type = ? AND d.id = ?`,
  );
  const ofVersion = db.prepare<[string, string, number], StoredDocument>(
    `${select} WHERE d.type = ? AND d.id = ? AND v.version = ?`,
  );
  return {
    ...writerOf(db),
    remove: removerOf(db),
    findDocument: (type, id, version) =>
      version === undefined ? current.get(type, id) : ofVersion.get(type, id, version),
    searchDocuments: (query) => search(db, query),
  };
}

function writerOf(db: Database.Database): Pick<DocumentStore, 'file' | 'revise'> {
  const insert = db.prepare<[string, string, number, string, number, string | null]>(
    `INSERT INTO document (type, id, version, updated, moment, owner) VALUES (?, ?, ?, ?, ?, ?)
     ON CONFLICT (type, id) DO NOTHING`,
  );
  const insertVersion = db.prepare(
    'INSERT INTO document_version (document, version, updated, record, content, facts) VALUES (?, ?, ?, ?, ?, ?)',
  );
  const advance = db.prepare<[number, string, string, string, number], { seq: number }>(
    `UPDATE document SET version = ?, updated = ?
     WHERE type = ? AND id = ? AND version = ? AND removed = 0 RETURNING seq`,
  );
  const forgetTerms = db.prepare<[number | bigint]>('DELETE FROM document_term WHERE document = ?');
  const insertTerm = db.prepare(
    'INSERT INTO document_term (document, name, system, value, low, high) VALUES (?, ?, ?, ?, ?, ?)',
  );
  const index = (seq: number | bigint, terms: readonly DocumentTerm[]) => {
    for (const { name, system, value, low, high } of terms) {
      insertTerm.run(seq, name, system ?? null, value ?? null, low ?? null, high ?? null);
    }
  };
  return {
    file(drafts, record) {
      for (const { type, id, version, updated, moment, content, terms, owner, facts } of drafts) {
        const { changes, lastInsertRowid } = insert.run(type, id, version, updated, moment, owner ?? null);
        if (changes === 0) throw new Error(`${type}/${id} was filed by another in the meantime`);
        insertVersion.run(lastInsertRowid, version, updated, record, content, textOf(facts));
        index(lastInsertRowid, terms);
      }
    },
    revise(revisions, record) {
      for (const { type, id, version, updated, content, terms, facts } of revisions) {
        const found = advance.get(version, updated, type, id, version - 1);
        if (!found) throw new Error(`${type}/${id} was revised by another in the meantime`);
        insertVersion.run(found.seq, version, updated, record, content, textOf(facts));
        forgetTerms.run(found.seq);
        index(found.seq, terms);
      }
    },
  };
}

function removerOf(db: Database.Database): DocumentStore['remove'] {
  const find = db.prepare<[string, string], { seq: number; version: number }>(
    'SELECT seq, version FROM document WHERE type = ? AND id = ? AND removed = 0',
  );
  const forgetTerms = db.prepare<[number]>('DELETE FROM document_term WHERE document = ?');
  const forgetContent = db.prepare<[number]>(
    'UPDATE document_version SET content = NULL, facts = NULL WHERE document = ?',
  );
  const mark = db.prepare<[number, string, number]>(
    'UPDATE document SET removed = 1, version = ?, updated = ? WHERE seq = ?',
  );
  const markVersion = db.prepare<[number, number, string, string]>(
    'INSERT INTO document_version (document, version, updated, record) VALUES (?, ?, ?, ?)',
  );
  return (type, id, at, record) => {
    const found = find.get(type, id);
    if (!found) return false;
    const { seq, version } = found;
    forgetTerms.run(seq);
    forgetContent.run(seq);
    mark.run(version + 1, at, seq);
    markVersion.run(seq, version + 1, at, record);
    return true;
  };
}

type Bound = string | number;

interface Sql {
  readonly text: string;
  readonly bound: readonly Bound[];
}

const textOf = (facts: unknown) => (facts === undefined ? null : JSON.stringify(facts));

const ORDERS = { moment: 'd.moment', updated: 'd.updated' } as const;

function search(db: Database.Database, query: DocumentQuery): DocumentPage {
  const { sort, limit, offset } = query;
  const upTo = query.upTo ?? lastSeq(db);
  const { text: filter, bound } = filterSql(db, query, upTo);
  const total = db
    .prepare<Bound[], { n: number }>(
      `SELECT count(*) AS n FROM (SELECT 1 FROM document d ${filter} LIMIT ${COUNTED + 1})`,
    )
    .get(...bound);
  const documents = db
    .prepare<Bound[], StoredDocument>(
      `SELECT d.type, d.id, d.owner, v.version, v.updated, v.record, v.content, v.facts FROM document d
       JOIN document_version v ON v.document = d.seq AND v.version = d.version
       ${filter} ORDER BY ${orderOf(sort)} LIMIT ? OFFSET ?`,
    )
    .all(...bound, limit, offset);
  const n = total?.n ?? 0;
  return { total: n > COUNTED ? null : n, documents, upTo };
}

function orderOf(sort: DocumentQuery['sort']): string {
  const direction = (descending: boolean | undefined) => (descending ? 'DESC' : 'ASC');
  const named = sort.map(({ by, descending }) => `${ORDERS[by]} ${direction(descending)}`);
  return [...named, `d.seq ${direction(sort[0]?.descending)}`].join(', ');
}

function lastSeq(db: Database.Database): number {
  const last = db.prepare<[], { seq: number | null }>('SELECT max(seq) AS seq FROM document').get();
  return last?.seq ?? 0;
}

/**
 * The documents of a type may be millions: the condition that fewest meet is asked first, by the index of its values,
 * and the others of what it leaves. SQLite would not know which that is. A plus sign keeps it from the index of a column.
 */
function filterSql(db: Database.Database, { type, conditions, owner }: DocumentQuery, upTo: number): Sql {
  const counted = conditions.map((condition) => ({ condition, n: countUpTo(db, condition) }));
  const [fewest] = counted.filter(({ n }) => n < UNCOUNTED).sort((a, b) => a.n - b.n);
  const parts: readonly Sql[] = [
    { text: `${fewest ? '+' : ''}d.type = ? AND +d.seq <= ? AND d.removed = 0`, bound: [type, upTo] },
    ...(owner === undefined ? [] : [{ text: '(d.owner = ? OR d.owner IS NULL)', bound: [owner] }]),
    ...counted.map(({ condition }) => conditionSql(condition, condition === fewest?.condition)),
  ];
  return {
    text: `WHERE ${parts.map(({ text }) => text).join(' AND ')}`,
    bound: parts.flatMap((part) => part.bound),
  };
}

/** Of a condition that no index answers. */
const UNCOUNTED = Number.POSITIVE_INFINITY;
/** More than this is many. */
const COUNTED = 10_000;

function countUpTo(db: Database.Database, condition: TermCondition): number {
  const { name, absent, anyOf } = condition;
  const isByValue = anyOf.every(({ kind, ...match }) =>
    kind === 'value' ? 'value' in match && match.value !== undefined : kind === 'in',
  );
  if (absent || anyOf.length === 0 || !isByValue) return UNCOUNTED;
  const any = anySql(anyOf);
  const counted = db
    .prepare<Bound[], { n: number }>(
      `SELECT count(*) AS n FROM (SELECT 1 FROM document_term t WHERE t.name = ?${any.text} LIMIT ${COUNTED})`,
    )
    .get(name, ...any.bound);
  return counted?.n ?? UNCOUNTED;
}

function conditionSql({ name, absent, anyOf }: TermCondition, isFirst: boolean): Sql {
  const any = anySql(anyOf);
  const bound = [name, ...any.bound];
  if (isFirst) {
    return { text: `d.seq IN (SELECT t.document FROM document_term t WHERE t.name = ?${any.text})`, bound };
  }
  const each = `SELECT 1 FROM document_term t WHERE t.document = d.seq AND t.name = ?${any.text}`;
  return { text: `${absent ? 'NOT ' : ''}EXISTS (${each})`, bound };
}

function anySql(anyOf: readonly TermMatch[]): Sql {
  const matches = anyOf.map(matchSql);
  return {
    text: matches.length > 0 ? ` AND (${matches.map(({ text }) => text).join(' OR ')})` : '',
    bound: matches.flatMap(({ bound }) => bound),
  };
}

function matchSql(match: TermMatch): Sql {
  if (match.kind === 'value') return valueSql(match);
  if (match.kind === 'in') {
    const list = match.values.map(() => '?').join(', ');
    return { text: `t.value IN (${list})`, bound: match.values };
  }
  if (match.kind === 'text') {
    const position = match.how === 'starts' ? '= 1' : '> 0';
    return { text: `instr(t.value, ?) ${position}`, bound: [match.value] };
  }
  const all = match.anyOf.map(
    (bounds) => `(${bounds.map(({ column, operator }) => `t.${column} ${operator} ?`).join(' AND ')})`,
  );
  return { text: `(${all.join(' OR ')})`, bound: match.anyOf.flat().map(({ value }) => value) };
}

function valueSql({
  system,
  value,
}: {
  system?: string | null | undefined;
  value?: string | undefined;
}): Sql {
  const parts: Sql[] = [];
  if (value !== undefined) parts.push({ text: 't.value = ?', bound: [value] });
  if (system === null) parts.push({ text: 't.system IS NULL', bound: [] });
  else if (system !== undefined) parts.push({ text: 't.system = ?', bound: [system] });
  return {
    text: parts.length > 0 ? `(${parts.map(({ text }) => text).join(' AND ')})` : '1',
    bound: parts.flatMap(({ bound }) => bound),
  };
}
