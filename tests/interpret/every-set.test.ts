/** Every row of every set of every panel, against limits worked out from the text of the released files. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeSet } from '../../src/interpret/judge.ts';
import { type Measure, SEXES, type Subject } from '../../src/interpret/measurement.ts';
import { coversAge, type ReadySet } from '../../src/interpret/reference-set.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { measure, PANELS, panelNamed, trialsOf, US } from './build.ts';
import { fixedText } from './fixed-point.ts';
import { decimalOf, KG_IN, order, over, plus, type Rational, ratio, textOf, times } from './rational.ts';
import { type ExpectedRow, type ExpectedSet, expectedSets } from './released-rows.ts';

const FIRST = [panelNamed('adult-inpatient-us', '1.0.0'), panelNamed('all-published', '1.0.0')];
const EVERY = [...PANELS, ...FIRST].map((panel) => {
  const expected = expectedSets(panel.ref.id, panel.ref.version);
  return { name: `${panel.ref.id} ${panel.ref.version}`, panel, expected };
});

/** BMI 25 (1.6 m, 64 kg) unless a row needs another; heights and indices that lie in the stratum. */
function measuresFor({ stratum }: ExpectedRow): readonly Measure[] {
  if (stratum?.by === 'bmi') return [measure('bmi', stratum.min ?? stratum.max ?? '')];
  return [measure('height', stratum?.min ?? '160'), measure('bmi', '25')];
}

/** The person of a row, right-handed, and the hand that the row is for. */
function personOf(row: ExpectedRow) {
  const subject: Subject = {
    sex: row.sex,
    ageYears: row.ageMin,
    dominant: 'right',
    measures: measuresFor(row),
  };
  const hand = row.hand === 'left' || row.hand === 'nondominant' ? 'left' : 'right';
  return { subject, hand } as const;
}

const KINDS = new Set(['mean-of-both-hands'] as const);
const UNIT_CODES = { kg: 'kgf', lb: '[lbf_av]', N: 'N' } as const satisfies Record<string, ChartedUnit>;

/** What the set says of a force, in kilograms, charted alike three times on both hands. */
function outcomeAt(set: ReadySet, row: ExpectedRow, reading: string, unit: keyof typeof UNIT_CODES) {
  const { subject, hand } = personOf(row);
  const charted = (['right', 'left'] as const).flatMap((side) =>
    trialsOf(side, [reading, reading, reading], { unit: UNIT_CODES[unit] }),
  );
  const results = judgeSet(set, summarise(charted, US.rules, KINDS), subject);
  const own = results.find((result) => result.hand === null || result.hand === hand);
  return own?.kind === 'verdict' ? own.outcome : own?.code;
}

/** What the force is divided by, for the measures of `measuresFor`. */
function divisorOf({ quantity }: ExpectedSet): Rational {
  if (quantity === 'force-over-bmi') return ratio(25n);
  return quantity ? decimalOf('2.56') : ratio(1n);
}

describe.each(EVERY)('$name', ({ panel, expected }) => {
  it('reads exactly the rows of the released files, in their order', () => {
    expect(panel.sets.map(({ ref }) => ref.id)).toEqual(expected.map(({ id }) => id));
    for (const [index, set] of panel.sets.entries()) {
      const own = set.rows.map(({ sex, hand, ageMin, ageMax, stratum, operator }) => [
        sex,
        hand,
        ageMin,
        ageMax,
        stratum,
        operator,
      ]);
      const rows = expected[index]?.rows.map((row) => [
        row.sex,
        row.hand,
        row.ageMin,
        row.ageMax,
        row.stratum,
        row.operator,
      ]);
      expect(own, set.ref.id).toEqual(rows);
    }
  });

  it('has for every sex, hand, age to 130 and stratum at most one row, and no gap between its ages', () => {
    for (const set of panel.sets) {
      const hands = [...new Set(set.rows.map(({ hand }) => hand))];
      const first = Math.min(...set.rows.map(({ ageMin }) => ageMin));
      const last = Math.max(...set.rows.map(({ ageMax }) => ageMax ?? 130));
      for (const sex of SEXES)
        for (const hand of hands)
          for (let age = 0; age <= 130; age += 1) {
            const rows = set.rows.filter(
              (row) => row.sex === sex && row.hand === hand && coversAge(row, age),
            );
            const where = `${set.ref.id} ${sex} ${hand} ${age}`;
            expect(rows.length > 0, where).toBe(age >= first && age <= last);
            if (rows.some(({ stratum }) => stratum)) expectNoOverlap(rows, where);
            else expect(rows.length, where).toBeLessThanOrEqual(1);
          }
    }
  });

  it('turns at the limit of every row, to which side its operator says', () => {
    let judged = 0;
    for (const [index, set] of panel.sets.entries()) {
      const own = expected[index];
      for (const row of own?.rows ?? []) {
        const where = `${set.ref.id} ${row.sex} ${row.hand} ${row.ageMin} ${row.stratum?.min}`;
        if (!own || !row.limit) {
          expect(outcomeAt(set, row, '30', 'kg'), where).toBe('FIGURE_UNKNOWN');
          continue;
        }
        const atLimit = times(row.limit, divisorOf(own));
        const step = ratio(1n, 10n ** 9n);
        const at = (force: Rational) => outcomeAt(set, row, textOf(force) ?? '', own.unit);
        expect(at(atLimit), where).toBe(row.operator === '<=' ? 'reduced' : 'not-reduced');
        expect(at(plus(atLimit, step)), where).toBe('not-reduced');
        expect(at(plus(atLimit, ratio(-1n, 10n ** 9n))), where).toBe('reduced');
        judged += 1;
      }
    }
    expect(judged).toBeGreaterThan(20);
  });

  it('judges a force in any unit as exact fractions do, a millionth of the unit around each limit', () => {
    const places = panel.sets.flatMap((set, index) =>
      (expected[index]?.rows ?? []).flatMap((row) => {
        const own = expected[index];
        return row.limit && own ? [{ set, row, limit: row.limit, own }] : [];
      }),
    );
    const units = fc.constantFrom<keyof typeof UNIT_CODES>('kg', 'lb', 'N');
    fc.assert(
      fc.property(fc.nat(places.length - 1), units, fc.integer({ min: -2, max: 2 }), (pick, unit, steps) => {
        const place = places[pick];
        if (!place) return;
        const { set, row, limit, own } = place;
        const divisor = divisorOf(own);
        const scale = over(KG_IN[unit], KG_IN[own.unit]);
        const inUnit = over(times(limit, divisor), scale);
        const count = (inUnit.top * 10n ** 6n) / inUnit.bottom + BigInt(steps);
        const compared = over(times(ratio(count, 10n ** 6n), scale), divisor);
        const side = order(compared, limit);
        const reduced = side < 0 || (side === 0 && row.operator === '<=');
        expect(outcomeAt(set, row, fixedText(count, 6), unit)).toBe(reduced ? 'reduced' : 'not-reduced');
      }),
      { numRuns: 300 },
    );
  });
});

/** Every step of the printed decimals, from below the first stratum to above the last, is in at most one. */
function expectNoOverlap(rows: ReadySet['rows'], where: string): void {
  const strata = rows.flatMap(({ stratum }) => (stratum ? [stratum] : []));
  expect(strata, where).toHaveLength(rows.length);
  const digits = strata[0]?.digits ?? 0;
  const scaled = (text: string) => Math.round(Number(text) * 10 ** digits);
  const ends = strata.flatMap(({ min, max }) => [min, max]).flatMap((end) => (end ? [scaled(end)] : []));
  const [from, to] = [Math.min(...ends), Math.max(...ends)];
  for (let step = from; step <= to; step += 1) {
    const holding = strata.filter(
      ({ min, max }) => (min === null || step >= scaled(min)) && (max === null || step <= scaled(max)),
    );
    expect(holding.length, `${where} ${step}`).toBe(1);
  }
}
