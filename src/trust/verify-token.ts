/** Whether a CDS Hooks call comes from a client that is configured: the JSON Web Token that it signed, check by check. */
import { createHash } from 'node:crypto';
import { compactVerify } from 'jose';
import type { Claim } from '../audit/audit-record.ts';
import type { Outbound } from '../outbound/outbound.ts';
import {
  audiencesFor,
  MOST_LIFE_S,
  requireAudience,
  requireShortLife,
  requireTimely,
} from './check-claims.ts';
import { type FindKey, keysFrom, keysGiven } from './key-set.ts';
import { readPublicKey } from './read-keys.ts';
import { readToken, type SignedToken } from './token-form.ts';
import { TokenRefusal } from './token-refusal.ts';

/** A client as it is configured. Several may have one issuer, where each names tenants of its own. */
export interface SigningClient {
  readonly name: string;
  readonly jwt?:
    | {
        readonly issuer: string;
        /** Address of its key set: the only `jku` that its tokens may name. */
        readonly keySet?: string | undefined;
        /** Given out of band: `keySet` is then compared only, and never fetched. */
        readonly keys?: { readonly keys: readonly unknown[] } | undefined;
        readonly tenants?: readonly string[] | undefined;
        /** Longest life of a token; absent: an hour. */
        readonly maxLifeSeconds?: number | undefined;
      }
    | undefined;
}

export interface Trusted<C> {
  readonly client: C;
  /** As the token says; null when it says none. */
  readonly tenant: string | null;
  /** The token may be used once: the answer may leave when this is kept. */
  readonly claim: Claim;
}

/**
 * @param path of the call, without its query
 * @throws TokenRefusal; AuditFault when the log cannot be asked whether the token was used
 */
export type VerifyToken<C> = (text: string, path: string) => Promise<Trusted<C>>;

export interface TrustDeps {
  /** Address of this service as its clients know it, without a slash at its end. */
  readonly publicUrl: string;
  readonly claimOnce: (key: string, until: Date) => Claim | undefined;
  readonly outbound: Outbound;
  readonly now: () => Date;
}

/** A configuration that nothing can be verified with; the message names the client. */
export class TrustFault extends Error {
  override readonly name = 'TrustFault';
}

interface Known<C> {
  readonly client: C;
  readonly jwt: NonNullable<SigningClient['jwt']>;
  readonly findKey: FindKey;
}

/** How long a used token is remembered after it expired: clocks of processes that share the log differ. */
const REMEMBERED_BEYOND_MS = 10 * 60_000;

/** @throws TrustFault */
export function verifierFor<C extends SigningClient>(clients: readonly C[], deps: TrustDeps): VerifyToken<C> {
  const byIssuer = knownByIssuer(clients, deps);
  // The order of the best-practices page of CDS Hooks (T9): what costs least goes first, and nothing is fetched for nobody.
  return async (text, path) => {
    const token = readToken(text);
    const { claims } = token;
    const candidates = byIssuer.get(claims.iss);
    if (!candidates) throw new TokenRefusal('issuer-unknown');
    // For the log: with several clients of one issuer only the tenant tells whose it is.
    const sole = candidates.length === 1 ? (candidates[0]?.client.name ?? null) : null;
    requireAudience(claims, audiencesFor(deps.publicUrl, path), sole);
    requireTimely(claims, deps.now(), sole);
    const known = requireTenant(candidates, claims.tenant, sole);
    const { client, jwt } = known;
    requireShortLife(claims, jwt.maxLifeSeconds ?? MOST_LIFE_S, client.name);
    await requireSignature(token, known);
    const claim = deps.claimOnce(
      nameOf(claims.iss, claims.jti),
      new Date(claims.exp * 1_000 + REMEMBERED_BEYOND_MS),
    );
    if (!claim) throw new TokenRefusal('used-before', client.name);
    return { client, tenant: claims.tenant ?? null, claim };
  };
}

function knownByIssuer<C extends SigningClient>(
  clients: readonly C[],
  { outbound, now }: TrustDeps,
): ReadonlyMap<string, readonly Known<C>[]> {
  const byIssuer = new Map<string, Known<C>[]>();
  const sets = new Map<string, FindKey>();
  for (const client of clients) {
    const { jwt } = client;
    if (!jwt) continue;
    const others = byIssuer.get(jwt.issuer) ?? [];
    if (others.some((other) => haveSameTenant(other.jwt.tenants, jwt.tenants))) {
      throw new TrustFault(`${client.name}: another client has the same issuer and a tenant in common`);
    }
    const findKey = findKeyFor(client.name, jwt, (url) => {
      // Clients with one key set share what was fetched.
      const set = sets.get(url) ?? keysFrom(url, outbound, now);
      sets.set(url, set);
      return set;
    });
    byIssuer.set(jwt.issuer, [...others, { client, jwt, findKey }]);
  }
  return byIssuer;
}

/** A client that names no tenants has all of them. */
function haveSameTenant(one: readonly string[] | undefined, other: readonly string[] | undefined): boolean {
  return !one || !other || one.some((tenant) => other.includes(tenant));
}

function findKeyFor(
  name: string,
  { keys, keySet }: NonNullable<SigningClient['jwt']>,
  fetched: (url: string) => FindKey,
): FindKey {
  if (!keys) {
    if (keySet === undefined) throw new TrustFault(`${name}: jwt has neither keys nor keySet`);
    return fetched(keySet);
  }
  const usable = keys.keys.map((jwk, index) => {
    const key = readPublicKey(jwk);
    const place = `${name}: jwt.keys.keys.${index}`;
    if ('d' in (jwk as object)) throw new TrustFault(`${place} is a private key: give its public part only`);
    if (!key) throw new TrustFault(`${place} is no public key for ES384 or RS384`);
    return key;
  });
  const names = new Set(usable.map(({ algorithm, kid }) => `${algorithm} ${kid}`));
  if (names.size < usable.length) throw new TrustFault(`${name}: two keys of jwt.keys have the same kid`);
  return keysGiven(usable);
}

function requireTenant<C extends SigningClient>(
  candidates: readonly Known<C>[],
  tenant: string | undefined,
  sole: string | null,
): Known<C> {
  const found = candidates.find(
    ({ jwt: { tenants } }) => !tenants || (tenant !== undefined && tenants.includes(tenant)),
  );
  if (!found) throw new TokenRefusal('tenant-unknown', sole);
  return found;
}

async function requireSignature<C extends SigningClient>(
  { text, header }: SignedToken,
  { client, jwt, findKey }: Known<C>,
): Promise<void> {
  // Compared as text, and compared only: an address that was not registered is never called (T7).
  if (header.jku !== undefined && header.jku !== jwt.keySet)
    throw new TokenRefusal('jku-unknown', client.name);
  const key = await findKey(header.alg, header.kid);
  if (!key) throw new TokenRefusal('key-unknown', client.name);
  try {
    // WebCrypto: in a thread of its own, so that other calls go on meanwhile.
    await compactVerify(text, key, { algorithms: [header.alg] });
  } catch {
    throw new TokenRefusal('signature-wrong', client.name);
  }
}

/** Of issuer and `jti`, so that the log holds neither. */
function nameOf(issuer: string, jti: string): string {
  return createHash('sha256')
    .update(JSON.stringify([issuer, jti]), 'utf8')
    .digest('base64url');
}
