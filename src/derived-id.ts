/** Ids that follow from what they name. */
import { createHash } from 'node:crypto';

/**
 * A UUID (version 8) that depends only on these two: the same record, the same ids.
 * @param scope what the name is a name in: an evaluation, a client, a result
 */
export function uuidFor(scope: string, name: string): string {
  const hex = createHash('sha256').update(`${scope} ${name}`).digest('hex');
  const variant = ((Number.parseInt(hex.charAt(16), 16) & 0x3) | 0x8).toString(16);
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-8${hex.slice(13, 16)}-${variant}${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}
