/** The CDS Hooks services that this installation offers. */
import type { EvaluateDeps } from '../evaluate.ts';
import type { LocalCodes } from '../fhir/local-codes.ts';
import type { Caller } from './caller.ts';
import { describeGripInterpretation, type ServiceDescription } from './discovery.ts';
import { answerGripInterpretation } from './grip-interpretation.ts';
import { gripTestReadiness } from './grip-test-readiness.ts';

export interface HookService {
  readonly description: ServiceDescription;
  /** Largest body of a call; absent: that of the application. */
  readonly bodyLimitBytes?: number;
  /**
   * @returns `{cards}` as JSON text, after its record is on disk
   * @throws RequestError
   */
  answer(deps: EvaluateDeps, caller: Caller, body: unknown): Promise<string>;
}

export interface HookOptions {
  /** Name of the organisation's own hook; null: not offered. */
  readonly chartedHook: string | null;
  /** Absent: no local code is read. */
  readonly localCodes?: LocalCodes | undefined;
}

export function hookServices({ localCodes }: HookOptions): readonly HookService[] {
  return [
    { description: describeGripInterpretation(localCodes), answer: answerGripInterpretation },
    gripTestReadiness(localCodes),
  ];
}

/** Those of an installation without codes and hooks of its own. */
export const HOOK_SERVICES: readonly HookService[] = hookServices({ chartedHook: null });
