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
  /** A record that is no longer active: left out, listed as past, or counted as if it were active. */
  readonly whenPast: 'leave-out' | 'list' | 'count';
  /** Older records do not count; null: the date is shown and nothing is inferred from it. */
  readonly window: { readonly days: number } | null;
  /** What is usually done; a clause without a full stop. */
  readonly practice: string;
  /** What the practice rests on. */
  readonly basis: string;
  readonly said: string | null;
  readonly codes: readonly CautionCode[];
}

export interface TestingCautions {
  readonly ref: SetRef;
  readonly cautions: readonly TestingCaution[];
}

export type CautionState = 'current' | 'past' | 'planned' | 'unconfirmed';

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
}

export type CautionType = 'Condition' | 'Procedure' | 'Device' | 'Observation';

/** A record that may mean a caution and is not used. */
export interface UnusableRecord {
  readonly type: CautionType;
  /** Null where it has none that is well formed. */
  readonly reference: string | null;
  readonly why: 'malformed' | 'modifier' | 'subject' | 'future' | 'status';
}

export type Place = Hand | 'side-unknown' | 'person';

/** One line of the answer: a caution at a place, from its newest record. */
export interface ReadinessFinding {
  readonly caution: string;
  readonly place: Place;
  readonly weight: CautionWeight;
  readonly state: CautionState;
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
