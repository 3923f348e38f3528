/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type Asked, type EvaluateDeps, evaluate } from '../evaluate.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import type { Caller } from './caller.ts';
import { writeCards } from './cards.ts';
import { GRIP_INTERPRETATION } from './discovery.ts';
import { type Envelope, readEnvelope } from './envelope.ts';
import { type GatheredData, gather } from './gather.ts';
import type { HookFacts } from './hook-facts.ts';
import { readHookData } from './hook-request.ts';

/**
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerGripInterpretation(
  deps: EvaluateDeps,
  caller: Caller,
  body: unknown,
): Promise<string> {
  const envelope = readEnvelope(body, GRIP_INTERPRETATION);
  const data = await gather(envelope, GRIP_INTERPRETATION, caller);
  return answerReading(deps, { caller, envelope, data, service: GRIP_INTERPRETATION.id });
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
  /** What the service has on record besides. */
  readonly facts?: Pick<HookFacts, 'stay' | 'charted'>;
  /** Entries of the context that were just charted. */
  readonly charted?: Parameters<typeof readHookData>[2];
}

/**
 * Reads the newest session, whichever hook asked.
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerReading(
  deps: EvaluateDeps,
  { caller, envelope, data, service, facts, charted }: GatheredCall,
): Promise<string> {
  const { hasMore, ...read } = readHookData(envelope, data, charted);
  const { hook, instance, fhirServer, encounterId: encounter, userId } = envelope;
  const unread = unreadKeys(data);
  const asked: Asked = {
    door: 'cds-hooks',
    client: caller.client,
    user: userId,
    hook: {
      ...{ service, hook, instance, fhirServer, encounter, hasMore },
      ...(unread.length > 0 ? { unread } : {}),
      ...(caller.pages ? { base: caller.base } : {}),
      ...facts,
    },
  };
  const input = { ...read, prior: [], asOf: null, scope: 'latest-session' as const };
  return evaluate(deps, asked, input, (evaluation) => writeHookAnswer(evaluation, asked));
}

/** Optional keys that could not be had; what the client says is not there is not among them. */
function unreadKeys(data: GatheredData): readonly string[] {
  return Object.entries(data).flatMap(([key, { state }]) => (state === 'missing' ? [key] : []));
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
