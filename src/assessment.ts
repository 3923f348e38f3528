/** What one assessment of readiness for a test came to: everything that its card is written from. */
import type { Readiness, ReadinessInput } from './interpret/readiness.ts';
import type { UnusableRecord } from './interpret/testing-caution.ts';
import type { AppliedPanel, CautionsRule } from './reference/library.ts';

/** What could not be looked at. */
export interface ReadinessGaps {
  /** Prefetch keys that could not be had. */
  readonly missing: readonly string[];
  /** Prefetch keys of which the client holds further pages. */
  readonly more: readonly string[];
  /** Cautions that have no standard code here, and no code of the site either. */
  readonly unmapped: readonly string[];
  /** Records that may mean a caution and could not be used. */
  readonly unusable: readonly UnusableRecord[];
  /** Grip measurements or handedness of the call are malformed: none of them was used. */
  readonly gripMalformed?: true | undefined;
  /** Grip measurements that could not be used, one by one. */
  readonly gripUnused: number;
  /** `YYYY-MM-DD` of the newest of them, where one says its day. */
  readonly gripUnusedNewest?: string | undefined;
}

export interface Assessment {
  /** UUID; the key of its audit record. */
  readonly id: string;
  /** RFC 3339, UTC. */
  readonly at: string;
  readonly engine: { readonly name: string; readonly version: string };
  /** Reference of the patient in the request, e.g. `Patient/1`. */
  readonly patient: string;
  readonly panel: AppliedPanel;
  readonly rule: CautionsRule;
  readonly input: ReadinessInput;
  readonly gaps: ReadinessGaps;
  /** The record says that the person has died: there is nothing to say. */
  readonly deceased: boolean;
  /** The map of local codes, where it translated something. */
  readonly localCodes?:
    | { readonly url: string; readonly version: string; readonly sha256: string }
    | undefined;
  readonly readiness: Readiness;
}

/** The reply and what the record keeps of it. */
export interface AssessmentAnswer {
  readonly body: unknown;
  readonly returned: {
    readonly cards: readonly {
      readonly uuid: string;
      readonly indicator: string;
      readonly summary: string;
    }[];
  };
}
