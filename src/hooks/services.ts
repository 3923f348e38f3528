/** The CDS Hooks services that this installation offers. */
import type { EvaluateDeps } from '../evaluate.ts';
import type { LocalCodes } from '../fhir/local-codes.ts';
import type { Caller } from './caller.ts';
import {
  GRIP_INTERPRETATION,
  gripInterpretationCharted,
  gripInterpretationDischarge,
  type ServiceDescription,
} from './discovery.ts';
import { answerGripInterpretation } from './grip-interpretation.ts';
import { answerGripInterpretationCharted } from './grip-interpretation-charted.ts';
import { answerGripInterpretationDischarge } from './grip-interpretation-discharge.ts';

export interface HookService {
  readonly description: ServiceDescription;
  /** Largest body of one call, in bytes; absent: as for every other address. */
  readonly bodyLimitBytes?: number | undefined;
  /**
   * @returns `{cards}` as JSON text, after its record is on disk
   * @throws RequestError
   */
  answer(deps: EvaluateDeps, caller: Caller, body: unknown): Promise<string>;
}

/** What the services of an installation depend on. */
export interface HookOptions {
  /** Name of the organisation's own hook; null: it is not offered. */
  readonly chartedHook: string | null;
  /** The site's own codes, for templates that follow them; absent: none. */
  readonly localCodes?: LocalCodes | undefined;
}

/** In the order in which discovery names them. */
export function hookServices({ chartedHook }: HookOptions): readonly HookService[] {
  return [
    { description: GRIP_INTERPRETATION, answer: answerGripInterpretation },
    dischargeService(),
    ...(chartedHook === null ? [] : [chartedService(chartedHook)]),
  ];
}

function dischargeService(): HookService {
  const description = gripInterpretationDischarge(GRIP_INTERPRETATION);
  return {
    description,
    answer: (deps, caller, body) => answerGripInterpretationDischarge(description, { deps, caller, body }),
  };
}

function chartedService(hook: string): HookService {
  const description = gripInterpretationCharted(hook, GRIP_INTERPRETATION);
  return {
    description,
    answer: (deps, caller, body) => answerGripInterpretationCharted(description, { deps, caller, body }),
  };
}
