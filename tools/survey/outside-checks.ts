/** The run over the survey held against what was published elsewhere, and against what must hold by construction. */
import { KG_PER_LB } from '../../src/interpret/units.ts';
import type { SurveyPerson } from './microdata.ts';
import type { OwnRow } from './own-tables.ts';
import type { Judged } from './population.ts';
import {
  BRAZIL_2019,
  CANADA_2010,
  DODDS_2014,
  GERMANY_2023,
  KOREA_2017,
  KOREA_2019,
  type Pair,
  PERNA_2016,
} from './published.ts';
import { AGE_GROUPS, averageOf, bestOfDominant, bestOfEither, isIn, shareOf, sumOfBoth } from './weighted.ts';

/** One figure of the survey beside one published. */
export interface Check {
  readonly what: string;
  readonly source: string;
  readonly unit: 'kg' | 'lb' | '%';
  readonly found: number;
  readonly published: number;
  /** How far apart they may be; null: other people or another instrument, reported only. */
  readonly tolerance: number | null;
  /** Why that far, or why it is only reported. */
  readonly why: string;
}

const SEX_NAMES = [
  ['male', 'men', 0],
  ['female', 'women', 1],
] as const;

interface Wanted {
  readonly what: string;
  readonly source: string;
  readonly ages: readonly [number, number];
  readonly published: Pair;
  readonly figureOf: (person: SurveyPerson) => number | null;
  readonly why: string;
}

function compareMeans(
  people: readonly SurveyPerson[],
  { what, source, ages, published, figureOf, why }: Wanted,
) {
  return SEX_NAMES.map(([sex, name, place]): Check => {
    const group = people.filter((person) => isIn(person, sex, ...ages));
    const found = averageOf(group, figureOf).mean;
    return {
      what: `${what}, ${name}`,
      source,
      unit: 'kg',
      found,
      published: published[place],
      tolerance: null,
      why,
    };
  });
}

/** The one published figure of the same people: mean of both hands together at 30 to 39, in pounds. */
export function checkSameSurvey(people: readonly SurveyPerson[]): readonly Check[] {
  return SEX_NAMES.map(([sex, name, place]) => {
    const group = people.filter((person) => person.cycle === 'G' && isIn(person, sex, 30, 39));
    return {
      what: `mean of both hands together at 30 to 39, 2011-2012, ${name}`,
      source: PERNA_2016.source,
      unit: 'lb',
      found: averageOf(group, sumOfBoth).mean / Number(KG_PER_LB),
      published: PERNA_2016.sumLb[place],
      tolerance: 0.5,
      why: 'the same people; the weights may have been handled another way',
    };
  });
}

const ELSEWHERE = 'other people and another instrument: reported only';

export function checkElsewhere(people: readonly SurveyPerson[]): readonly Check[] {
  const about = { why: ELSEWHERE };
  const means: readonly Wanted[] = [
    { what: 'both hands together, 20 to 39', ages: [20, 39], figureOf: sumOfBoth, ...canada(true) },
    { what: 'both hands together, 6 to 79', ages: [6, 79], figureOf: sumOfBoth, ...canada(false) },
    {
      what: 'highest of the dominant hand, 19 to 80',
      ages: [19, 80],
      source: KOREA_2017.source,
      published: KOREA_2017.meanKg,
      figureOf: bestOfDominant,
      ...about,
    },
    {
      what: 'highest of the dominant hand, 35 to 39',
      ages: [35, 39],
      source: KOREA_2019.source,
      published: KOREA_2019.meanKg35to39,
      figureOf: bestOfDominant,
      ...about,
    },
    {
      what: 'highest of either hand, 30 to 39',
      ages: [30, 39],
      source: BRAZIL_2019.source,
      published: BRAZIL_2019.meanKg30to39,
      figureOf: bestOfEither,
      ...about,
    },
    {
      what: 'highest of either hand, 30 to 39, against the peak mean',
      ages: [30, 39],
      source: DODDS_2014.source,
      published: DODDS_2014.peakMeanKg,
      figureOf: bestOfEither,
      ...about,
    },
  ];
  return [...means.flatMap((wanted) => compareMeans(people, wanted)), ...peakLess(people)];
}

function canada(young: boolean) {
  return {
    source: CANADA_2010.source,
    published: young ? CANADA_2010.sumKg20to39 : CANADA_2010.sumKg6to79,
    why: `${ELSEWHERE}; that it is the sum of both hands is inferred from its size`,
  };
}

/** Peak mean less 2.5 SD, as the low limit was derived elsewhere. */
function peakLess(people: readonly SurveyPerson[]): readonly Check[] {
  return SEX_NAMES.map(([sex, name, place]) => {
    const group = people.filter((person) => isIn(person, sex, 35, 39));
    const { mean, sd } = averageOf(group, bestOfEither);
    return {
      what: `highest of either hand at 35 to 39, mean less 2.5 SD, ${name}`,
      source: GERMANY_2023.source,
      unit: 'kg',
      found: mean - 2.5 * sd,
      published: GERMANY_2023.lowKg[place],
      tolerance: null,
      why: ELSEWHERE,
    };
  });
}

/** Share below 27 kg (men) and 16 kg (women) at 80 and over, against the British share at 80. */
export function checkWeakAt80(judged: ReadonlyMap<string, readonly Judged[]>): readonly Check[] {
  return SEX_NAMES.map(([sex, name, place]) => {
    const group = (judged.get('ewgsop2-2019') ?? []).filter(({ person }) => isIn(person, sex, 80, 80));
    return {
      what: `below the EWGSOP2 limit at 80 and over, ${name}`,
      source: DODDS_2014.source,
      unit: '%',
      found: 100 * (shareOf(group, ({ reduced }) => reduced).share ?? Number.NaN),
      published: 100 * DODDS_2014.weakAt80[place],
      tolerance: 10,
      why: 'other country and instruments, age 80 there and 80 and over here, nobody in an institution here: 10 points',
    };
  });
}

/** Share below a centile of another population. */
export function checkCentiles(judged: ReadonlyMap<string, readonly Judged[]>): readonly Check[] {
  const sets = [
    ['tomkinson-2025-international', 'below the 20th centile of Tomkinson 2025', 20],
    ['dodds-2014-great-britain', 'below the 10th centile of Dodds 2014', 10],
  ] as const;
  return sets.flatMap(([id, what, published]) =>
    SEX_NAMES.flatMap(([sex, name]) =>
      AGE_GROUPS.filter(({ from }) => from >= 20).map((ages): Check => {
        const group = (judged.get(id) ?? []).filter(({ person }) => isIn(person, sex, ages.from, ages.to));
        const { share } = shareOf(group, ({ reduced }) => reduced);
        return {
          what: `${what}, ${name} ${ages.name}`,
          source: `${id}: by its definition, in its own population`,
          unit: '%',
          found: 100 * (share ?? Number.NaN),
          published,
          tolerance: null,
          why: 'another population: reported only; 80 and over is read at 80, so its share is too high',
        };
      }),
    ),
  );
}

/** Limits of one summary, in both sexes from the highest to the lowest. */
export const LADDER = ['sdoc-2020', 'awgs-2019', 'ewgsop2-2019', 'fnih-2014', 'icuaw-2008'] as const;

/** People below a lower limit and not below the next higher one: there must be none. */
export function outOfOrder(judged: ReadonlyMap<string, readonly Judged[]>): readonly string[] {
  const reducedBy = (id: string) =>
    new Map((judged.get(id) ?? []).map(({ person, reduced }) => [person.sequence, reduced]));
  return LADDER.slice(1).flatMap((lower, index) => {
    const higher = LADDER[index] ?? '';
    const above = reducedBy(higher);
    return [...reducedBy(lower)].flatMap(([sequence, reduced]) =>
      reduced && above.get(sequence) === false ? [`${sequence}: ${lower} but not ${higher}`] : [],
    );
  });
}

/** The survey's own tables: what must be so by construction. */
export function summariseOwn(rows: readonly OwnRow[]) {
  const shares = rows.map(({ belowTwoSd }) => belowTwoSd);
  const usual = rows.filter(({ belowTwoSd }) => belowTwoSd >= 0.005 && belowTwoSd <= 0.04);
  const groups = new Map<string, OwnRow[]>();
  for (const row of rows) {
    const name = `${row.table} ${row.row.replace(/ from .*/, '')}`;
    groups.set(name, [...(groups.get(name) ?? []), row]);
  }
  const pooled = [...groups].map(([name, own]) => {
    const people = own.reduce((sum, row) => sum + row.people, 0);
    return { name, share: own.reduce((sum, row) => sum + row.belowTwoSd * row.people, 0) / people };
  });
  return {
    rows: rows.length,
    usual: usual.length,
    lowest: Math.min(...shares),
    highest: Math.max(...shares),
    pooled,
    tenthLowest: Math.min(...rows.map(({ belowTenth }) => belowTenth)),
    tenthHighest: Math.max(...rows.map(({ belowTenth }) => belowTenth)),
    tenthBeyondOneFigure: rows.filter((row) => Math.abs(row.belowTenth - 0.1) > row.largestFigure + 0.001)
      .length,
  };
}

export function holds({ found, published, tolerance }: Check): boolean | null {
  return tolerance === null ? null : Math.abs(found - published) <= tolerance;
}
