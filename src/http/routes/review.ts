/** Review pages: `GET /review/evaluations/{id}`. They have no sign-in, so they are served only while access is open. */
import { createHash } from 'node:crypto';
import type { FastifyPluginAsync, FastifyReply } from 'fastify';
import { RequestError } from '../../errors.ts';
import type { EvaluateDeps } from '../../evaluate.ts';
import { readRecordedEvaluation } from '../../recorded-evaluation.ts';
import { renderEvaluationPage, renderNotFoundPage } from '../../review/evaluation-page.ts';
import { STYLE } from '../../review/page.ts';

const STYLE_HASH = createHash('sha256').update(STYLE, 'utf8').digest('base64');
/** Nothing is loaded, run, framed or sent: the one stylesheet is named by its hash. */
const POLICY = `default-src 'none'; style-src 'sha256-${STYLE_HASH}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'`;

export function reviewRoutes({
  store,
  library,
}: Pick<EvaluateDeps, 'store' | 'library'>): FastifyPluginAsync {
  return async (app) => {
    app.get<{ Params: { id: string } }>('/review/evaluations/:id', async (request, reply) => {
      const page = pageOf(request.params.id.toLowerCase(), { store, library });
      if (page === undefined) return sendPage(reply.code(404), renderNotFoundPage());
      return sendPage(reply, page);
    });
  };
}

/** @throws RequestError NOT_RECORDED when the log cannot be read */
function pageOf(id: string, { store, library }: Pick<EvaluateDeps, 'store' | 'library'>): string | undefined {
  const stored = findRecord(id, store);
  if (stored?.kind !== 'evaluation') return undefined;
  const read = readRecordedEvaluation(stored, library);
  // A panel that was taken away since: its figures cannot be shown.
  if ('reason' in read) return undefined;
  const { evaluation, asked, findings } = read;
  const record = { seq: stored.seq, hash: stored.hash, recordedAt: stored.recorded_at };
  const isUnchanged = findings.recorded === findings.redone;
  return renderEvaluationPage({ evaluation, asked, record, isUnchanged });
}

function findRecord(id: string, store: EvaluateDeps['store']) {
  try {
    return store.findById(id);
  } catch (cause) {
    throw new RequestError('NOT_RECORDED', [], { cause });
  }
}

function sendPage(reply: FastifyReply, page: string): FastifyReply {
  return reply
    .type('text/html; charset=utf-8')
    .header('content-security-policy', POLICY)
    .header('referrer-policy', 'no-referrer')
    .header('x-robots-tag', 'noindex, nofollow')
    .send(page);
}
