/** What of the record goes with a test: measures near it in time, companions of a set, the day of the next test. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../src/interpret/age.ts';
import { interpret, toSessions } from '../../src/interpret/interpret.ts';
import { measuresNear } from '../../src/interpret/measures-near.ts';
import { nextFrom } from '../../src/interpret/next-measurement.ts';
import { ALL, measure, PANELS, panelNamed, read, sessionOf, threeEach, US, verdictsOf } from './build.ts';

const OLD = panelNamed('adult-inpatient-us', '1.0.0');
const CHILD = panelNamed('child-us');
const DAY = 86_400_000;
const daysFrom = (date: string, days: number) =>
  new Date(Date.parse(date) + days * DAY).toISOString().slice(0, 10);

describe('measures that go with a test', () => {
  const on = (kind: Parameters<typeof measure>[0], days: number, value = '60') =>
    measure(kind, value, { measuredOn: daysFrom('2026-03-10', days), reference: `${kind} ${days}` });
  const near = (...every: ReturnType<typeof measure>[]) =>
    measuresNear('2026-03-10', every, US.rules)?.map(({ reference }) => reference);

  it('are the nearest of each kind, before or after', () => {
    expect(near(on('weight', -40), on('weight', -3), on('weight', 20), on('bmi', 1), on('bmi', -2))).toEqual([
      'weight -3',
      'bmi 1',
    ]);
  });

  it('are the earlier of two as near, in whatever order they come', () => {
    expect(near(on('weight', 5), on('weight', -5))).toEqual(['weight -5']);
    expect(near(on('weight', -5), on('weight', 5))).toEqual(['weight -5']);
  });

  it('are within the window of their kind: 90 days, height 1825, both ends included', () => {
    expect(near(on('weight', -90), on('height', -1825))?.toSorted()).toEqual(['height -1825', 'weight -90']);
    expect(near(on('weight', 90), on('height', 1825))?.toSorted()).toEqual(['height 1825', 'weight 90']);
    for (const days of [-91, 91]) expect(near(on('weight', days))).toBeUndefined();
    for (const days of [-1826, 1826]) expect(near(on('height', days))).toBeUndefined();
    // A child grows: the panel of children has a window of its own.
    const { days = { height: 0 } } = CHILD.rules.recordWindow ?? {};
    expect(days.height).toBeLessThan(1825);
    expect(measuresNear('2026-03-10', [on('height', -days.height - 1)], CHILD.rules)).toBeUndefined();
    expect(measuresNear('2026-03-10', [on('height', -days.height)], CHILD.rules)).toHaveLength(1);
  });

  it('are none without the rule, or where there are none', () => {
    expect(measuresNear('2026-03-10', [on('weight', 0)], OLD.rules)).toBeUndefined();
    expect(near()).toBeUndefined();
  });

  it('agree with a search of every day outwards', () => {
    const days = fc.array(fc.integer({ min: -120, max: 120 }), { maxLength: 6 });
    fc.assert(
      fc.property(days, (list) => {
        const outwards = Array.from({ length: 91 }, (_, apart) => [-apart, apart]).flat();
        const expected = outwards.find((day) => list.includes(day));
        expect(near(...list.map((day) => on('weight', day)))).toEqual(
          expected === undefined ? undefined : [`weight ${expected}`],
        );
      }),
    );
  });

  it('are given to each session for its own day', () => {
    const trials = [
      ...threeEach('30', { testedOn: '2025-06-01', effective: '2025-06-01' }),
      ...threeEach('30'),
    ];
    const every = [on('weight', -283, '70'), on('weight', 0, '60')];
    const sessions = toSessions(trials, [], US, () => ({ ageYears: 72 }), every);
    expect(sessions.map(({ measures }) => measures?.map(({ value }) => value))).toEqual([['70'], ['60']]);
    expect(
      toSessions(trials, [], OLD, () => ({ ageYears: 72 }), every).map(({ measures }) => measures),
    ).toEqual([undefined, undefined]);
  });
});

describe('companions of a set', () => {
  const of = (set: string, ...measures: ReturnType<typeof measure>[]) =>
    verdictsOf(read(ALL, { sex: 'male', ageYears: 72, measures }, threeEach('30')), set)[0]?.companions?.map(
      ({ met }) => met,
    );
  const gait = (value: string) => measure('gait-speed', value);
  const rises = (value: string) => measure('five-chair-rises', value);

  // EWGSOP2: gait at or below 0.8 m/s, rises more than 15 s. FNIH and SDOC: below 0.8. AWGS 2019: below 1.0; 12 s or more.
  it('are met on the side of the printed limit, with its strictness', () => {
    expect(['0.79', '0.8', '0.80001'].map((value) => of('ewgsop2-2019', gait(value)))).toEqual([
      [true],
      [true],
      [false],
    ]);
    expect(['0.79', '0.8', '0.80001'].map((value) => of('sdoc-2020', gait(value)))).toEqual([
      [true],
      [false],
      [false],
    ]);
    expect(['0.99999', '1.0'].map((value) => of('awgs-2019', gait(value)))).toEqual([[true], [false]]);
    expect(['15', '15.01'].map((value) => of('ewgsop2-2019', rises(value)))).toEqual([[false], [true]]);
    expect(['11.99', '12'].map((value) => of('awgs-2019', rises(value)))).toEqual([[false], [true]]);
  });

  it('are those that the record holds, with the measure they rest on', () => {
    const measures = [gait('0.7'), rises('20')];
    const answer = read(ALL, { sex: 'male', ageYears: 72, measures }, threeEach('30'));
    expect(verdictsOf(answer, 'ewgsop2-2019')[0]?.companions).toEqual([
      {
        name: 'gait speed',
        kind: 'gait-speed',
        value: '0.7',
        measuredOn: '2026-03-10',
        reference: 'Observation/gait-speed',
        met: true,
      },
      {
        name: 'five chair rises',
        kind: 'five-chair-rises',
        value: '20',
        measuredOn: '2026-03-10',
        reference: 'Observation/five-chair-rises',
        met: true,
      },
    ]);
    expect(of('ewgsop2-2019')).toBeUndefined();
    expect(of('awgs-2025', ...measures)).toBeUndefined();
  });

  it('never change an outcome', () => {
    const outcome = (...measures: ReturnType<typeof measure>[]) =>
      verdictsOf(read(ALL, { sex: 'male', ageYears: 72, measures }, threeEach('30')), 'ewgsop2-2019')[0]
        ?.outcome;
    expect(outcome(gait('0.3'), rises('60'))).toBe(outcome());
  });
});

describe('the next measurement', () => {
  it('is suggested fourteen days after the test by each new panel, and by none of the first', () => {
    for (const { rules } of PANELS) expect(nextFrom('2026-03-10', rules)).toBe('2026-03-24');
    expect(nextFrom('2026-03-10', OLD.rules)).toBeUndefined();
  });

  it.each([
    ['2026-01-31', '2026-02-14'],
    ['2026-02-20', '2026-03-06'],
    ['2024-02-15', '2024-02-29'],
    ['2024-02-16', '2024-03-01'],
    ['2100-02-15', '2100-03-01'],
    ['2026-12-18', '2027-01-01'],
    ['2026-12-17', '2026-12-31'],
  ])('after %s is %s', (from, to) => {
    expect(nextFrom(from, US.rules)).toBe(to);
  });

  it('is said of each session that is interpreted', () => {
    const trials = threeEach('30', { testedOn: '2026-12-20', effective: '2026-12-20' });
    const answers = interpret(
      { sex: 'male', sessions: [sessionOf(threeEach('30'), 72), sessionOf(trials, 72)] },
      US,
    );
    expect(answers.map((answer) => answer.nextFrom)).toEqual(['2026-03-24', '2027-01-03']);
  });

  it('agrees with the calendar of the runtime for any day and any number of days', () => {
    const from = fc.integer({ min: 0, max: 80_000 }).map((days) => daysFrom('1890-01-01', days));
    fc.assert(
      fc.property(from, fc.integer({ min: 0, max: 5_000 }), (date, days) => {
        expect(addDays(date, days)).toBe(daysFrom(date, days));
      }),
      { numRuns: 500 },
    );
  });

  it('is not worked out from what is no calendar date', () => {
    for (const text of ['2026', '2026-02-30', '2026-13-01', '']) expect(addDays(text, 14)).toBeUndefined();
  });
});
