/** The CDS Hooks services that this installation offers. */
import type { EvaluateDeps } from '../evaluate.ts';
import type { Caller } from './caller.ts';
import { GRIP_INTERPRETATION, type ServiceDescription } from './discovery.ts';
import { answerGripInterpretation } from './grip-interpretation.ts';

export interface HookService {
  readonly description: ServiceDescription;
  /**
   * @returns `{cards}` as JSON text, after its record is on disk
   * @throws RequestError
   */
  answer(deps: EvaluateDeps, caller: Caller, body: unknown): Promise<string>;
}

export const HOOK_SERVICES: readonly HookService[] = [
  { description: GRIP_INTERPRETATION, answer: answerGripInterpretation },
];
