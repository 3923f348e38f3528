/**
 * FHIR: `POST /fhir` with a Bundle of type batch (STANDARDS X12). Each entry is a request of its own, let in, limited,
 * answered and recorded like one that came alone; one that fails does not touch the others.
 */
import type { FastifyInstance, FastifyPluginAsync, FastifyRequest } from 'fastify';
import type { Bundle, BundleEntry } from 'fhir/r4.js';
import { type BatchEntry, readBatch } from '../../fhir/read-batch.ts';
import { writeErrorOutcome } from '../../fhir/write-operation-outcome.ts';
import { replyFormOf, sendFhir } from '../fhir-reply.ts';

/** Several calls of `$interpret-grip` with a chart each. */
const BATCH_LIMIT_BYTES = 1024 * 1024;
/** All answers together: what comes after that is not done. */
const ANSWER_LIMIT_BYTES = 16 * 1024 * 1024;

export function fhirBatchRoute(): FastifyPluginAsync {
  return async (app) => {
    // Clients write the base address with a slash at its end and without.
    for (const url of ['/fhir', '/fhir/']) {
      app.post(url, { bodyLimit: BATCH_LIMIT_BYTES }, async (request, reply) => {
        const form = replyFormOf(request);
        const entry: BundleEntry[] = [];
        let bytes = 0;
        for (const each of readBatch(request.body)) {
          const answered = bytes > ANSWER_LIMIT_BYTES ? notDone() : await answerEntry(app, request, each);
          bytes += answered.bytes;
          entry.push(answered.entry);
        }
        const bundle: Bundle = { resourceType: 'Bundle', type: 'batch-response', entry };
        return sendFhir(reply, form, bundle);
      });
    }
  };
}

interface Answered {
  readonly entry: BundleEntry;
  readonly bytes: number;
}

function notDone(): Answered {
  const outcome = writeErrorOutcome('BATCH_TOO_COSTLY', []);
  return { entry: { response: { status: '422', outcome } }, bytes: 0 };
}

/** It leads nowhere on this server, or to the batch itself. */
function nowhere(): Answered {
  const text = 'request.url must be relative to the FHIR base, e.g. Observation?patient=1';
  const outcome = writeErrorOutcome('BODY_INVALID', [{ expression: null, text }]);
  return { entry: { response: { status: '400', outcome } }, bytes: 0 };
}

async function answerEntry(app: FastifyInstance, outer: FastifyRequest, each: BatchEntry): Promise<Answered> {
  const { method, path, resource, headers } = each;
  if (path === null) return nowhere();
  const { authorization } = outer.headers;
  const answer = await app.inject({
    method,
    url: path,
    headers: {
      ...headers,
      host: outer.host,
      accept: 'application/fhir+json',
      ...(resource === undefined ? {} : { 'content-type': 'application/fhir+json' }),
      ...(authorization === undefined ? {} : { authorization }),
    },
    ...(resource === undefined ? {} : { payload: JSON.stringify(resource) }),
  });
  const body = answer.payload === '' ? undefined : JSON.parse(answer.payload);
  const lastModified = answer.headers['last-modified'];
  const response = {
    status: String(answer.statusCode),
    etag: answer.headers.etag,
    lastModified: lastModified === undefined ? undefined : new Date(String(lastModified)).toISOString(),
    outcome: answer.statusCode >= 400 ? body : undefined,
  };
  return {
    entry: { ...(body && answer.statusCode < 400 ? { resource: body } : {}), response },
    bytes: answer.rawPayload.length,
  };
}
