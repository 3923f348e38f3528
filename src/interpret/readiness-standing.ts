/** Where a record stands today: current, past, planned, or nobody can tell. Calendar arithmetic only: no clock. */
import { daysFromTo, latestDayOf } from './age.ts';
import type {
  CautionRead,
  CautionWeight,
  FindingState,
  ReadinessFinding,
  TestingCaution,
} from './testing-caution.ts';

export type Standing = Pick<
  ReadinessFinding,
  'state' | 'weight' | 'pastAs' | 'daysAgo' | 'olderThan' | 'wasPlanned' | 'dateCoarse' | 'dateMissing'
>;

/** Of what a standing is made, besides the record. */
export interface StandingRule {
  readonly caution: TestingCaution;
  /** That of the code that says most. */
  readonly weight: CautionWeight;
  /** Days after which a record is long past. */
  readonly longPast: number;
}

/** Days before today: at least and at most, since a date may be known to the year or the month only. */
interface Age {
  readonly atLeast: number;
  readonly atMost: number;
}

/** @param today `YYYY-MM-DD` */
export function standingOf(read: CautionRead, today: string, rule: StandingRule): Standing {
  const { caution } = rule;
  const age = ageOf(read.date, today);
  const olderThan = olderThanOf(age, rule);
  const state = stateOf(read, caution, age, olderThan);
  const dateCoarse = coarseOf(read, caution, age);
  const dateMissing = caution.window !== null && age === undefined;
  const isPlanned = read.state === 'planned';
  const isUnclear = dateMissing || isPlanned || read.bySiteOnly || read.valueUnread || dateCoarse;
  const isLongPast = olderThan === 'long-past' && rule.weight === 'against';
  return {
    state,
    weight: isUnclear || isLongPast ? 'ask' : rule.weight,
    ...(state === 'past' && read.pastAs ? { pastAs: read.pastAs } : {}),
    ...(age && read.date?.length === 10 ? { daysAgo: age.atLeast } : {}),
    ...(olderThan ? { olderThan } : {}),
    ...(isPlanned ? { wasPlanned: true as const } : {}),
    ...(dateCoarse ? { dateCoarse } : {}),
    ...(dateMissing ? { dateMissing: true as const } : {}),
  };
}

function ageOf(date: string | null, today: string): Age | undefined {
  const latest = date === null ? undefined : latestDayOf(date);
  if (date === null || latest === undefined) return undefined;
  const atLeast = daysFromTo(latest, today);
  const atMost = daysFromTo(`${date}-01-01`.slice(0, 10), today);
  return atLeast === undefined || atMost === undefined ? undefined : { atLeast, atMost };
}

function olderThanOf(age: Age | undefined, { caution, longPast }: StandingRule): Standing['olderThan'] {
  if (!age) return undefined;
  if (caution.window && age.atLeast > caution.window.days) return 'window';
  return caution.whenLongPast && age.atLeast > longPast ? 'long-past' : undefined;
}

/** What was planned for a day that has come may have been done: the record was perhaps never written on. */
function stateOf(
  read: CautionRead,
  { whenPast, whenLongPast }: TestingCaution,
  age: Age | undefined,
  olderThan: Standing['olderThan'],
): FindingState {
  if (olderThan === 'window' || (olderThan && whenLongPast?.as === 'past')) return 'past';
  if (read.state === 'planned') return age && age.atMost >= 0 ? 'maybe-done' : 'planned';
  return read.state === 'past' && whenPast === 'count' ? 'current' : read.state;
}

/** Where the part that is known leaves open whether it is within the window. */
function coarseOf(
  { date, state }: CautionRead,
  { window }: TestingCaution,
  age: Age | undefined,
): Standing['dateCoarse'] {
  if (!window || !age || state === 'planned') return undefined;
  const isOpen = age.atLeast <= window.days && age.atMost > window.days;
  return isOpen ? (date?.length === 4 ? 'year' : 'month') : undefined;
}
