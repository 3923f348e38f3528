/**
 * Proves that the rows by which records are found say what the records say: every name and every reference back has its
 * row, and there is no row besides. Shares no code with the writer.
 */
import type Database from 'better-sqlite3';

/** What a record says of itself, as far as it is checked here. */
interface Said {
  readonly names?: unknown;
  readonly about?: unknown;
}

export interface IndexCheck {
  /** What is wrong with the rows of one record. */
  problemOf(seq: number, said: Said): string | undefined;
  /** What no single record shows; only after all of them. */
  problemAtEnd(): string | undefined;
}

/** @param db a log, in one view of the file */
export function indexCheckOf(db: Database.Database): IndexCheck {
  const rows = rowsOf(db);
  const known = { names: 0, abouts: 0 };

  const problemOfNames = (seq: number, names: unknown) => {
    if (!isTexts(names)) return 'the names of the record are not names';
    const wrong = names.find((name) => rows.recordNamed(name) !== seq);
    if (wrong !== undefined) return `the record is not found by its name ${wrong}`;
    known.names += names.length;
    return undefined;
  };
  const problemOfAbout = (seq: number, about: unknown) => {
    if (typeof about !== 'string' || !((rows.seqOf(about) ?? seq) < seq))
      return 'the record points back to one that is not before it';
    if (rows.aboutOf(seq) !== about) return 'the record is not found by the one that it points back to';
    known.abouts += 1;
    return undefined;
  };
  return {
    problemOf: (seq, { names, about }) =>
      (names === undefined ? undefined : problemOfNames(seq, names)) ??
      (about === undefined ? undefined : problemOfAbout(seq, about)),
    problemAtEnd() {
      const { names, abouts } = rows.count();
      if (names !== known.names) return 'a name is there that no record has';
      return abouts === known.abouts ? undefined : 'a reference back is there that no record has';
    },
  };
}

function isTexts(value: unknown): value is readonly string[] {
  return Array.isArray(value) && value.every((each) => typeof each === 'string');
}

/** Nothing is found in a log of an older version, which has no such tables. */
function rowsOf(db: Database.Database) {
  const tables = db
    .prepare<[], { name: string }>(
      "SELECT name FROM sqlite_master WHERE name IN ('audit_name', 'audit_about')",
    )
    .all()
    .map(({ name }) => name);
  const existing = (table: string, columns: string) =>
    tables.includes(table) ? table : `(SELECT ${columns} WHERE 0)`;
  const names = existing('audit_name', 'NULL AS name, NULL AS record');
  const abouts = existing('audit_about', 'NULL AS record, NULL AS about');
  const named = db.prepare<[string], { record: number }>(`SELECT record FROM ${names} WHERE name = ?`);
  const about = db.prepare<[number], { about: string }>(`SELECT about FROM ${abouts} WHERE record = ?`);
  const byId = db.prepare<[string], { seq: number }>('SELECT seq FROM audit_record WHERE id = ?');
  const counted = db.prepare<[], { names: number; abouts: number }>(
    `SELECT (SELECT count(*) FROM ${names}) AS names, (SELECT count(*) FROM ${abouts}) AS abouts`,
  );
  return {
    recordNamed: (name: string) => named.get(name)?.record,
    aboutOf: (seq: number) => about.get(seq)?.about,
    seqOf: (id: string) => byId.get(id)?.seq,
    count: () => counted.get() ?? { names: 0, abouts: 0 },
  };
}
