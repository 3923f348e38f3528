/** FHIR: `GET /fhir/metadata`, which a client reads before it can know how to be let in. */
import { createHash } from 'node:crypto';
import type { FastifyPluginAsync } from 'fastify';
import { type Instance, writeCapabilityStatement } from '../../fhir/write-capability-statement.ts';
import { isHeldBy, replyFormOf, sendFhir } from '../fhir-reply.ts';

export function metadataRoute(instance: Instance): FastifyPluginAsync {
  const statement = JSON.stringify(writeCapabilityStatement(instance));
  const etag = `W/"${createHash('sha256').update(statement, 'utf8').digest('hex').slice(0, 16)}"`;
  return async (app) => {
    app.get('/fhir/metadata', { config: { open: true } }, async (request, reply) => {
      const form = replyFormOf(request);
      reply.header('etag', etag);
      if (isHeldBy(request, etag, instance.startedAt)) return reply.code(304).send();
      return sendFhir(reply, form, statement);
    });
  };
}
