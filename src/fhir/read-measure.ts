/**
 * FHIR Observations of what the record holds besides grip -> a Measure of the core or the writing hand, or a refusal
 * that says in one word why not. Converted exactly, never rounded: 1 in = 2.54 cm and 1 lb = 0.45359237 kg.
 */
import { compare, type Exact, exact, multiply, toDecimalText } from '../interpret/exact.ts';
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { Dominance, Measure, MeasureKind } from '../interpret/measurement.ts';
import { KG_PER_LB } from '../interpret/units.ts';
import { DOMINANCE_OF_SNOMED, HANDEDNESS_SNOMED, MEASURE_CODES, SNOMED } from './codes.ts';
import type { CodeableConcept, ObservationResource } from './forms.ts';
import {
  type AsOf,
  checkUsable,
  codesOf,
  type Fault,
  meaningsOf,
  readMoment,
  readQuantity,
} from './read-observation.ts';
import { isAboutGrip } from './read-trial.ts';

export type RecordKind = MeasureKind | 'handedness';

/** The writing hand as charted on a calendar date, `YYYY-MM-DD`. */
export interface Handedness {
  readonly kind: 'handedness';
  readonly reference: string;
  readonly dominant: Dominance;
  readonly measuredOn: string;
}

/** The fact `why` of MEASURE_NOT_USABLE; `code`: the code says several things at once. */
export type MeasureFault =
  | 'code'
  | 'status'
  | 'modifier'
  | 'subject'
  | 'time'
  | 'future'
  | 'value'
  | 'unit'
  | 'range';

interface Reading {
  /** UCUM code -> what one is in the unit of MEASURE_UNITS; finite decimals. */
  readonly units: Readonly<Record<string, string>>;
  /** In the unit of MEASURE_UNITS: outside it the figure is taken for wrong. This service's own bounds. */
  readonly from: string;
  readonly to: string;
}

/** Exported for the tests that compare the factors with another library. */
export const READINGS: Readonly<Record<MeasureKind, Reading>> = {
  height: { units: { cm: '1', m: '100', '[in_i]': '2.54' }, from: '50', to: '250' },
  weight: { units: { kg: '1', g: '0.001', '[lb_av]': KG_PER_LB }, from: '10', to: '400' },
  bmi: { units: { 'kg/m2': '1' }, from: '8', to: '100' },
  'gait-speed': { units: { 'm/s': '1', 'cm/s': '0.01' }, from: '0.05', to: '3' },
  'five-chair-rises': { units: { s: '1' }, from: '2', to: '120' },
};

/** What the code says was measured; none for a grip trial and for anything that is not read. */
export function recordKindsOf(code: CodeableConcept): readonly RecordKind[] {
  const kinds = Object.entries(MEASURE_CODES).flatMap(([kind, coding]) =>
    codesOf(code, coding.system).includes(coding.code) ? [kind as MeasureKind] : [],
  );
  return codesOf(code, SNOMED).includes(HANDEDNESS_SNOMED) ? [...kinds, 'handedness'] : kinds;
}

/**
 * @param expression FHIRPath of the Observation in the request
 * @param reference how the answer points back to it
 * @returns undefined when it is of none of these kinds
 */
export function readMeasure(
  observation: ObservationResource,
  expression: string,
  reference: string,
  asOf: AsOf,
): Measure | Handedness | Refusal | undefined {
  const [kind, ...others] = recordKindsOf(observation.code);
  if (!kind) return undefined;
  const refuseFor = (why: MeasureFault, element: string) =>
    refuse('MEASURE_NOT_USABLE', {
      trial: reference,
      expression: `${expression}.${element}`,
      facts: { measure: kind, why },
    });
  if (others.length > 0 || isAboutGrip(observation)) return refuseFor('code', 'code');
  const unusable = checkUsable(observation);
  if (unusable) return refuseFor(whyOf(unusable), unusable.element);
  const moment = readMoment(observation, asOf);
  if ('code' in moment) return refuseFor(whyOf(moment), moment.element);
  const measuredOn = moment.testedOn;
  if (kind === 'handedness') {
    const dominant = dominanceOf(observation);
    const element = observation.dataAbsentReason ? 'dataAbsentReason' : 'valueCodeableConcept';
    return dominant ? { kind, reference, dominant, measuredOn } : refuseFor('value', element);
  }
  const read = readFigure(observation, kind);
  if ('why' in read) return refuseFor(read.why, read.element);
  const measuredAt = moment.testedAtMinute === null ? {} : { measuredAt: moment.effective };
  return { kind, ...read, reference, measuredOn, ...measuredAt };
}

const WHY: Readonly<Partial<Record<Fault['code'], MeasureFault>>> = {
  STATUS_NOT_USABLE: 'status',
  MODIFIER_UNKNOWN: 'modifier',
  SUBJECT_MISSING: 'subject',
  TIME_MISSING: 'time',
  TIME_IN_FUTURE: 'future',
  UNIT_MISSING: 'unit',
};

/** VALUE_ABSENT and VALUE_COMPARATOR are about the value. */
function whyOf({ code }: Fault): MeasureFault {
  return WHY[code] ?? 'value';
}

/** Undefined when it says nothing that is known, or several things. */
function dominanceOf({ valueCodeableConcept, dataAbsentReason }: ObservationResource): Dominance | undefined {
  if (dataAbsentReason) return undefined;
  const [dominant, ...others] = meaningsOf(codesOf(valueCodeableConcept, SNOMED), DOMINANCE_OF_SNOMED);
  return others.length === 0 ? dominant : undefined;
}

function readFigure(
  observation: ObservationResource,
  kind: MeasureKind,
): Pick<Measure, 'value' | 'charted'> | { readonly why: MeasureFault; readonly element: string } {
  const quantity = readQuantity(observation);
  if ('element' in quantity) return { why: whyOf(quantity), element: quantity.element };
  const { units, from, to } = READINGS[kind];
  const [factor] = meaningsOf([quantity.unit], units);
  if (factor === undefined) return { why: 'unit', element: 'valueQuantity.code' };
  const value = multiply(exact(String(quantity.value)), exact(factor));
  if (compare(value, exact(from)) < 0 || compare(value, exact(to)) > 0) {
    return { why: 'range', element: 'valueQuantity.value' };
  }
  return { value: finiteText(value), charted: `${quantity.value} ${quantity.unit}` };
}

/** All the digits of a product of decimals, whose denominator is a power of ten. */
function finiteText(value: Exact): string {
  const digits = value.den.toString().length - 1;
  const text = toDecimalText(value, digits);
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
}

/** Of the latest date charted, and what says so; undefined when nothing is, or different things on that date. */
export function dominantOf(
  charted: readonly Handedness[],
): { readonly dominant: Dominance; readonly references: readonly string[] } | undefined {
  const latest = charted
    .map(({ measuredOn }) => measuredOn)
    .sort()
    .at(-1);
  const said = charted.filter(({ measuredOn }) => measuredOn === latest);
  const [dominant, ...others] = new Set(said.map((each) => each.dominant));
  if (dominant === undefined || others.length > 0) return undefined;
  return { dominant, references: said.map(({ reference }) => reference) };
}
