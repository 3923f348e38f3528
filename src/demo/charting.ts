/** How the invented hospital charts: trials, what surrounds them, and other measures, as FHIR R4. */
import type { Device, DeviceMetric, Observation, ObservationComponent, Patient } from 'fhir/r4.js';
import {
  BODY_POSITION_URL,
  GRIP_LOINC,
  type GripCode,
  gripCoding,
  HANDEDNESS_SNOMED,
  LOINC,
  MEASURE_CODES,
  SNOMED,
  UCUM,
} from '../fhir/codes.ts';
import type { ArmPosition, Hand, MeasureKind } from '../interpret/measurement.ts';

export interface Sitting {
  /** Start of the sitting, with its time zone; trials follow a minute apart. */
  readonly at: string;
  /** UCUM code. */
  readonly unit: string;
  readonly right: readonly number[];
  readonly left: readonly number[];
  readonly protocol?: {
    readonly position: 'sitting' | 'standing';
    readonly arm: ArmPosition;
    readonly handle: number;
    /** Day of the last calibration of the hydraulic hand dynamometer. */
    readonly calibrated: string;
  };
  /** Hands that norms do not fit. */
  readonly ownBaseline?: readonly Hand[];
}

export function person(
  id: string,
  family: string,
  given: string,
  birthDate: string,
  gender?: 'female' | 'male',
): Patient {
  return {
    resourceType: 'Patient',
    id: `demo-${id}`,
    name: [{ family, given: [given], text: `${given} ${family} (invented)` }],
    birthDate,
    ...(gender ? { gender } : {}),
  };
}

export function trials(patient: Patient, sitting: Sitting): readonly Observation[] {
  const { at, unit, right, left, ownBaseline = [] } = sitting;
  const squeezes = [
    ...right.map((value) => ({ hand: 'right' as const, value })),
    ...left.map((value) => ({ hand: 'left' as const, value })),
  ];
  return squeezes.map(({ hand, value }, index) => {
    const parts = [...protocolParts(sitting), ...(ownBaseline.includes(hand) ? [OWN_BASELINE] : [])];
    return {
      ...trialShell(patient, hand, plusMinutes(at, index), index),
      ...surroundings(sitting),
      valueQuantity: { value, unit, system: UCUM, code: unit },
      ...(parts.length > 0 ? { component: parts } : {}),
    };
  });
}

export function notPerformed(patient: Patient, hand: Hand, at: string): Observation {
  const system = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
  return {
    ...trialShell(patient, hand, at, 9),
    dataAbsentReason: { coding: [{ system, code: 'not-performed' }] },
  };
}

/** Height, weight or gait speed of one day. */
export function measure(
  patient: Patient,
  kind: MeasureKind,
  value: number,
  unit: string,
  date: string,
): Observation {
  return {
    resourceType: 'Observation',
    id: `${patient.id}-${kind}`,
    status: 'final',
    code: { coding: [MEASURE_CODES[kind]] },
    subject: { reference: `Patient/${patient.id}` },
    effectiveDateTime: date,
    valueQuantity: { value, unit, system: UCUM, code: unit },
  };
}

export function handedness(patient: Patient, hand: Hand, date: string): Observation {
  const coding = {
    right: { system: SNOMED, code: '46669005', display: 'Right handed' },
    left: { system: SNOMED, code: '87683000', display: 'Left handed' },
  };
  return {
    resourceType: 'Observation',
    id: `${patient.id}-handedness`,
    status: 'final',
    code: { coding: [{ system: SNOMED, code: HANDEDNESS_SNOMED, display: 'Handedness finding' }] },
    subject: { reference: `Patient/${patient.id}` },
    effectiveDateTime: date,
    valueCodeableConcept: { coding: [coding[hand]] },
  };
}

function trialShell(patient: Patient, hand: Hand, effectiveDateTime: string, index: number): Observation {
  const date = effectiveDateTime.slice(0, 10);
  const display = `Grip strength Hand - ${hand} Dynamometer`;
  return {
    resourceType: 'Observation',
    id: `${patient.id}-${date}-${index + 1}`,
    status: 'final',
    code: { coding: [{ system: LOINC, code: GRIP_LOINC[hand], display }] },
    subject: { reference: `Patient/${patient.id}` },
    effectiveDateTime,
  };
}

/** Position of the body, and the instrument with its calibration, where R4 keeps them. */
function surroundings({ protocol }: Sitting): Pick<Observation, 'extension' | 'contained' | 'device'> {
  if (!protocol) return {};
  const coding =
    protocol.position === 'sitting'
      ? { system: SNOMED, code: '33586001', display: 'Sitting position' }
      : { system: SNOMED, code: '10904000', display: 'Orthostatic body position' };
  const device: Device = {
    resourceType: 'Device',
    id: 'dynamometer',
    type: { coding: [gripCoding('hydraulic-dynamometer')] },
  };
  const metric: DeviceMetric = {
    resourceType: 'DeviceMetric',
    id: 'force',
    type: { text: 'Grip force' },
    category: 'measurement',
    source: { reference: '#dynamometer' },
    calibration: [{ state: 'calibrated', time: `${protocol.calibrated}T09:00:00Z` }],
  };
  return {
    extension: [{ url: BODY_POSITION_URL, valueCodeableConcept: { coding: [coding] } }],
    contained: [device, metric],
    device: { reference: '#force' },
  };
}

function protocolParts({ protocol }: Sitting): readonly ObservationComponent[] {
  if (!protocol) return [];
  return [
    { ...component('handle-position'), valueInteger: protocol.handle },
    { ...component('arm-position'), valueCodeableConcept: { coding: [gripCoding(protocol.arm)] } },
  ];
}

const OWN_BASELINE: ObservationComponent = { ...component('own-baseline'), valueBoolean: true };

function component(code: GripCode): ObservationComponent {
  return { code: { coding: [gripCoding(code)] } };
}

function plusMinutes(at: string, minutes: number): string {
  return new Date(Date.parse(at) + minutes * 60_000).toISOString().replace('.000Z', 'Z');
}
