/** Any person and any sittings that the record can hold, for properties. */
import fc from 'fast-check';
import type { InterpretInput, SessionInput } from '../../src/interpret/interpret.ts';
import {
  type Dominance,
  HANDS,
  type Measure,
  type Protocol,
  type Sex,
  type Subject,
  type Trial,
} from '../../src/interpret/measurement.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { measure, trial } from './build.ts';
import { fixedText } from './fixed-point.ts';

const maybe = <T>(value: fc.Arbitrary<T>) => fc.option(value, { nil: undefined });
const decimal = (min: number, max: number) =>
  fc.integer({ min, max }).map((count) => fixedText(BigInt(count), 1));

const measures: fc.Arbitrary<readonly Measure[] | undefined> = maybe(
  fc
    .record({
      height: maybe(decimal(800, 2300)),
      weight: maybe(decimal(100, 3000)),
      bmi: maybe(decimal(100, 800)),
      'gait-speed': maybe(decimal(1, 30)),
      'five-chair-rises': maybe(decimal(40, 600)),
    })
    .map((values) =>
      Object.entries(values).flatMap(([kind, value]) =>
        value ? [measure(kind as Measure['kind'], value)] : [],
      ),
    ),
);

const ages = fc
  .tuple(fc.integer({ min: 0, max: 120 }), fc.boolean())
  .map(([ageYears, uncertain]) => (uncertain ? { ageYears, ageAtMost: ageYears + 1 } : { ageYears }));
const sexes = fc.constantFrom<Sex | null>('female', 'male', null);
const dominances = fc.constantFrom<Dominance | undefined>('right', 'left', 'both', undefined);

export const anySubject: fc.Arbitrary<Subject> = fc
  .tuple(ages, sexes, dominances, measures)
  .map(([age, sex, dominant, own]) => ({ ...age, sex, dominant, measures: own }));

const protocols: fc.Arbitrary<Protocol | undefined> = maybe(
  fc.record({
    posture: maybe(fc.constantFrom<'seated' | 'standing' | 'recumbent'>('seated', 'standing', 'recumbent')),
    arm: maybe(
      fc.constantFrom<'elbow-90-unsupported' | 'elbow-straight'>('elbow-90-unsupported', 'elbow-straight'),
    ),
    handle: maybe(fc.constantFrom('1', '2', '5')),
    instrument: maybe(fc.constantFrom<'hydraulic' | 'spring'>('hydraulic', 'spring')),
    calibratedOn: maybe(fc.constantFrom('2020-02-29', '2026-01-01')),
  }),
);

const squeeze = fc.record({
  hand: fc.constantFrom(...HANDS),
  tenths: fc.integer({ min: 0, max: 1000 }),
  protocol: protocols,
  own: fc.integer({ min: 0, max: 9 }).map((roll) => roll === 0),
  preliminary: fc.boolean(),
});

/** One sitting of up to seven squeezes in one unit, timed a minute apart or with the date only. */
export const anyTrials = fc
  .record({
    unit: fc.constantFrom<ChartedUnit>('kg', 'kgf', '[lb_av]', '[lbf_av]', 'N'),
    list: fc.array(squeeze, { minLength: 1, maxLength: 7 }),
    timed: fc.boolean(),
    hour: fc.integer({ min: 0, max: 23 }),
  })
  .map(
    ({ unit, list, timed, hour }) =>
      (testedOn: string, raise: readonly number[] = []): Trial[] =>
        list.map(({ hand, tenths, protocol, own, preliminary }, index) => {
          const effective = timed
            ? `${testedOn}T${String(hour).padStart(2, '0')}:${String(index).padStart(2, '0')}:00Z`
            : testedOn;
          const reading = fixedText(BigInt(tenths + (raise[index] ?? 0)), 1);
          const testedAtMinute = timed ? Date.parse(effective) / 60_000 : null;
          const reference = `Observation/${testedOn}-${index}`;
          const when = { effective, testedOn, testedAtMinute };
          return trial({
            reference,
            hand,
            unit,
            reading,
            preliminary,
            protocol,
            ...when,
            ...(own && { ownBaseline: true }),
          });
        }),
  );

const DAYS = ['2025-03-31', '2025-09-30', '2026-03-10'];

/** Up to three sessions, the earlier ones prior or not. */
export const anyInput: fc.Arbitrary<InterpretInput> = fc
  .record({
    sex: sexes,
    dominant: dominances,
    sessions: fc.array(fc.record({ age: ages, measures, trials: anyTrials, prior: fc.boolean() }), {
      minLength: 1,
      maxLength: 3,
    }),
  })
  .map(({ sessions, ...person }) => ({
    ...person,
    sessions: sessions.map(({ trials, age, ...session }, index): SessionInput => {
      const testedOn = DAYS[index] ?? '';
      return { ...session, age, testedOn, trials: trials(testedOn) };
    }),
  }));
