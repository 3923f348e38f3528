/** A client that signs, as a hospital's record would; and the service with such clients. All invented. */
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type CryptoKey, exportJWK, generateKeyPair, type JWK, SignJWT } from 'jose';
import type { ConfiguredClient } from '../../src/clients.ts';
import type { Config } from '../../src/config.ts';
import type { Algorithm } from '../../src/trust/token-form.ts';
import { NOW } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

/** Address of the service as its clients know it (`openForTests`). */
export const PUBLIC_URL = 'https://grip.example.org';
export const DISCOVERY = '/cds-services';
export const SERVICE = '/cds-services/grip-interpretation';
export const ISSUER = 'https://ehr.alder-reach.example/';

export interface Signer {
  readonly algorithm: Algorithm;
  readonly kid: string;
  readonly privateKey: CryptoKey;
  /** Its public key with `kid`, `use` and `alg`. */
  readonly jwk: JWK;
}

export async function newSigner(
  algorithm: Algorithm = 'ES384',
  kid = `key-${randomUUID()}`,
): Promise<Signer> {
  const { privateKey, publicKey } = await generateKeyPair(algorithm, { extractable: true });
  const jwk = { ...(await exportJWK(publicKey)), kid, use: 'sig', alg: algorithm };
  return { algorithm, kid, privateKey, jwk };
}

/** Seconds since 1970 of the fixed clock. */
export const AT = NOW.getTime() / 1_000;

export interface Said {
  readonly header?: Readonly<Record<string, unknown>>;
  readonly claims?: Readonly<Record<string, unknown>>;
}

/** A claim or header member that is `undefined` is left out. */
export function sign(signer: Signer, { header = {}, claims = {} }: Said = {}): Promise<string> {
  const said = { ...claimsOf(), ...claims };
  const head = { alg: signer.algorithm, kid: signer.kid, typ: 'JWT', ...header };
  return new SignJWT(JSON.parse(JSON.stringify(said)))
    .setProtectedHeader(JSON.parse(JSON.stringify(head)))
    .sign(signer.privateKey);
}

/** Valid for a call of the service at the fixed clock; a `jti` of its own each time. */
export function claimsOf(path: string = SERVICE) {
  return { iss: ISSUER, aud: `${PUBLIC_URL}${path}`, exp: AT + 300, iat: AT, jti: randomUUID() };
}

export const bearer = (token: string) => ({ authorization: `Bearer ${token}` });

/** What the file of the clients says of a client with these keys. */
export function clientWith(
  signers: readonly Signer[],
  jwt: Partial<NonNullable<ConfiguredClient['jwt']>> = {},
): ConfiguredClient {
  const keys = { keys: signers.map(({ jwk }) => jwk as Record<string, unknown>) };
  return { name: 'alder-reach', jwt: { issuer: ISSUER, keys, ...jwt } };
}

export interface ServiceWithClients extends TestService {
  /** File of the clients. */
  readonly clientsFile: string;
}

/** The service with a file of these clients; closing it takes the file away. */
export async function openWithClients(
  clients: readonly ConfiguredClient[],
  { now, config = {} }: { now?: () => Date; config?: Partial<Config> } = {},
): Promise<ServiceWithClients> {
  const folder = mkdtempSync(join(tmpdir(), 'grip-clients-'));
  const clientsFile = join(folder, 'clients.json');
  writeFileSync(clientsFile, JSON.stringify({ clients }));
  try {
    const service = await openForTests(now, undefined, { clientsFile, ...config });
    const close = async () => {
      await service.close();
      rmSync(folder, { recursive: true });
    };
    return { ...service, clientsFile, close };
  } catch (fault) {
    rmSync(folder, { recursive: true });
    throw fault;
  }
}
