/** Age where the date of birth is known in part only (STANDARDS FS4). The people here are invented. */
import { describe, expect, it } from 'vitest';
import { readPatient } from '../../src/fhir/read-patient.ts';
import { completedYears, readCalendarDate } from '../../src/interpret/age.ts';
import { broken, PATIENT } from '../fixtures.ts';

const ageOn = (birthDate: string, date: string) =>
  readPatient(broken(PATIENT, 'birthDate', birthDate), 'p').ageOn(date);

describe('the age on the day of a test', () => {
  it.each([
    ['the year', '1954', '2026-11-16', { ageYears: 71, ageAtMost: 72 }],
    ['the year, on its first day', '1954', '2026-01-01', { ageYears: 71, ageAtMost: 72 }],
    ['the year, on its last day', '1954', '2026-12-31', { ageYears: 72 }],
    ['the month, before it', '1954-03', '2026-02-28', { ageYears: 71 }],
    ['the month, on its first day', '1954-03', '2026-03-01', { ageYears: 71, ageAtMost: 72 }],
    ['the month, on the day before its last', '1954-03', '2026-03-30', { ageYears: 71, ageAtMost: 72 }],
    ['the month, on its last day', '1954-03', '2026-03-31', { ageYears: 72 }],
    ['the month, after it', '1954-03', '2026-11-16', { ageYears: 72 }],
    ['the month, December', '1954-12', '2026-12-15', { ageYears: 71, ageAtMost: 72 }],
    ['a month of 30 days, on the last', '1954-04', '2026-04-30', { ageYears: 72 }],
    ['a February of 29 days, on the 28th', '1952-02', '2025-02-28', { ageYears: 72, ageAtMost: 73 }],
    ['a February of 29 days, on 1 March', '1952-02', '2025-03-01', { ageYears: 73 }],
    ['a February of 28 days, on the 28th', '1953-02', '2025-02-28', { ageYears: 72 }],
    ['the day', '1954-11-16', '2026-11-16', { ageYears: 72 }],
    ['the day, on the day before', '1954-11-16', '2026-11-15', { ageYears: 71 }],
  ])('of a birth known to %s', (_what, birthDate, date, age) => {
    expect(ageOn(birthDate, date)).toEqual(age);
  });

  it.each([
    ['2026', '2026-11-16', { ageYears: 0 }],
    ['2026-11', '2026-11-16', { ageYears: 0 }],
    ['2025', '2026-01-01', { ageYears: 0, ageAtMost: 1 }],
    ['2026-11', '2026-11-01', { ageYears: 0 }],
  ])('is 0 at least where some of %s is after %s', (birthDate, date, age) => {
    expect(ageOn(birthDate, date)).toEqual(age);
  });

  it.each([
    ['2027', '2026-12-31'],
    ['2026-12', '2026-11-30'],
    ['2026-11-17', '2026-11-16'],
  ])('is refused where the whole of %s is after %s', (birthDate, date) => {
    expect(ageOn(birthDate, date)).toEqual({ refusal: 'BIRTH_AFTER_TEST' });
  });

  it.each(['1954-13', '1954-00', '1954-02-30', '1953-02-29', '1954-00-00'])(
    'is refused for %s, which is in no calendar',
    (birthDate) => {
      expect(ageOn(birthDate, '2026-11-16')).toEqual({ refusal: 'BIRTH_DATE_PARTIAL' });
    },
  );

  it('is refused where even the lower age is one that nobody reaches', () => {
    expect(ageOn('1905', '2026-06-01')).toEqual({ ageYears: 120, ageAtMost: 121 });
    expect(ageOn('1904', '2026-06-01')).toEqual({ refusal: 'AGE_IMPLAUSIBLE', facts: { ageYears: '121' } });
  });

  it('of a partial birth holds the age of every birth that it can mean, and no other', () => {
    for (const partial of ['1952', '1953', '1952-02', '1953-02', '1954-04', '1954-12']) {
      const births = daysOf(partial);
      for (const date of ['2026-01-01', '2026-02-28', '2026-03-01', '2026-04-15', '2026-12-31']) {
        const on = readCalendarDate(date);
        if (!on) throw new Error('no date');
        const ages = new Set(births.map((birth) => completedYears(birth, on)));
        const age = ageOn(partial, date) as { ageYears: number; ageAtMost?: number };
        expect(ages, `${partial} on ${date}`).toEqual(new Set([age.ageYears, age.ageAtMost ?? age.ageYears]));
      }
    }
  });
});

/** Every calendar date that begins with these characters. */
function daysOf(partial: string) {
  const two = (number: number) => String(number).padStart(2, '0');
  const all = Array.from({ length: 12 * 31 }, (_unused, index) => {
    const [month, day] = [Math.floor(index / 31) + 1, (index % 31) + 1];
    return readCalendarDate(`${partial.slice(0, 4)}-${two(month)}-${two(day)}`);
  });
  const wanted = partial.length > 4 ? Number(partial.slice(5)) : null;
  return all.filter((date) => date !== undefined).filter(({ month }) => !wanted || month === wanted);
}
