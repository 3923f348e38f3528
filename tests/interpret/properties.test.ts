/** What must hold for any readings at all. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Interpretation, Refusal, Verdict } from '../../src/interpret/finding.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import { judgePanel } from '../../src/interpret/judge.ts';
import { HANDS, type Sex, type Trial } from '../../src/interpret/measurement.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { ALL, deepFreeze, isVerdict, sessionOf, trial } from './build.ts';
import { fixedText } from './fixed-point.ts';

const UNITS: readonly ChartedUnit[] = ['kg', 'kgf', '[lb_av]', '[lbf_av]', 'N'];
const ages = fc.integer({ min: 0, max: 110 });
const sexes = fc.constantFrom<Sex | null>('female', 'male', null);

/** Up to eight readings in tenths, each with a hand, in one unit. */
const readings = fc.record({
  unit: fc.constantFrom(...UNITS),
  list: fc.array(fc.record({ hand: fc.constantFrom(...HANDS), tenths: fc.integer({ min: 1, max: 1000 }) }), {
    minLength: 1,
    maxLength: 8,
  }),
});

type Readings = typeof readings extends fc.Arbitrary<infer R> ? R : never;

function toTrials({ unit, list }: Readings, raise: readonly number[] = []): Trial[] {
  return list.map(({ hand, tenths }, index) =>
    trial({
      reference: `Observation/${index}`,
      hand,
      reading: fixedText(BigInt(tenths + (raise[index] ?? 0)), 1),
      unit,
    }),
  );
}

/** Verdicts by set, sex and hand, those shown for a choice of sex included. */
function keyed(results: readonly (Verdict | Refusal)[]): Map<string, Verdict> {
  const verdicts = results.flatMap((result) => (isVerdict(result) ? [result] : result.columns));
  return new Map(verdicts.map((verdict) => [`${verdict.set.id} ${verdict.sex} ${verdict.hand}`, verdict]));
}

describe('more force', () => {
  const raises = fc.array(fc.integer({ min: 0, max: 300 }), { minLength: 8, maxLength: 8 });

  it('never makes a verdict worse and never lowers a z-score', () => {
    fc.assert(
      fc.property(readings, raises, ages, sexes, (given, raise, ageYears, sex) => {
        const judge = (trials: readonly Trial[]) =>
          keyed(judgePanel(ALL, summarise(trials, ALL.rules), { ageYears, sex }));
        const before = judge(toTrials(given));
        const after = judge(toTrials(given, raise));
        expect([...after.keys()]).toEqual([...before.keys()]);
        for (const [key, verdict] of after) {
          const weaker = before.get(key);
          if (verdict.outcome === 'reduced') expect(weaker?.outcome, key).toBe('reduced');
          if (verdict.zScore !== null)
            expect(verdict.zScore).toBeGreaterThanOrEqual(weaker?.zScore ?? Number.NaN);
        }
      }),
      { numRuns: 300 },
    );
  });

  it('leaves the reduced side at the limit shown, so that a reader can check it by eye', () => {
    fc.assert(
      fc.property(readings, ages, sexes, (given, ageYears, sex) => {
        const verdicts = keyed(
          judgePanel(ALL, summarise(toTrials(given), ALL.rules), { ageYears, sex }),
        ).values();
        for (const { compared, limit, outcome } of verdicts) {
          // Shown figures are rounded to a thousandth: away from the limit by more, they must tell the same story.
          const distance = Number(compared.value) - Number(limit.value);
          if (Math.abs(distance) > 0.001) expect(outcome).toBe(distance < 0 ? 'reduced' : 'not-reduced');
        }
      }),
      { numRuns: 300 },
    );
  });
});

describe('any session', () => {
  const answer = (given: Readings, ageYears: number, sex: Sex | null): readonly Interpretation[] =>
    interpret(deepFreeze({ sex, sessions: [sessionOf(toTrials(given), ageYears)] }), ALL);

  it('is answered alike in kilograms of mass and of force, but for the caution', () => {
    fc.assert(
      fc.property(readings, ages, sexes, ({ list }, ageYears, sex) => {
        const [mass] = answer({ unit: 'kg', list }, ageYears, sex);
        const [force] = answer({ unit: 'kgf', list }, ageYears, sex);
        expect(mass?.results.filter(isVerdict)).toEqual(force?.results.filter(isVerdict));
        expect(mass?.summaries).toEqual(force?.summaries);
      }),
    );
  });

  it('gives every set of the panel an answer, or says why the whole session has none', () => {
    fc.assert(
      fc.property(readings, ages, sexes, (given, ageYears, sex) => {
        const [only] = answer(given, ageYears, sex);
        const results = only?.results ?? [];
        const stopped = results.some(({ kind, set }) => kind === 'refusal' && set === null);
        const answered = new Set(results.map(({ set }) => set?.id));
        if (!stopped) expect(answered).toEqual(new Set(ALL.sets.map(({ ref }) => ref.id)));
      }),
    );
  });

  it('gives the same answer twice, and the same after a round trip through JSON', () => {
    fc.assert(
      fc.property(readings, ages, sexes, (given, ageYears, sex) => {
        const first = answer(given, ageYears, sex);
        expect(answer(given, ageYears, sex)).toEqual(first);
        expect(JSON.parse(JSON.stringify(first))).toEqual(first);
      }),
    );
  });
});
