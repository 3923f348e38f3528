/** One piece of feedback as a row of the export: the fields of 45 CFR 170.315(b)(11) feedback data (STANDARDS RG15). */
import type { StoredRecord } from './audit/audit-record.ts';
import type { FeedbackContent } from './hooks/feedback.ts';
import { findReasonDisplay } from './hooks/override-reasons.ts';

/** Members are the columns, in this order; null where nothing is on record. */
export interface FeedbackRow {
  /** The intervention: service, evaluation that gave the card, and what it was read by. */
  readonly service: string;
  readonly card: string;
  readonly evaluation: string | null;
  readonly panel: string | null;
  readonly panelVersion: string | null;
  readonly engine: string | null;
  readonly engineVersion: string | null;
  /** The action taken. */
  readonly outcome: 'accepted' | 'overridden';
  readonly acceptedSuggestions: readonly string[] | null;
  /** What the user said. */
  readonly reasonSystem: string | null;
  readonly reasonCode: string | null;
  readonly reasonDisplay: string | null;
  readonly comment: string | null;
  readonly user: string | null;
  /** RFC 3339, UTC; the first as the client gave it. */
  readonly outcomeTimestamp: string;
  readonly receivedAt: string;
  /** Whether nothing later was said of this card by this client, by `outcomeTimestamp`. */
  readonly latest: boolean;
  /** The location. */
  readonly encounter: string | null;
  readonly client: string;
  readonly tenant: string | null;
  readonly fhirServer: string | null;
  readonly patient: string | null;
  /** Of the audit record of this feedback. */
  readonly feedback: string;
  readonly sequence: number;
  readonly hash: string;
}

export const COLUMNS = [
  ...['service', 'card', 'evaluation', 'panel', 'panelVersion', 'engine', 'engineVersion'],
  ...['outcome', 'acceptedSuggestions', 'reasonSystem', 'reasonCode', 'reasonDisplay', 'comment'],
  ...['user', 'outcomeTimestamp', 'receivedAt', 'latest', 'encounter', 'client', 'tenant', 'fhirServer'],
  ...['patient', 'feedback', 'sequence', 'hash'],
] as readonly (keyof FeedbackRow)[];

/** @param stored a record of kind `feedback`, of a log that was verified */
export function contentOf(stored: StoredRecord): FeedbackContent {
  return JSON.parse(stored.record).content;
}

export function writeRow(stored: StoredRecord, content: FeedbackContent, latest: boolean): FeedbackRow {
  const { context, overrideReason } = content;
  const reason = overrideReason?.reason;
  return {
    service: content.service,
    card: content.card,
    evaluation: content.answers?.record ?? null,
    panel: context?.panel?.id ?? null,
    panelVersion: context?.panel?.version ?? null,
    engine: context?.engine?.name ?? null,
    engineVersion: context?.engine?.version ?? null,
    outcome: content.outcome,
    acceptedSuggestions: content.acceptedSuggestions ?? null,
    reasonSystem: reason?.system ?? null,
    reasonCode: reason?.code ?? null,
    reasonDisplay: (reason && (reason.display ?? findReasonDisplay(reason))) ?? null,
    comment: overrideReason?.userComment ?? null,
    user: context?.user ?? null,
    outcomeTimestamp: content.outcomeTimestamp,
    receivedAt: stored.recorded_at,
    latest,
    encounter: context?.encounter ?? null,
    client: content.client,
    tenant: content.tenant ?? null,
    fhirServer: context?.fhirServer ?? null,
    patient: stored.patient,
    feedback: stored.id,
    sequence: stored.seq,
    hash: stored.hash,
  };
}

/** RFC 4180: lines end with CR LF; a list is in one cell, between spaces. */
export function csvLine(cells: readonly FeedbackRow[keyof FeedbackRow][]): string {
  return `${cells.map((cell) => csvCell(Array.isArray(cell) ? cell.join(' ') : String(cell ?? ''))).join(',')}\r\n`;
}

/** A spreadsheet runs a cell that begins like this as a formula (OWASP, CSV injection). */
const LIKE_FORMULA = /^[=+\-@\t\r\n]/;

function csvCell(text: string): string {
  const safe = LIKE_FORMULA.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
