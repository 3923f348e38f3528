/** Ids that follow from the id of an evaluation. */
import { createHash } from 'node:crypto';

/** A UUID (version 8) that depends only on the evaluation and the name: the same record, the same ids. */
export function uuidFor(evaluationId: string, name: string): string {
  const hex = createHash('sha256').update(`${evaluationId} ${name}`).digest('hex');
  const variant = ((Number.parseInt(hex.charAt(16), 16) & 0x3) | 0x8).toString(16);
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-8${hex.slice(13, 16)}-${variant}${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}
