/** Valid instances of the profile grip-interpretation, about an invented person. The figures of the sets are invented too. */
import type { Observation, ObservationReferenceRange } from 'fhir/r4.js';
import { GRIP_CODES, SNOMED, UCUM } from '../../src/fhir/codes.ts';
import { EXAM, FUNCTIONAL_STATUS } from './valid-trials.ts';

const ours = (code: string, text?: string) => ({
  coding: [{ system: GRIP_CODES, code }],
  ...(text ? { text } : {}),
});
const flag = (code: string) => ({
  coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', code }],
});
const years = (value: number) => ({ value, unit: 'years', system: UCUM, code: 'a' });
const NORMAL = {
  coding: [{ system: 'http://terminology.hl7.org/CodeSystem/referencerange-meaning', code: 'normal' }],
};
const MALE = { coding: [{ system: SNOMED, code: '248153007', display: 'Male' }] };
const FEMALE = { coding: [{ system: SNOMED, code: '248152002', display: 'Female' }] };

const range: ObservationReferenceRange = {
  low: { value: 33.1, unit: 'kg', system: UCUM, code: 'kgf' },
  type: NORMAL,
  appliesTo: [MALE],
  age: { low: years(70), high: years(74) },
  text: 'Men of 70 to 74: reduced is below 33.1 kg. An invented source (invented-norm|1.0.0)',
};

/** Stored by the service: the right hand, reduced by a table of norms. */
const reduced: Observation = {
  resourceType: 'Observation',
  id: '9e107d9d-372b-4b68-9e0f-0a1b2c3d4e5f',
  meta: {
    versionId: '1',
    lastUpdated: '2026-11-25T12:00:00.000Z',
    profile: ['https://grip-strength-cds.example/fhir/StructureDefinition/grip-interpretation'],
    security: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'AIAST' }],
  },
  text: {
    status: 'generated',
    div: '<div xmlns="http://www.w3.org/1999/xhtml"><p>Right hand: reduced by an invented norm.</p></div>',
  },
  identifier: [{ system: 'urn:ietf:rfc:3986', value: 'urn:uuid:5a1c0f6e-7b2d-4c3e-9f80-112233445566' }],
  status: 'preliminary',
  category: [EXAM, FUNCTIONAL_STATUS],
  code: ours('strength-against-norm', 'Grip strength against an invented norm, right hand'),
  subject: { reference: 'Patient/invented-1' },
  effectiveDateTime: '2026-11-16T14:05:00Z',
  issued: '2026-11-25T12:00:00.000Z',
  valueCodeableConcept: ours('reduced'),
  interpretation: [flag('L')],
  note: [{ text: 'Sex of the row: male, administrative.' }, { text: 'On record as evaluation 1.' }],
  bodySite: { coding: [{ system: SNOMED, code: '78791008', display: 'Structure of right hand' }] },
  method: {
    text: 'grip-strength-cds 0.2.0; panel adult-inpatient-us|1.0.0; table invented-norm|1.0.0; mean of the right hand',
  },
  device: { reference: 'Device/grip-strength-cds-0.2.0' },
  referenceRange: [range],
  derivedFrom: [
    { reference: 'Observation/6f0e6c2a-5f0b-4f8e-9b1c-0d7a2f3b4c5d' },
    { reference: 'Observation/trial-1' },
    { reference: 'Observation/trial-2' },
    { reference: 'Observation/height' },
  ],
  component: [
    {
      code: ours('z-score'),
      valueQuantity: { value: -2.13, unit: '{z-score}', system: UCUM, code: '{z-score}' },
    },
    { code: ours('percentile'), valueQuantity: { value: 1.66, unit: '%', system: UCUM, code: '%' } },
  ],
};

/** Not reduced by a table of centiles, over height squared; accepted by a clinician. */
const notReduced: Observation = {
  ...reduced,
  status: 'final',
  code: ours('strength-against-norm', 'Grip strength against invented centiles, left hand'),
  valueCodeableConcept: ours('not-reduced'),
  interpretation: [flag('N')],
  bodySite: { coding: [{ system: SNOMED, code: '85151006' }] },
  referenceRange: [
    {
      ...range,
      low: { value: 9.2, unit: 'kg/m2', system: UCUM, code: 'kgf/m2' },
      appliesTo: [FEMALE],
      age: { low: years(80) },
    },
  ],
  component: [{ code: ours('centile-place'), valueString: 'between the 25th and the 50th centile' }],
};

/** Of the person, by a cut-point whose limit itself counts as reduced: no low end, no flag. Filed from a card. */
const byCutPoint: Observation = {
  ...reduced,
  id: undefined,
  meta: { security: reduced.meta?.security ?? [] },
  code: ours('strength-against-cut-point', 'Grip strength against an invented cut-point'),
  effectiveDateTime: '2026-11-16',
  valueCodeableConcept: ours('not-reduced'),
  interpretation: undefined,
  bodySite: undefined,
  device: { display: 'grip-strength-cds 0.2.0' },
  referenceRange: [{ ...range, low: undefined }],
  derivedFrom: [{ display: 'Observation without an id, Bundle.entry[2].resource' }],
  component: [{ code: ours('source-band'), valueString: 'normal' }],
};

/** Not read: no sex that a table can be read for, so both columns. */
const bothColumns: Observation = {
  ...reduced,
  status: 'amended',
  valueCodeableConcept: undefined,
  interpretation: undefined,
  referenceRange: undefined,
  dataAbsentReason: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'unknown' }],
    text: 'Not read: no usable sex.',
  },
  component: [
    {
      code: ours('column-female'),
      valueCodeableConcept: ours('not-reduced', 'In the column for women: not reduced.'),
      referenceRange: [
        { ...range, appliesTo: [FEMALE], low: { value: 19, unit: 'kg', system: UCUM, code: 'kgf' } },
      ],
    },
    {
      code: ours('column-male'),
      valueCodeableConcept: ours('reduced', 'In the column for men: reduced.'),
      referenceRange: [range],
    },
  ],
};

/** Not read: outside the ages of the set. Withdrawn later. */
const notRead: Observation = {
  ...reduced,
  status: 'entered-in-error',
  code: ours('strength-against-cut-point', 'Grip strength against an invented cut-point'),
  valueCodeableConcept: undefined,
  interpretation: undefined,
  referenceRange: undefined,
  component: undefined,
  bodySite: undefined,
  dataAbsentReason: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'not-applicable' }],
    text: 'The set does not cover the age.',
  },
};

export const VALID_INTERPRETATIONS = { reduced, notReduced, byCutPoint, bothColumns, notRead };
