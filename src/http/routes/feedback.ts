/** CDS Hooks: `POST /cds-services/{id}/feedback`, for every service. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { recordFeedback } from '../../hooks/feedback.ts';
import type { HookService } from '../../hooks/services.ts';
import { depsFor } from '../once-only.ts';

/** The specification gives the answer no body: 200 without one, as its other answers are 200 (STANDARDS F6). */
export function feedbackRoutes(deps: EvaluateDeps, services: readonly HookService[]): FastifyPluginAsync {
  return async (app) => {
    for (const { description } of services) {
      const service = description.id;
      app.post(`/cds-services/${service}/feedback`, async (request, reply) => {
        const { name, tenant } = request.client;
        const from = { client: name, ...(tenant === null ? {} : { tenant }), service };
        await recordFeedback(depsFor(deps, request.client), from, request.body);
        return reply.code(200).send();
      });
    }
  };
}
