/** CDS Hooks: `GET /cds-services` and `POST /cds-services/{id}`. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { GRIP_INTERPRETATION, SERVICES } from '../../hooks/discovery.ts';
import { answerGripInterpretation } from '../../hooks/grip-interpretation.ts';
import { JSON_UTF8 } from '../media-type.ts';

export function cdsServicesRoutes(deps: EvaluateDeps): FastifyPluginAsync {
  const discovery = JSON.stringify({ services: SERVICES });
  return async (app) => {
    app.get('/cds-services', async (_request, reply) => reply.type(JSON_UTF8).send(discovery));
    app.post(`/cds-services/${GRIP_INTERPRETATION.id}`, async (request, reply) => {
      const cards = await answerGripInterpretation(deps, request.client.name, request.body);
      return reply.type(JSON_UTF8).send(cards);
    });
  };
}
