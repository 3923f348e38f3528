/** Signed tokens of an invented client for the benchmark, each with a `jti` of its own; signed beforehand, so that signing is not measured. */
import { randomUUID } from 'node:crypto';
import { exportJWK, generateKeyPair, type JWK, SignJWT } from 'jose';

export type BenchAlgorithm = 'ES384' | 'RS384';

/** Compared with `aud`, never called. */
export const BENCH_URL = 'http://127.0.0.1:8080';
export const BENCH_ISSUER = 'https://ehr.bench.example/';
export const BENCH_BEARER = 'bearer-token-of-the-benchmark';
/** SHA-256 of it. */
export const BENCH_BEARER_SHA256 = '91c6cb1447a5682ad1acb0b7be973925653dea2d0e89d5107d9daa063296a044';

export interface Tokens {
  readonly algorithm: BenchAlgorithm;
  readonly jwk: JWK;
  readonly tokens: readonly string[];
}

export async function signTokens(algorithm: BenchAlgorithm, path: string, count: number): Promise<Tokens> {
  const { privateKey, publicKey } = await generateKeyPair(algorithm);
  const jwk = { ...(await exportJWK(publicKey)), kid: 'bench', use: 'sig', alg: algorithm };
  const iat = Math.floor(Date.now() / 1_000);
  const tokens: string[] = [];
  const signOne = (): Promise<string> =>
    new SignJWT({
      iss: BENCH_ISSUER,
      aud: `${BENCH_URL}${path}`,
      iat,
      exp: iat + 3_600,
      jti: randomUUID(),
    })
      .setProtectedHeader({ alg: algorithm, kid: 'bench', typ: 'JWT' })
      .sign(privateKey);
  while (tokens.length < count) {
    tokens.push(
      ...(await Promise.all(Array.from({ length: Math.min(500, count - tokens.length) }, signOne))),
    );
  }
  return { algorithm, jwk, tokens };
}
