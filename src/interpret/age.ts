/** Completed years between calendar dates. Dates of birth are calendar dates, never instants. */

export interface CalendarDate {
  readonly year: number;
  readonly month: number;
  readonly day: number;
}

/** Reads `YYYY-MM-DD`; undefined when it is partial or not a day of the Gregorian calendar. */
export function readCalendarDate(text: string): CalendarDate | undefined {
  const match = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (!match) return undefined;
  const [year, month, day] = [Number(match[1]), Number(match[2]), Number(match[3])];
  if (month < 1 || month > 12 || day < 1 || day > daysInMonth(year, month)) return undefined;
  return { year, month, day };
}

/** Negative when `a` is before `b`, zero on the same day, positive when after. */
export function compareDates(a: CalendarDate, b: CalendarDate): number {
  return a.year - b.year || a.month - b.month || a.day - b.day;
}

/**
 * Completed years on `on`; undefined when `on` is before `birth`.
 * Someone born on 29 February completes a year on 1 March of a common year (the day after 28 February),
 * since on 28 February the anniversary has not yet come.
 */
export function completedYears(birth: CalendarDate, on: CalendarDate): number | undefined {
  if (compareDates(on, birth) < 0) return undefined;
  const anniversaryReached = on.month > birth.month || (on.month === birth.month && on.day >= birth.day);
  return on.year - birth.year - (anniversaryReached ? 0 : 1);
}

/** The calendar date so many days later, `YYYY-MM-DD`; undefined when `from` is no calendar date. */
export function addDays(from: string, days: number): string | undefined {
  const date = readCalendarDate(from);
  if (!date) return undefined;
  let { year, month } = date;
  let day = date.day + days;
  while (day > daysInMonth(year, month)) {
    day -= daysInMonth(year, month);
    month = month === 12 ? 1 : month + 1;
    if (month === 1) year += 1;
  }
  return `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
}

/** Whole days from one calendar date to another, negative when it goes back; undefined when either is none. */
export function daysFromTo(from: string, to: string): number | undefined {
  const [a, b] = [readCalendarDate(from), readCalendarDate(to)];
  return a && b && dayNumber(b) - dayNumber(a);
}

/** The last day that `YYYY`, `YYYY-MM` or `YYYY-MM-DD` can mean; undefined when it is in no calendar. */
export function latestDayOf(text: string): string | undefined {
  if (readCalendarDate(text)) return text;
  const month = /^\d{4}$/.test(text) ? `${text}-12` : text;
  return ['31', '30', '29', '28'].map((day) => `${month}-${day}`).find((date) => readCalendarDate(date));
}

/** Days since 1 March of the year 0 of the Gregorian calendar: a year that begins in March ends with its leap day. */
function dayNumber({ year, month, day }: CalendarDate): number {
  const shifted = month > 2 ? { year, month: month - 3 } : { year: year - 1, month: month + 9 };
  const leapDays =
    Math.floor(shifted.year / 4) - Math.floor(shifted.year / 100) + Math.floor(shifted.year / 400);
  return 365 * shifted.year + leapDays + Math.floor((153 * shifted.month + 2) / 5) + day - 1;
}

function daysInMonth(year: number, month: number): number {
  if (month === 2) return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
  return [4, 6, 9, 11].includes(month) ? 30 : 31;
}
