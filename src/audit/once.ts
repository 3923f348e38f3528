/** What may happen once only: claimed in memory at once, on disk in the next commit of the log. */
import type Database from 'better-sqlite3';
import type { AuditFault, Claim } from './audit-record.ts';

export const ONCE_SCHEMA = `
CREATE TABLE IF NOT EXISTS once (
  key        TEXT PRIMARY KEY,
  kept_until INTEGER NOT NULL               -- milliseconds since 1970; forgotten after that
) STRICT, WITHOUT ROWID;

CREATE INDEX IF NOT EXISTS once_by_end ON once (kept_until);
`;

const PRUNE_EVERY_MS = 60_000;
/** Rows forgotten in one commit: a commit must not grow long because the service was idle. */
const PRUNED_AT_ONCE = 2_000;

export interface Claims {
  /** @returns undefined when the key was claimed before */
  claim(key: string, until: Date): Claim | undefined;
  /** Whether a commit has something to write. */
  isWaiting(): boolean;
  /** Inside the transaction: writes what is not on disk yet, and forgets what has expired. */
  write(): void;
  /** In or after the transaction: whether another process was first. */
  isLost(claim: Claim): boolean;
  /** The transaction of the last `write` is on disk. */
  committed(): void;
  /** It is not: who waits is told; a claim that nobody waits for is written by the next commit. */
  rolledBack(fault: AuditFault): void;
}

interface Held extends Claim {
  readonly key: string;
  readonly until: number;
  /** As written last; undefined: not written yet. */
  isFirst: boolean | undefined;
  onDisk: boolean;
  waiter: {
    readonly resolve: (isFirst: boolean) => void;
    readonly reject: (fault: AuditFault) => void;
  } | null;
}

/**
 * @param db a connection on which ONCE_SCHEMA was run
 * @param commit asks for a commit soon
 */
export function claimsOf(db: Database.Database, now: () => Date, commit: () => void): Claims {
  const find = db.prepare<[string], { key: string }>('SELECT key FROM once WHERE key = ?');
  const insert = db.prepare<[string, number]>(
    'INSERT INTO once (key, kept_until) VALUES (?, ?) ON CONFLICT (key) DO NOTHING',
  );
  const prune = db.prepare<[number, number]>(
    'DELETE FROM once WHERE key IN (SELECT key FROM once WHERE kept_until < ? LIMIT ?)',
  );
  /** Claimed here and not on disk yet. */
  const held = new Map<string, Held>();
  let nextPruneAt = Number.NEGATIVE_INFINITY;

  function forgetExpired(): void {
    const at = now().getTime();
    if (at < nextPruneAt) return;
    const { changes } = prune.run(at, PRUNED_AT_ONCE);
    if (changes < PRUNED_AT_ONCE) nextPruneAt = at + PRUNE_EVERY_MS;
  }

  return {
    claim(key, until) {
      if (held.has(key) || find.get(key)) return undefined;
      const claim = heldClaim(key, until, commit);
      held.set(key, claim);
      return claim;
    },
    isWaiting: () => held.size > 0,
    write() {
      if (held.size === 0) return;
      for (const claim of held.values()) claim.isFirst = insert.run(claim.key, claim.until).changes === 1;
      forgetExpired();
    },
    isLost: (claim) => (claim as Held).isFirst === false,
    committed() {
      for (const claim of held.values()) {
        claim.onDisk = true;
        claim.waiter?.resolve(claim.isFirst === true);
      }
      held.clear();
    },
    rolledBack(fault) {
      nextPruneAt = Number.NEGATIVE_INFINITY;
      for (const claim of held.values()) {
        claim.isFirst = undefined;
        claim.waiter?.reject(fault);
        claim.waiter = null;
      }
    },
  };
}

function heldClaim(key: string, until: Date, commit: () => void): Held {
  let waited: Promise<boolean> | undefined;
  const claim: Held = {
    key,
    until: until.getTime(),
    isFirst: undefined,
    onDisk: false,
    waiter: null,
    kept() {
      if (claim.onDisk) return Promise.resolve(claim.isFirst === true);
      if (claim.waiter && waited) return waited;
      waited = new Promise((resolve, reject) => {
        claim.waiter = { resolve, reject };
      });
      commit();
      return waited;
    },
  };
  return claim;
}
