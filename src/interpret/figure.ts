/** From a summary of the trials to the figure that a set compares: in its unit, over BMI or height squared. */
import { divide, type Exact, exact, multiply, toDecimalText } from './exact.ts';
import type { Divisor, FigureUnit, MeasureUsed } from './finding.ts';
import type { Measure, MeasureKind, Subject } from './measurement.ts';
import type { Quantity, ReadySet } from './reference-set.ts';
import type { ForceUnit } from './units.ts';

const CM_PER_M = exact('100');
/** Places shown of a divisor; the division itself is exact. */
const DIVISOR_DIGITS = 2;

export interface ExactDivisor {
  readonly value: Exact;
  readonly written: Divisor;
}

export function measureOf(subject: Subject, kind: MeasureKind): Measure | undefined {
  return subject.measures?.find((measure) => measure.kind === kind);
}

export function usedMeasure({ kind, value, measuredOn, reference }: Measure): MeasureUsed {
  return { kind, value, measuredOn, reference };
}

/** The body mass index: from height and weight where the record has both, else as charted. */
export function bmiOf(subject: Subject): ExactDivisor | undefined {
  const [height, weight, charted] = (['height', 'weight', 'bmi'] as const).map((kind) =>
    measureOf(subject, kind),
  );
  if (height && weight) {
    const value = divide(exact(weight.value), squareMetres(height));
    return written('bmi', value, 'kg/m2', [weight, height]);
  }
  return charted ? written('bmi', exact(charted.value), 'kg/m2', [charted]) : undefined;
}

/** What the force is divided by; undefined when the record lacks it. Not for `force`. */
export function divisorOf(quantity: Exclude<Quantity, 'force'>, subject: Subject): ExactDivisor | undefined {
  if (quantity === 'force-over-bmi') return bmiOf(subject);
  const height = measureOf(subject, 'height');
  return height && written('height-squared', squareMetres(height), 'm2', [height]);
}

/** Measures that a quantity can be worked out from, for a reader who is told that they are missing. */
export const MEASURES_FOR: Readonly<Record<Exclude<Quantity, 'force'>, string>> = {
  'force-over-bmi': 'height and weight, or body mass index',
  'force-over-height-squared': 'height',
};

export function figureUnit({ unit, quantity = 'force' }: Pick<ReadySet, 'unit' | 'quantity'>): FigureUnit {
  return quantity === 'force' ? unit : overUnit(unit, quantity);
}

function overUnit(unit: ForceUnit, quantity: Exclude<Quantity, 'force'>): FigureUnit {
  return quantity === 'force-over-bmi' ? `${unit}/(kg/m2)` : `${unit}/m2`;
}

function squareMetres(height: Measure): Exact {
  const metres = divide(exact(height.value), CM_PER_M);
  return multiply(metres, metres);
}

function written(
  of: Divisor['of'],
  value: Exact,
  unit: Divisor['unit'],
  measures: readonly Measure[],
): ExactDivisor {
  const text = toDecimalText(value, DIVISOR_DIGITS);
  return { value, written: { of, value: text, unit, measures: measures.map(usedMeasure) } };
}
