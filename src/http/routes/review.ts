/** Review pages: `GET /review/evaluations/{id}`. They have no sign-in, so they are served only while access is open. */
import { createHash } from 'node:crypto';
import type { FastifyPluginAsync, FastifyReply } from 'fastify';
import type { StoredRecord } from '../../audit/audit-record.ts';
import { RequestError } from '../../errors.ts';
import type { EvaluateDeps } from '../../evaluate.ts';
import type { FeedbackContent } from '../../hooks/feedback.ts';
import { findReasonDisplay } from '../../hooks/override-reasons.ts';
import { readRecordedEvaluation } from '../../recorded-evaluation.ts';
import {
  type ReviewedFeedback,
  renderEvaluationPage,
  renderNotFoundPage,
} from '../../review/evaluation-page.ts';
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
  const stored = fromLog(() => store.findById(id));
  if (stored?.kind !== 'evaluation') return undefined;
  const read = readRecordedEvaluation(stored, library);
  // A panel that was taken away since: its figures cannot be shown.
  if ('reason' in read) return undefined;
  const { evaluation, asked, findings } = read;
  const record = { seq: stored.seq, hash: stored.hash, recordedAt: stored.recorded_at };
  const isUnchanged = findings.recorded === findings.redone;
  const feedback = fromLog(() => store.recordsAbout(id)).flatMap(readFeedbackRecord);
  return renderEvaluationPage({ evaluation, asked, record, isUnchanged, feedback });
}

/** Nothing for a record of another kind that is about the evaluation. */
function readFeedbackRecord({ kind, record, recorded_at }: StoredRecord): readonly ReviewedFeedback[] {
  if (kind !== 'feedback') return [];
  const { outcome, overrideReason }: FeedbackContent = JSON.parse(record).content;
  const { reason, userComment } = overrideReason ?? {};
  const coded = reason && (reason.display ?? findReasonDisplay(reason) ?? `${reason.system}|${reason.code}`);
  const said = [coded, userComment && `"${userComment}"`].filter(Boolean).join(' ');
  return [{ at: recorded_at, outcome, reason: said || null }];
}

function fromLog<T>(look: () => T): T {
  try {
    return look();
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
