/** `grip-cds results remove TYPE/ID --reason CODE`: takes a filed result away. The log keeps that it was there, and why. */
import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { AuditFault, type AuditStore } from './audit/audit-record.ts';
import { openSqliteStore } from './audit/sqlite-store.ts';
import { ConfigFault, readConfig } from './config.ts';
import type { DocumentName } from './document.ts';

export interface ResultsOptions {
  readonly file: string | undefined;
  readonly reason: string | undefined;
}

/** Never free text, which may name a person: the log cannot forget it. */
const REASONS = ['wrong-patient', 'retention', 'request-of-patient', 'other'];

/**
 * The service may go on running. What the audit log holds of the evaluation stays: it is append-only.
 * @returns the exit code, or undefined when the words were not understood
 * @throws AuditFault when there is no log or no such result
 */
export async function runResults(
  [what, name, ...more]: readonly string[],
  { file = readConfig().auditFile, reason }: ResultsOptions,
): Promise<number | undefined> {
  const [, type = '', id = ''] = /^(Observation)\/([A-Za-z0-9.-]{1,64})$/.exec(name ?? '') ?? [];
  if (what !== 'remove' || !type || more.length > 0) return undefined;
  if (!reason || !REASONS.includes(reason)) {
    throw new ConfigFault(`--reason must be one of: ${REASONS.join(', ')}`);
  }
  if (!existsSync(file)) throw new AuditFault(`there is no audit log ${file}`);
  const store = openSqliteStore({
    file,
    now: () => new Date(),
    onFatal: (cause) => {
      throw cause;
    },
  });
  try {
    const removals = [{ type, id }, ...provenancesOf(store, { type, id })];
    await remove(store, removals, reason);
    console.log(
      `${type}/${id} was removed, with ${removals.length - 1} Provenance; the log keeps its evaluation.`,
    );
    return 0;
  } finally {
    store.close();
  }
}

async function remove(store: AuditStore, removals: readonly DocumentName[], reason: string): Promise<void> {
  const [result] = removals;
  const found = result && store.findDocument(result.type, result.id);
  if (!found || found.content === null)
    throw new AuditFault(`there is no filed ${result?.type}/${result?.id}`);
  const content = { removed: removals.map(({ type, id }) => `${type}/${id}`), filedBy: found.record, reason };
  await store.append({ id: randomUUID(), kind: 'removal', patient: null, content, removals });
}

function provenancesOf(store: AuditStore, { type, id }: DocumentName): readonly DocumentName[] {
  const value = `${type}/${id}`;
  const { documents } = store.searchDocuments({
    type: 'Provenance',
    conditions: [{ name: 'target', absent: false, anyOf: [{ kind: 'value', value }] }],
    sort: [{ by: 'updated', descending: false }],
    limit: 100,
    offset: 0,
  });
  return documents.map((document) => ({ type: document.type, id: document.id }));
}
