/**
 * Who may ask. One rule for every address but those that a client reads before it can know the rule (`metadata`) or that
 * watch the process (`health`). Tokens are compared by their SHA-256: the configuration holds no secret.
 */
import { createHash } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { RequestError } from '../errors.ts';

/**
 * @param authorization the header of the request
 * @returns name of the client, for the record
 * @throws RequestError UNAUTHENTICATED
 */
export type Access = (authorization: string | undefined) => string;

export interface Client {
  readonly name: string;
  /** SHA-256 of the bearer token, lower-case hexadecimal. */
  readonly tokenSha256: string;
}

/** Who a client is while the deployment asks nobody: named so in every record. */
const OPEN_ACCESS = 'open-access';

/** @param clients null: the deployment asks nobody */
export function accessFor(clients: readonly Client[] | null): Access {
  if (!clients) return () => OPEN_ACCESS;
  const byDigest = new Map(clients.map(({ name, tokenSha256 }) => [tokenSha256, name]));
  return (authorization) => {
    const token = /^Bearer ([A-Za-z0-9._~+/=-]+)$/i.exec(authorization ?? '')?.[1] ?? '';
    const name = byDigest.get(createHash('sha256').update(token, 'utf8').digest('hex'));
    if (!token || name === undefined) throw new RequestError('UNAUTHENTICATED');
    return name;
  };
}

declare module 'fastify' {
  interface FastifyRequest {
    /** Name of the client, once the request was let in. */
    client: string;
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
  app.decorateRequest('client', '');
  app.addHook('onRequest', async (request) => {
    if (request.routeOptions.config.open !== true) request.client = access(request.headers.authorization);
  });
}
