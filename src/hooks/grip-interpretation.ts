/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type Asked, type EvaluateDeps, evaluate } from '../evaluate.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import type { Caller } from './caller.ts';
import { writeCards } from './cards.ts';
import { describeGripInterpretation, GRIP_INTERPRETATION } from './discovery.ts';
import { readEnvelope } from './envelope.ts';
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
  const service = describeGripInterpretation(deps.localCodes);
  const { hasMore, ...data } = readHookData(envelope, await gather(envelope, service, caller));
  const { hook, instance, fhirServer, encounterId: encounter, userId } = envelope;
  const asked: Asked = {
    door: 'cds-hooks',
    client: caller.client,
    user: userId,
    hook: { service: GRIP_INTERPRETATION.id, hook, instance, fhirServer, encounter, hasMore },
  };
  const input = { ...data, prior: [], asOf: null, scope: 'latest-session' as const };
  return evaluate(deps, asked, input, (evaluation) => writeHookAnswer(evaluation, asked));
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
