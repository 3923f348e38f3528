/** The one application, for production and for tests: limits, parsers, error replies, routes. */
import Fastify, { type FastifyBaseLogger, type FastifyInstance, LogController } from 'fastify';
import type { DocumentReader } from '../document.ts';
import type { EvaluateDeps } from '../evaluate.ts';
import { type Access, refusalOf, requireAccess } from './access.ts';
import { allowOrigins } from './browser-clients.ts';
import { answerError, answerNotFound } from './error-reply.ts';
import { acceptOnlyJson } from './json-body.ts';
import { answerOnce } from './once-only.ts';
import { cdsServicesRoutes } from './routes/cds-services.ts';
import { fhirBatchRoute } from './routes/fhir-batch.ts';
import { fhirResourceRoutes } from './routes/fhir-resources.ts';
import { healthRoutes } from './routes/health.ts';
import { interpretGripRoute } from './routes/interpret-grip.ts';
import { metadataRoute } from './routes/metadata.ts';
import { reviewRoutes } from './routes/review.ts';

export interface AppDeps extends EvaluateDeps {
  readonly logger: FastifyBaseLogger | false;
  /** Profiles, terminology and reference sets of this installation, as FHIR resources. */
  readonly definitions: DocumentReader;
  readonly access: Access;
  /** Whether `access` asks for credentials. */
  readonly isProtected: boolean;
  /** Address of the service as its clients know it, without a slash at its end; null: as each request says. */
  readonly publicUrl: string | null;
  /** Name of the organisation's own hook; absent or null: it is not offered. */
  readonly chartedHook?: string | null | undefined;
  /** Origins of pages that may read answers; absent: none. */
  readonly corsOrigins?: readonly string[];
}

/** Largest body of one call: some 200 trial Observations. */
export const BODY_LIMIT_BYTES = 256 * 1024;

export function buildApp(deps: AppDeps): FastifyInstance {
  const app = Fastify({
    ...(deps.logger ? { loggerInstance: deps.logger } : { logger: false }),
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: BODY_LIMIT_BYTES,
    requestTimeout: 10_000,
    connectionTimeout: 30_000,
    keepAliveTimeout: 10_000,
    http: { headersTimeout: 5_000, connectionsCheckingInterval: 1_000, maxHeaderSize: 8 * 1024 },
    routerOptions: { ignoreTrailingSlash: false },
    genReqId: () => deps.newId(),
    frameworkErrors: (error, request, reply) => {
      void refusalOf(error, request, deps.access).then((told) => answerError(told, request, reply));
    },
    clientErrorHandler: answerClientError,
  });
  acceptOnlyJson(app);
  allowOrigins(app, deps.corsOrigins ?? []);
  // After the one above is there: a browser is answered first.
  app.after(() => requireAccess(app, deps.access));
  answerOnce(app);
  app.setErrorHandler(answerError);
  app.setNotFoundHandler(answerNotFound(app));
  // A keep-alive connection would hold up a stop: it is closed with its next answer.
  let stopping = false;
  app.addHook('preClose', async () => {
    stopping = true;
  });
  app.addHook('onSend', async (_request, reply) => {
    if (stopping) reply.header('connection', 'close');
    reply.header('cache-control', 'no-store');
    reply.header('x-content-type-options', 'nosniff');
  });
  logAnswers(app);
  registerRoutes(app, deps);
  return app;
}

function registerRoutes(app: FastifyInstance, deps: AppDeps): void {
  app.register(cdsServicesRoutes(deps));
  app.register(interpretGripRoute(deps));
  app.register(fhirResourceRoutes({ ...deps, results: deps.store }));
  app.register(fhirBatchRoute());
  app.register(
    metadataRoute({
      engine: deps.engine,
      startedAt: deps.now().toISOString(),
      base: deps.publicUrl === null ? null : `${deps.publicUrl}/fhir`,
      isProtected: deps.isProtected,
    }),
  );
  if (!deps.isProtected) app.register(reviewRoutes(deps));
  app.register(healthRoutes(deps));
}

/** The route, never the address: a query or path may name a person. */
function logAnswers(app: FastifyInstance): void {
  app.addHook('onResponse', async (request, reply) => {
    const route = request.routeOptions.url ?? 'no route';
    const ms = Math.round(reply.elapsedTime * 100) / 100;
    request.log.info({ method: request.method, route, status: reply.statusCode, ms }, 'answered');
  });
}

/** Bytes that are not HTTP: the shortest possible answer, and the connection is closed. */
function answerClientError(error: NodeJS.ErrnoException, socket: import('node:net').Socket): void {
  if (error.code === 'ECONNRESET' || !socket.writable) return;
  const status = error.code === 'ERR_HTTP_REQUEST_TIMEOUT' ? '408 Request Timeout' : '400 Bad Request';
  socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
}
