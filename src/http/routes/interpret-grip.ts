/** FHIR: `POST /fhir/Observation/$interpret-grip`. */
import type { FastifyPluginAsync, FastifyRequest } from 'fastify';
import { type Asked, type EvaluateDeps, evaluate, filingFor } from '../../evaluate.ts';
import { readInterpretRequest } from '../../fhir/read-request.ts';
import { type Returns, writeOperationAnswer } from '../../fhir/write-bundle.ts';
import { fhirBaseOf, replyFormOf, sendFhir } from '../fhir-reply.ts';

export interface OperationDeps extends EvaluateDeps {
  readonly publicUrl: string | null;
}

export function interpretGripRoute(deps: OperationDeps): FastifyPluginAsync {
  return async (app) => {
    app.post('/fhir/Observation/$interpret-grip', async (request, reply) => {
      const form = replyFormOf(request);
      const client = request.client.name;
      const base = fhirBaseOf(request, deps.publicUrl);
      const returns = returnsOf(request);
      const asked: Asked = {
        door: 'fhir-operation',
        client,
        user: null,
        hook: null,
        fhir: { base, returns },
      };
      const input = { ...readInterpretRequest(request.body), scope: 'every-session' as const };
      const answer = await evaluate(deps, asked, input, (evaluation) =>
        writeOperationAnswer(evaluation, filingFor(deps, { client, base }, evaluation), returns),
      );
      if (returns === 'OperationOutcome') reply.header('preference-applied', 'return=OperationOutcome');
      return sendFhir(reply, form, answer);
    });
  };
}

/**
 * `Prefer: return=minimal` gets the OperationOutcome too (STANDARDS X9): an empty reply would hide what could not be
 * interpreted.
 */
function returnsOf({ headers }: FastifyRequest): Returns {
  const asked = /(?:^|[,;])\s*return\s*=\s*"?([A-Za-z]+)"?/i.exec(String(headers.prefer ?? ''))?.[1];
  return ['operationoutcome', 'minimal'].includes(asked?.toLowerCase() ?? '')
    ? 'OperationOutcome'
    : 'representation';
}
