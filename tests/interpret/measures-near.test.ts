/** Which measures of the record go with a test: the nearest of each kind, the latest of a day, or none where they differ. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { interpret, type SessionInput, toSessions } from '../../src/interpret/interpret.ts';
import type { Measure, MeasureKind } from '../../src/interpret/measurement.ts';
import { measuresNear } from '../../src/interpret/measures-near.ts';
import {
  ALL,
  measure,
  PANELS,
  panelNamed,
  refusalsOf,
  sessionOf,
  sitting,
  threeEach,
  US,
  verdictsOf,
} from './build.ts';

const OLD = panelNamed('adult-inpatient-us', '1.0.0');
const TEST = '2026-03-10';
const DAY = 86_400_000;
const daysFrom = (date: string, days: number) =>
  new Date(Date.parse(date) + days * DAY).toISOString().slice(0, 10);

/** So many days after the test, date only. */
const on = (kind: MeasureKind, days: number, value = '60', parts: Partial<Measure> = {}) =>
  measure(kind, value, { measuredOn: daysFrom(TEST, days), reference: `${kind} ${days}`, ...parts });
const near = (...every: Measure[]) =>
  measuresNear(TEST, 72, every, US.rules).measures?.map(({ reference }) => reference);

describe('measures that go with a test', () => {
  it('are the nearest of each kind, before or after', () => {
    expect(near(on('weight', -40), on('weight', -3), on('weight', 20), on('bmi', 1), on('bmi', -2))).toEqual([
      'bmi 1',
      'weight -3',
    ]);
  });

  it('are the earlier of two as near, in whatever order they come', () => {
    expect(near(on('weight', 5), on('weight', -5, '70'))).toEqual(['weight -5']);
    expect(near(on('weight', -5, '70'), on('weight', 5))).toEqual(['weight -5']);
  });

  it('are within the window of their kind: 90 days, height 1825, both ends included', () => {
    for (const kind of ['weight', 'bmi', 'gait-speed', 'five-chair-rises'] as const) {
      for (const days of [-90, 90]) expect(near(on(kind, days))).toEqual([`${kind} ${days}`]);
      for (const days of [-91, 91]) expect(near(on(kind, days))).toBeUndefined();
    }
    for (const days of [-1825, 1825]) expect(near(on('height', days))).toEqual([`height ${days}`]);
    for (const days of [-1826, 1826]) expect(near(on('height', days))).toBeUndefined();
  });

  it('are none without the rule, or where there are none', () => {
    expect(measuresNear(TEST, 72, [on('weight', 0)], OLD.rules)).toEqual({});
    expect(measuresNear(TEST, 72, [], US.rules)).toEqual({});
    expect(measuresNear(TEST, 72, [on('weight', 91)], US.rules)).toEqual({});
  });

  it('agree with a search of every day outwards', () => {
    const days = fc.uniqueArray(fc.integer({ min: -120, max: 120 }), { maxLength: 6 });
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
    const sessions = toSessions(sitting(trials), sitting([]), US, () => ({ ageYears: 72 }), every);
    expect(sessions.map(({ measures }) => measures?.map(({ value }) => value))).toEqual([['70'], ['60']]);
    for (const session of sessions) expect(session).not.toHaveProperty('conflicting');
    expect(
      toSessions(sitting(trials), sitting([]), OLD, () => ({ ageYears: 72 }), every).map(
        ({ measures }) => measures,
      ),
    ).toEqual([undefined, undefined]);
  });
});

describe('the height of a person who may be growing', () => {
  const height = (ageYears: number | null, days: number, panel = US) =>
    measuresNear(TEST, ageYears, [on('height', days)], panel.rules).measures?.length ?? 0;

  it('is within 90 days below 20 years, and within five years from 20', () => {
    for (const age of [0, 6, 19]) {
      for (const days of [-90, 0, 90]) expect(height(age, days), `${age}: ${days}`).toBe(1);
      for (const days of [-91, 91, -1825]) expect(height(age, days), `${age}: ${days}`).toBe(0);
    }
    for (const days of [-91, -1825, 1825]) expect(height(20, days)).toBe(1);
  });

  it('is within 90 days where the age is not known', () => {
    expect([height(null, -90), height(null, -91)]).toEqual([1, 0]);
  });

  it('is so in every panel', () => {
    for (const panel of PANELS) {
      const windows = [height(19, -90, panel), height(19, -91, panel), height(20, -1825, panel)];
      expect(windows, panel.ref.id).toEqual([1, 0, 1]);
    }
  });

  it('does not change the window of anything else', () => {
    for (const age of [null, 10, 72]) {
      expect(measuresNear(TEST, age, [on('weight', -90)], US.rules).measures).toHaveLength(1);
      expect(measuresNear(TEST, age, [on('weight', -91)], US.rules).measures).toBeUndefined();
    }
  });

  it('has a window of its own: a shorter one would shorten no other', () => {
    const { recordWindow } = US.rules;
    if (!recordWindow) throw new Error('no record window');
    const rules = {
      ...US.rules,
      recordWindow: { ...recordWindow, growing: { belowAge: 20, heightDays: 30 } },
    };
    const every = [on('weight', -60), on('height', -60)];
    expect(measuresNear(TEST, 10, every, rules).measures?.map(({ kind }) => kind)).toEqual(['weight']);
  });

  it('is taken by the age on the day of each session, the lower of two possible ages', () => {
    const at = (age: SessionInput['age']) =>
      toSessions(sitting(threeEach('30')), sitting([]), US, () => age, [on('height', -100)])[0]?.measures
        ?.length ?? 0;
    expect(at({ ageYears: 19 })).toBe(0);
    expect(at({ ageYears: 20 })).toBe(1);
    expect(at({ ageYears: 19, ageAtMost: 20 })).toBe(0);
    expect(at({ refusal: 'BIRTH_DATE_MISSING' })).toBe(0);
  });
});

/** On the day of the test at this time UTC; null: date only. */
const at = (kind: MeasureKind, time: string | null, value: string, reference = `${time} ${value}`) =>
  measure(kind, value, { reference, ...(time === null ? {} : { measuredAt: `${TEST}T${time}:00Z` }) });
const valuesOf = (...every: Measure[]) => {
  const { measures, conflicting } = measuresNear(TEST, 72, every, US.rules);
  return { values: measures?.map(({ value }) => value), conflicting };
};
const conflict = { values: undefined, conflicting: ['weight'] };
const taken = (value: string) => ({ values: [value], conflicting: undefined });

describe('several figures of one kind on the nearest day', () => {
  it('leave the latest by its time', () => {
    const [early, late] = [at('weight', '08:00', '60'), at('weight', '15:30', '62')];
    expect(valuesOf(early, late)).toEqual(taken('62'));
    expect(valuesOf(late, early)).toEqual(taken('62'));
  });

  it('leave the latest by the moment, not by the text: 08:00 at -05:00 is after 10:00 UTC', () => {
    const west = measure('weight', '62', { measuredAt: `${TEST}T08:00:00-05:00` });
    expect(valuesOf(at('weight', '10:00', '60'), west)).toEqual(taken('62'));
    expect(valuesOf(at('weight', '13:01', '60'), west)).toEqual(taken('60'));
    expect(valuesOf(at('weight', '13:00', '60'), west)).toEqual(conflict);
  });

  it('leave none where their times do not tell, and the kind is in conflict', () => {
    expect(valuesOf(at('weight', null, '60'), at('weight', null, '62'))).toEqual(conflict);
    expect(valuesOf(at('weight', null, '60'), at('weight', '08:00', '62'))).toEqual(conflict);
    expect(valuesOf(at('weight', '08:00', '60'), at('weight', '08:00', '62'))).toEqual(conflict);
    expect(
      valuesOf(at('weight', '07:00', '62'), at('weight', '08:00', '60'), at('weight', '08:00', '62')),
    ).toEqual(conflict);
  });

  it('that are equal are no conflict, whatever their times', () => {
    for (const [a, b] of [
      [null, null],
      [null, '08:00'],
      ['08:00', '08:00'],
      ['08:00', '09:00'],
    ] as const)
      expect(valuesOf(at('weight', a, '60'), at('weight', b, '60'))).toEqual(taken('60'));
    // The latest two are equal: that an earlier one differs is no matter.
    expect(
      valuesOf(at('weight', '07:00', '55'), at('weight', '09:00', '60'), at('weight', '09:00', '60')),
    ).toEqual(taken('60'));
  });

  it('are not settled by another day, however near', () => {
    expect(valuesOf(at('weight', null, '60'), at('weight', null, '62'), on('weight', -1, '61'))).toEqual(
      conflict,
    );
    // Nor do figures of a day further off make one of the nearest doubtful, nor of the day as near after it.
    expect(valuesOf(at('weight', null, '60'), on('weight', -1, '61'), on('weight', -1, '63'))).toEqual(
      taken('60'),
    );
    expect(valuesOf(on('weight', -2, '60'), on('weight', 2, '61'), on('weight', 2, '63'))).toEqual(
      taken('60'),
    );
  });

  it('of one kind leave the other kinds alone', () => {
    expect(valuesOf(at('weight', null, '60'), at('weight', null, '62'), at('height', null, '170'))).toEqual({
      values: ['170'],
      conflicting: ['weight'],
    });
  });
});

describe('the order of the request', () => {
  const KINDS: readonly MeasureKind[] = ['height', 'weight', 'bmi', 'gait-speed'];
  /** Few days, times and figures, so that they often meet. */
  const anyMeasure = fc
    .record({
      kind: fc.constantFrom(...KINDS),
      days: fc.integer({ min: -2, max: 2 }),
      hour: fc.option(fc.integer({ min: 8, max: 10 })),
      value: fc.constantFrom('60', '61', '62'),
    })
    .map(({ kind, days, hour, value }) => {
      const measuredOn = daysFrom(TEST, days);
      const time =
        hour === null ? {} : { measuredAt: `${measuredOn}T${String(hour).padStart(2, '0')}:00:00Z` };
      return measure(kind, value, { measuredOn, ...time });
    });
  const shuffled = fc
    .array(anyMeasure, { maxLength: 8 })
    .map((list) => list.map((each, index) => ({ ...each, reference: `Observation/${index}` })))
    .chain((list) => fc.tuple(fc.constant(list), fc.shuffledSubarray(list, { minLength: list.length })));

  it('never matters, not even to which of two equal records is named', () => {
    const said = (every: readonly Measure[]) => measuresNear(TEST, 72, every, US.rules);
    fc.assert(
      fc.property(shuffled, ([list, other]) => {
        expect(said(other)).toEqual(said(list));
      }),
      { numRuns: 1000 },
    );
  });

  it('agrees with a plain search: nearest day, then latest hour, then one figure', () => {
    fc.assert(
      fc.property(shuffled, ([list]) => {
        const { measures = [], conflicting = [] } = measuresNear(TEST, 72, list, US.rules);
        for (const kind of KINDS) {
          const day = [0, -1, 1, -2, 2]
            .map((days) =>
              list.filter((each) => each.kind === kind && each.measuredOn === daysFrom(TEST, days)),
            )
            .find((found) => found.length > 0);
          const figures = (found: readonly Measure[] = []) => [...new Set(found.map(({ value }) => value))];
          const allTimed = day?.every(({ measuredAt }) => measuredAt !== undefined);
          const last = day
            ?.map(({ measuredAt }) => measuredAt ?? '')
            .toSorted()
            .at(-1);
          const latest = allTimed ? day?.filter(({ measuredAt }) => measuredAt === last) : day;
          const [only, ...others] = figures(day).length === 1 ? figures(day) : figures(latest);
          const expected = others.length === 0 ? only : undefined;
          expect(measures.find((each) => each.kind === kind)?.value).toBe(expected);
          expect(conflicting.includes(kind)).toBe(day !== undefined && expected === undefined);
        }
      }),
      { numRuns: 1000 },
    );
  });
});

describe('a kind in conflict', () => {
  const BY_BMI = 'fnih-2014-bmi';
  const run = (every: readonly Measure[], reading = '30') => {
    const sessions = toSessions(
      sitting(threeEach(reading)),
      sitting([]),
      ALL,
      () => ({ ageYears: 72 }),
      every,
    );
    const [only] = interpret({ sex: 'male', sessions }, ALL);
    if (!only) throw new Error('no interpretation');
    return only;
  };
  const heights = [at('height', null, '160'), at('height', null, '190')];

  it('is cautioned once, after every other caution, and named', () => {
    const { cautions } = run([...heights, at('weight', null, '64')]);
    expect(cautions).toEqual([{ code: 'MEASURES_CONFLICT', hand: null, facts: { measure: 'height' } }]);
    const both = run([...heights, at('weight', '08:00', '64'), at('weight', '08:00', '65')]);
    expect(both.cautions.map(({ facts }) => facts.measure).toSorted()).toEqual(['height', 'weight']);
  });

  it('is not used: a set that needs it is not read', () => {
    const answer = run([...heights, at('weight', null, '64')]);
    expect(refusalsOf(answer, BY_BMI).map(({ code }) => code)).toEqual(['MEASURE_MISSING']);
    expect(verdictsOf(run([at('height', null, '160'), at('weight', null, '64')]), BY_BMI)).toHaveLength(1);
    // The charted index stands where height and weight do not give one.
    const [verdict] = verdictsOf(run([...heights, at('weight', null, '64'), at('bmi', null, '25')]), BY_BMI);
    expect(verdict?.divisor?.measures.map(({ kind }) => kind)).toEqual(['bmi']);
  });

  it('is not cautioned where nothing conflicts', () => {
    expect(run([at('height', null, '160'), at('height', null, '160')]).cautions).toEqual([]);
    expect(run([]).cautions).toEqual([]);
  });

  it('is not cautioned of a session that is stopped', () => {
    expect(run(heights, '90')).toMatchObject({ cautions: [] });
  });

  it('is that of its own session', () => {
    const then = { testedOn: '2025-01-01', effective: '2025-01-01' };
    const sessions = [
      sessionOf(threeEach('30', then), 71, { conflicting: ['weight'] }),
      sessionOf(threeEach('30'), 72),
    ];
    const codes = interpret({ sex: 'male', sessions }, US).map(({ cautions }) =>
      cautions.map(({ code }) => code),
    );
    expect(codes).toEqual([['MEASURES_CONFLICT'], []]);
  });
});
