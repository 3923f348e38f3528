/** Which rows of a set are possible for this person: one when sex and age are known, more when they are not. */
import { compare, exact, toDecimalText } from './exact.ts';
import { bmiOf, type ExactDivisor, measureOf, usedMeasure } from './figure.ts';
import type { MeasureUsed } from './finding.ts';
import { type Hand, SEXES, type Sex, type Subject } from './measurement.ts';
import { coversAge, type LimitRow, type ReadySet, type RowHand, type Stratum } from './reference-set.ts';

/** Ages in completed years that the person may have been at the test. */
export function agesOf({ ageYears, ageAtMost }: Subject): readonly number[] {
  return ageAtMost === undefined || ageAtMost === ageYears ? [ageYears] : [ageYears, ageAtMost];
}

/** Sexes that the tables may be read for. */
export function sexesOf({ sex }: Subject): readonly Sex[] {
  return sex ? [sex] : SEXES;
}

/** Whether the set has columns for the dominant hand, and so needs to know it. */
export function isByDominance(set: ReadySet): boolean {
  return shapeOf(set).byDominance;
}

interface Shape {
  readonly byDominance: boolean;
  readonly stratum: Stratum | undefined;
}

/** Looked up once for each set: its rows are frozen. */
const shapes = new WeakMap<readonly LimitRow[], Shape>();

function shapeOf({ rows }: ReadySet): Shape {
  const known = shapes.get(rows);
  if (known) return known;
  const shape = {
    byDominance: rows.some(({ hand }) => hand === 'dominant' || hand === 'nondominant'),
    stratum: rows.find(({ stratum }) => stratum)?.stratum,
  };
  shapes.set(rows, shape);
  return shape;
}

/** The column of a tested hand; undefined when it needs the dominance, which is not known. */
export function columnOf(set: ReadySet, hand: Hand | null, { dominant }: Subject): RowHand | undefined {
  if (hand === null || !isByDominance(set)) return hand;
  if (dominant !== 'right' && dominant !== 'left') return undefined;
  return hand === dominant ? 'dominant' : 'nondominant';
}

/** What places the person in a stratum, rounded as the ends are printed. */
export interface Placing {
  readonly exactly: string;
  readonly measure: MeasureUsed;
}

export function placingFor(by: Stratum['by'], digits: number, subject: Subject): Placing | undefined {
  if (by === 'height') {
    const height = measureOf(subject, 'height');
    return height && { exactly: toDecimalText(exact(height.value), digits), measure: usedMeasure(height) };
  }
  const bmi: ExactDivisor | undefined = bmiOf(subject);
  const [first] = bmi?.written.measures ?? [];
  if (!bmi || !first) return undefined;
  const exactly = toDecimalText(bmi.value, digits);
  return { exactly, measure: { ...first, kind: 'bmi', value: exactly } };
}

/** The strata of a set, as it needs one measure for all of them; undefined when it has none. */
export function stratumOf(set: ReadySet): Stratum | undefined {
  return shapeOf(set).stratum;
}

/** The row for one sex, one age and one column; undefined where the set has none. */
export function findRow(
  set: ReadySet,
  person: {
    readonly ageYears: number;
    readonly sex: Sex;
    readonly hand: RowHand;
    readonly placing?: Placing | undefined;
  },
): LimitRow | undefined {
  return set.rows.find(
    (row) =>
      row.sex === person.sex &&
      row.hand === person.hand &&
      coversAge(row, person.ageYears) &&
      (!row.stratum || (person.placing !== undefined && holds(row.stratum, person.placing.exactly))),
  );
}

function holds({ min, max }: Stratum, value: string): boolean {
  const placed = exact(value);
  return (
    (min === null || compare(placed, exact(min)) >= 0) && (max === null || compare(placed, exact(max)) <= 0)
  );
}

/** Every row that is possible, each once; `undefined` for a sex and age that the set does not have. */
export function possibleRows(
  set: ReadySet,
  subject: Subject,
  hand: RowHand,
  placing?: Placing,
): readonly (LimitRow | undefined)[] {
  const rows = sexesOf(subject).flatMap((sex) =>
    agesOf(subject).map((ageYears) => findRow(set, { ageYears, sex, hand, placing })),
  );
  return [...new Set(rows)];
}
