/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type Asked, type EvaluateDeps, evaluate } from '../evaluate.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import { askedByHook } from './asked-by-hook.ts';
import type { Caller } from './caller.ts';
import { writeCards } from './cards.ts';
import type { ServiceDescription } from './discovery.ts';
import { type Envelope, readEnvelope } from './envelope.ts';
import { requireFetchedUsable } from './fetch-record.ts';
import { type GatheredData, gather } from './gather.ts';
import type { HookFacts } from './hook-facts.ts';
import { readHookData } from './hook-request.ts';

/**
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerGripInterpretation(
  service: ServiceDescription,
  { deps, caller, body }: HookCall,
): Promise<string> {
  const envelope = readEnvelope(body, service);
  const data = await gather(envelope, service, caller, deps);
  return answerReading(deps, { caller, envelope, data, service: service.id });
}

/** A call as it comes in. */
export interface HookCall {
  readonly deps: EvaluateDeps;
  readonly caller: Caller;
  readonly body: unknown;
}

/** A call whose data are together. */
export interface GatheredCall {
  readonly caller: Caller;
  readonly envelope: Envelope;
  readonly data: GatheredData;
  /** Id of the service that was called. */
  readonly service: string;
  /** What the service has on record besides; read with the data, and may refuse them. */
  readonly readFacts?: () => Pick<HookFacts, 'stay' | 'charted'>;
  /** Entries of the context that were just charted. */
  readonly charted?: Parameters<typeof readHookData>[2];
}

/**
 * Reads the newest session, whichever hook asked.
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export function answerReading(
  deps: EvaluateDeps,
  { caller, envelope, data, service, readFacts, charted }: GatheredCall,
): Promise<string> {
  return requireFetchedUsable(data, async () => {
    const { hasMore, ...read } = readHookData(envelope, data, charted);
    const asked = askedByHook(
      caller,
      envelope,
      { data },
      { service, hasMore, ...(caller.pages ? { base: caller.base } : {}), ...readFacts?.() },
    );
    const input = { ...read, prior: [], asOf: null, scope: 'latest-session' as const };
    return evaluate(deps, asked, input, (evaluation) => writeHookAnswer(evaluation, asked));
  });
}

/** Cards are written for clinicians: a patient or relative who views the record gets none. */
export function writeHookAnswer(
  evaluation: Evaluation,
  { user, hook }: Pick<Asked, 'user' | 'hook'>,
): Answer {
  const isClinician = /^Practitioner(Role)?\//.test(user ?? '');
  const cards = isClinician && hook ? writeCards(evaluation, hook) : [];
  return {
    body: { cards },
    returned: { cards: cards.map(({ uuid, indicator, summary }) => ({ uuid, indicator, summary })) },
  };
}
