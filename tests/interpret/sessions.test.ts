import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Trial } from '../../src/interpret/measurement.ts';
import { groupIntoSessions } from '../../src/interpret/sessions.ts';
import { trial } from './build.ts';

const GAP = 60;
/** Minutes since 1970 at the start of 10 March 2026. */
const DAY = Date.UTC(2026, 2, 10) / 60_000;

function timed(reference: string, minute: number, testedOn = '2026-03-10'): Trial {
  return trial({ reference, testedOn, testedAtMinute: DAY + minute });
}

function dated(reference: string, testedOn = '2026-03-10'): Trial {
  return trial({ reference, testedOn });
}

function grouped(trials: readonly Trial[], gap = GAP): readonly (readonly string[])[] {
  return groupIntoSessions(trials, gap).map((session) => session.map(({ reference }) => reference));
}

describe('trials with a time', () => {
  it('belong together when exactly the longest gap apart', () => {
    expect(grouped([timed('a', 600), timed('b', 660)])).toEqual([['a', 'b']]);
  });

  it('are apart when one minute more than the longest gap lies between', () => {
    expect(grouped([timed('a', 600), timed('b', 661)])).toEqual([['a'], ['b']]);
  });

  it('are measured from the trial before, not from the first of the session', () => {
    expect(grouped([timed('a', 600), timed('b', 650), timed('c', 700), timed('d', 760)])).toEqual([
      ['a', 'b', 'c', 'd'],
    ]);
  });

  it('stay in one session over midnight', () => {
    expect(grouped([timed('a', 1430, '2026-03-10'), timed('b', 1450, '2026-03-11')])).toEqual([['a', 'b']]);
  });

  it('are put in order of time, those of one minute in the order given', () => {
    expect(grouped([timed('c', 602), timed('b2', 601), timed('a', 600), timed('b1', 601)])).toEqual([
      ['a', 'b2', 'b1', 'c'],
    ]);
  });

  it('are split exactly where neighbours are further apart than the gap', () => {
    const minutes = fc.array(fc.integer({ min: 0, max: 1000 }), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(minutes, fc.integer({ min: 1, max: 200 }), (list, gap) => {
        const sessions = groupIntoSessions(
          list.map((minute, index) => timed(String(index), minute)),
          gap,
        ).map((session) => session.map(({ testedAtMinute }) => (testedAtMinute ?? 0) - DAY));
        expect(sessions.flat()).toEqual([...list].sort((a, b) => a - b));
        for (const session of sessions)
          for (const [i, minute] of session.entries())
            expect(minute - (session[i - 1] ?? minute)).toBeLessThanOrEqual(gap);
        for (const [i, session] of sessions.slice(1).entries())
          expect((session[0] ?? 0) - (sessions[i]?.at(-1) ?? 0)).toBeGreaterThan(gap);
      }),
    );
  });
});

describe('trials with a date only', () => {
  it('form one session for each date', () => {
    expect(grouped([dated('b', '2026-03-11'), dated('a1'), dated('a2')])).toEqual([['a1', 'a2'], ['b']]);
  });

  it('join the one timed session of their date', () => {
    expect(grouped([dated('c'), timed('b', 610), timed('a', 600)])).toEqual([['a', 'b', 'c']]);
  });

  it('do not join a timed session of another date', () => {
    expect(grouped([dated('b', '2026-03-11'), timed('a', 600)])).toEqual([['a'], ['b']]);
  });

  it('form a session of their own, first of the date, where the date has two timed sessions', () => {
    expect(grouped([timed('a', 600), timed('b', 900), dated('c'), dated('d')])).toEqual([
      ['c', 'd'],
      ['a'],
      ['b'],
    ]);
  });

  it('join by the date on which a session over midnight began', () => {
    const night = [timed('a', 1430, '2026-03-10'), timed('b', 1450, '2026-03-11')];
    expect(grouped([...night, dated('c', '2026-03-10')])).toEqual([['a', 'b', 'c']]);
    expect(grouped([...night, dated('c', '2026-03-11')])).toEqual([['a', 'b'], ['c']]);
  });
});

describe('sessions', () => {
  it('come oldest first, across years', () => {
    const old = trial({ reference: 'old', testedOn: '2025-12-31' });
    expect(grouped([timed('new', 600), old])).toEqual([['old'], ['new']]);
  });

  it('are none when there are no trials', () => {
    expect(groupIntoSessions([], GAP)).toEqual([]);
  });

  it('hold every trial once, and leave the list given as it was', () => {
    const anyTrial = fc
      .record({ day: fc.integer({ min: 10, max: 13 }), minute: fc.option(fc.integer({ min: 0, max: 1439 })) })
      .map(({ day, minute }) =>
        trial({
          testedOn: `2026-03-${day}`,
          testedAtMinute: minute === null ? null : DAY + (day - 10) * 1440 + minute,
        }),
      );
    fc.assert(
      fc.property(fc.array(anyTrial, { maxLength: 15 }), (trials) => {
        const given = trials.map(({ reference }) => reference);
        const inSessions = groupIntoSessions(Object.freeze(trials), GAP).flat();
        expect(inSessions.map(({ reference }) => reference).sort()).toEqual([...given].sort());
        expect(trials.map(({ reference }) => reference)).toEqual(given);
      }),
    );
  });
});
