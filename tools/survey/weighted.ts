/** Weighted figures of groups of people of the survey. */
import type { Sex } from '../../src/interpret/measurement.ts';
import type { SurveyPerson } from './microdata.ts';

/** 80 stands for 80 and over: the survey gives no higher age. */
export const AGE_GROUPS = [
  { name: '6-19', from: 6, to: 19 },
  { name: '20-39', from: 20, to: 39 },
  { name: '40-59', from: 40, to: 59 },
  { name: '60-69', from: 60, to: 69 },
  { name: '70-79', from: 70, to: 79 },
  { name: '80+', from: 80, to: 80 },
] as const;

export type AgeGroup = (typeof AGE_GROUPS)[number];

export function isIn(person: SurveyPerson, sex: Sex, from: number, to: number): boolean {
  return person.sex === sex && person.ageYears >= from && person.ageYears <= to;
}

/** People, and the weighted share of them for whom it holds; null for nobody. */
export interface Share {
  readonly people: number;
  readonly share: number | null;
}

export function shareOf<T extends { readonly weight: number }>(
  group: readonly T[],
  holds: (one: T) => boolean,
): Share {
  const total = group.reduce((sum, { weight }) => sum + weight, 0);
  const counted = group.filter(holds).reduce((sum, { weight }) => sum + weight, 0);
  return { people: group.length, share: total > 0 ? counted / total : null };
}

export interface Average {
  readonly people: number;
  readonly mean: number;
  readonly sd: number;
}

/** Weighted mean and SD of a figure, of the people who have it. */
export function averageOf(
  people: readonly SurveyPerson[],
  figureOf: (person: SurveyPerson) => number | null,
): Average {
  const points = people.flatMap((person) => {
    const figure = figureOf(person);
    return figure === null ? [] : [{ figure, weight: person.weight }];
  });
  const total = points.reduce((sum, { weight }) => sum + weight, 0);
  const mean = points.reduce((sum, { figure, weight }) => sum + figure * weight, 0) / total;
  const squares = points.reduce((sum, { figure, weight }) => sum + weight * (figure - mean) ** 2, 0);
  return { people: points.length, mean, sd: Math.sqrt(squares / total) };
}

const highest = (trials: readonly number[]) => (trials.length > 0 ? Math.max(...trials) : null);

/** Highest of either hand, in kg. */
export const bestOfEither = ({ trials }: SurveyPerson) => highest([...trials.right, ...trials.left]);

/** Highest of the right and highest of the left hand together, in kg; null unless both were tested. */
export function sumOfBoth({ trials }: SurveyPerson): number | null {
  const [right, left] = [highest(trials.right), highest(trials.left)];
  return right === null || left === null ? null : right + left;
}

/** Highest of the dominant hand, in kg; null for people who use both hands alike. */
export const bestOfDominant = ({ trials, dominant }: SurveyPerson) =>
  dominant ? highest(trials[dominant]) : null;
