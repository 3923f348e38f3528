/** What one evaluation came to: everything that an answer is written from, whichever door it leaves by. */
import type { DocumentDraft, DocumentRevision } from './document.ts';
import type { Interpretation, Refusal } from './interpret/finding.ts';
import type { InterpretInput } from './interpret/interpret.ts';
import type { HandFigure, Sex } from './interpret/measurement.ts';
import type { AppliedPanel } from './reference/library.ts';
import type { Notice } from './wording/notices.ts';

export interface Evaluation {
  /** UUID; the key of its audit record. */
  readonly id: string;
  /** RFC 3339, UTC. */
  readonly at: string;
  readonly engine: { readonly name: string; readonly version: string };
  /** Reference of the patient in the request, e.g. `Patient/1`. */
  readonly patient: string;
  readonly panel: AppliedPanel;
  /** The sex used and the element it came from. */
  readonly sex: { readonly sex: Sex | null; readonly source: string };
  readonly input: InterpretInput;
  /** Measurements that could not be read; refusals of sessions and sets are in `interpretations`. */
  readonly refusals: readonly Refusal[];
  /** FHIRPath in the request of each trial, by its reference. */
  readonly expressions: ReadonlyMap<string, string>;
  /** What is said of the request itself; absent when there is nothing to say. */
  readonly notices?: readonly Notice[] | undefined;
  /** The map of local codes, where it translated something. */
  readonly localCodes?:
    | { readonly url: string; readonly version: string; readonly sha256: string }
    | undefined;
  /** References of the Observations that say which hand writes; absent when there are none. */
  readonly handedness?: readonly string[] | undefined;
  /** The Observations of the request, by their names; absent in a replay, which files nothing. */
  readonly sent?: Sent | undefined;
  /** Observations of the request that say that they were changed; absent when there are none. */
  readonly corrections?: readonly Correction[] | undefined;
  /** Oldest session first. */
  readonly interpretations: readonly Interpretation[];
}

export interface Sent {
  /** What each says, as far as it was read; empty where it could not be read. */
  readonly all: ReadonlyMap<string, string>;
  /** Those that were not given for change only. */
  readonly interpreted: ReadonlySet<string>;
}

/** An Observation whose status says that it is not what it was. */
export interface Correction {
  /** Without its version, e.g. `Observation/a`. */
  readonly reference: string;
  readonly status: 'amended' | 'corrected' | 'cancelled' | 'entered-in-error';
}

/** A new version of a filed result. */
export interface Revision {
  /** Of the result. */
  readonly id: string;
  readonly version: number;
  readonly kind: 'withdrawn' | 'replaced' | 'reinstated';
  /** Of one withdrawn: what was changed. */
  readonly because?: Correction | undefined;
}

/** What became of a filed result: its latest version, and the evaluation that made it. */
export interface ResultState extends Omit<Revision, 'id'> {
  readonly record: string;
  /** RFC 3339, UTC. */
  readonly at: string;
}

/** Where a result came from: the evaluation that filed it first. */
export interface Origin {
  /** Id of that evaluation. */
  readonly record: string;
  /** RFC 3339, UTC. */
  readonly at: string;
  /** Absent: as it was filed. */
  readonly state?: ResultState | undefined;
  /** It was removed since then: it is not given out again. */
  readonly removed?: true | undefined;
}

/** What an evaluation finds on record of the same chart. */
export interface Revisions {
  /** Results that it withdraws or replaces, unless it gives them again. */
  readonly found: readonly Revision[];
  /** How many current results rest on trials sent now and on others that were not. */
  readonly inPart: number;
  /** Observations read now that were taken back before. */
  readonly readAgain: readonly string[];
}

/** What filing needs to know: a result that was filed before is given out as it was, and not filed again. */
export interface Filing {
  /** Whose results: `Patient/1` of another client is another patient. */
  readonly client: string;
  /** Address of the FHIR door as the client knows it, without a slash at its end. */
  readonly base: string;
  /** Undefined: not filed yet. */
  filedBefore(type: string, id: string): Origin | undefined;
  readonly revisions: Revisions;
}

/** The reply and what the record keeps of it. */
export interface Answer {
  readonly body: unknown;
  /** Small JSON data: card ids and summaries, number of resources. */
  readonly returned: Readonly<Record<string, unknown>> & {
    /** The record is found by their uuids when feedback comes in. */
    readonly cards?: readonly { readonly uuid: string }[] | undefined;
  };
  /** What can be asked for again, filed in the commit of the record. */
  readonly documents?: readonly DocumentDraft[] | undefined;
  readonly revisions?: readonly DocumentRevision[] | undefined;
}

/** The trials that one interpretation rests on, and the charted summaries in their place, as they were read. */
export function usedTrials({ input }: Evaluation, { trials }: Interpretation): readonly HandFigure[] {
  return input.sessions
    .flatMap((session) => [...session.trials, ...(session.charted ?? [])])
    .filter(({ reference }) => trials.includes(reference));
}
