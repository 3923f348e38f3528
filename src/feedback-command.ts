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

/**
 * In order of receipt, the newest last. Rows leave as they are read.
 * @returns the exit code, or undefined when the words were not understood
 * @throws ConfigFault for an option that cannot be used; AuditFault when there is no log, or it does not verify
 */
export function runFeedback(words: readonly string[], options: FeedbackOptions): number | undefined {
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
  if (write === writeCsv) process.stdout.write(csvLine(COLUMNS));
  return withLog(file, (log) => {
    const { latest, last } = findLatest(log);
    for (const stored of feedbackIn(log, last)) {
      const content = contentOf(stored);
      if (!isWithin(momentOf(content))) continue;
      write(writeRow(stored, content, latest.get(cardOf(content))?.seq === stored.seq));
    }
    return 0;
  });
}

const WRITERS: Readonly<Record<string, (row: FeedbackRow) => void>> = {
  csv: writeCsv,
  ndjson: (row) => void process.stdout.write(`${JSON.stringify(row)}\n`),
};

function writeCsv(row: FeedbackRow): void {
  process.stdout.write(csvLine(COLUMNS.map((column) => row[column])));
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

/** Up to the last one that was looked at: the service may be writing. */
function* feedbackIn(log: LogReader, last: number): Generator<StoredRecord> {
  for (const stored of log.records(1, 'feedback')) {
    if (stored.seq > last) return;
    yield stored;
  }
}

/** A card of one client: what another says of the same id is of another card. */
function cardOf({ client, tenant, service, card }: FeedbackContent): string {
  return JSON.stringify([client, tenant, service, card]);
}

function momentOf({ outcomeTimestamp }: FeedbackContent): number {
  return readUtc(outcomeTimestamp) ?? Number.NaN;
}
