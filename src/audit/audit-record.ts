/** What the audit log stores. It knows nothing of grip: a record is plain JSON with a few indexed members. */
import type { DocumentDraft, DocumentName, DocumentReader, DocumentRevision } from '../document.ts';

export type Json =
  | string
  | number
  | boolean
  | null
  | readonly Json[]
  | { readonly [key: string]: Json | undefined };

/** What a caller hands over. */
export interface AuditEntry {
  /** UUID of what happened, quoted in the answer. */
  readonly id: string;
  /** e.g. `evaluation`. */
  readonly kind: string;
  /** Resource reference, e.g. `Patient/123`; never a name or identifier. */
  readonly patient: string | null;
  /** Everything needed to show and to redo it. JSON data only. */
  readonly content: unknown;
  /** What the answer gave out and can be asked for again, filed in the same commit; one that is there stays. */
  readonly documents?: readonly DocumentDraft[] | undefined;
  readonly revisions?: readonly DocumentRevision[] | undefined;
  /** Other ids that the record answers to, e.g. those of its cards. */
  readonly names?: readonly string[] | undefined;
  /** What is taken away; the mark that it was there stays. */
  readonly removals?: readonly DocumentName[] | undefined;
}

/** A stored record. `record` is the canonical JSON that `hash` was taken of. */
export interface StoredRecord {
  readonly seq: number;
  readonly hash: string;
  readonly recorded_at: string;
  readonly kind: string;
  readonly id: string;
  readonly patient: string | null;
  readonly record: string;
}

/** The newest record: what the next one is chained to. */
export interface ChainHead {
  readonly seq: number;
  /** SHA-256 of the record, lower-case hexadecimal; 64 zeros before the first. */
  readonly hash: string;
}

/** The log could not take or give a record. */
export class AuditFault extends Error {
  override readonly name = 'AuditFault';
}

export interface LogReader {
  findById(id: string): StoredRecord | undefined;
  /** In order of writing, from `fromSeq` on. */
  records(fromSeq?: number): IterableIterator<StoredRecord>;
}

/** Where a document came from. */
export interface Filed {
  /** Id of the audit record that it was filed with. */
  readonly record: string;
  /** RFC 3339, UTC. */
  readonly at: string;
  /** Of its latest revision. */
  readonly facts?: unknown;
  /** It was taken away since. */
  readonly removed?: true;
}

/** Append-only log. Every append is on disk before its promise resolves. */
export interface AuditStore extends LogReader, DocumentReader {
  /** @throws AuditFault when it is not on record; nothing is then half-written */
  append(entry: AuditEntry): Promise<ChainHead>;
  head(): ChainHead;
  /** Whether a document was filed, or is about to be in the commit that an `append` made now would join. */
  findFiled(type: string, id: string): Filed | undefined;
  close(): void;
}
