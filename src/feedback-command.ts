/** `grip-cds feedback export`: what became of the advice, and why, as CSV or NDJSON on the standard output. */
import { existsSync } from 'node:fs';
import { AuditFault, type LogReader, type StoredRecord } from './audit/audit-record.ts';
import { withLog } from './audit/log-reader.ts';
import { verifyLog } from './audit/verify.ts';
import { ConfigFault, readConfig } from './config.ts';
import { COLUMNS, contentOf, csvLine, type FeedbackRow, writeRow } from './feedback-row.ts';
import type { FeedbackContent } from './hooks/feedback.ts';
import { readUtc } from './hooks/feedback-form.ts';

export interface FeedbackOptions {
  /** Audit log. */
  readonly file: string | undefined;
  /** `csv` or `ndjson`; default `csv`. */
  readonly format: string | undefined;
  /** First and last day of the outcome, UTC, `YYYY-MM-DD`; absent: no bound. */
  readonly since: string | undefined;
  readonly until: string | undefined;
  /** Refused: there is no one document. */
  readonly json: boolean | undefined;
}

/** Rows that are read, and then written, at a time: a slow reader must not make them pile up. */
const PAGE = 1_000;

/**
 * In order of receipt, the newest last.
 * @returns the exit code, or undefined when the words were not understood
 * @throws ConfigFault for an option that cannot be used; AuditFault when there is no log, or it does not verify
 */
export async function runFeedback(
  words: readonly string[],
  options: FeedbackOptions,
): Promise<number | undefined> {
  if (words.join(' ') !== 'export') return undefined;
  if (options.json) throw new ConfigFault('--json is not for feedback export: use --format ndjson');
  const format = options.format ?? 'csv';
  const write = Object.hasOwn(WRITERS, format) ? WRITERS[format] : undefined;
  if (!write) throw new ConfigFault(`--format must be one of: ${Object.keys(WRITERS).join(', ')}`);
  const isWithin = readDays(options);
  const file = options.file ?? readConfig().auditFile;
  if (!existsSync(file)) throw new AuditFault(`there is no audit log ${file}`);
  const { firstFault } = verifyLog(file);
  if (firstFault) throw new AuditFault(`record ${firstFault.seq}: ${firstFault.problem}: not exported`);
  const isOpen = format !== 'csv' || (await writeOut(csvLine(COLUMNS)));
  if (isOpen) await writeRows(file, write, isWithin);
  return 0;
}

const WRITERS: Readonly<Record<string, (row: FeedbackRow) => string>> = {
  csv: (row) => csvLine(COLUMNS.map((column) => row[column])),
  ndjson: (row) => `${JSON.stringify(row)}\n`,
};

async function writeRows(
  file: string,
  write: (row: FeedbackRow) => string,
  isWithin: (moment: number) => boolean,
): Promise<void> {
  const { latest, last } = withLog(file, findLatest);
  for (let next = 1, isOpen = true; isOpen && next <= last; ) {
    const page = withLog(file, (log) => pageOf(log, next, last));
    next = (page.at(-1)?.seq ?? last) + 1;
    const rows = page
      .map((stored) => ({ stored, content: contentOf(stored) }))
      .filter(({ content }) => isWithin(momentOf(content)))
      .map(({ stored, content }) =>
        writeRow(stored, content, latest.get(cardOf(content))?.seq === stored.seq),
      );
    isOpen = rows.length === 0 || (await writeOut(rows.map(write).join('')));
  }
}

/** From `first` to `last`, and no more than a page: the service may be writing behind it. */
function pageOf(log: LogReader, first: number, last: number): readonly StoredRecord[] {
  const page: StoredRecord[] = [];
  for (const stored of log.records(first, 'feedback')) {
    if (stored.seq > last || page.length === PAGE) break;
    page.push(stored);
  }
  return page;
}

/** @returns once it is taken; false when the reader has seen enough and closed the pipe */
function writeOut(text: string): Promise<boolean> {
  return new Promise((resolve, reject) => {
    process.stdout.write(text, (fault) => {
      if (!fault) resolve(true);
      else if ('code' in fault && (fault.code === 'EPIPE' || fault.code === 'ERR_STREAM_DESTROYED'))
        resolve(false);
      else reject(fault);
    });
  });
}

/** @throws ConfigFault */
function readDays({ since, until }: FeedbackOptions): (moment: number) => boolean {
  const first = since === undefined ? Number.NEGATIVE_INFINITY : readDay('--since', since);
  const end = until === undefined ? Number.POSITIVE_INFINITY : readDay('--until', until) + 86_400_000;
  if (first >= end) throw new ConfigFault('--since must not be after --until');
  return (moment) => moment >= first && moment < end;
}

function readDay(option: string, text: string): number {
  const moment = /^\d{4}-\d{2}-\d{2}$/.test(text) ? readUtc(`${text}T00:00:00Z`) : undefined;
  if (moment === undefined) throw new ConfigFault(`${option} must be a date, YYYY-MM-DD`);
  return moment;
}

interface Latest {
  readonly moment: number;
  readonly seq: number;
}

/**
 * The latest of each card by the time that the client gave: feedback may arrive out of order (STANDARDS F3). It takes
 * memory for each card that was answered, not for each record.
 */
function findLatest(log: LogReader): { latest: ReadonlyMap<string, Latest>; last: number } {
  const latest = new Map<string, Latest>();
  let last = 0;
  for (const stored of log.records(1, 'feedback')) {
    const content = contentOf(stored);
    const moment = momentOf(content);
    const card = cardOf(content);
    if (moment >= (latest.get(card)?.moment ?? Number.NEGATIVE_INFINITY)) {
      latest.set(card, { moment, seq: stored.seq });
    }
    last = stored.seq;
  }
  return { latest, last };
}

/** A card of one client: what another says of the same id is of another card. */
function cardOf({ client, tenant, service, card }: FeedbackContent): string {
  return JSON.stringify([client, tenant, service, card]);
}

function momentOf({ outcomeTimestamp }: FeedbackContent): number {
  return readUtc(outcomeTimestamp) ?? Number.NaN;
}
