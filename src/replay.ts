/**
 * Redoes recorded evaluations: interprets the recorded readings with the recorded versions, and writes the reply
 * again. The findings must be the same to the digit; where the engine is the same version, so must the reply be,
 * to the byte. What it cannot redo is the reading of the request, because the request is not kept.
 */
import { createHash } from 'node:crypto';
import type { StoredRecord } from './audit/audit-record.ts';
import type { Asked } from './evaluate.ts';
import type { Evaluation, Origin, Revisions } from './evaluation.ts';
import { writeOperationAnswer } from './fhir/write-bundle.ts';
import { writeHookAnswer } from './hooks/grip-interpretation.ts';
import { readRecordedEvaluation } from './recorded-evaluation.ts';
import type { ReferenceLibrary } from './reference/library.ts';

export type ReplayResult =
  | { readonly outcome: 'same'; readonly replyCompared: boolean }
  | {
      readonly outcome: 'different';
      readonly what: 'findings' | 'reply';
      readonly recorded: string;
      readonly replayed: string;
    }
  | { readonly outcome: 'not-replayable'; readonly reason: string };

/**
 * @param stored a record of kind `evaluation`, of a log that was verified
 * @param engineVersion of this installation: the reply is compared for records that it wrote
 */
export function replay(stored: StoredRecord, library: ReferenceLibrary, engineVersion: string): ReplayResult {
  const read = readRecordedEvaluation(stored, library);
  if ('reason' in read) return { outcome: 'not-replayable', reason: read.reason };
  const { evaluation, asked, returned, findings } = read;
  const { recorded, redone } = findings;
  if (recorded !== redone) return { outcome: 'different', what: 'findings', recorded, replayed: redone };
  if (evaluation.engine.version !== engineVersion) return { outcome: 'same', replyCompared: false };
  const sha256 = digestOfReply(evaluation, asked, returned);
  if (sha256 === returned.sha256) return { outcome: 'same', replyCompared: true };
  return { outcome: 'different', what: 'reply', recorded: returned.sha256, replayed: sha256 };
}

const NONE: Revisions = { found: [], inPart: 0, readAgain: [] };

interface FiledThen {
  /** What had been filed before, by type and id. */
  readonly before?: Readonly<Record<string, Origin>> | undefined;
  readonly revisions?: Revisions | undefined;
}

function digestOfReply(
  evaluation: Evaluation,
  { client, fhir, ...asked }: Asked,
  { before = {}, revisions = NONE }: FiledThen,
): string {
  const filing = {
    client,
    base: fhir?.base ?? '',
    filedBefore: (type: string, id: string) => before[`${type}/${id}`],
    revisions,
  };
  const { body } =
    asked.door === 'cds-hooks'
      ? writeHookAnswer(evaluation, asked)
      : writeOperationAnswer(evaluation, filing, fhir?.returns);
  return createHash('sha256').update(JSON.stringify(body), 'utf8').digest('hex');
}
