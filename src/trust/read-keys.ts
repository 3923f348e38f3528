/** Public keys of a client, as JSON Web Keys -> keys that a signature can be checked with. */
import { createPublicKey } from 'node:crypto';
import { type CryptoKey, importJWK, type JWK } from 'jose';
import { z } from 'zod';
import type { Algorithm } from './token-form.ts';

/** RFC 7518 section 3.3: RSA keys of 2048 bits or larger. */
const LEAST_RSA_BITS = 2_048;
/** The cost of a check grows with the length; nobody signs with longer ones. */
const MOST_RSA_BITS = 8_192;

const keyForm = z.looseObject({
  kid: z.string().min(1).max(256),
  use: z.literal('sig').optional(),
  key_ops: z
    .array(z.string())
    .refine((operations) => operations.includes('verify'))
    .optional(),
  // Private and symmetric members (RFC 7518 sections 6.2.2, 6.3.2, 6.4): such a key has been given away.
  d: z.undefined().optional(),
  p: z.undefined().optional(),
  q: z.undefined().optional(),
  dp: z.undefined().optional(),
  dq: z.undefined().optional(),
  qi: z.undefined().optional(),
  oth: z.undefined().optional(),
  k: z.undefined().optional(),
});

const publicForm = z.discriminatedUnion('kty', [
  z.looseObject({
    kty: z.literal('EC'),
    crv: z.literal('P-384'),
    x: z.string(),
    y: z.string(),
    alg: z.literal('ES384').optional(),
  }),
  z.looseObject({
    kty: z.literal('RSA'),
    n: z.string(),
    e: z.string(),
    alg: z.literal('RS384').optional(),
  }),
]);

/** A key that can be used, not imported yet. */
export interface PublicKey {
  readonly kid: string;
  readonly algorithm: Algorithm;
  readonly jwk: JWK;
}

/** Imported keys, found by what a token names: the algorithm stands for the type of key. */
export type Keys = ReadonlyMap<string, CryptoKey>;

export const keyName = (algorithm: Algorithm, kid: string) => `${algorithm} ${kid}`;

/** @returns undefined for a key that is of no use here, or should not have been given away */
export function readPublicKey(jwk: unknown): PublicKey | undefined {
  const general = keyForm.safeParse(jwk);
  const parsed = publicForm.safeParse(jwk);
  if (!general.success || !parsed.success) return undefined;
  const given = parsed.data;
  const { kid } = general.data;
  const own: JWK =
    given.kty === 'EC'
      ? { kty: 'EC', crv: given.crv, x: given.x, y: given.y }
      : { kty: 'RSA', n: given.n, e: given.e };
  return isSound(own) ? { kid, algorithm: given.kty === 'EC' ? 'ES384' : 'RS384', jwk: own } : undefined;
}

/** A point on its curve; a modulus of a fitting length. */
function isSound(jwk: JWK): boolean {
  try {
    const { asymmetricKeyDetails } = createPublicKey({ key: { ...jwk }, format: 'jwk' });
    if (jwk.kty === 'EC') return true;
    const bits = asymmetricKeyDetails?.modulusLength ?? 0;
    return bits >= LEAST_RSA_BITS && bits <= MOST_RSA_BITS;
  } catch {
    return false;
  }
}

/** Each key is imported once, here. One that cannot be is left out; of two of one type and name the first counts. */
export async function importKeys(keys: readonly PublicKey[]): Promise<Keys> {
  const imported = await Promise.all(keys.map(importKey));
  return new Map(imported.flatMap((each) => (each ? [each] : [])).reverse());
}

async function importKey({ kid, algorithm, jwk }: PublicKey): Promise<[string, CryptoKey] | undefined> {
  try {
    const key = await importJWK(jwk, algorithm);
    return key instanceof Uint8Array ? undefined : [keyName(algorithm, kid), key];
  } catch {
    return undefined;
  }
}
