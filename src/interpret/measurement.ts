/** What was measured, as the core sees it: one trial, and the trials of one sitting. Plain values only. */
import { type Exact, exact } from './exact.ts';
import { CHARTED_UNITS, type ChartedUnit, type ForceUnit } from './units.ts';

export type Sex = 'female' | 'male';
export type Hand = 'right' | 'left';
export const SEXES: readonly Sex[] = ['female', 'male'];
export const HANDS: readonly Hand[] = ['right', 'left'];

/** A force of one hand, as charted. */
export interface HandFigure {
  /** How the answer points back to the record, e.g. `Observation/abc`; opaque to the core. */
  readonly reference: string;
  readonly hand: Hand;
  /** Decimal text as charted, e.g. `62.5`. */
  readonly reading: string;
  readonly unit: ChartedUnit;
  /** Moment of the test as charted, e.g. `2026-11-16T14:05:00Z`; opaque to the core. */
  readonly effective: string;
  /** Calendar date of the test as charted, `YYYY-MM-DD`. */
  readonly testedOn: string;
  /** Minutes since 1970-01-01T00:00Z, or null when only the date was charted. */
  readonly testedAtMinute: number | null;
  /** Charted as not yet verified (FHIR status `preliminary`). */
  readonly preliminary: boolean;
  /** How the trial was done; absent when nothing of it is charted. */
  readonly protocol?: Protocol | undefined;
  /** Charted as a hand that norms do not fit: the person is its own norm. */
  readonly ownBaseline?: true | undefined;
}

/** One squeeze. */
export interface Trial extends HandFigure {
  /** Its number among the trials of its hand, from 1; absent when it is not charted. */
  readonly number?: number | undefined;
}

/** A mean or a highest that was charted itself: no trial, and how many there were is not known from it. */
export interface ChartedSummary extends HandFigure {
  readonly kind: 'mean-per-hand' | 'highest-per-hand';
}

export function isChartedSummary(figure: HandFigure): figure is ChartedSummary {
  return 'kind' in figure;
}

export type Posture = 'seated' | 'standing' | 'recumbent';
export type ArmPosition = 'elbow-90-unsupported' | 'elbow-supported' | 'elbow-straight';
export type InstrumentClass = 'hydraulic' | 'digital' | 'spring';

/** How a trial was done, as charted; what is not charted is absent. */
export interface Protocol {
  readonly posture?: Posture | undefined;
  readonly arm?: ArmPosition | undefined;
  /** Position of the handle, `1` (narrowest) to `5`. */
  readonly handle?: string | undefined;
  readonly instrument?: InstrumentClass | undefined;
  /** Calendar date of the instrument's last calibration, `YYYY-MM-DD`. */
  readonly calibratedOn?: string | undefined;
}

/** Parts of a protocol that a reference set can have been built with. */
export type ProtocolPart = 'posture' | 'arm' | 'handle' | 'instrument';
export const PROTOCOL_PARTS: readonly ProtocolPart[] = ['posture', 'arm', 'handle', 'instrument'];

/** Writing hand; `both` for a person who uses both alike. */
export type Dominance = Hand | 'both';

/** What else the record may hold that a reference set asks for. */
export type MeasureKind = 'height' | 'weight' | 'bmi' | 'gait-speed' | 'five-chair-rises';

/** The unit each is held in: height in cm, weight in kg, BMI in kg/m2, gait speed in m/s, five chair rises in s. */
export const MEASURE_UNITS: Readonly<Record<MeasureKind, string>> = Object.freeze({
  height: 'cm',
  weight: 'kg',
  bmi: 'kg/m2',
  'gait-speed': 'm/s',
  'five-chair-rises': 's',
});

/** One measurement other than grip. */
export interface Measure {
  readonly kind: MeasureKind;
  /** Decimal text in the unit of MEASURE_UNITS, converted exactly from what was charted. */
  readonly value: string;
  /** As charted, e.g. `68 [in_i]`. */
  readonly charted: string;
  readonly reference: string;
  /** Calendar date, `YYYY-MM-DD`. */
  readonly measuredOn: string;
  /** Moment as charted, with its time; absent when only the date was charted. */
  readonly measuredAt?: string | undefined;
}

/** The person at one sitting: age in completed years on that day, and the sex the tables are read for. */
export interface Subject {
  readonly ageYears: number;
  /** The other possible age where the date of birth is known in part only. */
  readonly ageAtMost?: number | undefined;
  /** Null when the record gives no usable sex: both columns are then shown. */
  readonly sex: Sex | null;
  /** Absent when the record does not say. */
  readonly dominant?: Dominance | undefined;
  /** At most one of each kind, near enough to the test to be used with it. */
  readonly measures?: readonly Measure[] | undefined;
}

/** Which single figure stands for the trials; `mean-of-both-hands` is of the highest of each hand. */
export type SummaryKind =
  | 'mean-per-hand'
  | 'highest-per-hand'
  | 'highest-of-either-hand'
  | 'mean-of-both-hands';

/** Read once for each figure: the same frozen figure serves every check, summary and set. */
const forces = new WeakMap<HandFigure, Exact>();

export function forceOf(figure: HandFigure): Exact {
  const known = forces.get(figure);
  if (known) return known;
  const force = exact(figure.reading);
  forces.set(figure, force);
  return force;
}

export function scaleOf(figure: HandFigure): ForceUnit {
  return CHARTED_UNITS[figure.unit].force;
}

export function ofHand<T extends HandFigure>(figures: readonly T[], hand: Hand): readonly T[] {
  return figures.filter((figure) => figure.hand === hand);
}
