/**
 * Records are found by their names and by what they point back to; the rows that find them cannot be changed unseen. The
 * records hold the same, so that `audit verify` compares the two.
 */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { AuditFault } from '../../src/audit/audit-record.ts';
import { withLog } from '../../src/audit/log-reader.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import {
  entry,
  openStore,
  readRows,
  rfc8785,
  sha256,
  tamper,
  temporaryFolder,
  unguarded,
} from './raw-log.ts';

const folder = temporaryFolder();
let files = 0;
const newFile = () => join(folder, `names-${++files}.sqlite`);
const id = (number: number) => entry(number).id;

/** Records 1 and 2 have two names each, 3 none; 4 and 5 point back to 1, 6 to 4. */
async function writeNamed(file: string): Promise<void> {
  const store = openStore(file);
  await Promise.all([
    store.append({ ...entry(1), names: ['card-1a', 'card-1b'] }),
    store.append({ ...entry(2), names: ['card-2a', 'card-2b'] }),
    store.append({ ...entry(3), names: [] }),
    store.append({ ...entry(4), about: id(1) }),
    store.append({ ...entry(5), about: id(1) }),
    store.append({ ...entry(6), about: id(4) }),
  ]);
  store.close();
}

const whole = join(folder, 'whole.sqlite');
await writeNamed(whole);
const bytes = unguarded(whole);

describe('a record', () => {
  it('is found by each of its names, and those that point back to it in order of writing', () => {
    withLog(whole, (log) => {
      expect(['card-1a', 'card-1b', 'card-2b'].map((name) => log.findByName(name)?.id)).toEqual([
        ...[id(1), id(1), id(2)],
      ]);
      expect([log.findByName('card'), log.findByName(id(1))]).toEqual([undefined, undefined]);
      expect(log.recordsAbout(id(1)).map((record) => record.id)).toEqual([id(4), id(5)]);
      expect(log.recordsAbout(id(2))).toEqual([]);
    });
  });

  it('holds its names and what it points back to in its text, in canonical form (RFC 8785)', () => {
    const texts = readRows(whole).map(({ record }) => record);
    for (const text of texts) expect(rfc8785(JSON.parse(text))).toBe(text);
    const said = texts.map((text) => JSON.parse(text));
    expect(said[0].names).toEqual(['card-1a', 'card-1b']);
    expect(said[5].about).toBe(id(4));
    expect(Object.keys(said[2])).toEqual([
      'content',
      'id',
      'kind',
      'patient',
      'previous',
      'recordedAt',
      'seq',
    ]);
  });

  it('is listed by its kind', () => {
    withLog(whole, (log) => {
      expect([...log.records(1, 'feedback')].map(({ seq }) => seq)).toEqual([3, 6]);
      expect([...log.records(4, 'feedback')].map(({ seq }) => seq)).toEqual([6]);
      expect([...log.records(1, 'nothing')]).toEqual([]);
    });
  });
});

describe('append', () => {
  it('refuses what points back to a record that is not there, and only that entry of its turn', async () => {
    const file = newFile();
    const store = openStore(file);
    const results = await Promise.allSettled([
      store.append({ ...entry(1), about: id(9) }),
      store.append(entry(2)),
      store.append({ ...entry(3), about: id(2) }),
    ]);
    expect(results.map(({ status }) => status)).toEqual(['rejected', 'fulfilled', 'fulfilled']);
    expect((results[0] as PromiseRejectedResult).reason).toBeInstanceOf(AuditFault);
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });

  it('does not give a name twice: the commit fails, and nothing of it is written', async () => {
    const file = newFile();
    const store = openStore(file);
    await store.append({ ...entry(1), names: ['card'] });
    const results = await Promise.allSettled([
      store.append(entry(2)),
      store.append({ ...entry(3), names: ['card'] }),
    ]);
    expect(results.map(({ status }) => status)).toEqual(['rejected', 'rejected']);
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 1 });
  });

  it('unlessOnRecord writes once: in one turn, later, and from two connections; each gets the head of the record', async () => {
    const file = newFile();
    const [store, other] = [openStore(file), openStore(file)];
    const once = { ...entry(1), unlessOnRecord: true } as const;
    const heads = [
      ...(await Promise.all([store.append(once), store.append(once), store.append(entry(2))])),
      await store.append(once),
      await other.append(once),
    ];
    expect(heads.map(({ seq }) => seq)).toEqual([1, 1, 2, 1, 1]);
    expect(new Set(heads.filter(({ seq }) => seq === 1).map(({ hash }) => hash)).size).toBe(1);
    store.close();
    other.close();
    expect(readRows(file)).toHaveLength(2);
    expect(readRows(file)[0]?.record).not.toContain('unlessOnRecord');
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });
});

const REWRITES = [
  "UPDATE audit_name SET record = 2 WHERE name = 'card-1a'",
  "UPDATE OR REPLACE audit_name SET name = 'card-2a' WHERE name = 'card-1a'",
  "INSERT OR REPLACE INTO audit_name VALUES ('card-1a', 2)",
  "REPLACE INTO audit_name VALUES ('card-1a', 2)",
  "INSERT INTO audit_name VALUES ('card-1a', 2) ON CONFLICT DO UPDATE SET record = 2",
  "DELETE FROM audit_name WHERE name = 'card-1a'",
  'DELETE FROM audit_name',
  "UPDATE audit_about SET about = 'x' WHERE record = 4",
  "INSERT OR REPLACE INTO audit_about VALUES (4, 'x')",
  'DELETE FROM audit_about WHERE record = 4',
];

describe('the triggers', () => {
  it.each(REWRITES)('abort %s', async (sql) => {
    const file = newFile();
    await writeNamed(file);
    const db = new Database(file);
    db.pragma('recursive_triggers = ON');
    expect(() => db.exec(sql)).toThrow('the audit log is append-only');
    db.close();
    expect(verifyLog(file).ok).toBe(true);
  });
});

/** As above, by somebody who dropped the triggers; and rows that no trigger bars. */
const FORGERIES: readonly (readonly [string, number, RegExp])[] = [
  [
    "UPDATE audit_name SET record = 2 WHERE name = 'card-1a'",
    1,
    /^the record is not found by its name card-1a$/,
  ],
  [
    "UPDATE audit_name SET name = 'card-x' WHERE name = 'card-2b'",
    2,
    /^the record is not found by its name card-2b$/,
  ],
  ["DELETE FROM audit_name WHERE name = 'card-1b'", 1, /^the record is not found by its name card-1b$/],
  ['DROP TABLE audit_name', 1, /^the record is not found by its name card-1a$/],
  ["INSERT INTO audit_name VALUES ('card-3', 3)", 6, /^a name is there that no record has$/],
  ["INSERT INTO audit_name VALUES ('card-9', 99)", 6, /^a name is there that no record has$/],
  [`UPDATE audit_about SET about = '${id(2)}' WHERE record = 4`, 4, /^the record is not found by the one/],
  ['UPDATE audit_about SET record = 3 WHERE record = 5', 5, /^the record is not found by the one/],
  ['DELETE FROM audit_about WHERE record = 6', 6, /^the record is not found by the one/],
  ['DROP TABLE audit_about', 4, /^the record is not found by the one/],
  [`INSERT INTO audit_about VALUES (2, '${id(1)}')`, 6, /^a reference back is there that no record has$/],
];

describe('verification', () => {
  it('finds nothing wrong in a log with names and references back, nor in its tail', () => {
    expect(verifyLog(whole)).toMatchObject({ ok: true, count: 6 });
    expect(verifyLog(whole, { fromSeq: 4 })).toMatchObject({ ok: true, count: 3 });
  });

  it.each(FORGERIES)('finds %s', (sql, seq, problem) => {
    const file = newFile();
    tamper(file, bytes, (db) => db.exec(sql));
    const { ok, firstFault } = verifyLog(file);
    expect({ ok, seq: firstFault?.seq }).toEqual({ ok: false, seq });
    expect(firstFault?.problem).toMatch(problem);
  });

  it.each([
    [{ names: 'card' }, /^the names of the record are not names$/],
    [{ names: [7] }, /^the names of the record are not names$/],
    [{ about: 'nobody' }, /^the record points back to one that is not before it$/],
    [{ about: id(7) }, /^the record points back to one that is not before it$/],
    [{ about: null }, /^the record points back to one that is not before it$/],
    [{ names: ['card-7'] }, /^the record is not found by its name card-7$/],
  ])('finds a well-chained record that says %j', (members, problem) => {
    const file = newFile();
    tamper(file, bytes, (db) => {
      const previous = readRows(whole).at(-1)?.hash;
      const recordedAt = '2026-11-24T09:00:00.000Z';
      const said = { seq: 7, previous, recordedAt, id: id(7), kind: 'feedback', patient: null, content: {} };
      const record = rfc8785({ ...said, ...members });
      db.prepare('INSERT INTO audit_record VALUES (?, ?, ?, ?, ?, ?, ?)').run(
        ...[7, sha256(record), recordedAt, 'feedback', id(7), null, record],
      );
    });
    const { firstFault } = verifyLog(file);
    expect(firstFault).toMatchObject({ seq: 7, problem: expect.stringMatching(problem) });
  });
});

describe('a log of an older version, which has no such tables', () => {
  it('verifies, is read, and takes names once it is opened to be written', async () => {
    const file = newFile();
    const old = openStore(file);
    await old.append(entry(1));
    old.close();
    const db = new Database(file);
    db.exec('DROP TABLE audit_name; DROP TABLE audit_about');
    db.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 1 });
    withLog(file, (log) => {
      expect([log.findById(id(1))?.seq, log.findByName('card'), log.recordsAbout(id(1))]).toEqual([
        1,
        undefined,
        [],
      ]);
    });
    const store = openStore(file);
    await store.append({ ...entry(2), names: ['card'], about: id(1) });
    expect(store.findByName('card')?.seq).toBe(2);
    store.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });
});
