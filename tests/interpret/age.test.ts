import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type CalendarDate,
  compareDates,
  completedYears,
  readCalendarDate,
} from '../../src/interpret/age.ts';

function date(text: string): CalendarDate {
  const read = readCalendarDate(text);
  if (!read) throw new Error(`not a date: ${text}`);
  return read;
}

/** Days by another calendar: the one of the runtime, which turns 29 February of a common year into 1 March. */
const dayNumber = ({ year, month, day }: CalendarDate) => Date.UTC(year, month - 1, day);

const anyDate = fc
  .record({
    year: fc.integer({ min: 1890, max: 2100 }),
    month: fc.integer({ min: 1, max: 12 }),
    day: fc.integer({ min: 1, max: 31 }),
  })
  .filter((parts) => new Date(dayNumber(parts)).getUTCDate() === parts.day);

describe('completed years', () => {
  it.each([
    ['the day before the birthday', '1950-06-15', '2026-06-14', 75],
    ['the birthday', '1950-06-15', '2026-06-15', 76],
    ['the day after the birthday', '1950-06-15', '2026-06-16', 76],
    ['an earlier month', '1950-06-15', '2026-05-30', 75],
    ['a later month', '1950-06-15', '2026-07-01', 76],
    ['the day of birth', '2026-06-15', '2026-06-15', 0],
    ['a birth on 31 December', '2000-12-31', '2026-01-01', 25],
  ])('on %s (born %s, tested %s) are %i', (_when, birth, on, years) => {
    expect(completedYears(date(birth), date(on))).toBe(years);
  });

  it('of someone born on 29 February are completed on 1 March of a common year', () => {
    expect(completedYears(date('2000-02-29'), date('2023-02-28'))).toBe(22);
    expect(completedYears(date('2000-02-29'), date('2023-03-01'))).toBe(23);
    expect(completedYears(date('2000-02-29'), date('2024-02-28'))).toBe(23);
    expect(completedYears(date('2000-02-29'), date('2024-02-29'))).toBe(24);
  });

  it('are undefined when the test is before the birth', () => {
    expect(completedYears(date('2026-03-11'), date('2026-03-10'))).toBeUndefined();
    expect(completedYears(date('2027-01-01'), date('2026-12-31'))).toBeUndefined();
  });

  it('are the number of anniversaries that a different calendar counts', () => {
    fc.assert(
      fc.property(anyDate, anyDate, (birth, on) => {
        let anniversaries = -1;
        while (dayNumber({ ...birth, year: birth.year + anniversaries + 1 }) <= dayNumber(on))
          anniversaries += 1;
        expect(completedYears(birth, on)).toBe(anniversaries < 0 ? undefined : anniversaries);
      }),
    );
  });
});

describe('calendar dates', () => {
  it('are read for every day that exists, and for no other', () => {
    for (const year of [1900, 2000, 2023, 2024]) {
      for (let month = 0; month <= 13; month += 1) {
        for (let day = 0; day <= 32; day += 1) {
          const text = `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
          const made = new Date(Date.UTC(year, month - 1, day));
          const exists = made.toISOString().startsWith(text);
          expect(readCalendarDate(text), text).toEqual(exists ? { year, month, day } : undefined);
        }
      }
    }
  });

  it.each([
    '1950',
    '1950-06',
    '1950-6-15',
    '15-06-1950',
    '1950-06-15T00:00:00Z',
    ' 1950-06-15',
    '',
    '1950-06-15\n',
  ])('are not read from %j', (text) => {
    expect(readCalendarDate(text)).toBeUndefined();
  });

  it('are ordered as days are', () => {
    fc.assert(
      fc.property(anyDate, anyDate, (a, b) => {
        expect(Math.sign(compareDates(a, b))).toBe(Math.sign(dayNumber(a) - dayNumber(b)));
      }),
    );
  });
});
