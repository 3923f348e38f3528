/** Redoes recorded evaluations with the versions they name; the findings must be the same to the digit. */
import { z } from 'zod';
import type { StoredRecord } from './audit/audit-record.ts';
import { canonicalJson } from './audit/canonical-json.ts';
import { type InterpretInput, interpret } from './interpret/interpret.ts';
import { recordedFindings } from './recorded-findings.ts';
import type { ReferenceLibrary } from './reference/library.ts';

export type ReplayResult =
  | { readonly outcome: 'same' }
  | { readonly outcome: 'different'; readonly recorded: string; readonly replayed: string }
  | { readonly outcome: 'not-replayable'; readonly reason: string };

const recordForm = z.object({
  content: z.object({
    panel: z.object({ kind: z.string(), id: z.string(), version: z.string(), digest: z.string() }),
    references: z.unknown(),
    input: z.unknown(),
    findings: z.unknown(),
  }),
});

/** @param stored a record of kind `evaluation` */
export function replay(stored: StoredRecord, library: ReferenceLibrary): ReplayResult {
  const parsed = recordForm.safeParse(JSON.parse(stored.record));
  if (!parsed.success) {
    return { outcome: 'not-replayable', reason: 'it does not have the form of an evaluation' };
  }
  const { panel, references, input, findings } = parsed.data.content;
  const applied = library.findPanel(panel.id, panel.version);
  const recordedSets = canonicalJson([panel, references]);
  if (!applied || canonicalJson([applied.panel.ref, applied.references]) !== recordedSets) {
    const reason = `panel ${panel.id} ${panel.version} with the recorded digests is not in this installation`;
    return { outcome: 'not-replayable', reason };
  }
  const recorded = canonicalJson(findings);
  // The record was written from an InterpretInput; whoever replays a log verifies it first.
  const replayed = canonicalJson(recordedFindings(interpret(input as InterpretInput, applied.panel)));
  return recorded === replayed ? { outcome: 'same' } : { outcome: 'different', recorded, replayed };
}
