/**
 * Every exchange under `/cds-services` of an application under test is judged while it happens; `tests/setup.ts` fails the
 * test in which a rule was broken, so that no call of any test can escape.
 */
import type { FastifyInstance } from 'fastify';

const broken: string[] = [];
let judged = 0;

/** Before `app.ready()`. */
export function watchReplies(app: FastifyInstance): void {
  app.addHook('onSend', async ({ method, url, body }, reply, payload) => {
    if (!url.startsWith('/cds-services')) return;
    // Only who calls a hook service pays for the engine.
    const { judgeExchange } = await import('./hooks/judge-exchange.ts');
    const text = typeof payload === 'string' || Buffer.isBuffer(payload) ? String(payload) : '';
    const faults = judgeExchange({ method, url, status: reply.statusCode, asked: body, text });
    judged += 1;
    for (const fault of faults) broken.push(`${method} ${url}: ${fault}`);
  });
}

/** What was broken since the last time; from here on it is forgotten. */
export function takeBrokenRules(): readonly string[] {
  return broken.splice(0);
}

/** Exchanges judged so far in this test file. */
export function countJudged(): number {
  return judged;
}
