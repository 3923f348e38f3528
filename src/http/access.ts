/**
 * Who may ask. One rule for every address but those that a client reads before it can know the rule (`metadata`) or that
 * watch the process (`health`). Tokens are compared by their SHA-256: the configuration holds no secret.
 */
import { createHash } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { RequestError } from '../errors.ts';

/**
 * @param authorization the header of the request
 * @throws RequestError UNAUTHENTICATED
 */
export type Access = (authorization: string | undefined) => Client;

export interface Client {
  /** For the record. */
  readonly name: string;
  /** Which filed results it may read: those of its own calls, or everybody's. */
  readonly reads: 'own' | 'all';
  /** Base URLs of FHIR servers that may be asked for what its hook calls lack. */
  readonly fhirServers: readonly string[];
}

/** Who a client is while the deployment asks nobody: named so in every record. */
export const openAccess = (fhirServers: readonly string[]): Client => ({
  name: 'open-access',
  reads: 'all',
  fhirServers,
});

/**
 * @param clients each with the SHA-256 of its bearer token, lower-case hexadecimal; null: the deployment asks nobody. A
 * client for which nothing else is said reads its own results: `Patient/1` of another may be another person.
 */
export function accessFor(
  clients:
    | readonly {
        name: string;
        tokenSha256?: string | undefined;
        reads?: Client['reads'] | undefined;
        fhirServers?: readonly string[] | undefined;
      }[]
    | null,
  openFhirServers: readonly string[] = [],
): Access {
  const anyone = openAccess(openFhirServers);
  if (!clients) return () => anyone;
  const byDigest = new Map(
    clients.map(({ name, tokenSha256, reads = 'own', fhirServers = [] }) => [
      tokenSha256,
      { name, reads, fhirServers },
    ]),
  );
  return (authorization) => {
    const token = /^Bearer ([A-Za-z0-9._~+/=-]+)$/i.exec(authorization ?? '')?.[1] ?? '';
    const client = byDigest.get(createHash('sha256').update(token, 'utf8').digest('hex'));
    if (!token || client === undefined) throw new RequestError('UNAUTHENTICATED');
    return client;
  };
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
export function refusalOf<T extends Error>(
  fault: T,
  { headers }: FastifyRequest,
  access: Access,
): T | RequestError {
  try {
    access(headers.authorization);
    return fault;
  } catch (refused) {
    return refused as RequestError;
  }
}

/** Before any body is read; what has no route is not told apart from what is not allowed. */
export function requireAccess(app: FastifyInstance, access: Access): void {
  app.decorateRequest('client');
  app.addHook('onRequest', async (request) => {
    if (request.routeOptions.config.open !== true) request.client = access(request.headers.authorization);
  });
}
