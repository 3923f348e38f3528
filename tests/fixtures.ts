/**
 * One valid resource of each kind, about an invented person; tests clone it, break it one way and are named
 * after the break.
 */
import type { Bundle, CodeableConcept, FhirResource, Observation, Parameters, Patient } from 'fhir/r4.js';
import { GRIP_LOINC, LOINC, UCUM } from '../src/fhir/codes.ts';
import type { Hand } from '../src/interpret/measurement.ts';

/** The fixed clock of these tests. */
export const NOW = new Date('2026-11-25T12:00:00Z');

/** A man of 72 on the day of the test. Invented. */
export const PATIENT: Patient = {
  resourceType: 'Patient',
  id: 'invented-1',
  name: [{ family: 'Bramblewick', given: ['Thaddeus'], text: 'Thaddeus Bramblewick (invented)' }],
  gender: 'male',
  birthDate: '1954-03-09',
};

/** One trial of the right hand: 31.5 kg of force. */
export const TRIAL: Observation = {
  resourceType: 'Observation',
  id: 'trial-1',
  status: 'final',
  code: { coding: [{ system: LOINC, code: GRIP_LOINC.right }] },
  subject: { reference: 'Patient/invented-1' },
  effectiveDateTime: '2026-11-16T14:05:00Z',
  valueQuantity: { value: 31.5, unit: 'kg', system: UCUM, code: 'kgf' },
};

/** A clone with the element at a dotted path set; `undefined` takes it away. The type is kept on purpose. */
export function broken<T extends object>(valid: T, path: string, value: unknown): T {
  const clone = structuredClone(valid);
  const steps = path.split('.');
  const last = steps.pop() ?? '';
  let parent = clone as Record<string, unknown>;
  for (const step of steps) {
    parent[step] ??= {};
    parent = parent[step] as Record<string, unknown>;
  }
  if (value === undefined) delete parent[last];
  else parent[last] = value;
  return clone;
}

/** A CodeableConcept of these codings. */
export function coded(...codings: (readonly [system: string, code: string])[]): CodeableConcept {
  return { coding: codings.map(([system, code]) => ({ system, code })) };
}

export interface SittingParts {
  /** Start of every id, to tell sittings apart. */
  readonly id?: string;
  readonly at?: string;
  /** UCUM code. */
  readonly unit?: string;
  readonly subject?: string;
}

/** One Observation for each reading, a minute apart when the time is given. */
export function sitting(right: readonly number[], left: readonly number[], parts: SittingParts = {}) {
  const { id = 'trial', at = '2026-11-16T14:05:00Z', unit = 'kgf', subject = 'Patient/invented-1' } = parts;
  const squeezes = [...right.map((value) => ['right', value]), ...left.map((value) => ['left', value])];
  return squeezes.map(
    ([hand, value], index): Observation => ({
      ...TRIAL,
      id: `${id}-${index + 1}`,
      code: { coding: [{ system: LOINC, code: GRIP_LOINC[hand as Hand] }] },
      subject: { reference: subject },
      effectiveDateTime: at.length > 10 ? minutesAfter(at, index) : at,
      valueQuantity: { value: value as number, unit, system: UCUM, code: unit },
    }),
  );
}

/** Three trials of each hand: means 31 and 28.5 kg, highest 32 kg. */
export const SIX_TRIALS: readonly Observation[] = sitting([31, 32, 30], [28, 29, 28.5]);

export function minutesAfter(at: string, minutes: number): string {
  return new Date(Date.parse(at) + minutes * 60_000).toISOString().replace('.000Z', 'Z');
}

export function bundleOf(patient: Patient, observations: readonly Observation[]): Bundle {
  return collection([patient, ...observations]);
}

export function collection(resources: readonly FhirResource[]): Bundle {
  return { resourceType: 'Bundle', type: 'collection', entry: resources.map((resource) => ({ resource })) };
}

export function parametersOf(
  patient: Patient,
  observations: readonly Observation[],
  more: NonNullable<Parameters['parameter']> = [],
): Parameters {
  return {
    resourceType: 'Parameters',
    parameter: [
      { name: 'patient', resource: patient },
      ...observations.map((resource) => ({ name: 'observation', resource })),
      ...more,
    ],
  };
}

export interface HookBody {
  hook: string;
  hookInstance: string;
  context: Record<string, unknown>;
  prefetch: Record<string, unknown>;
  [member: string]: unknown;
}

export function hookCallOf(patient: Patient, observations: readonly Observation[]): HookBody {
  return {
    hook: 'patient-view',
    hookInstance: '0f8fad5b-d9cb-469f-a165-70867728950e',
    context: { userId: 'Practitioner/invented-dietitian', patientId: patient.id },
    prefetch: {
      patient,
      grip: {
        resourceType: 'Bundle',
        type: 'searchset',
        entry: observations.map((resource) => ({ resource })),
      },
    },
  };
}

/** One way in: the same data, its address, and how it names an element at fault. */
export interface Door {
  readonly name: string;
  readonly path: string;
  readonly patient: string;
  bodyOf(patient: Patient, observations: readonly Observation[]): object;
  /** Path of the Observation at `index`. */
  observation(index: number): string;
}

export const FHIR_DOOR: Door = {
  name: 'FHIR operation',
  path: '/fhir/Observation/$interpret-grip',
  patient: 'Bundle.entry[0].resource',
  bodyOf: bundleOf,
  observation: (index) => `Bundle.entry[${index + 1}].resource`,
};

export const HOOK_DOOR: Door = {
  name: 'hook service',
  path: '/cds-services/grip-interpretation',
  patient: 'prefetch.patient',
  bodyOf: hookCallOf,
  observation: (index) => `prefetch.grip.entry[${index}].resource`,
};

/** For `describe.each`: the name for the title, and the door. */
export const DOORS = [FHIR_DOOR, HOOK_DOOR].map((door) => [door.name, door] as const);
