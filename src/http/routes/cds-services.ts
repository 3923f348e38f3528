/** CDS Hooks: `GET /cds-services` and `POST /cds-services/{id}`. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { HOOK_SERVICES } from '../../hooks/services.ts';
import { serviceBaseOf } from '../fhir-reply.ts';
import { JSON_UTF8 } from '../media-type.ts';
import { depsFor } from '../once-only.ts';

export function cdsServicesRoutes(
  deps: EvaluateDeps & { readonly publicUrl: string | null },
): FastifyPluginAsync {
  const discovery = JSON.stringify({ services: HOOK_SERVICES.map(({ description }) => description) });
  return async (app) => {
    app.get('/cds-services', async (_request, reply) => reply.type(JSON_UTF8).send(discovery));
    for (const { description, answer } of HOOK_SERVICES) {
      app.post(`/cds-services/${description.id}`, async (request, reply) => {
        const { name, tenant, fhirServers } = request.client;
        const caller = { client: name, tenant, fhirServers, base: serviceBaseOf(request, deps.publicUrl) };
        return reply.type(JSON_UTF8).send(await answer(depsFor(deps, request.client), caller, request.body));
      });
    }
  };
}
