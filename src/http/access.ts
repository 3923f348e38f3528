/**
 * Who may ask. One rule for every address but those that a client reads before it can know the rule (`metadata`) or that
 * watch the process (`health`). Tokens are compared by their SHA-256: the configuration holds no secret. The addresses of
 * CDS Hooks also take tokens that their clients sign (`trust/`).
 */
import { createHash } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Claim } from '../audit/audit-record.ts';
import { RequestError } from '../errors.ts';
import { TokenRefusal } from '../trust/token-refusal.ts';
import type { VerifyToken } from '../trust/verify-token.ts';

/**
 * @throws RequestError UNAUTHENTICATED; NOT_RECORDED when it cannot be known whether a token was used before
 */
export type Access = (request: {
  readonly authorization: string | undefined;
  /** Of the address, without the query. */
  readonly path: string;
}) => Promise<Client>;

export interface Client {
  /** For the record. */
  readonly name: string;
  /** Which filed results it may read: those of its own calls, or everybody's. */
  readonly reads: 'own' | 'all';
  /** Base URLs of FHIR servers that may be asked for what its hook calls lack. */
  readonly fhirServers: readonly string[];
  /** Of its organisation, as the token says that it signed; null when nothing says. */
  readonly tenant: string | null;
  /** Its token may be used once: no answer leaves before this is kept. Absent for other credentials. */
  readonly claim?: Claim | undefined;
}

/** What the configuration says of a client. */
export interface AccessClient {
  readonly name: string;
  /** SHA-256 of its bearer token, lower-case hexadecimal; absent: it has none. */
  readonly tokenSha256?: string | undefined;
  readonly reads?: Client['reads'] | undefined;
  readonly fhirServers?: readonly string[] | undefined;
}

/** Who a client is while the deployment asks nobody: named so in every record. */
export const openAccess = (fhirServers: readonly string[]): Client => ({
  name: 'open-access',
  reads: 'all',
  fhirServers,
  tenant: null,
});

/**
 * @param clients null: the deployment asks nobody. A client for which nothing else is said reads its own results:
 * `Patient/1` of another may be another person.
 * @param verify the tokens that clients sign; absent: none are taken
 */
export function accessFor<C extends AccessClient>(
  clients: readonly C[] | null,
  openFhirServers: readonly string[] = [],
  verify?: VerifyToken<C>,
): Access {
  const anyone = openAccess(openFhirServers);
  if (!clients) return async () => anyone;
  const byDigest = new Map(
    clients.flatMap((client) =>
      client.tokenSha256 === undefined ? [] : [[client.tokenSha256, clientOf(client)] as const],
    ),
  );
  return async ({ authorization, path }) => {
    const token = /^Bearer ([A-Za-z0-9._~+/=-]+)$/i.exec(authorization ?? '')?.[1] ?? '';
    const client = byDigest.get(createHash('sha256').update(token, 'utf8').digest('hex'));
    if (token && client !== undefined) return client;
    if (!token || !verify) throw new RequestError('UNAUTHENTICATED');
    if (!TAKES_SIGNED_TOKENS.test(path)) {
      throw new RequestError('UNAUTHENTICATED', [], { cause: new TokenRefusal('address-other') });
    }
    return signedClient(verify, token, path);
  };
}

/** As written, so that `aud` has one spelling: discovery, a service, its feedback. */
const TAKES_SIGNED_TOKENS = /^\/cds-services(?:\/[A-Za-z0-9.-]{1,64}(?:\/feedback)?)?$/;

function clientOf({ name, reads = 'own', fhirServers = [] }: AccessClient): Client {
  return { name, reads, fhirServers, tenant: null };
}

async function signedClient<C extends AccessClient>(
  verify: VerifyToken<C>,
  token: string,
  path: string,
): Promise<Client> {
  try {
    const { client, tenant, claim } = await verify(token, path);
    return { ...clientOf(client), tenant, claim };
  } catch (cause) {
    // Whatever is wrong with the token, whoever sent it is told the same. Anything else is the log's fault or ours.
    throw new RequestError(cause instanceof TokenRefusal ? 'UNAUTHENTICATED' : 'NOT_RECORDED', [], { cause });
  }
}

/** Whose results the client may read; undefined: everybody's. */
export function ownerFor({ name, reads }: Client): string | undefined {
  return reads === 'all' ? undefined : name;
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Once the request was let in. */
    client: Client;
  }
  interface FastifyContextConfig {
    /** Answers without credentials. */
    open?: boolean;
  }
}

/** An address that no hook sees, because it cannot be read: who is not let in is not told so. */
export async function refusalOf<T extends Error>(
  fault: T,
  request: FastifyRequest,
  access: Access,
): Promise<T | RequestError> {
  try {
    await access(credentialsOf(request));
    return fault;
  } catch (refused) {
    return refused as RequestError;
  }
}

function credentialsOf({ headers: { authorization }, url }: FastifyRequest): Parameters<Access>[0] {
  return { authorization, path: url.split('?', 1)[0] ?? '' };
}

/** Before any body is read; what has no route is not told apart from what is not allowed. */
export function requireAccess(app: FastifyInstance, access: Access): void {
  app.decorateRequest('client');
  app.addHook('onRequest', async (request) => {
    if (request.routeOptions.config.open !== true) request.client = await access(credentialsOf(request));
  });
}
