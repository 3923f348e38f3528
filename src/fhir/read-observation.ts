/** FHIR Observation of one grip trial -> a Trial of the core, or a refusal naming the element at fault. */
import { readCalendarDate } from '../interpret/age.ts';
import { type Refusal, type RefusalCode, refuse } from '../interpret/finding.ts';
import type { Hand, Trial } from '../interpret/measurement.ts';
import { isChartedUnit } from '../interpret/units.ts';
import {
  ABSENT_REASONS,
  DATA_ABSENT_REASON,
  GRIP_LOINC,
  GRIP_SNOMED,
  LOINC,
  SIDE_OF_SNOMED,
  SNOMED,
  UCUM,
} from './codes.ts';
import type { CodeableConcept, ObservationResource } from './forms.ts';

/** Up to which moment a test may be charted: later is the future. */
export interface AsOf {
  /** Last calendar date accepted, `YYYY-MM-DD`. */
  readonly date: string;
  /** Last minute since 1970-01-01T00:00Z accepted for a test charted with its time; null: by date only. */
  readonly minute: number | null;
}

const USABLE_STATUS: ReadonlySet<string> = new Set(['final', 'amended', 'corrected', 'preliminary']);

/**
 * @param expression FHIRPath of the Observation in the request
 * @param reference how the answer points back to it
 */
export function readObservation(
  observation: ObservationResource,
  expression: string,
  reference: string,
  asOf: AsOf,
): Trial | Refusal {
  const hand = readHand(observation);
  const time = readTime(observation, asOf);
  const moment = 'code' in time ? {} : { testedOn: time.testedOn, testedAt: time.effective };
  const refuseFor = ({ code, element, facts }: Fault) =>
    refuse(code, {
      trial: reference,
      hand: typeof hand === 'string' ? hand : null,
      expression: `${expression}.${element}`,
      facts: { ...moment, ...facts },
    });
  if (typeof hand !== 'string') return refuseFor(hand);
  const unusable = checkUsable(observation) ?? checkSubject(observation);
  if (unusable) return refuseFor(unusable);
  if ('code' in time) return refuseFor(time);
  const reading = readReading(observation);
  if ('code' in reading) return refuseFor(reading);
  return { reference, hand, ...reading, ...time, preliminary: observation.status === 'preliminary' };
}

export function isTrial(read: Trial | Refusal): read is Trial {
  return 'reading' in read;
}

/** A refusal before it knows where it is: `element` is relative to the Observation. */
interface Fault {
  readonly code: RefusalCode;
  readonly element: string;
  readonly facts?: Readonly<Record<string, string>>;
}

function codesOf(concept: CodeableConcept | undefined, system: string): readonly string[] {
  return (concept?.coding ?? []).flatMap((coding) =>
    coding.system === system && coding.code ? [coding.code] : [],
  );
}

function readHand(observation: ObservationResource): Hand | Fault {
  const loinc = codesOf(observation.code, LOINC);
  const fromCode = (['right', 'left'] as const).filter((hand) => loinc.includes(GRIP_LOINC[hand]));
  const isGrip = fromCode.length > 0 || codesOf(observation.code, SNOMED).includes(GRIP_SNOMED);
  if (!isGrip) return { code: 'CODE_NOT_GRIP', element: 'code' };
  const fromSite = codesOf(observation.bodySite, SNOMED).flatMap((site) => SIDE_OF_SNOMED[site] ?? []);
  const [hand, ...others] = new Set([...fromCode, ...fromSite]);
  if (!hand) return { code: 'SIDE_MISSING', element: 'bodySite' };
  if (others.length > 0)
    return { code: 'SIDE_CONTRADICTION', element: fromSite.length > 0 ? 'bodySite' : 'code' };
  return hand;
}

function checkUsable(observation: ObservationResource): Fault | undefined {
  const { status, implicitRules, modifierExtension, focus } = observation;
  if (!USABLE_STATUS.has(status)) return { code: 'STATUS_NOT_USABLE', element: 'status', facts: { status } };
  if (implicitRules !== undefined) {
    return { code: 'MODIFIER_UNKNOWN', element: 'implicitRules', facts: { element: 'implicitRules' } };
  }
  if (modifierExtension && modifierExtension.length > 0) {
    return {
      code: 'MODIFIER_UNKNOWN',
      element: 'modifierExtension',
      facts: { element: 'a modifierExtension' },
    };
  }
  if (focus && focus.length > 0) {
    return { code: 'MODIFIER_UNKNOWN', element: 'focus', facts: { element: 'a focus' } };
  }
  return undefined;
}

function checkSubject(observation: ObservationResource): Fault | undefined {
  return observation.subject?.reference ? undefined : { code: 'SUBJECT_MISSING', element: 'subject' };
}

function readTime(
  observation: ObservationResource,
  asOf: AsOf,
): Pick<Trial, 'effective' | 'testedOn' | 'testedAtMinute'> | Fault {
  const element = observation.effectiveInstant
    ? 'effectiveInstant'
    : observation.effectivePeriod
      ? 'effectivePeriod.start'
      : 'effectiveDateTime';
  const charted =
    observation.effectiveInstant ?? observation.effectivePeriod?.start ?? observation.effectiveDateTime ?? '';
  const said = [observation.effectiveInstant, observation.effectivePeriod, observation.effectiveDateTime];
  if (said.filter((each) => each !== undefined).length > 1) return { code: 'TIME_MISSING', element };
  // The calendar date as charted, in the time zone of the chart: age is counted on it.
  const testedOn = charted.slice(0, 10);
  if (!readCalendarDate(testedOn)) return { code: 'TIME_MISSING', element };
  const testedAtMinute = charted.length > 10 ? minuteOf(charted) : null;
  const byMinute = testedAtMinute !== null && asOf.minute !== null;
  if (byMinute ? testedAtMinute > asOf.minute : testedOn > asOf.date) {
    return { code: 'TIME_IN_FUTURE', element, facts: { testedOn, asOf: asOf.date } };
  }
  return { effective: charted, testedOn, testedAtMinute };
}

/** Unit codes that are repeated in the answer; anything else a client sends is not. */
const KNOWN_MISTAKES: ReadonlySet<string> = new Set(
  'lb lbs LB [lb] pound pounds kgs Kg KG kg_f kilogram kilograms g gf daN kN psi [psi] kPa bar mm[Hg]'.split(
    ' ',
  ),
);

/** Minutes since 1970-01-01T00:00Z. A leap second (`:60`), which ECMAScript cannot read, counts as the one before. */
export function minuteOf(charted: string): number {
  return Math.floor(Date.parse(charted.replace(/:60(?=[.Z+-])/, ':59')) / 60_000);
}

function readReading(observation: ObservationResource): Pick<Trial, 'reading' | 'unit'> | Fault {
  const quantity = observation.valueQuantity;
  const { dataAbsentReason } = observation;
  // obs-6: a reason for absence beside a value means that one of the two is wrong.
  if (quantity?.value === undefined || dataAbsentReason) {
    const reason = codesOf(dataAbsentReason, DATA_ABSENT_REASON).find((each) => ABSENT_REASONS.has(each));
    const element = dataAbsentReason ? 'dataAbsentReason' : 'valueQuantity.value';
    return { code: 'VALUE_ABSENT', element, facts: reason ? { reason } : {} };
  }
  const { value, comparator, system, code } = quantity;
  if (comparator)
    return { code: 'VALUE_COMPARATOR', element: 'valueQuantity.comparator', facts: { comparator } };
  if (system !== UCUM || code === undefined) {
    return { code: 'UNIT_MISSING', element: `valueQuantity.${system === UCUM ? 'code' : 'system'}` };
  }
  if (!isChartedUnit(code)) {
    const facts = { ...(KNOWN_MISTAKES.has(code) ? { unit: code } : {}) };
    return { code: 'UNIT_UNKNOWN', element: 'valueQuantity.code', facts };
  }
  return { reading: String(value), unit: code };
}
