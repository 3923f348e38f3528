/** What a token claims -> whether it is for here and for now; its signature is another matter. */
import type { SignedToken } from './token-form.ts';
import { TokenRefusal } from './token-refusal.ts';

/** Clocks of two hospitals differ by seconds. */
export const CLOCK_TOLERANCE_S = 30;

/** CDS Hooks best practices (cds-hooks/docs, best-practices.md): a token lives for an hour at most. */
export const MOST_LIFE_S = 3_600;

type Claims = SignedToken['claims'];

/**
 * Addresses that a token may be for, when this one is called: the address itself, and for feedback also the service (F7).
 * @param path of the call, without the query
 * @param publicUrl of this service, without a slash at its end
 */
export function audiencesFor(publicUrl: string, path: string): readonly string[] {
  const called = `${publicUrl}${path}`;
  return path.endsWith('/feedback') ? [called, called.slice(0, -'/feedback'.length)] : [called];
}

/**
 * T5: every member of `aud` is an address that is accepted. The specification gives an array of one; a token that is also
 * for somebody else could be used there by whoever receives it here.
 * @throws TokenRefusal
 */
export function requireAudience({ aud }: Claims, accepted: readonly string[], client: string | null): void {
  if (![aud].flat().every((each) => accepted.includes(each)))
    throw new TokenRefusal('audience-other', client);
}

/** @throws TokenRefusal */
export function requireTimely({ exp, iat, nbf }: Claims, now: Date, client: string | null): void {
  const seconds = now.getTime() / 1_000;
  if (exp <= seconds - CLOCK_TOLERANCE_S) throw new TokenRefusal('expired', client);
  if (Math.max(iat, nbf ?? iat) > seconds + CLOCK_TOLERANCE_S)
    throw new TokenRefusal('not-yet-valid', client);
}

/** @throws TokenRefusal */
export function requireShortLife({ exp, iat }: Claims, mostSeconds: number, client: string): void {
  if (exp <= iat || exp - iat > mostSeconds + CLOCK_TOLERANCE_S)
    throw new TokenRefusal('life-too-long', client);
}
