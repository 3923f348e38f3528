/** Acute or chronic: EWGSOP2 2019 calls low strength chronic from six months. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { AgeAtTest } from '../../src/interpret/interpret.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import type { Sex } from '../../src/interpret/measurement.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { isVerdict, sessionOf, threeEach, trialsOf, US, verdictsOf } from './build.ts';

const EWGSOP2 = 'ewgsop2-2019';
// EWGSOP2: below 27 kg (men).
const WEAK = '25';
const WELL = '30';

type Sitting = readonly [testedOn: string, reading: string, age?: AgeAtTest];

function answerOf(sittings: readonly Sitting[], sex: Sex | null = 'male') {
  const sessions = sittings.map(([testedOn, reading, age]) =>
    sessionOf(threeEach(reading, { testedOn, effective: testedOn }), 72, age ? { age } : {}),
  );
  return interpret({ sex, sessions }, US).at(-1);
}

function course(...sittings: readonly Sitting[]) {
  const answer = answerOf(sittings);
  const [verdict] = answer ? verdictsOf(answer, EWGSOP2) : [];
  return verdict?.course;
}

const kind = (...sittings: readonly Sitting[]) => course(...sittings)?.kind;

describe('low strength now', () => {
  it('is chronic where it was low six months ago and at each session since', () => {
    expect(course(['2025-09-10', WEAK], ['2025-12-01', WEAK], ['2026-03-10', WEAK])).toEqual({
      reducedSince: '2025-09-10',
      lastNotReduced: null,
      kind: 'chronic',
      chronicFromMonths: 6,
    });
    expect(kind(['2025-09-11', WEAK], ['2026-03-10', WEAK])).toBe('undetermined');
  });

  it('is acute where it was not low within the last six months', () => {
    expect(course(['2025-09-11', WELL], ['2026-03-10', WEAK])).toEqual({
      reducedSince: '2026-03-10',
      lastNotReduced: '2025-09-11',
      kind: 'acute',
      chronicFromMonths: 6,
    });
    expect(course(['2026-01-05', WELL], ['2026-02-05', WEAK], ['2026-03-10', WEAK])).toMatchObject({
      reducedSince: '2026-02-05',
      kind: 'acute',
    });
  });

  it('is undetermined where the last time it was not low is six months ago or more, and the run is shorter', () => {
    expect(kind(['2025-09-10', WELL], ['2026-03-10', WEAK])).toBe('undetermined');
    expect(kind(['2025-06-01', WELL], ['2025-12-01', WEAK], ['2026-03-10', WEAK])).toBe('undetermined');
    expect(kind(['2025-01-01', WELL], ['2025-09-01', WEAK], ['2026-03-10', WEAK])).toBe('chronic');
  });

  it('counts the unbroken run only: a session between that was not low begins it anew', () => {
    expect(course(['2024-01-01', WEAK], ['2026-02-01', WELL], ['2026-03-10', WEAK])).toMatchObject({
      reducedSince: '2026-03-10',
      lastNotReduced: '2026-02-01',
      kind: 'acute',
    });
  });

  it('looks at the last session that was not low, though there were others before', () => {
    expect(
      course(['2025-01-01', WELL], ['2025-02-01', WEAK], ['2026-02-01', WELL], ['2026-03-10', WEAK]),
    ).toMatchObject({ reducedSince: '2026-03-10', lastNotReduced: '2026-02-01', kind: 'acute' });
  });

  it('is followed hand by hand by a set of each hand', () => {
    // No released set of each hand tells acute from chronic: a table is made to.
    const sets = US.sets.map((set) => ({ ...set, chronicFromMonths: 6 }));
    const sitting = (testedOn: string, right: string, left: string) => {
      const when = { testedOn, effective: testedOn };
      return sessionOf([...trialsOf('right', [right], when), ...trialsOf('left', [left], when)], 72);
    };
    const sessions = [sitting('2025-01-01', '30', '5'), sitting('2026-03-10', '5', '5')];
    const now = interpret({ sex: 'male', sessions }, { ...US, sets }).at(-1);
    const verdicts = now ? verdictsOf(now, 'mathiowetz-1985-us-adults') : [];
    expect(verdicts.map(({ hand, course: own }) => [hand, own?.reducedSince, own?.kind])).toEqual([
      ['right', '2026-03-10', 'undetermined'],
      ['left', '2025-01-01', 'chronic'],
    ]);
  });

  it('has no course without an earlier session', () => {
    expect(course(['2026-03-10', WEAK])).toBeUndefined();
  });
});

describe('no course is given', () => {
  it('for strength that is not low now', () => {
    expect(course(['2025-01-01', WEAK], ['2026-03-10', WELL])).toBeUndefined();
  });

  it('by any set that does not tell acute from chronic', () => {
    const answer = answerOf([
      ['2025-01-01', '10'],
      ['2026-03-10', '10'],
    ]);
    const others = answer?.results.filter(isVerdict).filter(({ set }) => set.id !== EWGSOP2) ?? [];
    expect(others.filter(({ outcome }) => outcome === 'reduced').length).toBeGreaterThan(3);
    for (const verdict of others) expect(verdict.course).toBeUndefined();
  });

  it('for a column shown for a choice of sex', () => {
    const answer = answerOf(
      [
        ['2025-01-01', '10'],
        ['2026-03-10', '10'],
      ],
      null,
    );
    const columns = answer?.results.flatMap((result) => (isVerdict(result) ? [] : result.columns)) ?? [];
    expect(columns.length).toBeGreaterThan(0);
    for (const column of columns) expect(column.course).toBeUndefined();
  });
});

describe('earlier sessions', () => {
  it('are judged with the age of that day: before 65 the set says nothing of them', () => {
    const at = (ageYears: number): AgeAtTest => ({ ageYears });
    expect(kind(['2025-01-01', WEAK, at(64)], ['2026-03-10', WEAK, at(65)])).toBeUndefined();
    expect(kind(['2025-01-01', WEAK, at(65)], ['2026-03-10', WEAK, at(66)])).toBe('chronic');
    // Whether 64 or 65 then is not known, so neither is the outcome.
    expect(
      kind(['2025-01-01', WEAK, { ageYears: 64, ageAtMost: 65 }], ['2026-03-10', WEAK, at(66)]),
    ).toBeUndefined();
    expect(kind(['2025-01-01', WEAK, { ageYears: 65, ageAtMost: 66 }], ['2026-03-10', WEAK, at(66)])).toBe(
      'chronic',
    );
  });

  it('are passed over where their unit or age stopped them', () => {
    expect(kind(['2025-01-01', WEAK, { refusal: 'BIRTH_AFTER_TEST' }], ['2026-03-10', WEAK])).toBeUndefined();
    expect(kind(['2025-01-01', WEAK], ['2026-01-01', '90'], ['2026-03-10', WEAK])).toBe('chronic');
  });
});

describe('a unit in doubt', () => {
  // Man of 72: 45 kg is strong and 45 lb would be reduced; 45 lb is reduced and 45 kg would not be.
  const codes = (...sittings: readonly Sitting[]) => answerOf(sittings)?.cautions.map(({ code }) => code);

  it('leaves an earlier session out of the course, that was not low by its figure', () => {
    const between = (reading: string) =>
      course(['2025-06-01', WEAK], ['2026-02-01', reading], ['2026-03-10', WEAK]);
    expect(codes(['2025-06-01', WEAK], ['2026-02-01', '45'])).toEqual(['UNIT_DOUBTFUL', 'UNIT_DOUBTFUL']);
    expect(between('45')).toMatchObject({
      kind: 'chronic',
      reducedSince: '2025-06-01',
      lastNotReduced: null,
    });
    expect(between('40')).toMatchObject({ kind: 'acute', lastNotReduced: '2026-02-01' });
  });

  it('leaves an earlier session out of the course, that was low by its figure', () => {
    const pounds = (unit: ChartedUnit, reading: string) => {
      const then = { testedOn: '2025-06-01', effective: '2025-06-01' };
      const sessions = [
        sessionOf(threeEach(reading, { unit, ...then }), 72, { prior: true }),
        sessionOf(threeEach(WEAK), 72),
      ];
      const [now] = interpret({ sex: 'male', sessions }, US);
      return now && verdictsOf(now, EWGSOP2)[0]?.course?.kind;
    };
    expect(pounds('[lb_av]', '45')).toBeUndefined();
    // 20.41 kg: the same force, charted in kilograms, is in no doubt.
    expect(pounds('kg', '20.41')).toBe('chronic');
  });

  it('gives no course to a session of its own, by norms (UNIT_DOUBTFUL)', () => {
    const now = (reading: string, unit: ChartedUnit) => {
      const then = { testedOn: '2025-06-01', effective: '2025-06-01' };
      const sessions = [sessionOf(threeEach(WEAK, then), 72), sessionOf(threeEach(reading, { unit }), 72)];
      const answer = interpret({ sex: 'male', sessions }, US).at(-1);
      const [verdict] = answer ? verdictsOf(answer, EWGSOP2) : [];
      const units = answer?.cautions.filter(({ code }) => code === 'UNIT_DOUBTFUL').length;
      return [units, verdict?.outcome, verdict?.course?.kind];
    };
    expect(now('45', '[lb_av]')).toEqual([2, 'reduced', undefined]);
    expect(now('20.41', 'kgf')).toEqual([0, 'reduced', 'chronic']);
  });

  it('gives no course to a session of its own, by the time before (CHANGE_LIKE_UNIT)', () => {
    const halved = [
      ['2025-12-01', '40'],
      ['2026-03-10', '20'],
    ] as const;
    expect(codes(...halved)).toEqual(['CHANGE_LIKE_UNIT', 'CHANGE_LIKE_UNIT']);
    expect(course(...halved)).toBeUndefined();
    expect(course(['2025-12-01', '36'], ['2026-03-10', '20'])).toMatchObject({ kind: 'acute' });
  });

  it('leaves out an earlier session that looked like another unit then', () => {
    expect(
      course(['2024-01-01', '40'], ['2024-02-01', '20'], ['2026-02-01', '26'], ['2026-03-10', WEAK]),
    ).toEqual({
      reducedSince: '2026-02-01',
      lastNotReduced: '2024-01-01',
      kind: 'undetermined',
      chronicFromMonths: 6,
    });
    expect(
      course(['2024-01-01', '36'], ['2024-02-01', '20'], ['2026-02-01', '26'], ['2026-03-10', WEAK]),
    ).toMatchObject({ reducedSince: '2024-02-01', kind: 'chronic' });
  });
});

describe('six months', () => {
  it.each([
    // Started on a day that the sixth month lacks: a day later.
    ['2025-08-31', '2026-02-28', 'undetermined'],
    ['2025-08-31', '2026-03-01', 'chronic'],
    ['2025-08-29', '2026-02-28', 'undetermined'],
    ['2025-08-29', '2026-03-01', 'chronic'],
    ['2023-08-29', '2024-02-29', 'chronic'],
    ['2023-08-30', '2024-02-29', 'undetermined'],
    ['2023-08-30', '2024-03-01', 'chronic'],
    ['2025-03-31', '2025-09-30', 'undetermined'],
    ['2025-03-31', '2025-10-01', 'chronic'],
    ['2025-12-31', '2026-06-30', 'undetermined'],
    ['2025-12-31', '2026-07-01', 'chronic'],
    ['2025-06-30', '2025-12-30', 'chronic'],
    ['2025-07-01', '2026-01-01', 'chronic'],
    ['2025-07-01', '2025-12-31', 'undetermined'],
  ])('from %s to %s: %s', (from, to, expected) => {
    expect(kind([from, WEAK], [to, WEAK])).toBe(expected);
    expect(kind([from, WELL], [to, WEAK])).toBe(expected === 'chronic' ? 'undetermined' : 'acute');
  });

  it('agree with the calendar of the runtime, which turns 31 February into 3 March', () => {
    const day = fc.integer({ min: 0, max: 1460 }).map((count) => new Date(Date.UTC(2023, 0, 1 + count)));
    const text = (date: Date) => date.toISOString().slice(0, 10);
    fc.assert(
      fc.property(day, fc.integer({ min: 1, max: 400 }), (from, days) => {
        const to = new Date(from.getTime() + days * 86_400_000);
        const due = new Date(Date.UTC(from.getUTCFullYear(), from.getUTCMonth() + 6, from.getUTCDate()));
        // Where the month lacks the day, the first of the next month.
        if (due.getUTCDate() !== from.getUTCDate()) due.setUTCDate(1);
        expect(kind([text(from), WEAK], [text(to), WEAK])).toBe(to >= due ? 'chronic' : 'undetermined');
      }),
      { numRuns: 300 },
    );
  });
});
