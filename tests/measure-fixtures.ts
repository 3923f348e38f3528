/** Observations of the record besides grip, about the invented person of `fixtures.ts`; tests clone and break them. */
import type { Observation, ParametersParameter } from 'fhir/r4.js';
import { HANDEDNESS_SNOMED, LOINC, MEASURE_CODES, SNOMED, UCUM } from '../src/fhir/codes.ts';
import type { MeasureKind } from '../src/interpret/measurement.ts';
import { coded, type Door, FHIR_DOOR, hookCallOf, PATIENT, parametersOf, SIX_TRIALS } from './fixtures.ts';

/** Measured eight days before the trials. */
export function measureOf(kind: MeasureKind, value: number, unit: string): Observation {
  return {
    resourceType: 'Observation',
    id: kind,
    status: 'final',
    code: { coding: [MEASURE_CODES[kind]] },
    subject: { reference: 'Patient/invented-1' },
    effectiveDateTime: '2026-11-08T09:00:00Z',
    valueQuantity: { value, unit, system: UCUM, code: unit },
  };
}

export const WEIGHT = measureOf('weight', 70.5, 'kg');
export const HEIGHT = measureOf('height', 172.5, 'cm');

export const RIGHT_HANDED = '46669005';
export const LEFT_HANDED = '87683000';
export const AMBIDEXTROUS = '23088002';

/** Handedness as charted on a date; SNOMED CT. */
export function handedness(value: string, on = '2025-03-04', id = `handed-${on}-${value}`): Observation {
  return {
    resourceType: 'Observation',
    id,
    status: 'final',
    code: coded([SNOMED, HANDEDNESS_SNOMED]),
    subject: { reference: 'Patient/invented-1' },
    effectiveDateTime: on,
    valueCodeableConcept: coded([SNOMED, value]),
  };
}

/** An Observation that is neither grip nor read: a heart rate. */
export const HEART_RATE: Observation = { ...WEIGHT, id: 'heart-rate', code: coded([LOINC, '8867-4']) };

/** A way in for six trials and what else the record holds, and how it names the Observation at fault. */
export interface RecordDoor {
  readonly name: string;
  readonly path: string;
  bodyOf(record: readonly Observation[]): object;
  /** Path of the Observation of the record at `index`. */
  observation(index: number): string;
}

const amongTrials = (door: Door): RecordDoor => ({
  name: `${door.name}, among the trials`,
  path: door.path,
  bodyOf: (record) => door.bodyOf(PATIENT, [...SIX_TRIALS, ...record]),
  observation: (index) => door.observation(SIX_TRIALS.length + index),
});

export const PRIOR_DOOR: RecordDoor = {
  name: 'FHIR operation, among the earlier trials',
  path: FHIR_DOOR.path,
  bodyOf: (record) =>
    parametersOf(
      PATIENT,
      SIX_TRIALS,
      record.map((resource): ParametersParameter => ({ name: 'prior', resource })),
    ),
  observation: (index) => `Parameters.parameter[${1 + SIX_TRIALS.length + index}].resource`,
};

/** A hook call with a value under the optional key. */
export function hookCallWith(measures: unknown) {
  const call = hookCallOf(PATIENT, SIX_TRIALS);
  return { ...call, prefetch: { ...call.prefetch, measures } };
}

/** For `describe.each`: the name for the title, and the door. */
export const recordDoors = (doors: readonly Door[]): readonly (readonly [string, RecordDoor])[] =>
  [
    ...doors.map(amongTrials),
    PRIOR_DOOR,
    {
      name: 'hook service, under the key measures',
      path: '/cds-services/grip-interpretation',
      bodyOf: (record: readonly Observation[]) =>
        hookCallWith({
          resourceType: 'Bundle',
          type: 'searchset',
          entry: record.map((resource) => ({ resource })),
        }),
      observation: (index: number) => `prefetch.measures.entry[${index}].resource`,
    },
  ].map((door) => [door.name, door] as const);
