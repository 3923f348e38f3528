/** CDS Hooks: `GET /cds-services` and `POST /cds-services/{id}`. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { hookServices } from '../../hooks/services.ts';
import { serviceBaseOf } from '../fhir-reply.ts';
import { JSON_UTF8 } from '../media-type.ts';

export function cdsServicesRoutes(
  deps: EvaluateDeps & { readonly publicUrl: string | null },
): FastifyPluginAsync {
  const services = hookServices({ chartedHook: null, localCodes: deps.localCodes });
  const discovery = JSON.stringify({ services: services.map(({ description }) => description) });
  return async (app) => {
    app.get('/cds-services', async (_request, reply) => reply.type(JSON_UTF8).send(discovery));
    for (const { description, answer, bodyLimitBytes } of services) {
      const limit = bodyLimitBytes === undefined ? {} : { bodyLimit: bodyLimitBytes };
      app.post(`/cds-services/${description.id}`, limit, async (request, reply) => {
        const { name, fhirServers } = request.client;
        const caller = { client: name, fhirServers, base: serviceBaseOf(request, deps.publicUrl) };
        return reply.type(JSON_UTF8).send(await answer(deps, caller, request.body));
      });
    }
  };
}
