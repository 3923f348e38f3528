/** The hook service `grip-interpretation`: a call -> cards, on record. */
import { type EvaluateDeps, evaluate } from '../evaluate.ts';
import { writeCards } from './cards.ts';
import { GRIP_INTERPRETATION } from './discovery.ts';
import { readHookCall } from './hook-request.ts';

/**
 * @param client who called; `open access` where the deployment does not ask
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export function answerGripInterpretation(deps: EvaluateDeps, client: string, body: unknown): Promise<string> {
  const call = readHookCall(body, GRIP_INTERPRETATION);
  const hook = { service: GRIP_INTERPRETATION.id, hook: call.hook, instance: call.instance };
  const asked = { door: 'cds-hooks' as const, client, user: call.userId, hook };
  const input = {
    patient: call.patient,
    observations: call.observations,
    prior: [],
    panelId: null,
    asOf: null,
    scope: 'latest-session' as const,
  };
  return evaluate(deps, asked, input, (evaluation) => {
    const cards = writeCards(evaluation, call.hasMore);
    return {
      body: { cards },
      returned: { cards: cards.map(({ uuid, indicator, summary }) => ({ uuid, indicator, summary })) },
    };
  });
}
