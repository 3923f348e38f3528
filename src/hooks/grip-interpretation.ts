/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type Asked, type EvaluateDeps, evaluate } from '../evaluate.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import { writeCards } from './cards.ts';
import { GRIP_INTERPRETATION } from './discovery.ts';
import { readHookCall } from './hook-request.ts';

/**
 * @param client who called; `open access` where the deployment does not ask
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export function answerGripInterpretation(deps: EvaluateDeps, client: string, body: unknown): Promise<string> {
  const { hook, instance, fhirServer, encounter, hasMore, userId, ...data } = readHookCall(
    body,
    GRIP_INTERPRETATION,
  );
  const asked: Asked = {
    door: 'cds-hooks',
    client,
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
