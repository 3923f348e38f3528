/** What of the record goes with a test: companions of a set, the day of the next test. Measures: measures-near.test.ts. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../src/interpret/age.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import { nextFrom } from '../../src/interpret/next-measurement.ts';
import { ALL, measure, PANELS, panelNamed, read, sessionOf, threeEach, US, verdictsOf } from './build.ts';

const OLD = panelNamed('adult-inpatient-us', '1.0.0');
const DAY = 86_400_000;
const daysFrom = (date: string, days: number) =>
  new Date(Date.parse(date) + days * DAY).toISOString().slice(0, 10);

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
