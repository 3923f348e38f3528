/** What is read alike of every Observation, whatever was measured: whether it may be used, whose it is, when, how much. */
import { readCalendarDate } from '../interpret/age.ts';
import type { RefusalCode } from '../interpret/finding.ts';
import { ABSENT_REASONS, DATA_ABSENT_REASON, UCUM } from './codes.ts';
import type { CodeableConcept, ObservationResource } from './forms.ts';

/** Up to which moment a test may be charted: later is the future. */
export interface AsOf {
  /** Last calendar date accepted, `YYYY-MM-DD`. */
  readonly date: string;
  /** Last minute since 1970-01-01T00:00Z accepted for a test charted with its time; null: by date only. */
  readonly minute: number | null;
}

/** A refusal before it knows where it is: `element` is relative to the Observation. */
export interface Fault {
  readonly code: RefusalCode;
  readonly element: string;
  readonly facts?: Readonly<Record<string, string>>;
}

/** When something was measured. */
export interface Moment {
  /** As charted. */
  readonly effective: string;
  /** Calendar date as charted, `YYYY-MM-DD`. */
  readonly testedOn: string;
  /** Minutes since 1970-01-01T00:00Z, or null when only the date was charted. */
  readonly testedAtMinute: number | null;
}

export function codesOf(concept: CodeableConcept | undefined, system: string): readonly string[] {
  return (concept?.coding ?? []).flatMap((coding) =>
    coding.system === system && coding.code ? [coding.code] : [],
  );
}

/** What the codes mean by the table, each meaning once; a code that is not in it means nothing. */
export function meaningsOf<T>(codes: readonly string[], table: Readonly<Record<string, T>>): readonly T[] {
  const own = Object.entries(table).filter(([code]) => codes.includes(code));
  return [...new Set(own.map(([, meaning]) => meaning))];
}

const USABLE_STATUS: ReadonlySet<string> = new Set(['final', 'amended', 'corrected', 'preliminary']);

/** Status and modifiers; then whether it says whose it is. */
export function checkUsable(observation: ObservationResource): Fault | undefined {
  const { status, implicitRules, modifierExtension, focus, subject } = observation;
  if (!USABLE_STATUS.has(status)) return { code: 'STATUS_NOT_USABLE', element: 'status', facts: { status } };
  if (implicitRules !== undefined) {
    return { code: 'MODIFIER_UNKNOWN', element: 'implicitRules', facts: { element: 'implicitRules' } };
  }
  if (modifierExtension && modifierExtension.length > 0) return unknownModifier('modifierExtension');
  if (focus && focus.length > 0) {
    return { code: 'MODIFIER_UNKNOWN', element: 'focus', facts: { element: 'a focus' } };
  }
  return subject?.reference ? undefined : { code: 'SUBJECT_MISSING', element: 'subject' };
}

/** @param element path of the modifierExtension */
export function unknownModifier(element: string): Fault {
  return { code: 'MODIFIER_UNKNOWN', element, facts: { element: 'a modifierExtension' } };
}

export function readMoment(observation: ObservationResource, asOf: AsOf): Moment | Fault {
  const { effectiveInstant, effectivePeriod, effectiveDateTime } = observation;
  const element = effectiveInstant
    ? 'effectiveInstant'
    : effectivePeriod
      ? 'effectivePeriod.start'
      : 'effectiveDateTime';
  const charted = effectiveInstant ?? effectivePeriod?.start ?? effectiveDateTime ?? '';
  const said = [effectiveInstant, effectivePeriod, effectiveDateTime];
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

/** Whether it has a value of any type; one that this service does not read is a value too. */
export function hasValue(observation: ObservationResource): boolean {
  return Object.keys(observation).some((name) => /^value[A-Z]/.test(name));
}

/** Minutes since 1970-01-01T00:00Z. A leap second (`:60`), which ECMAScript cannot read, counts as the one before. */
export function minuteOf(charted: string): number {
  return Math.floor(Date.parse(charted.replace(/:60(?=[.Z+-])/, ':59')) / 60_000);
}

/** The number as charted and its UCUM code, which the reader has still to know. */
export function readQuantity(
  observation: Pick<ObservationResource, 'valueQuantity' | 'dataAbsentReason'>,
): { readonly value: number; readonly unit: string } | Fault {
  const quantity = observation.valueQuantity;
  // obs-6: a reason for absence beside a value means that one of the two is wrong.
  if (quantity?.value === undefined || observation.dataAbsentReason) return absent(observation);
  const { value, comparator, system, code } = quantity;
  if (comparator) {
    return { code: 'VALUE_COMPARATOR', element: 'valueQuantity.comparator', facts: { comparator } };
  }
  if (system !== UCUM || code === undefined) {
    return { code: 'UNIT_MISSING', element: `valueQuantity.${system === UCUM ? 'code' : 'system'}` };
  }
  return { value, unit: code };
}

function absent({ dataAbsentReason }: Pick<ObservationResource, 'dataAbsentReason'>): Fault {
  const reason = codesOf(dataAbsentReason, DATA_ABSENT_REASON).find((each) => ABSENT_REASONS.has(each));
  const element = dataAbsentReason ? 'dataAbsentReason' : 'valueQuantity.value';
  return { code: 'VALUE_ABSENT', element, facts: reason ? { reason } : {} };
}
