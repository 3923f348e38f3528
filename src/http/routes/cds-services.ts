/** CDS Hooks: `GET /cds-services` and `POST /cds-services/{id}`; feedback is in its own file. */
import type { FastifyPluginAsync } from 'fastify';
import type { EvaluateDeps } from '../../evaluate.ts';
import { hookServices } from '../../hooks/services.ts';
import { serviceBaseOf } from '../fhir-reply.ts';
import { JSON_UTF8 } from '../media-type.ts';
import { depsFor } from '../once-only.ts';
import { feedbackRoutes } from './feedback.ts';

export interface HookDeps extends EvaluateDeps {
  /** Name of the organisation's own hook; absent or null: it is not offered. */
  readonly chartedHook?: string | null | undefined;
  /** Whether clients need credentials. */
  readonly isProtected: boolean;
  readonly publicUrl: string | null;
}

export function cdsServicesRoutes(deps: HookDeps): FastifyPluginAsync {
  const services = hookServices({ chartedHook: deps.chartedHook ?? null, localCodes: deps.localCodes });
  const discovery = JSON.stringify({ services: services.map(({ description }) => description) });
  return async (app) => {
    app.get('/cds-services', async (_request, reply) => reply.type(JSON_UTF8).send(discovery));
    for (const { description, bodyLimitBytes, answer } of services) {
      const options = bodyLimitBytes === undefined ? {} : { bodyLimit: bodyLimitBytes };
      app.post(`/cds-services/${description.id}`, options, async (request, reply) => {
        const { name, tenant, fhirServers } = request.client;
        const base = serviceBaseOf(request, deps.publicUrl);
        const caller = { client: name, tenant, fhirServers, base, pages: !deps.isProtected };
        return reply.type(JSON_UTF8).send(await answer(depsFor(deps, request.client), caller, request.body));
      });
    }
    app.register(feedbackRoutes(deps, services));
  };
}
