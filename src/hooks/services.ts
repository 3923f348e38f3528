/** The CDS Hooks services that this installation offers. */
import type { EvaluateDeps } from '../evaluate.ts';
import type { LocalCodes } from '../fhir/local-codes.ts';
import type { Caller } from './caller.ts';
import {
  describeGripInterpretation,
  gripInterpretationCharted,
  gripInterpretationDischarge,
  type ServiceDescription,
} from './discovery.ts';
import { answerGripInterpretation, type HookCall } from './grip-interpretation.ts';
import { answerGripInterpretationCharted } from './grip-interpretation-charted.ts';
import { answerGripInterpretationDischarge } from './grip-interpretation-discharge.ts';
import { answerReadiness, describeReadiness, READINESS_LIMIT_BYTES } from './grip-test-readiness.ts';

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
export function hookServices({ chartedHook, localCodes }: HookOptions): readonly HookService[] {
  const reading = describeGripInterpretation(localCodes);
  return [
    serviceOf(reading, answerGripInterpretation),
    serviceOf(gripInterpretationDischarge(reading), answerGripInterpretationDischarge),
    {
      ...serviceOf(describeReadiness(localCodes), answerReadiness),
      bodyLimitBytes: READINESS_LIMIT_BYTES,
    },
    ...(chartedHook === null
      ? []
      : [serviceOf(gripInterpretationCharted(chartedHook, reading), answerGripInterpretationCharted)]),
  ];
}

function serviceOf(
  description: ServiceDescription,
  answer: (service: ServiceDescription, call: HookCall) => Promise<string>,
): HookService {
  return { description, answer: (deps, caller, body) => answer(description, { deps, caller, body }) };
}
