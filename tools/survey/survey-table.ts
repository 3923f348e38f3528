/**
 * Reference values from the survey microdata: weighted mean, SD and percentiles by age band, sex and column.
 * Floats throughout, as survey statistics are computed; the figures are then rounded to two places and released.
 */
import type { Sex } from '../../src/interpret/measurement.ts';
import type { SurveyPerson } from './microdata.ts';

export const PERCENTILES = [5, 10, 20, 25, 50, 75, 80, 90, 95] as const;

/** From 6 to 7, 8 to 9 ... 18 to 19, then five years a band; 80 is top-coded, so the last is open. */
export const AGE_BANDS: readonly (readonly [number, number | null])[] = [
  ...[6, 8, 10, 12, 14, 16, 18].map((age) => [age, age + 1] as const),
  ...[20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75].map((age) => [age, age + 4] as const),
  [80, null],
];

/** What a table is of: one figure a person for each column, or null for a person who does not count. */
export interface SurveyColumn {
  readonly hand: string | null;
  readonly value: (person: SurveyPerson) => number | null;
}

export interface SurveyRow {
  readonly ageMin: number;
  readonly ageMax: number | null;
  readonly sex: Sex;
  readonly hand: string | null;
  readonly n: number;
  readonly mean: string;
  readonly sd: string;
  readonly percentiles: Readonly<Record<string, string>>;
}

export function surveyTable(
  people: readonly SurveyPerson[],
  columns: readonly SurveyColumn[],
): readonly SurveyRow[] {
  return columns.flatMap(({ hand, value }) =>
    (['male', 'female'] as const).flatMap((sex) =>
      AGE_BANDS.map(([ageMin, ageMax]) => {
        const band = people.filter(
          (person) =>
            person.sex === sex && person.ageYears >= ageMin && (ageMax === null || person.ageYears <= ageMax),
        );
        const points = band.flatMap((person) => {
          const own = value(person);
          return own === null ? [] : [{ value: own, weight: person.weight }];
        });
        return { ageMin, ageMax, sex, hand, ...describe(points) };
      }),
    ),
  );
}

interface Point {
  readonly value: number;
  readonly weight: number;
}

function describe(points: readonly Point[]): Pick<SurveyRow, 'n' | 'mean' | 'sd' | 'percentiles'> {
  const n = points.length;
  const total = points.reduce((sum, { weight }) => sum + weight, 0);
  const mean = points.reduce((sum, { value, weight }) => sum + value * weight, 0) / total;
  const squares = points.reduce((sum, { value, weight }) => sum + weight * (value - mean) ** 2, 0);
  const sd = Math.sqrt(((squares / total) * n) / (n - 1));
  const curve = cumulative(points, total);
  return {
    n,
    mean: mean.toFixed(2),
    sd: sd.toFixed(2),
    percentiles: Object.fromEntries(PERCENTILES.map((p) => [p, quantile(curve, p / 100).toFixed(2)])),
  };
}

/** Mid-point empirical distribution: each different value with the weight below it and half of its own. */
function cumulative(points: readonly Point[], total: number): readonly { value: number; share: number }[] {
  const weights = new Map<number, number>();
  for (const { value, weight } of points) weights.set(value, (weights.get(value) ?? 0) + weight);
  let below = 0;
  return [...weights]
    .sort(([a], [b]) => a - b)
    .map(([value, weight]) => {
      const share = (below + weight / 2) / total;
      below += weight;
      return { value, share };
    });
}

/** Linear between the points; the lowest and highest value outside them. */
function quantile(curve: readonly { value: number; share: number }[], wanted: number): number {
  const above = curve.findIndex(({ share }) => share >= wanted);
  const upper = curve[above] ?? curve.at(-1);
  const lower = curve[above - 1];
  if (!upper) return Number.NaN;
  if (!lower) return upper.value;
  return lower.value + ((upper.value - lower.value) * (wanted - lower.share)) / (upper.share - lower.share);
}

const meanOf = (trials: readonly number[]) => trials.reduce((sum, trial) => sum + trial, 0) / trials.length;
const meanOfThree = (trials: readonly number[]) => (trials.length === 3 ? meanOf(trials) : null);
const highestOf = (trials: readonly number[]) => (trials.length > 0 ? Math.max(...trials) : null);

/** The dominant hand or the other one, of people who named one hand as dominant. */
function byDominance(figureOf: (trials: readonly number[]) => number | null): readonly SurveyColumn[] {
  return (['dominant', 'nondominant'] as const).map((hand) => ({
    hand,
    value: ({ trials, dominant }) => {
      if (!dominant) return null;
      const other = dominant === 'right' ? 'left' : 'right';
      return figureOf(trials[hand === 'dominant' ? dominant : other]);
    },
  }));
}

/** The variants that are released, by the id of their table. */
export const SURVEY_VARIANTS: Readonly<Record<string, readonly SurveyColumn[]>> = {
  'nhanes-2011-2014-right-left-mean-of-3': (['right', 'left'] as const).map((hand) => ({
    hand,
    value: ({ trials }) => meanOfThree(trials[hand]),
  })),
  'nhanes-2011-2014-right-left-best-of-3': (['right', 'left'] as const).map((hand) => ({
    hand,
    value: ({ trials }) => highestOf(trials[hand]),
  })),
  'nhanes-2011-2014-dominant-mean-of-3': byDominance(meanOfThree),
  'nhanes-2011-2014-dominant-best-of-3': byDominance(highestOf),
  'nhanes-2011-2014-best-either-hand': [
    { hand: null, value: ({ trials }) => highestOf([...trials.right, ...trials.left]) },
  ],
  'nhanes-2011-2014-mean-of-both-hands': [
    {
      hand: null,
      value: ({ trials }) => {
        const [right, left] = [highestOf(trials.right), highestOf(trials.left)];
        return right === null || left === null ? null : (right + left) / 2;
      },
    },
  ],
  'nhanes-2011-2014-best-over-height-squared': [
    {
      hand: null,
      value: ({ trials, heightCm }) => {
        const best = highestOf([...trials.right, ...trials.left]);
        return best === null || heightCm === null ? null : best / (heightCm / 100) ** 2;
      },
    },
  ],
};
