/**
 * Redoes recorded evaluations: interprets the recorded readings with the recorded versions, and writes the reply
 * again. The findings must be the same to the digit; where the engine is the same version, so must the reply be,
 * to the byte. What it cannot redo is the reading of the request, because the request is not kept.
 */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { StoredRecord } from './audit/audit-record.ts';
import { canonicalJson } from './audit/canonical-json.ts';
import type { Asked } from './evaluate.ts';
import type { Evaluation, Origin, Revisions } from './evaluation.ts';
import { writeOperationAnswer } from './fhir/write-bundle.ts';
import { writeHookAnswer } from './hooks/grip-interpretation.ts';
import { interpret } from './interpret/interpret.ts';
import { recordedFindings } from './recorded-findings.ts';
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

/** Parts that the service wrote itself, in a record whose hash was verified, are taken as they are. */
const recordForm = z.object({
  id: z.string(),
  patient: z.string(),
  content: z.object({
    asked: z.custom<Asked>(),
    at: z.string(),
    engine: z.object({ name: z.string(), version: z.string() }),
    panel: z.object({ kind: z.string(), id: z.string(), version: z.string(), digest: z.string() }),
    references: z.unknown(),
    sex: z.custom<Evaluation['sex']>(),
    input: z.custom<Evaluation['input']>(),
    refusals: z.custom<Evaluation['refusals']>(),
    expressions: z.record(z.string(), z.string()),
    notices: z.custom<Evaluation['notices']>().optional(),
    localCodes: z.custom<Evaluation['localCodes']>().optional(),
    corrections: z.custom<Evaluation['corrections']>().optional(),
    handedness: z.custom<Evaluation['handedness']>().optional(),
    findings: z.unknown(),
    returned: z.object({
      sha256: z.string(),
      before: z.custom<Record<string, Origin>>().optional(),
      revisions: z.custom<Revisions>().optional(),
    }),
  }),
});

/**
 * @param stored a record of kind `evaluation`, of a log that was verified
 * @param engineVersion of this installation: the reply is compared for records that it wrote
 */
export function replay(stored: StoredRecord, library: ReferenceLibrary, engineVersion: string): ReplayResult {
  const parsed = recordForm.safeParse(JSON.parse(stored.record));
  if (!parsed.success) {
    return { outcome: 'not-replayable', reason: 'it does not have the form of an evaluation' };
  }
  const { id, patient, content } = parsed.data;
  const { panel, references, findings, engine, returned } = content;
  const applied = library.findPanel(panel.id, panel.version);
  const recordedSets = canonicalJson([panel, references]);
  if (!applied || canonicalJson([applied.panel.ref, applied.references]) !== recordedSets) {
    const reason = `panel ${panel.id} ${panel.version} with the recorded digests is not in this installation`;
    return { outcome: 'not-replayable', reason };
  }
  const interpretations = interpret(content.input, applied.panel);
  const recorded = canonicalJson(findings);
  const replayed = canonicalJson(recordedFindings(interpretations));
  if (recorded !== replayed) return { outcome: 'different', what: 'findings', recorded, replayed };
  if (engine.version !== engineVersion) return { outcome: 'same', replyCompared: false };
  const { at, sex, input, refusals, asked, notices, localCodes, corrections, handedness } = content;
  const expressions = new Map(Object.entries(content.expressions));
  const evaluation = {
    id,
    patient,
    at,
    engine,
    panel: applied,
    sex,
    input,
    refusals,
    expressions,
    notices,
    localCodes,
    corrections,
    handedness,
    interpretations,
  };
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
