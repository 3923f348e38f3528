/** Where the keys of a client come from: given in its configuration, or fetched from its one address and kept for a while. */
import type { CryptoKey } from 'jose';
import { z } from 'zod';
import type { Outbound } from '../outbound/outbound.ts';
import { importKeys, type Keys, keyName, type PublicKey, readPublicKey } from './read-keys.ts';
import type { Algorithm } from './token-form.ts';

/** @returns undefined when there is no such key, or the keys cannot be had */
export type FindKey = (algorithm: Algorithm, kid: string) => Promise<CryptoKey | undefined>;

export function keysGiven(keys: readonly PublicKey[]): FindKey {
  const imported = importKeys(keys);
  return async (algorithm, kid) => (await imported).get(keyName(algorithm, kid));
}

const FETCH_TIMEOUT_MS = 2_000;
const MOST_BYTES = 64 * 1024;
/** How long fetched keys count as current: as their server says, within these bounds. */
const FRESH_MS = { least: 60_000, most: 24 * 3_600_000, unsaid: 10 * 60_000 } as const;
/** Between two fetches that tokens cause, whatever keys they name. */
const REFETCH_AFTER_MS = 30_000;
/** Between two fetches while there is no key at all. */
const RETRY_AFTER_MS = 5_000;
/** How long keys that are no longer current still count while their server does not answer. */
const STALE_MS = 3_600_000;

const setForm = z.looseObject({ keys: z.array(z.unknown()).max(200) });

interface Kept {
  readonly keys: Keys;
  /** Milliseconds since 1970. */
  readonly freshUntil: number;
}

/** @param url its only address: nothing that a token says leads to another (T7) */
export function keysFrom(url: string, outbound: Outbound, now: () => Date): FindKey {
  let kept: Kept | undefined;
  let askedAt = Number.NEGATIVE_INFINITY;
  let fetching: Promise<void> | undefined;

  async function fetchOnce(): Promise<void> {
    try {
      const fetched = await fetchKeys(url, outbound);
      kept = { keys: fetched.keys, freshUntil: now().getTime() + fetched.freshMs };
    } catch {
      // The keys of before go on for a while; without any, nothing is believed.
    }
    fetching = undefined;
  }

  /** One fetch for all who wait; none when the last was a moment ago. */
  function refetch(): Promise<void> {
    const at = now().getTime();
    const pause = usable() ? REFETCH_AFTER_MS : RETRY_AFTER_MS;
    // A clock that was set back must not stop it.
    if (!fetching && (at - askedAt >= pause || at < askedAt)) {
      askedAt = at;
      fetching = fetchOnce();
    }
    return fetching ?? Promise.resolve();
  }

  const usable = () => (kept && now().getTime() < kept.freshUntil + STALE_MS ? kept.keys : undefined);

  return async (algorithm, kid) => {
    if (!kept || now().getTime() >= kept.freshUntil) await refetch();
    const name = keyName(algorithm, kid);
    const found = usable()?.get(name);
    if (found) return found;
    // Perhaps it is new.
    await refetch();
    return usable()?.get(name);
  };
}

/** @throws OutboundFault, or an Error when the answer is not a key set */
async function fetchKeys(url: string, outbound: Outbound): Promise<{ keys: Keys; freshMs: number }> {
  const reply = await outbound(url, {
    headers: { accept: 'application/jwk-set+json, application/json' },
    signal: AbortSignal.timeout(FETCH_TIMEOUT_MS),
    maxBytes: MOST_BYTES,
  });
  if (reply.status !== 200) throw new Error(`the key set answered ${reply.status}`);
  const given = setForm.parse(JSON.parse(reply.text)).keys;
  const keys = await importKeys(given.flatMap((jwk) => readPublicKey(jwk) ?? []));
  return { keys, freshMs: freshMs(reply.header('cache-control')) };
}

/** RFC 9111: `max-age`; what must not be kept at all is kept for the least time, or every call would cost a fetch. */
export function freshMs(cacheControl: string | null): number {
  const said = (cacheControl ?? '').toLowerCase();
  if (/(^|[\s,])no-(store|cache)($|[\s,=])/.test(said)) return FRESH_MS.least;
  const seconds = /(?:^|[\s,])max-age\s*=\s*"?(\d{1,10})/.exec(said)?.[1];
  if (seconds === undefined) return FRESH_MS.unsaid;
  return Math.min(Math.max(Number(seconds) * 1_000, FRESH_MS.least), FRESH_MS.most);
}
