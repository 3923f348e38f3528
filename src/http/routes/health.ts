/** `GET /health/live` and `GET /health/ready`, for whoever watches the process. */
import type { FastifyPluginAsync } from 'fastify';
import { RequestError } from '../../errors.ts';
import type { EvaluateDeps } from '../../evaluate.ts';

export function healthRoutes(deps: EvaluateDeps): FastifyPluginAsync {
  return async (app) => {
    app.get('/health/live', { config: { open: true } }, async () => ({ status: 'live' }));
    app.get('/health/ready', { config: { open: true } }, async () => {
      const { version } = deps.engine;
      try {
        return { status: 'ready', version, records: deps.store.head().seq };
      } catch (cause) {
        throw new RequestError('NOT_RECORDED', [], { cause });
      }
    });
  };
}
