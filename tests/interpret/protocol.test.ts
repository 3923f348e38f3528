/** How a test was done, beside how each set was built, and beside the test before. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Caution } from '../../src/interpret/finding.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import type { Protocol, Trial } from '../../src/interpret/measurement.ts';
import { read, sessionOf, threeEach, trialsOf, US, verdictsOf } from './build.ts';

const T1985 = 'mathiowetz-1985-us-adults';
const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';
const MAN = { sex: 'male', ageYears: 72 } as const;

const done = (protocol: Protocol, reading = '30') => threeEach(reading, { protocol });

describe('a departure from how a set was built', () => {
  const mismatches = (trials: readonly Trial[], set: string) =>
    verdictsOf(read(US, MAN, trials), set).map((verdict) => verdict.mismatches);

  it('is told on each verdict of that set, part by part', () => {
    // Mathiowetz 1985: seated, elbow at 90 degrees, handle 2, a hydraulic hand dynamometer. Survey 2011-2014: standing.
    const trials = done({ posture: 'recumbent', arm: 'elbow-supported', handle: '3', instrument: 'digital' });
    const all = [
      { part: 'posture', charted: 'recumbent', built: 'seated' },
      { part: 'arm', charted: 'elbow-supported', built: 'elbow-90-unsupported' },
      { part: 'handle', charted: '3', built: '2' },
      { part: 'instrument', charted: 'digital', built: 'hydraulic' },
    ];
    expect(mismatches(trials, T1985)).toEqual([all, all]);
    const standing = [{ part: 'posture', charted: 'recumbent', built: 'standing' }];
    expect(mismatches(trials, SURVEY)).toEqual([standing, standing]);
  });

  it('is none where nothing is charted, where it agrees, or where the set does not say', () => {
    expect(mismatches(threeEach('30'), T1985)).toEqual([undefined, undefined]);
    const asBuilt = {
      posture: 'seated',
      arm: 'elbow-90-unsupported',
      handle: '2',
      instrument: 'hydraulic',
    } as const;
    expect(mismatches(done(asBuilt), T1985)).toEqual([undefined, undefined]);
    expect(mismatches(done({ handle: '5', instrument: 'spring' }), SURVEY)).toEqual([undefined, undefined]);
    expect(mismatches(done({ posture: 'recumbent' }), 'ewgsop2-2019')).toEqual([undefined]);
  });

  it('is told of the hand that was tested so, and not of the other', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { protocol: { handle: '3' } }),
      ...trialsOf('left', ['30', '30', '30'], { protocol: { handle: '2' } }),
    ];
    expect(mismatches(trials, T1985)).toEqual([[{ part: 'handle', charted: '3', built: '2' }], undefined]);
  });

  it('is told once for trials alike, and of each way that differs', () => {
    const trials = (['2', '3', '3', '4'] as const).flatMap((handle) =>
      trialsOf('right', ['30'], { protocol: { handle } }),
    );
    expect(mismatches(trials, T1985)).toEqual([
      [
        { part: 'handle', charted: '3', built: '2' },
        { part: 'handle', charted: '4', built: '2' },
      ],
    ]);
  });

  it('never changes an outcome', () => {
    const outcomes = (protocol: Protocol) =>
      read(US, MAN, done(protocol, '15')).results.map(
        (result) => result.kind === 'verdict' && result.outcome,
      );
    expect(outcomes({ posture: 'recumbent', handle: '5', instrument: 'spring' })).toEqual(outcomes({}));
  });
});

const codesAndFacts = (cautions: readonly Caution[] | undefined) =>
  (cautions ?? []).map(({ code, hand, facts }) => [code, hand, facts]);

describe('a protocol that varies within a session', () => {
  it('is cautioned for each part that does, with the ways in the order charted', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { protocol: { posture: 'seated', handle: '2' } }),
      ...trialsOf('left', ['30', '30', '30'], { protocol: { posture: 'recumbent', handle: '3' } }),
    ];
    expect(codesAndFacts(read(US, MAN, trials).cautions)).toEqual([
      ['PROTOCOL_VARIES', null, { part: 'posture', charted: 'seated, recumbent' }],
      ['PROTOCOL_VARIES', null, { part: 'handle', charted: '2, 3' }],
    ]);
  });

  it('is not: trials of which some chart a part and some do not', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { protocol: { posture: 'seated' } }),
      ...trialsOf('left', ['30', '30', '30']),
    ];
    expect(read(US, MAN, trials).cautions).toEqual([]);
  });
});

describe('the calibration of the instrument', () => {
  const codes = (calibratedOn: string) => codesAndFacts(read(US, MAN, done({ calibratedOn })).cautions);

  it('is in time on the last day of the year allowed (366 days), and overdue a day later', () => {
    // 366 days before 2026-03-10 is 2025-03-09.
    expect(codes('2025-03-09')).toEqual([]);
    expect(codes('2025-03-08')).toEqual([
      ['CALIBRATION_OVERDUE', null, { calibratedOn: '2025-03-08', maxDays: '366' }],
    ]);
  });

  it('is in time on the day itself', () => {
    expect(codes('2026-03-10')).toEqual([]);
  });

  it('is overdue once, by the instrument that is', () => {
    const trials = [
      ...trialsOf('right', ['30', '30', '30'], { protocol: { calibratedOn: '2026-01-01' } }),
      ...trialsOf('left', ['30', '30', '30'], { protocol: { calibratedOn: '2020-01-01' } }),
    ];
    expect(codesAndFacts(read(US, MAN, trials).cautions)).toEqual([
      ['CALIBRATION_OVERDUE', null, { calibratedOn: '2020-01-01', maxDays: '366' }],
    ]);
  });

  it('agrees with days counted one by one', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 800 }), (days) => {
        const day = new Date(Date.UTC(2026, 2, 10 - days)).toISOString().slice(0, 10);
        expect(codes(day).length).toBe(days > 366 ? 1 : 0);
      }),
    );
  });
});

describe('the time of day', () => {
  /** Two sessions at these moments as charted; the cautions of the second. */
  function between(before: string, now: string) {
    const at = (effective: string) =>
      sessionOf(threeEach('30', { effective, testedOn: effective.slice(0, 10) }), 72);
    const [, second] = interpret({ sex: 'male', sessions: [at(before), at(now)] }, US);
    return codesAndFacts(second?.cautions);
  }

  it('may differ by four hours, and not by a minute more, either way', () => {
    expect(between('2026-02-01T08:00:00Z', '2026-03-01T12:00:00Z')).toEqual([]);
    expect(between('2026-02-01T12:00:00Z', '2026-03-01T08:00:00Z')).toEqual([]);
    expect(between('2026-02-01T08:00:00Z', '2026-03-01T12:01:00Z')).toEqual([
      ['TIME_OF_DAY_DIFFERS', null, { now: '12:01', before: '08:00' }],
    ]);
    expect(between('2026-02-01T12:01:00Z', '2026-03-01T08:00:00Z')).toHaveLength(1);
  });

  it('goes round the clock: 23:00 and 01:00 are two hours apart', () => {
    expect(between('2026-02-01T23:00:00Z', '2026-03-01T01:00:00Z')).toEqual([]);
    expect(between('2026-02-01T01:00:00Z', '2026-03-01T23:00:00Z')).toEqual([]);
    expect(between('2026-02-01T22:00:00Z', '2026-03-01T02:00:00Z')).toEqual([]);
    expect(between('2026-02-01T22:00:00Z', '2026-03-01T02:01:00Z')).toHaveLength(1);
  });

  it('is that of the chart, in whatever zone', () => {
    expect(between('2026-02-01T08:00:00-05:00', '2026-03-01T12:00:00-05:00')).toEqual([]);
    expect(between('2026-02-01T08:00:00-05:00', '2026-03-01T12:01:00-05:00')).toEqual([
      ['TIME_OF_DAY_DIFFERS', null, { now: '12:01', before: '08:00' }],
    ]);
    expect(between('2026-02-01T08:00:00.250+05:30', '2026-03-01T20:00:00+05:30')).toHaveLength(1);
  });

  it('is not compared between two offsets from UTC, however far apart the clocks are', () => {
    expect(between('2026-02-01T08:00:00+09:00', '2026-03-01T08:00:00-05:00')).toEqual([]);
    expect(between('2026-02-01T08:00:00+09:00', '2026-03-01T20:00:00-05:00')).toEqual([]);
    // Summer time: the same clinic, another offset.
    expect(between('2026-02-01T08:00:00-05:00', '2026-04-01T20:00:00-04:00')).toEqual([]);
    // The same offset by another text.
    for (const zero of ['+00:00', '-00:00'])
      expect(between('2026-02-01T08:00:00Z', `2026-03-01T20:00:00${zero}`)).toEqual([]);
    expect(between('2026-02-01T08:00:00+05:00', '2026-03-01T20:00:00-05:00')).toEqual([]);
  });

  it('needs both: nothing is said where one is charted with its date only', () => {
    expect(between('2026-02-01', '2026-03-01T20:00:00Z')).toEqual([]);
    expect(between('2026-02-01T08:00:00Z', '2026-03-01')).toEqual([]);
    expect(between('2026-02-01', '2026-03-01')).toEqual([]);
  });

  it('is compared with the session before, and with none where there is none', () => {
    const effective = '2026-03-01T20:00:00Z';
    expect(read(US, MAN, threeEach('30', { effective })).cautions).toEqual([]);
  });

  it('agrees with the shorter way round the clock', () => {
    const minute = fc.integer({ min: 0, max: 1439 });
    const text = (count: number) =>
      `${String(Math.floor(count / 60)).padStart(2, '0')}:${String(count % 60).padStart(2, '0')}`;
    fc.assert(
      fc.property(minute, minute, (a, b) => {
        let steps = 0;
        // Walks both ways at once until the other time is met.
        while ((a + steps) % 1440 !== b && (a - steps + 1440) % 1440 !== b) steps += 1;
        const found = between(`2026-02-01T${text(a)}:00Z`, `2026-03-01T${text(b)}:00Z`);
        expect(found.length).toBe(steps > 240 ? 1 : 0);
      }),
    );
  });
});
