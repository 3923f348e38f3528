/**
 * Every kind of tampering is found and the first bad record is named. Each kind is tried many times with
 * edits drawn by a seeded generator; GRIP_TEST_EDITS sets how many (default 300).
 */
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { StoredRecord } from '../../src/audit/audit-record.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import {
  type Raw,
  readRows,
  rechain,
  rfc8785,
  seededRandom,
  sha256,
  tamper,
  temporaryFolder,
  unguarded,
  writeLog,
} from './raw-log.ts';

const EDITS = Number(process.env.GRIP_TEST_EDITS ?? 300);
const RECORDS = 12;

const folder = temporaryFolder();
const whole = join(folder, 'whole.sqlite');
await writeLog(whole, RECORDS);
const rows = readRows(whole);
const bytes = unguarded(whole);
const noted = { seq: RECORDS, hash: rows.at(-1)?.hash ?? '' };

/** Draws whole numbers and members of lists. */
interface Draw {
  below(limit: number): number;
  /** From `first` to `last`, both included. */
  seq(first?: number, last?: number): number;
  of<T>(choices: readonly T[]): T;
}

function drawFrom(random: () => number): Draw {
  const below = (limit: number) => Math.floor(random() * limit);
  return {
    below,
    seq: (first = 1, last = RECORDS) => first + below(last - first + 1),
    of: (choices) => choices[below(choices.length)] as (typeof choices)[number],
  };
}

interface Kind {
  readonly name: string;
  /** Edits the file and returns the record that is the first to be wrong. */
  readonly edit: (db: Raw, draw: Draw) => number;
  readonly problem: RegExp;
  /** Only a head that was noted elsewhere shows it. */
  readonly needsHead?: true;
}

const KINDS: readonly Kind[] = [
  { name: 'a bit flipped in the text of a record', edit: flipBit, problem: /does not match its hash/ },
  { name: 'a digit of a hash changed', edit: changeHash, problem: /does not match its hash/ },
  { name: 'a column changed', edit: changeColumn, problem: /^the column \w+ does not match|is missing/ },
  { name: 'a row removed', edit: removeRow, problem: /is missing/ },
  { name: 'two rows swapped', edit: swapRows, problem: /not chained|column seq/ },
  { name: 'a row inserted', edit: insertRow, problem: /not chained|column|does not match/ },
  { name: 'the end cut off', edit: cutEnd, problem: /end of the log was cut off/, needsHead: true },
  { name: 'a forgery chained anew', edit: forge, problem: /chain was rewritten|cut off/, needsHead: true },
];

describe(`of ${EDITS} edits of each kind verify finds every one and names the first bad record`, () => {
  it.each(KINDS)('$name', ({ edit, problem, needsHead }) => {
    const draw = drawFrom(seededRandom(2026));
    const file = join(folder, 'tampered.sqlite');
    for (let round = 0; round < EDITS; round += 1) {
      const firstBad = tamper(file, bytes, (db) => edit(db, draw));
      const { ok, count, head, firstFault } = verifyLog(file, needsHead ? { expectedHead: noted } : {});
      const about = `edit ${round}: ${JSON.stringify(firstFault)}`;
      expect({ ok, head, seq: firstFault?.seq }, about).toEqual({ ok: false, head: null, seq: firstBad });
      expect(firstFault?.problem, about).toMatch(problem);
      expect(count, about).toBe(firstBad - 1);
    }
  });

  it('and none is found where nothing was edited', () => {
    const file = join(folder, 'untouched.sqlite');
    tamper(file, bytes, () => undefined);
    expect(verifyLog(file, { expectedHead: noted })).toMatchObject({ ok: true, count: RECORDS });
  });
});

function set(db: Raw, seq: number, column: string, value: unknown): void {
  const { changes } = db.prepare(`UPDATE audit_record SET ${column} = ? WHERE seq = ?`).run(value, seq);
  if (changes !== 1) throw new Error(`record ${seq} was not edited`);
}

function flipBit(db: Raw, draw: Draw): number {
  const seq = draw.seq();
  const text = Buffer.from(rows[seq - 1]?.record ?? '', 'utf8');
  const place = draw.below(text.length);
  text.writeUInt8(text.readUInt8(place) ^ (1 << draw.below(8)), place);
  db.prepare('UPDATE audit_record SET record = CAST(? AS TEXT) WHERE seq = ?').run(text, seq);
  return seq;
}

function changeHash(db: Raw, draw: Draw): number {
  const seq = draw.seq();
  const digits = [...(rows[seq - 1]?.hash ?? '')];
  const place = draw.below(digits.length);
  const others = [...'0123456789abcdefA '].filter((digit) => digit !== digits[place]);
  digits[place] = draw.of(others);
  set(db, seq, 'hash', digits.join(''));
  return seq;
}

function changeColumn(db: Raw, draw: Draw): number {
  const seq = draw.seq();
  const column = draw.of(['seq', 'recorded_at', 'kind', 'id', 'patient'] as const);
  const row = rows[seq - 1] as StoredRecord;
  if (column === 'seq') set(db, seq, 'seq', RECORDS + 1 + draw.below(1_000_000));
  else if (column === 'patient')
    set(db, seq, 'patient', draw.of(['', 'Patient/x', row.patient ? null : 'null']));
  else
    set(
      db,
      seq,
      column,
      draw.of([`${row[column]} `, row[column].slice(1), row[column].toUpperCase() + 1, '']),
    );
  return seq;
}

/** Any but the last: that is a cut end. */
function removeRow(db: Raw, draw: Draw): number {
  const seq = draw.seq(1, RECORDS - 1);
  db.prepare('DELETE FROM audit_record WHERE seq = ?').run(seq);
  return seq;
}

function swapRows(db: Raw, draw: Draw): number {
  const [first, second] = twoOf(draw);
  set(db, first, 'seq', -1);
  set(db, second, 'seq', first);
  set(db, -1, 'seq', second);
  return first;
}

function twoOf(draw: Draw): readonly [number, number] {
  const first = draw.seq(1, RECORDS - 1);
  return [first, draw.seq(first + 1)];
}

/** Those behind move up by one. Well made, the inserted row is sound and the one behind it is not chained. */
function insertRow(db: Raw, draw: Draw): number {
  const seq = draw.seq();
  for (let behind = RECORDS; behind >= seq; behind -= 1) set(db, behind, 'seq', behind + 1);
  const before = seq === 1 ? '0'.repeat(64) : (rows[seq - 2]?.hash ?? '');
  const flaw = draw.of(['none', 'chain', 'hash', 'number'] as const);
  const said = {
    seq: flaw === 'number' ? seq + 1 : seq,
    previous: flaw === 'chain' ? sha256(before) : before,
    recordedAt: '2026-11-24T09:00:00.000Z',
    id: `inserted-${draw.below(1_000_000)}`,
    kind: 'evaluation',
    patient: null,
    content: { forged: draw.below(1_000_000) },
  };
  const record = rfc8785(said);
  db.prepare('INSERT INTO audit_record VALUES (?, ?, ?, ?, ?, ?, ?)').run(
    seq,
    sha256(flaw === 'hash' ? `${record} ` : record),
    said.recordedAt,
    said.kind,
    said.id,
    said.patient,
    record,
  );
  return flaw === 'none' ? seq + 1 : seq;
}

function cutEnd(db: Raw, draw: Draw): number {
  const left = draw.below(RECORDS);
  db.prepare('DELETE FROM audit_record WHERE seq > ?').run(left);
  return left + 1;
}

/** Everything agrees with everything again: only the noted head does not. */
function forge(db: Raw, draw: Draw): number {
  const seq = draw.seq();
  const removes = draw.below(3) === 0;
  if (removes) db.prepare('DELETE FROM audit_record WHERE seq = ?').run(seq);
  else {
    const said = JSON.parse(rows[seq - 1]?.record ?? '');
    set(db, seq, 'record', JSON.stringify({ ...said, content: { forged: draw.below(1_000_000) } }));
  }
  rechain(db);
  return RECORDS;
}
