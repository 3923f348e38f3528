/** `grip-cds feedback export` and `audit show`, as built, on the file of a service that runs (STANDARDS F3, RG15). */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Database from 'better-sqlite3';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { csvLine } from '../src/feedback-row.ts';
import { GRIP_OVERRIDES } from '../src/fhir/codes.ts';
import { recordFeedback } from '../src/hooks/feedback.ts';
import { openStore, temporaryFolder } from './audit/raw-log.ts';
import { CLI, environmentWith, runCommand } from './audit/run-command.ts';
import { HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS } from './fixtures.ts';
import { cardsOf, openForTests, type TestService } from './service-for-tests.ts';

const folder = temporaryFolder();
const PATH = '/cds-services/grip-interpretation/feedback';
const UNKNOWN = '9368d37b-283f-44a0-93ea-547cebab93ed';

let service: TestService;
/** One evaluation, whose card is answered four times; then a card that nobody gave. */
let given: { evaluation: string; card: string; suggestion: string };

const run = (...words: readonly string[]) =>
  runCommand(dirname(service.file), [...words, '-f', service.file]);
const exported = (...words: readonly string[]) => {
  const { status, stdout, stderr } = run('feedback', 'export', ...words);
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  return stdout;
};
const rowsOf = (...words: readonly string[]): readonly Record<string, unknown>[] =>
  exported('--format', 'ndjson', ...words)
    .split('\n')
    .slice(0, -1)
    .map((line) => JSON.parse(line));

/** Texts that a spreadsheet or a careless reader would trip over. */
const AWKWARD = '=HYPERLINK("https://evil.example.org";"a, b")\r\nsecond "line"\n\n握力 💪, \'quoted\'';

beforeAll(async () => {
  service = await openForTests();
  const call = hookCallOf(PATIENT, SIX_TRIALS);
  const context = { ...call.context, encounterId: 'invented-encounter' };
  const fhirServer = 'https://fhir.example.org/r4';
  const reply = await service.post(HOOK_DOOR.path, { ...call, context, fhirServer });
  const [card] = cardsOf(reply);
  given = {
    evaluation: service.last().id,
    card: card?.uuid ?? '',
    suggestion: card?.suggestions?.[0]?.uuid ?? '',
  };
  const say = async (entry: object) => {
    const { status } = await service.post(PATH, { feedback: [{ card: given.card, ...entry }] });
    expect(status).toBe(200);
  };
  const at = (outcomeTimestamp: string) => ({ outcomeTimestamp });
  const reason = { system: GRIP_OVERRIDES, code: 'own-baseline' };
  await say({ outcome: 'overridden', ...at('2026-11-25T10:00:00Z'), overrideReason: { reason } });
  await say({
    ...{ outcome: 'accepted', acceptedSuggestions: [{ id: given.suggestion }, { id: UNKNOWN }] },
    ...at('2026-11-27T00:00:00Z'),
  });
  await say({
    ...{ outcome: 'overridden', ...at('2026-11-26T23:59:59.999Z') },
    overrideReason: { reason: { system: 'urn:x', code: '-1', display: '@cmd' }, userComment: AWKWARD },
  });
  await say({ card: UNKNOWN, outcome: 'overridden', ...at('2026-11-26T00:00:00+00:00') });
});
afterAll(() => service.close());

/** RFC 4180, section 2, by its ABNF: records end with CRLF; a quoted field doubles its quotation marks. */
function parseCsv(text: string): readonly (readonly string[])[] {
  const records: string[][] = [];
  let fields: string[] = [];
  const field = /("(?<escaped>(?:[^"]|"")*)"|(?<plain>[^",\r\n]*))(?<end>,|\r\n)/y;
  while (field.lastIndex < text.length) {
    const start = field.lastIndex;
    const found = field.exec(text)?.groups;
    if (!found) throw new Error(`not RFC 4180 from character ${start}: ${text.slice(start, start + 40)}`);
    fields.push(found.plain ?? found.escaped?.replaceAll('""', '"') ?? '');
    if (found.end === '\r\n') {
      records.push(fields);
      fields = [];
    }
  }
  expect(fields).toEqual([]);
  return records;
}

describe('feedback export', () => {
  it('F2, RG15: a card that was sent, answered and exported: intervention, action, user, date, location', () => {
    const [, accepted] = rowsOf();
    const record = service.all()[2];
    expect(accepted).toEqual({
      service: 'grip-interpretation',
      card: given.card,
      evaluation: given.evaluation,
      panel: 'adult-inpatient-us',
      panelVersion: '1.1.0',
      engine: 'grip-strength-cds',
      engineVersion: '0.3.0',
      outcome: 'accepted',
      acceptedSuggestions: [given.suggestion, UNKNOWN],
      reasonSystem: null,
      reasonCode: null,
      reasonDisplay: null,
      comment: null,
      user: 'Practitioner/invented-dietitian',
      outcomeTimestamp: '2026-11-27T00:00:00Z',
      receivedAt: '2026-11-25T12:00:00.000Z',
      latest: true,
      encounter: 'invented-encounter',
      client: 'open-access',
      tenant: null,
      fhirServer: 'https://fhir.example.org/r4',
      patient: 'Patient/invented-1',
      feedback: record?.id,
      sequence: 3,
      hash: record?.hash,
    });
  });

  it('F3: shows all, in order of receipt, and marks the latest of each card by the time of the outcome', () => {
    const shown = rowsOf().map(({ sequence, outcome, latest }) => [sequence, outcome, latest]);
    expect(shown).toEqual([
      [2, 'overridden', false],
      [3, 'accepted', true],
      [4, 'overridden', false],
      [5, 'overridden', true],
    ]);
  });

  it('F5: the words of our own codes are filled in, those of others are as they were sent', () => {
    expect(rowsOf().map(({ reasonDisplay }) => reasonDisplay)).toEqual([
      ...['The person is followed against their own baseline', null, '@cmd', null],
    ]);
  });

  it('F6: what answers no card of ours has who sent it and what was said, and nothing else', () => {
    const row = rowsOf()[3];
    expect(row).toMatchObject({ card: UNKNOWN, client: 'open-access', service: 'grip-interpretation' });
    for (const column of ['evaluation', 'panel', 'engine', 'user', 'encounter', 'fhirServer', 'patient'])
      expect(row?.[column], column).toBeNull();
  });

  it('RG15: CSV has a header and the same rows as NDJSON, cell by cell; what is like a formula has an apostrophe', () => {
    const text = exported();
    const [header = [], ...records] = parseCsv(text);
    const rows = rowsOf();
    expect(records).toHaveLength(4);
    expect(text.endsWith('\r\n')).toBe(true);
    for (const [index, record] of records.entries()) {
      const row = rows[index] ?? {};
      expect(header).toEqual(Object.keys(row));
      const cells = Object.values(row).map((value) =>
        Array.isArray(value) ? value.join(' ') : `${value ?? ''}`,
      );
      expect(record).toEqual(cells.map((cell) => (/^[=@-]/.test(cell) ? `'${cell}` : cell)));
    }
    const guarded = Object.fromEntries(header.map((name, index) => [name, records[2]?.[index]]));
    expect(guarded).toMatchObject({ reasonCode: "'-1", reasonDisplay: "'@cmd", comment: `'${AWKWARD}` });
    expect(rows[2]).toMatchObject({ reasonCode: '-1', reasonDisplay: '@cmd', comment: AWKWARD });
  });

  it('RG15: days are those of the outcome in UTC, both included; the mark of the latest is of the whole log', () => {
    const sequences = (...words: readonly string[]) => rowsOf(...words).map(({ sequence }) => sequence);
    expect(sequences('--since', '2026-11-26')).toEqual([3, 4, 5]);
    expect(sequences('--until', '2026-11-26')).toEqual([2, 4, 5]);
    expect(sequences('--since', '2026-11-26', '--until', '2026-11-26')).toEqual([4, 5]);
    expect(sequences('--since', '2026-11-28')).toEqual([]);
    expect(rowsOf('--until', '2026-11-25').map(({ latest }) => latest)).toEqual([false]);
    expect(parseCsv(exported('--since', '2027-01-01'))).toHaveLength(1);
  });

  it.each([
    [['--format', 'xlsx'], '--format must be one of: csv, ndjson'],
    [['--format', 'toString'], '--format must be one of: csv, ndjson'],
    [['--json'], '--json is not for feedback export: use --format ndjson'],
    [['--since', 'yesterday'], '--since must be a date, YYYY-MM-DD'],
    [['--since', '2026-02-29'], '--since must be a date, YYYY-MM-DD'],
    [['--until', '2026-11-26T00:00:00Z'], '--until must be a date, YYYY-MM-DD'],
    [['--since', '2026-11-27', '--until', '2026-11-26'], '--since must not be after --until'],
  ])('refuses %j', (words, said) => {
    expect(run('feedback', 'export', ...words)).toEqual({
      status: 1,
      stdout: '',
      stderr: `grip-cds: ${said}\n`,
    });
  });

  it('says that a log is missing and does not make one', () => {
    const missing = join(folder, 'missing.sqlite');
    const { status, stderr } = runCommand(folder, ['feedback', 'export', '-f', missing]);
    expect({ status, stderr }).toEqual({ status: 1, stderr: `grip-cds: there is no audit log ${missing}\n` });
    expect(existsSync(missing)).toBe(false);
  });

  it('gives nothing out of a log that does not verify, and names the record', async () => {
    const copy = join(folder, 'tampered.sqlite');
    const source = new Database(service.file, { readonly: true });
    await source.backup(copy);
    source.close();
    const db = new Database(copy);
    db.exec('DROP TRIGGER audit_record_no_update');
    db.exec(`UPDATE audit_record SET record = replace(record, '"accepted"', '"overridden"') WHERE seq = 3`);
    db.close();
    expect(runCommand(folder, ['feedback', 'export', '-f', copy])).toEqual({
      status: 1,
      stdout: '',
      stderr: 'grip-cds: record 3: the record does not match its hash: not exported\n',
    });
  });

  it('ends without a fault when its reader has seen enough', async () => {
    const child = spawn(process.execPath, [CLI, 'feedback', 'export', '-f', service.file], {
      env: environmentWith({}),
    });
    child.stdout.destroy();
    let stderr = '';
    child.stderr.on('data', (bytes) => {
      stderr += bytes;
    });
    const [code, signal] = await once(child, 'close');
    expect({ code, signal, stderr }).toEqual({ code: 0, signal: null, stderr: '' });
  });

  it('gives every row of a long log, in order: more than are written at a time, between other records', async () => {
    const long = join(folder, 'long.sqlite');
    const store = openStore(long);
    const cards = Array.from({ length: 1_150 }, () => crypto.randomUUID());
    for (const [index, card] of cards.entries()) {
      if (index % 100 === 0)
        await store.append({ id: crypto.randomUUID(), kind: 'other', patient: null, content: {} });
      const entry = { card, outcome: 'overridden', outcomeTimestamp: '2026-11-25T11:00:00Z' };
      if (index % 50 === 0)
        await recordFeedback(
          { store },
          { client: 'c', service: 's' },
          { feedback: cards.slice(index, index + 50).map((each) => ({ ...entry, card: each })) },
        );
    }
    store.close();
    const { stdout } = runCommand(folder, ['feedback', 'export', '-f', long]);
    expect(parseCsv(stdout).map(([, card]) => card)).toEqual(['card', ...cards]);
  });

  it('of a log without feedback is the header alone, or nothing', () => {
    const empty = join(folder, 'empty.sqlite');
    openStore(empty).close();
    const of = (...words: readonly string[]) =>
      runCommand(folder, ['feedback', 'export', '-f', empty, ...words]).stdout;
    expect(parseCsv(of())).toEqual([Object.keys(rowsOf()[0] ?? {})]);
    expect(of('--format', 'ndjson')).toBe('');
  });
});

describe('a line of CSV', () => {
  it('RG15: is read back as it was, whatever the cells hold, but for the apostrophe', () => {
    const cell = fc.oneof(fc.string({ unit: 'grapheme' }), fc.stringMatching(/^[=+\-@\t\r\n,"' a]{0,8}$/));
    fc.assert(
      fc.property(fc.array(cell, { minLength: 1, maxLength: 5 }), (cells) => {
        const guarded = cells.map((text) => (/^[=+\-@\t\r\n]/.test(text) ? `'${text}` : text));
        expect(parseCsv(csvLine(cells))).toEqual([guarded]);
      }),
    );
  });
});

describe('audit show', () => {
  it('F2: has the feedback beside the evaluation, in order of receipt, by the id or by the uuid of the card', () => {
    const shown = run('audit', 'show', given.evaluation);
    const { record, feedback } = JSON.parse(shown.stdout);
    expect(record.names).toEqual([given.card]);
    expect(feedback.map(({ seq }: { seq: number }) => seq)).toEqual([2, 3, 4]);
    expect(feedback[1].record).toMatchObject({
      about: given.evaluation,
      content: { outcome: 'accepted', answers: { record: given.evaluation, seq: 1 } },
    });
    expect(run('audit', 'show', given.card)).toEqual(shown);
    expect(run('audit', 'show', `urn:uuid:${given.card}`)).toEqual(shown);
  });

  it('F6: has none beside a record that nothing points back to', () => {
    const { stdout } = run('audit', 'show', service.last().id);
    expect(Object.keys(JSON.parse(stdout))).toEqual(['seq', 'hash', 'record']);
    expect(run('audit', 'show', UNKNOWN).status).toBe(1);
  });
});
