/** Valid instances of the profile grip-hand-summary, about an invented person: as this software writes them and as a hospital charts them. */
import type { Observation } from 'fhir/r4.js';
import { GRIP_CODES, SNOMED, UCUM } from '../../src/fhir/codes.ts';
import { EXAM, FUNCTIONAL_STATUS } from './valid-trials.ts';

const RIGHT = { coding: [{ system: SNOMED, code: '78791008', display: 'Structure of right hand' }] };
const LEFT = { coding: [{ system: SNOMED, code: '85151006', display: 'Structure of left hand' }] };
const kind = (code: string, text?: string) => ({
  coding: [{ system: GRIP_CODES, code }],
  ...(text ? { text } : {}),
});

/** Stored by the service: the mean of three trials of the right hand. */
const stored: Observation = {
  resourceType: 'Observation',
  id: '6f0e6c2a-5f0b-4f8e-9b1c-0d7a2f3b4c5d',
  meta: {
    versionId: '1',
    lastUpdated: '2026-11-25T12:00:00.000Z',
    profile: ['https://grip-strength-cds.example/fhir/StructureDefinition/grip-hand-summary'],
    security: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'AIAST' }],
  },
  text: {
    status: 'generated',
    div: '<div xmlns="http://www.w3.org/1999/xhtml"><p>Grip strength, mean of the right hand: 31 kg.</p></div>',
  },
  identifier: [{ system: 'urn:ietf:rfc:3986', value: 'urn:uuid:0b7e2f3c-1d2e-4a5b-8c6d-7e8f9a0b1c2d' }],
  status: 'preliminary',
  category: [EXAM, FUNCTIONAL_STATUS],
  code: kind('mean-per-hand', 'Grip strength, mean of the right hand'),
  subject: { reference: 'Patient/invented-1' },
  effectiveDateTime: '2026-11-16T14:05:00Z',
  issued: '2026-11-25T12:00:00.000Z',
  valueQuantity: { value: 31, unit: 'kg', system: UCUM, code: 'kgf' },
  note: [{ text: 'On record as evaluation 1.' }, { text: 'For clinicians; not a diagnosis.' }],
  bodySite: RIGHT,
  method: { text: 'grip-strength-cds 0.2.0; panel adult-inpatient-us|1.0.0; mean of the right hand' },
  device: { reference: 'Device/grip-strength-cds-0.2.0' },
  derivedFrom: [
    { reference: 'Observation/trial-1' },
    { reference: 'Observation/trial-2/_history/4' },
    { reference: 'urn:uuid:1b9d6bcd-bbfd-4b2d-9b5d-ab8dfbbd4bed' },
  ],
};

/** Filed by a hospital from a card, accepted by a clinician: no id, a device by name, a trial that had no id. In pounds, of either hand. */
const filed: Observation = {
  ...stored,
  id: undefined,
  meta: { security: stored.meta?.security ?? [] },
  status: 'final',
  code: kind('highest-of-either-hand', 'Grip strength, highest of either hand'),
  effectiveDateTime: '2026-11-16',
  valueQuantity: { value: 70.5, unit: 'lb', system: UCUM, code: '[lbf_av]' },
  bodySite: undefined,
  device: { display: 'grip-strength-cds 0.2.0' },
  derivedFrom: [
    { reference: 'https://ehr.example/fhir/Observation/trial-9' },
    { display: 'Observation without an id, Bundle.entry[3].resource' },
  ],
  performer: [{ reference: 'Practitioner/invented-dietitian' }],
};

/** No more than the profile asks for: a mean that a hospital charts, in the unit of the display. */
const charted: Observation = {
  resourceType: 'Observation',
  status: 'final',
  category: [EXAM],
  code: kind('mean-per-hand'),
  subject: { reference: 'Patient/invented-1' },
  effectiveDateTime: '2026-11-16',
  valueQuantity: { value: 29.3, unit: 'kg', system: UCUM, code: 'kg' },
  bodySite: LEFT,
};

/** A hospital's own code beside ours, its instrument, and a range that it charts. */
const chartedWhole: Observation = {
  ...charted,
  id: 'average-left',
  status: 'corrected',
  category: [FUNCTIONAL_STATUS, EXAM],
  code: {
    coding: [
      { system: 'https://ehr.example/flowsheet', code: 'GRIP-L-MAX' },
      { system: GRIP_CODES, code: 'highest-per-hand', display: 'Highest grip strength of one hand' },
    ],
    text: 'Best grip, left',
  },
  effectiveDateTime: undefined,
  effectivePeriod: { start: '2026-11-16T14:05:00Z' },
  performer: [{ reference: 'Practitioner/invented-dietitian' }],
  valueQuantity: { value: 280, unit: 'N', system: UCUM, code: 'N' },
  method: { text: 'Best of three' },
  device: { reference: 'Device/dynamometer-4', display: 'Dynamometer of ward 4' },
  referenceRange: [{ text: 'Range of the ward' }],
};

/** Withdrawn: what the service wrote about a session charted for the wrong person. */
const withdrawn: Observation = {
  ...stored,
  status: 'entered-in-error',
  code: kind('mean-of-both-hands', 'Grip strength, mean of the highest of both hands'),
  bodySite: undefined,
  valueQuantity: { value: 305, unit: 'N', system: UCUM, code: 'N' },
};

export const VALID_HAND_SUMMARIES = { stored, filed, charted, chartedWhole, withdrawn };
