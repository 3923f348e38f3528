/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type Asked, type EvaluateDeps, evaluate } from '../evaluate.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import type { Caller } from './caller.ts';
import { writeCards } from './cards.ts';
import { GRIP_INTERPRETATION } from './discovery.ts';
import { readEnvelope } from './envelope.ts';
import { keysOfRecord, requireFetchedUsable } from './fetch-record.ts';
import { gather } from './gather.ts';
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
  const gathered = await gather(envelope, GRIP_INTERPRETATION, caller, deps);
  return requireFetchedUsable(gathered, async () => {
    const { hasMore, ...data } = readHookData(envelope, gathered);
    const { hook, instance, fhirServer, encounterId: encounter, userId } = envelope;
    const service = GRIP_INTERPRETATION.id;
    const asked: Asked = {
      door: 'cds-hooks',
      client: caller.client,
      user: userId,
      hook: { service, hook, instance, fhirServer, encounter, hasMore, ...keysOfRecord(gathered) },
    };
    const input = { ...data, prior: [], asOf: null, scope: 'latest-session' as const };
    return evaluate(deps, asked, input, (evaluation) => writeHookAnswer(evaluation, asked));
  });
}

/** Cards are written for clinicians: a patient or relative who views the record gets none. */
export function writeHookAnswer(
  evaluation: Evaluation,
  { user, hook }: Pick<Asked, 'user' | 'hook'>,
): Answer {
  const isClinician = /^Practitioner(Role)?\//.test(user ?? '');
  const cards = isClinician ? writeCards(evaluation, hook?.hasMore ?? false) : [];
  return {
    body: { cards },
    returned: { cards: cards.map(({ uuid, indicator, summary }) => ({ uuid, indicator, summary })) },
  };
}
