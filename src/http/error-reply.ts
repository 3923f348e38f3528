/** Every error leaves as an OperationOutcome with the text of the code table; the cause goes to the log only. */
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { REQUEST_ERRORS, RequestError, type RequestErrorCode } from '../errors.ts';
import { writeErrorOutcome } from '../fhir/write-operation-outcome.ts';
import { TokenRefusal } from '../trust/token-refusal.ts';
import { queryOf } from './fhir-reply.ts';
import { FHIR_JSON, JSON_UTF8, negotiate } from './media-type.ts';

/** What Fastify itself refuses. */
const FASTIFY_CODES: Readonly<Record<string, RequestErrorCode>> = {
  FST_ERR_CTP_BODY_TOO_LARGE: 'BODY_TOO_LARGE',
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'MEDIA_TYPE_UNSUPPORTED',
  FST_ERR_CTP_EMPTY_JSON_BODY: 'BODY_NOT_JSON',
  FST_ERR_CTP_INVALID_JSON_BODY: 'BODY_NOT_JSON',
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: 'BODY_NOT_JSON',
  FST_ERR_BAD_URL: 'NOT_FOUND',
  // Longer than any id.
  FST_ERR_MAX_PARAM_LENGTH: 'NOT_FOUND',
};

export function answerError(
  error: FastifyError | RequestError | Error,
  request: FastifyRequest,
  reply: FastifyReply,
): void {
  void reply.send(describeError(toRequestError(error), request, reply));
}

/** Sets status and headers. @returns the body */
export function describeError(error: RequestError, request: FastifyRequest, reply: FastifyReply): string {
  const { code, issues, cause } = error;
  const { status } = REQUEST_ERRORS[code];
  if (status >= 500) request.log.error({ code, err: cause }, 'request failed');
  else request.log.info({ code, ...reasonOf(cause), ...placesOf(error) }, 'request refused');
  // No reason: it would help who guesses.
  if (code === 'UNAUTHENTICATED') reply.header('www-authenticate', 'Bearer');
  if (code === 'NOT_RECORDED') reply.header('retry-after', '5');
  void reply.code(status).type(errorType(request));
  return JSON.stringify(writeErrorOutcome(code, issues));
}

/** Codes and configured names only: nothing that came with the token. */
function reasonOf(cause: unknown): { reason?: string; client?: string | null } {
  return cause instanceof TokenRefusal ? { reason: cause.reason, client: cause.client } : {};
}

/** Which prefetch keys were missing: they are ours, and their places hold nothing of the data. */
function placesOf({ code, issues }: RequestError): { at?: readonly (string | null)[] } {
  return code === 'PREFETCH_MISSING' ? { at: issues.slice(0, 5).map(({ expression }) => expression) } : {};
}

/** At the FHIR door as negotiated, or FHIR JSON where nothing was; plain JSON everywhere else. */
function errorType(request: FastifyRequest): string {
  if (!request.url.startsWith('/fhir')) return JSON_UTF8;
  try {
    return negotiate(request.headers.accept, queryOf(request).get('_format') ?? undefined);
  } catch {
    // The client accepts nothing that we have: it still has to be told so.
    return FHIR_JSON;
  }
}

function toRequestError(error: FastifyError | RequestError | Error): RequestError {
  if (error instanceof RequestError) return error;
  const code = 'code' in error ? FASTIFY_CODES[error.code] : undefined;
  return new RequestError(code ?? 'INTERNAL', [], { cause: error });
}

/** 404, or 405 with Allow where the address exists for other methods. */
export function answerNotFound(app: FastifyInstance): (request: FastifyRequest, reply: FastifyReply) => void {
  return (request, reply) => {
    const [path = ''] = request.url.split('?');
    const allowed = (['GET', 'HEAD', 'POST'] as const).filter(
      (method) => app.findRoute({ method, url: path }) !== null,
    );
    if (allowed.length > 0) reply.header('allow', allowed.join(', '));
    answerError(new RequestError(allowed.length > 0 ? 'METHOD_NOT_ALLOWED' : 'NOT_FOUND'), request, reply);
  };
}
