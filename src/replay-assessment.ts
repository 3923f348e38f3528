/**
 * Redoes recorded assessments of readiness: the recorded cautions with the recorded rule and panel must give the same
 * findings to the digit, and by the same engine the same reply to the byte. The reading of the request is not redone.
 */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import type { Assessment } from './assessment.ts';
import type { StoredRecord } from './audit/audit-record.ts';
import { canonicalJson } from './audit/canonical-json.ts';
import type { Asked } from './evaluate.ts';
import { writeReadinessAnswer } from './hooks/grip-test-readiness.ts';
import { assessReadiness } from './interpret/readiness.ts';
import type { SetRef } from './interpret/reference-set.ts';
import type { ReferenceLibrary } from './reference/library.ts';
import type { ReplayResult } from './replay.ts';

/** Parts that the service wrote itself, in a record whose hash was verified, are taken as they are. */
const recordForm = z.object({
  id: z.string(),
  patient: z.string(),
  content: z.object({
    asked: z.custom<Asked>(),
    at: z.string(),
    engine: z.object({ name: z.string(), version: z.string() }),
    panel: z.custom<SetRef>(),
    rule: z.custom<SetRef>(),
    valueSets: z.unknown(),
    input: z.custom<Assessment['input']>(),
    gaps: z.custom<Assessment['gaps']>(),
    deceased: z.boolean(),
    localCodes: z.custom<Assessment['localCodes']>().optional(),
    findings: z.unknown(),
    returned: z.object({ sha256: z.string() }),
  }),
});

/**
 * @param stored a record of kind `readiness`, of a log that was verified
 * @param engineVersion of this installation: the reply is compared for records that it wrote
 */
export function replayAssessment(
  stored: StoredRecord,
  library: ReferenceLibrary,
  engineVersion: string,
): ReplayResult {
  const parsed = recordForm.safeParse(JSON.parse(stored.record));
  if (!parsed.success)
    return { outcome: 'not-replayable', reason: 'it does not have the form of an assessment' };
  const { id, patient, content } = parsed.data;
  const { asked, at, engine, input, gaps, deceased, localCodes, findings, returned } = content;
  const panel = library.findPanel(content.panel.id, content.panel.version);
  const rule = library.findCautions(content.rule.version);
  const recordedSets = canonicalJson([content.panel, content.rule, content.valueSets]);
  if (!panel || !rule || canonicalJson([panel.panel.ref, rule.ref, rule.valueSets]) !== recordedSets) {
    const { id: name, version } = content.rule;
    const reason = `rule ${name} ${version} and the panel with the recorded digests are not in this installation`;
    return { outcome: 'not-replayable', reason };
  }
  const readiness = assessReadiness(input, rule, panel.panel.rules);
  const [recorded, replayed] = [canonicalJson(findings), canonicalJson(readiness)];
  if (recorded !== replayed) return { outcome: 'different', what: 'findings', recorded, replayed };
  if (engine.version !== engineVersion) return { outcome: 'same', replyCompared: false };
  const assessment = { id, patient, at, engine, panel, rule, input, gaps, deceased, localCodes, readiness };
  const { body } = writeReadinessAnswer(assessment, asked);
  const sha256 = createHash('sha256').update(JSON.stringify(body), 'utf8').digest('hex');
  if (sha256 === returned.sha256) return { outcome: 'same', replyCompared: true };
  return { outcome: 'different', what: 'reply', recorded: returned.sha256, replayed: sha256 };
}
