/** The part of check-units.ts that only cautions: a figure possible in either unit, where the unit decides the result. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { checkUnitPlausibility, unitDoubts } from '../../src/interpret/check-units.ts';
import { exact } from '../../src/interpret/exact.ts';
import { type Hand, SEXES, type Sex, type Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { LimitOperator, LimitRow, ReadySet } from '../../src/interpret/reference-set.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { ALL, threeEach, trialsOf, US } from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

const T1985 = 'mathiowetz-1985-us-adults';
const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';

function doubts(trials: readonly Trial[], sex: Sex | null, ageYears: number, panel: Panel = US) {
  return unitDoubts(trials, { sex, ageYears }, panel);
}

const handsOf = (...given: Parameters<typeof doubts>) => doubts(...given).map(({ hand }) => hand);
const withTables = (...ids: string[]): Panel => ({
  ...US,
  sets: US.sets.filter(({ ref }) => ids.includes(ref.id)),
});

describe('kilograms that could be pounds', () => {
  it('are doubted: 45 kg is strong for a man of 72, and 45 lb would be reduced', () => {
    // Survey, right hand: 36.61 + 7.30 = 43.91 kg; limit 22.01 kg, which is 48.52 lb.
    const trials = trialsOf('right', ['44', '45', '46'], { unit: 'kg' });
    expect(doubts(trials, 'male', 72)).toEqual([
      { code: 'UNIT_DOUBTFUL', hand: 'right', facts: { figure: '45.0', unit: 'kg', otherUnit: 'lb' } },
    ]);
    expect(checkUnitPlausibility(trials, { sex: 'male', ageYears: 72 }, US)).toBeUndefined();
  });

  it('are doubted for kilogram-force as for kilograms, by the mean, not by one reading', () => {
    expect(handsOf(trialsOf('right', ['45'], { unit: 'kgf' }), 'male', 72)).toEqual(['right']);
    expect(handsOf(trialsOf('right', ['45', '45', '40'], { unit: 'kg' }), 'male', 72)).toEqual([]);
  });

  it('are doubted from just above one SD over the mean, as long as the pounds would be reduced', () => {
    const right = (reading: string) => handsOf(trialsOf('right', [reading], { unit: 'kg' }), 'male', 72);
    expect(right('43.91')).toEqual([]);
    expect(right('43.910001')).toEqual(['right']);
    // 22.01 / 0.45359237 = 48.52374390...
    expect(right('48.523743')).toEqual(['right']);
    expect(right('48.523744')).toEqual([]);
  });
});

describe('pounds that could be kilograms', () => {
  it('are doubted: 30 lb is reduced for a man of 72, and 30 kg would be ordinary', () => {
    expect(doubts(trialsOf('right', ['30'], { unit: '[lb_av]' }), 'male', 72)).toEqual([
      { code: 'UNIT_DOUBTFUL', hand: 'right', facts: { figure: '30.0', unit: 'lb', otherUnit: 'kg' } },
    ]);
    expect(handsOf(trialsOf('right', ['30'], { unit: '[lbf_av]' }), 'male', 72)).toEqual(['right']);
  });

  it('are not doubted by a table that would call them reduced in either unit', () => {
    // 1985: limit 32.3 lb; survey: 22.01 kg. As kilograms 14.65 is 32.297... lb and 14.66 is 32.319... lb.
    const right = (reading: string) => handsOf(trialsOf('right', [reading], { unit: '[lb_av]' }), 'male', 72);
    expect(right('10')).toEqual([]);
    expect(right('14.65')).toEqual([]);
    expect(right('14.66')).toEqual(['right']);
  });

  it('are not doubted when they are not reduced by any table', () => {
    const right = (reading: string) => handsOf(trialsOf('right', [reading], { unit: '[lb_av]' }), 'male', 72);
    expect(right('48.523743')).toEqual(['right']);
    expect(right('48.523744')).toEqual([]);
    expect(right('60')).toEqual([]);
  });
});

describe('the hands', () => {
  it('are doubted each by itself, right before left', () => {
    const both = threeEach('45', { unit: 'kg' });
    expect(handsOf(both, 'male', 72)).toEqual(['right', 'left']);
    expect(handsOf(both.toReversed(), 'male', 72)).toEqual(['right', 'left']);
    const leftOnly = [
      ...trialsOf('right', ['30'], { unit: 'kg' }),
      ...trialsOf('left', ['45'], { unit: 'kg' }),
    ];
    expect(handsOf(leftOnly, 'male', 72)).toEqual(['left']);
  });
});

describe('the tables', () => {
  it('need not agree: one is enough, in whatever order', () => {
    const strong = trialsOf('right', ['45'], { unit: 'kg' });
    expect(handsOf(strong, 'male', 72, withTables(T1985))).toEqual([]);
    expect(handsOf(strong, 'male', 72, withTables(SURVEY))).toEqual(['right']);
    expect(handsOf(strong, 'male', 72, { ...US, sets: US.sets.toReversed() })).toEqual(['right']);
  });

  it('are the only sets asked: cut-points alone doubt nothing', () => {
    const sets = ALL.sets.filter(({ ref }) => ref.kind === 'cut-points');
    for (const [reading, unit] of [
      ['45', 'kg'],
      ['30', '[lb_av]'],
    ] satisfies [string, ChartedUnit][])
      expect(handsOf(threeEach(reading, { unit }), 'male', 72, { ...ALL, sets })).toEqual([]);
  });

  it('doubt nothing where none covers the person, or there is no trial', () => {
    expect(handsOf(threeEach('45', { unit: 'kg' }), 'male', 4)).toEqual([]);
    expect(handsOf([], 'male', 72)).toEqual([]);
  });
});

describe('newtons that could be kilograms', () => {
  it('are doubted: 30 N is reduced for a man of 72, and 30 kg would not be', () => {
    expect(doubts(trialsOf('right', ['30'], { unit: 'N' }), 'male', 72)).toEqual([
      { code: 'UNIT_DOUBTFUL', hand: 'right', facts: { figure: '30.0', unit: 'N', otherUnit: 'kg' } },
    ]);
  });

  it('are never doubted when a figure of that size would be more than three SD above every norm as kilograms', () => {
    // Man of 72, right hand: 1985 to 139.8 lb, which is 63.4122... kg; survey to 58.51 kg.
    const right = (reading: string) => handsOf(trialsOf('right', [reading], { unit: 'N' }), 'male', 72);
    expect(right('63.41')).toEqual(['right']);
    expect(right('63.42')).toEqual([]);
    fc.assert(
      fc.property(tenths(635, 9806), ({ text }) => {
        expect(right(text)).toEqual([]);
      }),
    );
  });
});

/** One open row for each sex that is given, in kilograms. */
function tableOf(
  rows: Partial<Record<Sex, { mean: string; sd: string; limit: string }>>,
  operator: LimitOperator,
) {
  const set: ReadySet = {
    ...(US.sets[0] as ReadySet),
    unit: 'kg',
    rows: Object.entries(rows).map(
      ([sex, { mean, sd, limit }]): LimitRow => ({
        sex: sex as Sex,
        hand: 'right',
        ageMin: 20,
        ageMax: null,
        limit: exact(limit),
        operator,
        norm: { mean, sd },
        verification: 'two-sources',
      }),
    ),
  };
  return set;
}

const panelOf = (...sets: ReadySet[]): Panel => ({ ...US, sets });
const man = (figures: { mean: string; sd: string; limit: string }, operator: LimitOperator = '<=') =>
  panelOf(tableOf({ male: figures }, operator));

describe('the limits of the rule', () => {
  const kg = (reading: string) => trialsOf('right', [reading], { unit: 'kg' });
  const lb = (reading: string) => trialsOf('right', [reading], { unit: '[lb_av]' });

  it('count kilograms at exactly one SD above the mean as not strong, and any more as strong', () => {
    const panel = man({ mean: '60', sd: '10', limit: '40' });
    expect(handsOf(kg('70'), 'male', 40, panel)).toEqual([]);
    expect(handsOf(kg('70.000000001'), 'male', 40, panel)).toEqual(['right']);
  });

  it('read the kilograms as pounds with the operator of the row', () => {
    // 100 lb is exactly 45.359237 kg.
    const at = (limit: string, operator: LimitOperator) =>
      handsOf(kg('100'), 'male', 40, man({ mean: '60', sd: '10', limit }, operator));
    expect(at('45.359237', '<=')).toEqual(['right']);
    expect(at('45.359237', '<')).toEqual([]);
    expect(at('45.359236', '<=')).toEqual([]);
    expect(at('45.359238', '<')).toEqual(['right']);
  });

  it('read the pounds as charted with the operator of the row', () => {
    const at = (limit: string, operator: LimitOperator) =>
      handsOf(lb('100'), 'male', 40, man({ mean: '90', sd: '10', limit }, operator));
    expect(at('45.359237', '<=')).toEqual(['right']);
    expect(at('45.359237', '<')).toEqual([]);
    expect(at('45.359236', '<=')).toEqual([]);
    expect(at('45.359238', '<')).toEqual(['right']);
  });

  it('count pounds that as kilograms are at exactly three SD above the mean as possible, and any more not', () => {
    const at = (mean: string) => handsOf(lb('100'), 'male', 40, man({ mean, sd: '10', limit: '50' }));
    expect(at('70')).toEqual(['right']);
    expect(at('69.999999999')).toEqual([]);
  });

  it('are those of the released rule', () => {
    const panel = man({ mean: '60', sd: '10', limit: '40' });
    const withRule = (parameters: Partial<typeof US.rules.unitPlausibility>): Panel => ({
      ...panel,
      rules: { ...US.rules, unitPlausibility: { ...US.rules.unitPlausibility, ...parameters } },
    });
    expect(handsOf(kg('75'), 'male', 40, withRule({}))).toEqual(['right']);
    expect(handsOf(kg('75'), 'male', 40, withRule({ cautionAboveSd: '1.5' }))).toEqual([]);
    expect(handsOf(kg('75'), 'male', 40, withRule({ aboveSd: '9', withinSd: '0' }))).toEqual(['right']);
    expect(handsOf(lb('80'), 'male', 40, withRule({}))).toEqual(['right']);
    expect(handsOf(lb('80'), 'male', 40, withRule({ withinSd: '2' }))).toEqual(['right']);
    expect(handsOf(lb('80'), 'male', 40, withRule({ withinSd: '1.9' }))).toEqual([]);
    expect(handsOf(lb('80'), 'male', 40, withRule({ aboveSd: '0', cautionAboveSd: '0' }))).toEqual(['right']);
  });
});

describe('where the sex is not usable', () => {
  const strong = { mean: '60', sd: '10', limit: '40' };
  const plain = { mean: '60', sd: '30', limit: '40' };
  const trials = trialsOf('right', ['80'], { unit: 'kg' });

  it('a table doubts only by the rows of both sexes', () => {
    const one = panelOf(tableOf({ female: strong, male: plain }, '<='));
    expect(handsOf(trials, 'female', 40, one)).toEqual(['right']);
    expect(handsOf(trials, 'male', 40, one)).toEqual([]);
    expect(handsOf(trials, null, 40, one)).toEqual([]);
    expect(handsOf(trials, null, 40, panelOf(tableOf({ female: strong, male: strong }, '<=')))).toEqual([
      'right',
    ]);
  });

  it('two tables that each doubt for one sex do not doubt for both', () => {
    const crossed = panelOf(
      tableOf({ female: strong, male: plain }, '<='),
      tableOf({ female: plain, male: strong }, '<='),
    );
    for (const sex of SEXES) expect(handsOf(trials, sex, 40, crossed)).toEqual(['right']);
    expect(handsOf(trials, null, 40, crossed)).toEqual([]);
  });
});

/**
 * Both checks in whole numbers of 10^-10 kg: a reading in hundredths, means and SDs in hundredths of the table's
 * unit, a pound 45359237 of 10^-8 kg. Readings on both sides of every threshold of every row.
 */
describe('held and doubted, in every row of both tables', () => {
  const FACTOR = { kg: 10n ** 8n, lb: 45_359_237n } as const;
  const ordinary = (b: (sds: bigint) => bigint, other: bigint) => other <= b(3n) && other >= b(-3n);
  const hundredths = (decimal: string) => BigInt(Math.round(Number(decimal) * 100));
  const tables = US.sets.filter(({ ref }) => ref.kind === 'table');

  /** Mean plus so many SD, in 10^-10 kg. */
  const bound = (set: ReadySet, row: LimitRow, sds: bigint) =>
    (hundredths(row.norm?.mean ?? '') + sds * hundredths(row.norm?.sd ?? '')) *
    FACTOR[set.unit as 'kg' | 'lb'];

  function expected(reading: bigint, charted: 'kg' | 'lb', sex: Sex | null, ageYears: number, hand: string) {
    const own = reading * FACTOR[charted];
    const other = reading * FACTOR[charted === 'kg' ? 'lb' : 'kg'];
    const anyTable = (says: (b: (sds: bigint) => bigint) => boolean) =>
      tables.some((set) => {
        const rows = set.rows.filter(
          (row) =>
            (sex === null || row.sex === sex) &&
            row.hand === hand &&
            row.ageMin <= ageYears &&
            (row.ageMax ?? 200) >= ageYears,
        );
        return rows.length > 0 && rows.every((row) => says((sds) => bound(set, row, sds)));
      });
    return {
      held: charted === 'kg' && anyTable((b) => own > b(3n)),
      ordinary: anyTable((b) => ordinary(b, other)),
      doubted: anyTable((b) =>
        charted === 'kg' ? own > b(1n) && other <= b(-2n) : own <= b(-2n) && other > b(-2n) && other <= b(3n),
      ),
    };
  }

  it.each([
    ['kg', 'kg'],
    ['lb', '[lb_av]'],
  ] satisfies ['kg' | 'lb', ChartedUnit][])('agree with whole numbers (charted in %s)', (charted, unit) => {
    const seen = { held: 0, doubted: 0, neither: 0 };
    for (const set of tables) {
      for (const row of set.rows) {
        const edges = [1n, 3n, -2n, -3n].flatMap((sds) =>
          Object.values(FACTOR).map((factor) => bound(set, row, sds) / factor),
        );
        const readings = edges
          .flatMap((edge) => [edge - 1n, edge, edge + 1n])
          .filter((reading) => reading > 0n);
        for (const reading of readings) {
          for (const sex of [row.sex, null]) {
            const subject = { sex, ageYears: row.ageMin };
            const trials = trialsOf(row.hand as Hand, [fixedText(reading, 2)], { unit });
            const held = checkUnitPlausibility(trials, subject, US);
            const own = expected(reading, charted, sex, row.ageMin, row.hand ?? '');
            const otherUnit = own.ordinary ? 'lb' : '';
            expect(
              { otherUnit: held?.facts.otherUnit, doubted: unitDoubts(trials, subject, US).length > 0 },
              `${row.sex} ${row.hand} ${row.ageMin}: ${reading}`,
            ).toEqual({ otherUnit: own.held ? otherUnit : undefined, doubted: own.doubted });
            if (own.held) seen.held += 1;
            if (own.doubted) seen.doubted += 1;
            if (!own.held && !own.doubted) seen.neither += 1;
          }
        }
      }
    }
    expect(charted === 'kg' ? seen.held > 100 : seen.held === 0).toBe(true);
    expect(Math.min(seen.doubted, seen.neither)).toBeGreaterThan(100);
  });
});
