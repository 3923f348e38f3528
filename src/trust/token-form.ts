/** The JSON Web Token of a CDS Hooks client as text -> header and claims, strictly; nothing in it is believed yet. */
import { z } from 'zod';
import { TokenRefusal } from './token-refusal.ts';

/** The pair that CDS Hooks 2.0.1 recommends; no other algorithm is read, whatever a token says. */
export const ALGORITHMS = ['ES384', 'RS384'] as const;
export type Algorithm = (typeof ALGORITHMS)[number];

/** A header is limited to 8 KB as a whole; a token with an RSA key of 4096 bits has some 1,200 characters. */
const MOST_CHARACTERS = 4_096;
/** No control characters and no half pairs of surrogates, which no file could keep. */
const SHORT_TEXT = z
  .string()
  .min(1)
  .max(256)
  .regex(/^[^\p{Cc}\p{Cs}]*$/u);

/** CDS Hooks 2.0.1, JWT header: `alg`, `kid`, `typ` required, `jku` optional (T4). */
const headerForm = z.looseObject({
  alg: z.enum(ALGORITHMS),
  kid: SHORT_TEXT,
  typ: z.literal('JWT'),
  jku: z.string().optional(),
  // They change how a token is read (RFC 7515 4.1.11, RFC 7797), or bring a key along, which proves nothing.
  crit: z.undefined().optional(),
  b64: z.undefined().optional(),
  jwk: z.undefined().optional(),
  x5c: z.undefined().optional(),
  x5u: z.undefined().optional(),
});

/** Seconds since 1970 (RFC 7519, NumericDate); `1e999` is Infinity to JSON.parse and refused by zod. */
const numericDate = z.number();

/** CDS Hooks 2.0.1, JWT payload (T5); `nbf` is of RFC 7519, which must be obeyed where it is said. */
const claimsForm = z.looseObject({
  iss: z.string().min(1),
  aud: z.union([z.string().min(1), z.array(z.string().min(1)).min(1)]),
  exp: numericDate,
  iat: numericDate,
  nbf: numericDate.optional(),
  jti: SHORT_TEXT,
  tenant: SHORT_TEXT.optional(),
});

export interface SignedToken {
  /** The three parts as they came: what the signature is of. */
  readonly text: string;
  readonly header: z.infer<typeof headerForm>;
  readonly claims: z.infer<typeof claimsForm>;
}

/** @throws TokenRefusal */
export function readToken(text: string): SignedToken {
  const [header, claims, signature, ...more] = text.length > MOST_CHARACTERS ? [] : text.split('.');
  if (!header || !claims || !signature || more.length > 0 || !isBase64url(signature)) {
    throw new TokenRefusal('token-form');
  }
  const said = headerForm.safeParse(parse(header));
  if (!said.success) throw new TokenRefusal('header-form');
  const claimed = claimsForm.safeParse(parse(claims));
  if (!claimed.success) throw new TokenRefusal('claims-form');
  return { text, header: said.data, claims: claimed.data };
}

/** In its only spelling: spare bits of the last character would let a signature be written in several ways. */
function isBase64url(text: string): boolean {
  return Buffer.from(text, 'base64url').toString('base64url') === text;
}

const utf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** @returns undefined, which no form accepts, for what is not JSON in UTF-8 or names a member twice */
function parse(part: string): unknown {
  if (!isBase64url(part)) return undefined;
  try {
    const text = utf8.decode(Buffer.from(part, 'base64url'));
    const value: unknown = JSON.parse(text);
    return namesTwice(text) ? undefined : value;
  } catch {
    return undefined;
  }
}

const TOKENS = /"(?:[^"\\]|\\.)*"|[{}[\]:,]/g;

/**
 * Whether an object of the text, which is JSON, has two members of one name: readers differ in which of them they take
 * (RFC 7515 section 4, RFC 7519 section 4).
 */
function namesTwice(text: string): boolean {
  const open: Set<string>[] = [];
  const tokens = text.match(TOKENS) ?? [];
  return tokens.some((token, index) => {
    if (token === '{') open.push(new Set());
    else if (token === '[') open.push(new Set());
    else if (token === '}' || token === ']') open.pop();
    else if (tokens[index + 1] === ':' && token.startsWith('"')) {
      const name: string = JSON.parse(token);
      if (open.at(-1)?.has(name)) return true;
      open.at(-1)?.add(name);
    }
    return false;
  });
}
