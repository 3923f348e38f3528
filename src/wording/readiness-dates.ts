/** Dates of records as they are known: to the day, the month or the year. */
import type { ReadinessFinding } from '../interpret/testing-caution.ts';
import { dateText } from './statements.ts';

/** Days up to which it is also said how many days ago something was. */
const COUNTED_DAYS = 100;

export function agoText(days: number): string {
  return days < 1 ? 'today' : days === 1 ? '1 day ago' : `${days} days ago`;
}

/** `2024` stays; `2024-03` -> `Mar 2024`. */
export function partialDateText(date: string): string {
  if (date.length === 10) return dateText(date);
  return date.length === 7 ? dateText(`${date}-01`).replace(/^1 /, '') : date;
}

const SINCE: Readonly<Record<NonNullable<ReadinessFinding['dateOf']>, string>> = {
  onset: 'since',
  recorded: 'recorded',
  performed: 'performed',
  charted: 'charted',
};

/** e.g. `since 10 Nov 2026 (15 days ago)`, `planned for Dec 2026`. */
export function sinceText({ date, dateOf, daysAgo, state, wasPlanned }: ReadinessFinding): string {
  if (date === null || dateOf === null) return wasPlanned ? 'planned, no date' : 'no date in the record';
  const word = wasPlanned ? 'planned for' : state === 'past' && dateOf === 'onset' ? 'onset' : SINCE[dateOf];
  const ago = daysAgo === undefined || daysAgo < 0 || daysAgo > COUNTED_DAYS ? '' : ` (${agoText(daysAgo)})`;
  return `${word} ${partialDateText(date)}${ago}`;
}
