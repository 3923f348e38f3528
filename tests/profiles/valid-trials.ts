/** Valid instances of the profile grip-trial, about an invented person; mutants are each broken in one way. */
import type { Device, DeviceMetric, Observation } from 'fhir/r4.js';
import {
  GRIP_CODES,
  LOINC,
  OBSERVATION_CATEGORY,
  SNOMED,
  UCUM,
  US_CORE_CATEGORY,
} from '../../src/fhir/codes.ts';

export const EXAM = { coding: [{ system: OBSERVATION_CATEGORY, code: 'exam', display: 'Exam' }] };
export const FUNCTIONAL_STATUS = { coding: [{ system: US_CORE_CATEGORY, code: 'functional-status' }] };
const grip = (code: string) => ({ coding: [{ system: GRIP_CODES, code }] });

/** No more than the profile asks for: a right hand, in the unit of the display. */
const least: Observation = {
  resourceType: 'Observation',
  status: 'final',
  category: [EXAM],
  code: { coding: [{ system: LOINC, code: '83174-3' }] },
  subject: { reference: 'Patient/invented-1' },
  effectiveDateTime: '2026-11-16',
  valueQuantity: { value: 31.5, system: UCUM, code: 'kg' },
};

/** All that the profile names: a left hand with posture, arm, handle, instrument, number and own baseline. */
const whole: Observation = {
  resourceType: 'Observation',
  id: 'trial-7',
  meta: { versionId: '3', lastUpdated: '2026-11-17T08:00:00Z' },
  text: {
    status: 'generated',
    div: '<div xmlns="http://www.w3.org/1999/xhtml"><p>Grip, left: 28 kgf</p></div>',
  },
  contained: [
    { resourceType: 'Device', id: 'dynamometer', type: grip('hydraulic-dynamometer') } as Device,
    {
      resourceType: 'DeviceMetric',
      id: 'force',
      type: { text: 'Grip force' },
      category: 'measurement',
      source: { reference: '#dynamometer' },
      calibration: [{ state: 'calibrated', time: '2026-06-02T09:00:00Z' }],
    } as DeviceMetric,
  ],
  extension: [
    {
      url: 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition',
      valueCodeableConcept: { coding: [{ system: SNOMED, code: '33586001', display: 'Sitting position' }] },
    },
  ],
  identifier: [{ system: 'urn:oid:2.999.1', value: 'flowsheet-100234' }],
  status: 'amended',
  category: [EXAM, FUNCTIONAL_STATUS],
  code: {
    coding: [{ system: LOINC, code: '83173-5', display: 'Grip strength Hand - left Dynamometer' }],
    text: 'Grip strength, left hand',
  },
  subject: { reference: 'https://ehr.example/fhir/Patient/invented-1', type: 'Patient' },
  encounter: { reference: 'Encounter/invented-9' },
  effectiveInstant: '2026-11-16T14:05:30.250+01:00',
  issued: '2026-11-16T14:10:00Z',
  performer: [{ reference: 'Practitioner/invented-dietitian' }],
  valueQuantity: { value: 28, unit: 'kgf', system: UCUM, code: 'kgf' },
  note: [{ text: 'Two fingers taped.' }],
  bodySite: { coding: [{ system: SNOMED, code: '85151006', display: 'Structure of left hand' }] },
  method: { text: 'Three trials of each hand, a minute apart' },
  device: { reference: '#force' },
  component: [
    { code: grip('handle-position'), valueInteger: 2 },
    { code: grip('arm-position'), valueCodeableConcept: grip('elbow-90-unsupported') },
    { code: grip('own-baseline'), valueBoolean: true },
    { code: grip('trial-number'), valueInteger: 2 },
  ],
};

/** SNOMED CT names no side: the body site does. In pounds of force, over a period. */
const bySite: Observation = {
  ...least,
  status: 'preliminary',
  code: { coding: [{ system: SNOMED, code: '251433001', display: 'Grip strength' }] },
  subject: { reference: 'urn:uuid:3d1c7f0e-9a55-4c0b-8a0e-51f6a2a0f1b7' },
  effectiveDateTime: undefined,
  effectivePeriod: { start: '2026-11-16T14:05:00Z', end: '2026-11-16T14:05:05Z' },
  valueQuantity: { value: 62.4, unit: 'lb', system: UCUM, code: '[lbf_av]' },
  bodySite: { coding: [{ system: SNOMED, code: '7771000', display: 'Left' }] },
};

/** A hospital's code beside the standard ones, and components that this profile does not know. In newtons. */
const beside: Observation = {
  ...least,
  status: 'corrected',
  code: {
    coding: [
      { system: 'https://ehr.example/flowsheet', code: 'GRIP-R-1' },
      { system: LOINC, code: '83174-3' },
      { system: SNOMED, code: '251433001' },
    ],
  },
  effectiveDateTime: '2026-11-16T14:05:00-05:00',
  valueQuantity: { value: 310.25, unit: 'N', system: UCUM, code: 'N' },
  bodySite: {
    coding: [
      { system: SNOMED, code: '78791008' },
      { system: SNOMED, code: '24028007' },
    ],
  },
  component: [
    { code: { text: 'Pain during the squeeze, 0 to 10' }, valueInteger: 0 },
    { code: grip('trial-number'), valueInteger: 1 },
  ],
};

/** Tried, and no reading: US Core asks for the reason. */
const noReading: Observation = {
  ...least,
  valueQuantity: undefined,
  dataAbsentReason: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'not-performed' }],
  },
  note: [{ text: 'Stopped for pain.' }],
};

export const VALID_TRIALS = { least, whole, bySite, beside, noReading };
