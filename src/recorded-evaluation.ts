/** A record of the audit log as the evaluation that it keeps: interpreted again, from the recorded readings and versions. */
import { z } from 'zod';
import type { StoredRecord } from './audit/audit-record.ts';
import { canonicalJson } from './audit/canonical-json.ts';
import type { Asked } from './evaluate.ts';
import type { Evaluation, Origin, Revisions } from './evaluation.ts';
import { interpret } from './interpret/interpret.ts';
import { recordedFindings } from './recorded-findings.ts';
import type { ReferenceLibrary } from './reference/library.ts';

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

type Content = z.infer<typeof recordForm>['content'];

export interface RecordedEvaluation {
  readonly evaluation: Evaluation;
  readonly asked: Asked;
  readonly returned: Content['returned'];
  /** Canonical JSON: as they were recorded, and as they come out now. They are the same unless the engine changed. */
  readonly findings: { readonly recorded: string; readonly redone: string };
}

/**
 * @param stored a record of kind `evaluation`
 * @returns the evaluation, or why this installation cannot redo it
 */
export function readRecordedEvaluation(
  stored: StoredRecord,
  library: ReferenceLibrary,
): RecordedEvaluation | { readonly reason: string } {
  const parsed = recordForm.safeParse(JSON.parse(stored.record));
  if (!parsed.success) return { reason: 'it does not have the form of an evaluation' };
  const { id, patient, content } = parsed.data;
  const { panel, references, asked, returned } = content;
  const applied = library.findPanel(panel.id, panel.version);
  const recordedSets = canonicalJson([panel, references]);
  if (!applied || canonicalJson([applied.panel.ref, applied.references]) !== recordedSets) {
    const reason = `panel ${panel.id} ${panel.version} with the recorded digests is not in this installation`;
    return { reason };
  }
  const interpretations = interpret(content.input, applied.panel);
  return {
    evaluation: { ...partsOf(content), id, patient, panel: applied, interpretations },
    asked,
    returned,
    findings: {
      recorded: canonicalJson(content.findings),
      redone: canonicalJson(recordedFindings(interpretations)),
    },
  };
}

/** What the record keeps of an evaluation as it was. */
function partsOf(
  content: Content,
): Omit<Evaluation, 'id' | 'patient' | 'panel' | 'interpretations' | 'sent'> {
  const { at, engine, sex, input, refusals, notices, localCodes, corrections, handedness } = content;
  const expressions = new Map(Object.entries(content.expressions));
  return { at, engine, sex, input, refusals, expressions, notices, localCodes, corrections, handedness };
}
