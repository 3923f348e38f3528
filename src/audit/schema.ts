/** The tables of the SQLite log. Triggers stop accidents; the hash chain shows what triggers cannot stop. */
export const SCHEMA = `
CREATE TABLE IF NOT EXISTS audit_record (
  seq         INTEGER PRIMARY KEY,          -- 1, 2, 3 ... without a gap
  hash        TEXT NOT NULL,                -- SHA-256 of the column record, hexadecimal
  recorded_at TEXT NOT NULL,                -- RFC 3339, UTC
  kind        TEXT NOT NULL,
  id          TEXT NOT NULL UNIQUE,
  patient     TEXT,
  record      TEXT NOT NULL                 -- canonical JSON (RFC 8785) with seq and the previous hash in it
) STRICT;

CREATE INDEX IF NOT EXISTS audit_record_by_patient ON audit_record (patient, recorded_at);

-- With recursive_triggers=ON these also stop INSERT OR REPLACE.
CREATE TRIGGER IF NOT EXISTS audit_record_no_update BEFORE UPDATE ON audit_record
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;

CREATE TRIGGER IF NOT EXISTS audit_record_no_delete BEFORE DELETE ON audit_record
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;

-- Other ids that a record answers to. The text of the record holds them too: these rows only find it.
CREATE TABLE IF NOT EXISTS audit_name (
  name   TEXT NOT NULL PRIMARY KEY,
  record INTEGER NOT NULL                   -- audit_record.seq
) STRICT, WITHOUT ROWID;

-- The earlier record that a record points back to; likewise.
CREATE TABLE IF NOT EXISTS audit_about (
  record INTEGER PRIMARY KEY,               -- audit_record.seq
  about  TEXT NOT NULL                      -- audit_record.id
) STRICT;

CREATE INDEX IF NOT EXISTS audit_about_by_about ON audit_about (about, record);

CREATE TRIGGER IF NOT EXISTS audit_name_no_update BEFORE UPDATE ON audit_name
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;

CREATE TRIGGER IF NOT EXISTS audit_name_no_delete BEFORE DELETE ON audit_name
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;

CREATE TRIGGER IF NOT EXISTS audit_about_no_update BEFORE UPDATE ON audit_about
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;

CREATE TRIGGER IF NOT EXISTS audit_about_no_delete BEFORE DELETE ON audit_about
BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END;
`;
