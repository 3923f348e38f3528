/** FHIR: `POST /fhir/Observation/$interpret-grip`. */
import type { FastifyPluginAsync } from 'fastify';
import { type EvaluateDeps, evaluate } from '../../evaluate.ts';
import { readInterpretRequest } from '../../fhir/read-request.ts';
import { writeOperationAnswer } from '../../fhir/write-bundle.ts';
import { negotiate } from '../media-type.ts';
import { OPEN_ACCESS } from '../open-access.ts';

export function interpretGripRoute(deps: EvaluateDeps): FastifyPluginAsync {
  return async (app) => {
    app.post<{ Querystring: { _format?: unknown } }>(
      '/fhir/Observation/$interpret-grip',
      async (request, reply) => {
        const mediaType = negotiate(request.headers.accept, request.query._format);
        const input = { ...readInterpretRequest(request.body), scope: 'every-session' as const };
        const asked = { door: 'fhir-operation' as const, client: OPEN_ACCESS, user: null, hook: null };
        const bundle = await evaluate(deps, asked, input, writeOperationAnswer);
        return reply.type(mediaType).send(bundle);
      },
    );
  };
}
