/** A token that may be used once: nothing leaves before it is on disk that it was used, and that it was used here first. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { RequestError } from '../errors.ts';
import type { EvaluateDeps } from '../evaluate.ts';
import type { Client } from './access.ts';
import { describeError } from './error-reply.ts';

/** Of the answer that is not given. */
const NOT_OF_THE_REFUSAL = ['allow', 'etag', 'last-modified', 'preference-applied', 'retry-after'];

/** Waits for the commit that the record of the call went to disk with, or asks for one; then the answer may leave. */
export function answerOnce(app: FastifyInstance): void {
  app.addHook('onSend', async (request, reply, payload) => {
    // Absent when the request was not let in.
    const { claim } = (request.client as Client | undefined) ?? {};
    if (!claim) return payload;
    try {
      if (await claim.kept()) return payload;
    } catch (cause) {
      return refuse(request, reply, new RequestError('NOT_RECORDED', [], { cause }));
    }
    return refuse(request, reply, new RequestError('UNAUTHENTICATED'));
  });
}

function refuse(request: FastifyRequest, reply: FastifyReply, error: RequestError): string {
  for (const name of NOT_OF_THE_REFUSAL) reply.removeHeader(name);
  return describeError(error, request, reply);
}

/** Dependencies of one call: its record is written only if its token was used here first. */
export function depsFor<T extends EvaluateDeps>(deps: T, { claim }: Client): T {
  if (!claim) return deps;
  const { store } = deps;
  return { ...deps, store: { ...store, append: (entry) => store.append({ ...entry, claim }) } };
}
