/** What speaks against testing an arm: the released rule, a record as it was read, and what the core makes of them. */
import type { Hand } from './measurement.ts';
import type { SetRef } from './reference-set.ts';

/** `against`: an arm, or a test now; `care`: the test is done with care; `ask`: the record does not say enough. */
export type CautionWeight = 'against' | 'care' | 'ask';

/** One code that means a caution. */
export interface CautionCode {
  readonly system: string;
  readonly code: string;
  /** The label of the code system; it is shown, never what a record calls it. */
  readonly display: string;
  /** For a summary; absent: that of the caution. */
  readonly short?: string | undefined;
  /** It says nothing of an arm, only that one may have an access: what to ask where no other record names the arm. */
  readonly askUnsided?: string | undefined;
  /** Absent: that of the caution. */
  readonly weight?: CautionWeight | undefined;
  /** The side that the code names. */
  readonly hand?: Hand | 'both' | undefined;
  /** The side that it names by dominance; beside `hand` it only says which hand is dominant. */
  readonly dominance?: 'dominant' | 'nondominant' | undefined;
  /** It is about the brain: the side in a record may be that of the lesion, and the weak arm is the other one. */
  readonly siteOfLesion?: boolean | undefined;
  /** What the code does not say. */
  readonly remark?: string | undefined;
}

export interface TestingCaution {
  readonly id: string;
  readonly title: string;
  /** For a summary. */
  readonly short: string;
  readonly weight: CautionWeight;
  readonly scope: 'arm' | 'person';
  /** Whether it makes a card of its own while no test is due. */
  readonly whenNotDue: 'warn' | 'silent';
  /** A record that is no longer active: left out, listed as past, or counted as if it were active. */
  readonly whenPast: 'leave-out' | 'list' | 'count';
  /** What is asked of one that is past; this and the next clauses are without a full stop. */
  readonly askWhenPast: string | null;
  /** A record older than `longPast`: asked about, or past; null: it counts as before. */
  readonly whenLongPast: { readonly as: 'ask'; readonly question: string } | { readonly as: 'past' } | null;
  /** Older records are past; null: there is no published window. */
  readonly window: { readonly days: number; readonly said: string } | null;
  /** What is usually done. */
  readonly practice: string;
  /** Where the other arm is not free either; null: the practice names no other arm. */
  readonly practiceAlone: string | null;
  /** Where no side is known; null: as else. */
  readonly practiceUnsided: string | null;
  /** What is asked of one that was charted before today. */
  readonly askCharted: string | null;
  /** What the practice rests on. */
  readonly basis: string;
  readonly said: string | null;
  readonly codes: readonly CautionCode[];
}

export interface TestingCautions {
  readonly ref: SetRef;
  readonly cautions: readonly TestingCaution[];
  /** Records of acute illness that are older than this, and were never ended, are asked about. */
  readonly longPast: { readonly days: number };
}

export type CautionState = 'current' | 'past' | 'planned' | 'unconfirmed';
/** `maybe-done`: it was planned for a day that has come, and nothing says whether it was done. */
export type FindingState = CautionState | 'maybe-done';

/** A record that means a caution, as it was read. */
export interface CautionRead {
  /** Id of the caution. */
  readonly caution: string;
  /** e.g. `Condition/a`. */
  readonly reference: string;
  /** The codes of the record that mean it; a site's own code beside what it was mapped to. */
  readonly codes: readonly { readonly system: string; readonly code: string; readonly local?: string }[];
  /** The side by the body site, or by a site's own map. */
  readonly site: Hand | 'both' | null;
  /** It names a body site that is not read here. */
  readonly siteUnread?: true | undefined;
  /** It was charted with a value that is not read here. */
  readonly valueUnread?: true | undefined;
  /** Known by the body site of a Procedure, not by its code. */
  readonly bySiteOnly?: true | undefined;
  /** `YYYY`, `YYYY-MM` or `YYYY-MM-DD`; null: the record has none. */
  readonly date: string | null;
  readonly dateOf: 'onset' | 'recorded' | 'performed' | 'charted' | null;
  readonly state: CautionState;
  /** Of one that is past: how the record says so. */
  readonly pastAs?: PastAs | undefined;
}

export type PastAs = 'inactive' | 'remission' | 'resolved' | 'ended';

export type CautionType = 'Condition' | 'Procedure' | 'Device' | 'Observation';

/** A record that may mean a caution and is not used. */
export interface UnusableRecord {
  readonly type: CautionType;
  /** Null where it has none that is well formed. */
  readonly reference: string | null;
  readonly why: 'malformed' | 'modifier' | 'subject' | 'future' | 'status' | 'uncoded';
}

export type Place = Hand | 'side-unknown' | 'person';

/** One line of the answer: a caution at a place, from its newest record. */
export interface ReadinessFinding {
  readonly caution: string;
  readonly place: Place;
  readonly weight: CautionWeight;
  readonly state: FindingState;
  readonly pastAs?: PastAs | undefined;
  /** Past by the window of its caution, or by `longPast`; of one that still counts: older than `longPast`. */
  readonly olderThan?: 'window' | 'long-past' | undefined;
  /** It was planned, whatever its state is now. */
  readonly wasPlanned?: true | undefined;
  /** Only the year or the month is known, and it decides whether it is within the window. */
  readonly dateCoarse?: 'year' | 'month' | undefined;
  readonly reference: string;
  /** Older records that say the same. */
  readonly others: readonly string[];
  /** The code that says most; null where it is known by its body site. */
  readonly code: { readonly system: string; readonly code: string; readonly local?: string } | null;
  readonly date: string | null;
  readonly dateOf: CautionRead['dateOf'];
  /** Days before today; absent where the date is not known to the day. */
  readonly daysAgo?: number | undefined;
  /** Why there is no side: none in the record; one that is not read here; that of the lesion; two; the writing hand. */
  readonly noSide?: 'none' | 'unread' | 'lesion' | 'contradiction' | 'handedness' | undefined;
  /** The side follows from the writing hand. */
  readonly byHandedness?: true | undefined;
  /** The code says that the other hand writes. */
  readonly handednessDiffers?: true | undefined;
  readonly valueUnread?: true | undefined;
  /** Its caution has a window, and it has no date. */
  readonly dateMissing?: true | undefined;
}
