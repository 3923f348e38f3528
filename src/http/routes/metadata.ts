/** FHIR: `GET /fhir/metadata`. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { writeCapabilityStatement } from '../../fhir/write-capability-statement.ts';
import { negotiate } from '../media-type.ts';

export function metadataRoute(deps: EvaluateDeps): FastifyPluginAsync {
  const statement = JSON.stringify(writeCapabilityStatement(deps.engine, deps.now().toISOString()));
  return async (app) => {
    app.get<{ Querystring: { _format?: unknown } }>('/fhir/metadata', async (request, reply) =>
      reply.type(negotiate(request.headers.accept, request.query._format)).send(statement),
    );
  };
}
