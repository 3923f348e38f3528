/** Mutants of grip-hand-summary, from profiles/README.md and R4: summaries of this software and of a hospital. */
import {
  DATA_ABSENT_REASON,
  GRIP_CODES,
  LOINC,
  OBSERVATION_CATEGORY,
  OBSERVATION_INTERPRETATION,
  OBSERVATION_VALUE,
  SNOMED,
  UCUM,
  US_CORE_CATEGORY,
} from '../../src/fhir/codes.ts';
import { add, drop, mutantsOf, put } from './mutant.ts';
import { instead, WITHOUT_VALUE } from './mutants-grip-trial.ts';
import { VALID_HAND_SUMMARIES } from './valid-hand-summaries.ts';

const concept = (system: string, ...codes: string[]) => ({ coding: codes.map((code) => ({ system, code })) });
const div = (content: string) => `<div xmlns="http://www.w3.org/1999/xhtml">${content}</div>`;
const URI = 'urn:ietf:rfc:3986';
const loincBeside = (code: string) => add('code.coding', { system: LOINC, code });

export const MUTANTS = mutantsOf('grip-hand-summary', VALID_HAND_SUMMARIES, [
  // R4: the resource and its id, meta and narrative
  { name: 'R4: has no resource type', of: 'charted', change: drop('resourceType') },
  { name: 'R4: id has 65 characters', of: 'chartedWhole', change: put('id', 'a'.repeat(65)) },
  { name: 'R4: id is empty', of: 'chartedWhole', change: put('id', '') },
  {
    name: 'R4: meta has a property that no Meta has',
    of: 'stored',
    change: put('meta.author', 'grip-strength-cds'),
  },
  { name: 'R4: meta is a list', of: 'charted', change: put('meta', [{ versionId: '1' }]) },
  {
    name: 'R4: meta was last updated without a time zone',
    of: 'stored',
    change: put('meta.lastUpdated', '2026-11-25T12:00:00.000'),
  },
  {
    name: 'R4: the profile in meta has a space',
    of: 'stored',
    change: put('meta.profile.0', 'grip hand summary'),
  },
  {
    name: 'R4: a security label is a concept',
    of: 'stored',
    change: add('meta.security', concept('http://terminology.hl7.org/CodeSystem/v3-Confidentiality', 'N')),
  },
  {
    name: 'R4: status of the narrative is no code of the binding',
    of: 'stored',
    change: put('text.status', 'written'),
  },
  { name: 'R4: narrative has no div', of: 'stored', change: drop('text.div') },
  { name: 'R4: narrative is blank', of: 'stored', change: put('text.div', div(' ')) },
  {
    name: 'R4: narrative has a handler of clicks',
    of: 'stored',
    change: put('text.div', div('<p onclick="alert(1)">31 kg</p>')),
  },
  {
    name: 'R4: narrative has a form',
    of: 'stored',
    change: put('text.div', div('<form action="/x"><p>31 kg</p></form>')),
  },
  {
    name: 'R4: narrative is bare words',
    of: 'stored',
    change: put('text.div', 'Mean of the right hand: 31 kg'),
  },
  {
    name: 'R4: contained is no list',
    of: 'charted',
    change: put('contained', { resourceType: 'Device', id: 'd' }),
  },
  {
    name: 'R4: a contained resource has the moment of its update',
    of: 'charted',
    change: (summary) => {
      summary.contained = [
        { resourceType: 'Device', id: 'd', meta: { lastUpdated: '2026-11-16T14:05:00Z' } },
      ];
      summary.device = { reference: '#d' };
    },
  },

  // R4: types, cardinalities and bindings of elements
  { name: 'R4: has no status', of: 'stored', change: drop('status') },
  { name: 'R4: has no code', of: 'charted', change: drop('code') },
  { name: 'R4: status is a code that R4 does not have', of: 'charted', change: put('status', 'done') },
  { name: 'R4: status is a boolean', of: 'charted', change: put('status', true) },
  {
    name: 'R4: code is in a list',
    of: 'charted',
    change: put('code', [concept(GRIP_CODES, 'mean-per-hand')]),
  },
  { name: 'R4: a coding is text', of: 'chartedWhole', change: put('code.coding.0', 'GRIP-L-MAX') },
  { name: 'R4: code of a coding is a number', of: 'chartedWhole', change: put('code.coding.0.code', 7) },
  {
    name: 'R4: code of a coding begins with a space',
    of: 'chartedWhole',
    change: put('code.coding.0.code', ' GRIP-L-MAX'),
  },
  {
    name: 'R4: system of a coding has a space',
    of: 'chartedWhole',
    change: put('code.coding.0.system', 'flow sheet'),
  },
  {
    name: 'R4: a coding is chosen by the user in words',
    of: 'chartedWhole',
    change: put('code.coding.0.userSelected', 'yes'),
  },
  { name: 'R4: has the comment of R3', of: 'charted', change: put('comment', 'Mean of three.') },
  { name: 'R4: has a property in the wrong case', of: 'charted', change: put('bodysite', { text: 'left' }) },
  { name: 'R4: issued is a day', of: 'stored', change: put('issued', '2026-11-25') },
  { name: 'R4: issued is at 25 hours', of: 'stored', change: put('issued', '2026-11-25T25:00:00Z') },
  {
    name: 'R4: time is in two digits of a year',
    of: 'charted',
    change: put('effectiveDateTime', '26-11-16'),
  },
  {
    name: 'R4: time has a space for the T',
    of: 'stored',
    change: put('effectiveDateTime', '2026-11-16 14:05:00Z'),
  },
  { name: 'R4: time has no seconds', of: 'stored', change: put('effectiveDateTime', '2026-11-16T14:05Z') },
  { name: 'R4: time is a number', of: 'charted', change: put('effectiveDateTime', 20261116) },
  { name: 'R4: period is text', of: 'chartedWhole', change: put('effectivePeriod', '2026-11-16T14:05:00Z') },
  {
    name: 'R4: period ends before it starts',
    of: 'chartedWhole',
    change: put('effectivePeriod.end', '2026-11-15T14:05:00Z'),
  },
  {
    name: 'R4: performer has a wrong type of reference',
    of: 'filed',
    change: put('performer.0.reference', 'Location/ward-4'),
  },
  { name: 'R4: a performer is empty', of: 'filed', change: add('performer', {}) },
  { name: 'R4: value is a number', of: 'charted', change: put('valueQuantity', 29.3) },
  {
    name: 'R4: value is a value without its type',
    of: 'charted',
    change: put('value', { value: 29.3, system: UCUM, code: 'kg' }),
  },
  { name: 'R4: list of notes is empty', of: 'charted', change: put('note', []) },
  { name: 'R4: text of a note is empty', of: 'stored', change: put('note.1.text', '') },
  { name: 'R4: a note has a control character', of: 'stored', change: put('note.1.text', 'On record\u0007') },
  { name: 'R4: note has a time that is no time', of: 'stored', change: put('note.1.time', 'yesterday') },
  { name: 'R4: body site is text', of: 'charted', change: put('bodySite', 'left') },
  { name: 'R4: method is in a list', of: 'chartedWhole', change: put('method', [{ text: 'Best of three' }]) },
  {
    name: 'R4: device is of a wrong type',
    of: 'chartedWhole',
    change: put('device.reference', 'Organization/ward-4'),
  },
  { name: 'R4: identifier is text', of: 'charted', change: put('identifier', ['flowsheet-1']) },
  {
    name: 'R4: identifier is no list',
    of: 'charted',
    change: put('identifier', { system: 'urn:oid:2.999.1', value: '1' }),
  },
  {
    name: 'R4: identifier was assigned by a Patient',
    of: 'stored',
    change: put('identifier.0.assigner', { reference: 'Patient/invented-1' }),
  },
  {
    name: 'R4: an order is an Observation',
    of: 'charted',
    change: add('basedOn', { reference: 'Observation/trial-1' }),
  },
  {
    name: 'R4: is part of an Encounter',
    of: 'charted',
    change: add('partOf', { reference: 'Encounter/invented-9' }),
  },
  {
    name: 'R4: specimen is a Device',
    of: 'charted',
    change: put('specimen', { reference: 'Device/dynamometer-4' }),
  },
  {
    name: 'R4: is derived from a Patient',
    of: 'charted',
    change: add('derivedFrom', { reference: 'Patient/invented-1' }),
  },
  {
    name: 'R4: a source is in no contained resource',
    of: 'filed',
    change: put('derivedFrom.0.reference', '#trial-9'),
  },
  {
    name: 'R4: a reference range has neither limit nor text',
    of: 'chartedWhole',
    change: add('referenceRange', { age: { low: { value: 70 } } }),
  },
  {
    name: 'R4: text of a reference range is a concept',
    of: 'chartedWhole',
    change: put('referenceRange.0.text', { text: 'Range of the ward' }),
  },
  {
    name: 'R4: low end of a reference range has a comparator',
    of: 'chartedWhole',
    change: put('referenceRange.0.low', { value: 200, comparator: '>=', system: UCUM, code: 'N' }),
  },
  {
    name: 'R4: a component has the code of the Observation, which has a value',
    of: 'charted',
    change: add('component', { code: concept(GRIP_CODES, 'mean-per-hand'), valueInteger: 3 }),
  },
  {
    name: 'R4: an extension is no list',
    of: 'charted',
    change: put('extension', { url: 'https://ehr.example/x', valueCode: 'a' }),
  },
  {
    name: 'R4: an extension has neither value nor extension',
    of: 'charted',
    change: add('extension', { url: 'https://ehr.example/fhir/StructureDefinition/squeeze' }),
  },

  // A1 to A4
  { name: 'A1: has implicit rules', of: 'stored', change: put('implicitRules', 'https://ehr.example/rules') },
  {
    name: 'A1: has a modifier extension',
    of: 'charted',
    change: add('modifierExtension', {
      url: 'https://ehr.example/fhir/StructureDefinition/estimated',
      valueBoolean: true,
    }),
  },
  { name: 'A1: has a focus', of: 'stored', change: add('focus', { reference: 'Device/dynamometer-4' }) },
  {
    name: 'A1: has its trials as members',
    of: 'stored',
    change: add('hasMember', { reference: 'Observation/trial-1' }),
  },
  { name: 'A2: has no subject', of: 'stored', change: drop('subject') },
  {
    name: 'A2: subject has a type and a name only',
    of: 'charted',
    change: put('subject', { type: 'Patient', display: 'Invented' }),
  },
  {
    name: 'A2: subject is a RelatedPerson',
    of: 'stored',
    change: put('subject.reference', 'RelatedPerson/invented-1'),
  },
  { name: 'A2: subject has the type Device', of: 'charted', change: put('subject.type', 'Device') },
  {
    name: 'A2: version of the subject is missing after _history',
    of: 'charted',
    change: put('subject.reference', 'Patient/invented-1/_history/'),
  },
  {
    name: 'A2: id of the subject has an underscore',
    of: 'charted',
    change: put('subject.reference', 'Patient/invented_1'),
  },
  {
    name: 'A2: reference of the subject has no value',
    of: 'charted',
    change: instead('subject.reference', 'subject._reference', WITHOUT_VALUE),
  },
  { name: 'A3: has no category', of: 'charted', change: drop('category') },
  { name: 'A3: summary of the software has no exam', of: 'stored', change: drop('category.0') },
  { name: 'A3: exam has a capital', of: 'charted', change: put('category.0.coding.0.code', 'Exam') },
  {
    name: 'A3: exam is of the US Core categories',
    of: 'charted',
    change: put('category.0.coding.0.system', US_CORE_CATEGORY),
  },
  {
    name: 'A4: has the category vital-signs',
    of: 'stored',
    change: add('category', concept(OBSERVATION_CATEGORY, 'vital-signs')),
  },
  {
    name: 'A4: has the category vital-signs without a system',
    of: 'charted',
    change: add('category', { coding: [{ code: 'vital-signs' }] }),
  },

  // A5, S7
  { name: 'A5: has no effective time', of: 'charted', change: drop('effectiveDateTime') },
  { name: 'A5: time is a year', of: 'filed', change: put('effectiveDateTime', '2026') },
  {
    name: 'A5: has a dateTime and an instant',
    of: 'stored',
    change: put('effectiveInstant', '2026-11-16T14:05:00Z'),
  },
  {
    name: 'S7: time is a Timing',
    of: 'charted',
    change: instead('effectiveDateTime', 'effectiveTiming', { code: { text: 'daily' } }),
  },
  {
    name: 'S7: period has an end only',
    of: 'chartedWhole',
    change: instead('effectivePeriod.start', 'effectivePeriod.end', '2026-11-16T14:05:00Z'),
  },
  {
    name: 'S7: period starts in a month',
    of: 'chartedWhole',
    change: put('effectivePeriod.start', '2026-11'),
  },

  // A6, S6, S8
  { name: 'A6: figure is 0', of: 'charted', change: put('valueQuantity.value', 0) },
  { name: 'A6: figure is negative', of: 'stored', change: put('valueQuantity.value', -31) },
  { name: 'A6: figure has the comparator >', of: 'filed', change: put('valueQuantity.comparator', '>') },
  {
    name: 'R4: comparator is no code of the binding',
    of: 'charted',
    change: put('valueQuantity.comparator', '='),
  },
  { name: 'A6: figure is missing', of: 'charted', change: drop('valueQuantity.value') },
  {
    name: 'A6: figure has no value but a reason',
    of: 'charted',
    change: instead('valueQuantity.value', 'valueQuantity._value', WITHOUT_VALUE),
  },
  { name: 'A6: system of the unit is missing', of: 'stored', change: drop('valueQuantity.system') },
  {
    name: 'A6: system of the unit is the OID of UCUM',
    of: 'charted',
    change: put('valueQuantity.system', 'urn:oid:2.16.840.1.113883.6.8'),
  },
  { name: 'A6: unit is in words only', of: 'charted', change: drop('valueQuantity.code') },
  { name: 'A6: unit is KG', of: 'charted', change: put('valueQuantity.code', 'KG') },
  { name: 'A6: unit is kilonewtons', of: 'chartedWhole', change: put('valueQuantity.code', 'kN') },
  { name: 'A6: unit is lbf, which is no UCUM code', of: 'filed', change: put('valueQuantity.code', 'lbf') },
  { name: 'S6: has no value', of: 'charted', change: drop('valueQuantity') },
  {
    name: 'S6: has a reason for the absence of the value',
    of: 'charted',
    change: instead('valueQuantity', 'dataAbsentReason', concept(DATA_ABSENT_REASON, 'not-performed')),
  },
  {
    name: 'S6: has a reason beside the value',
    of: 'stored',
    change: put('dataAbsentReason', concept(DATA_ABSENT_REASON, 'unknown')),
  },
  { name: 'S6: value is text', of: 'charted', change: instead('valueQuantity', 'valueString', '29.3 kg') },
  { name: 'S6: value is an integer', of: 'stored', change: instead('valueQuantity', 'valueInteger', 31) },
  {
    name: 'S6: value is a ratio',
    of: 'charted',
    change: instead('valueQuantity', 'valueRatio', { numerator: { value: 88 }, denominator: { value: 3 } }),
  },
  { name: 'R4: has a quantity and an integer as values', of: 'charted', change: put('valueInteger', 29) },
  {
    name: 'S8: summary of the software is in kilograms of mass',
    of: 'stored',
    change: put('valueQuantity.code', 'kg'),
  },
  {
    name: 'S8: summary of the software is in pounds of mass',
    of: 'filed',
    change: put('valueQuantity.code', '[lb_av]'),
  },

  // M1: what names the software and has no label
  { name: 'M1: summary of the software lost its label', of: 'stored', change: drop('meta.security') },
  {
    name: 'M1: label is of another system',
    of: 'filed',
    change: put('meta.security.0.system', 'http://terminology.hl7.org/CodeSystem/v3-ActCode'),
  },
  { name: 'M1: label is DEVAST', of: 'withdrawn', change: put('meta.security.0.code', 'DEVAST') },
  { name: 'M1: label is in words', of: 'stored', change: put('meta.security.0', { display: 'AIAST' }) },
  {
    name: 'M1: summary of a hospital has the software as method',
    of: 'charted',
    change: put('method', { text: 'grip-strength-cds 0.2.0; mean of the left hand' }),
  },
  {
    name: 'M1: summary of a hospital has the software as device',
    of: 'charted',
    change: put('device', { display: 'grip-strength-cds 0.2.0' }),
  },
  {
    name: 'M1: summary of a hospital refers to the software as device',
    of: 'chartedWhole',
    change: put('device.reference', 'https://cds.example/fhir/Device/grip-strength-cds-0.2.0'),
  },
  {
    name: 'M1: label is a tag',
    of: 'filed',
    change: instead('meta.security', 'meta.tag', [{ system: OBSERVATION_VALUE, code: 'AIAST' }]),
  },

  // M2: identifier
  { name: 'M2: has no identifier', of: 'stored', change: drop('identifier') },
  {
    name: 'M2: has an identifier of the hospital only',
    of: 'filed',
    change: put('identifier.0', { system: 'urn:oid:2.999.1', value: '100234' }),
  },
  {
    name: 'M2: uuid is in upper case',
    of: 'stored',
    change: put('identifier.0.value', 'urn:uuid:0B7E2F3C-1D2E-4A5B-8C6D-7E8F9A0B1C2D'),
  },
  {
    name: 'M2: uuid is bare',
    of: 'stored',
    change: put('identifier.0.value', '0b7e2f3c-1d2e-4a5b-8c6d-7e8f9a0b1c2d'),
  },
  {
    name: 'M2: uuid is short',
    of: 'stored',
    change: put('identifier.0.value', 'urn:uuid:0b7e2f3c-1d2e-4a5b-8c6d-7e8f9a0b1c2'),
  },
  {
    name: 'M2: identifier is an OID',
    of: 'withdrawn',
    change: put('identifier.0.value', 'urn:oid:2.999.1.100234'),
  },
  { name: 'M2: identifier has no value', of: 'stored', change: drop('identifier.0.value') },
  { name: 'M2: uuid has no system', of: 'filed', change: drop('identifier.0.system') },
  {
    name: 'M2: has two uuids',
    of: 'stored',
    change: add('identifier', { system: URI, value: 'urn:uuid:7a1c0f6e-7b2d-4c3e-9f80-112233445566' }),
  },

  // M3: method and device
  { name: 'M3: has no method', of: 'stored', change: drop('method') },
  {
    name: 'M3: method is a code without text',
    of: 'stored',
    change: put('method', concept('https://ehr.example/method', 'mean')),
  },
  {
    name: 'M3: method names no version',
    of: 'stored',
    change: put('method.text', 'grip-strength-cds; mean of the right hand'),
  },
  {
    name: 'M3: version has two numbers',
    of: 'filed',
    change: put('method.text', 'grip-strength-cds 0.2; highest of either hand'),
  },
  {
    name: 'M3: method begins with the summary',
    of: 'stored',
    change: put('method.text', 'mean of the right hand by grip-strength-cds 0.2.0'),
  },
  { name: 'M3: has no device', of: 'stored', change: drop('device') },
  {
    name: 'M3: device is identified only',
    of: 'filed',
    change: put('device', { identifier: { system: 'urn:oid:2.999.3', value: '1' } }),
  },

  // M4: sources
  { name: 'M4: has no source', of: 'stored', change: drop('derivedFrom') },
  { name: 'M4: a source has a type only', of: 'stored', change: add('derivedFrom', { type: 'Observation' }) },
  {
    name: 'M4: a source stands twice',
    of: 'stored',
    change: add('derivedFrom', { reference: 'Observation/trial-1' }),
  },
  {
    name: 'M4: a source is a QuestionnaireResponse',
    of: 'stored',
    change: put('derivedFrom.0.reference', 'QuestionnaireResponse/grip'),
  },
  { name: 'M4: a source has the type Media', of: 'stored', change: put('derivedFrom.2.type', 'Media') },
  {
    name: 'M4: a source is referred to without an id',
    of: 'filed',
    change: put('derivedFrom.0.reference', 'https://ehr.example/fhir/Observation'),
  },

  // M5, M6
  { name: 'M5: has no moment of making', of: 'stored', change: drop('issued') },
  { name: 'M5: has no narrative', of: 'filed', change: drop('text') },
  { name: 'M5: has no note', of: 'withdrawn', change: drop('note') },
  { name: 'M6: has no functional-status', of: 'stored', change: drop('category.1') },
  {
    name: 'M6: functional-status is of the HL7 categories',
    of: 'stored',
    change: put('category.1.coding.0.system', OBSERVATION_CATEGORY),
  },
  {
    name: 'M6: functional-status has an underscore',
    of: 'filed',
    change: put('category.1.coding.0.code', 'functional_status'),
  },

  // M7, S4: body site
  {
    name: 'M7: body site is a laterality',
    of: 'charted',
    change: put('bodySite', concept(SNOMED, '7771000')),
  },
  {
    name: 'M7: body site is both hands',
    of: 'stored',
    change: add('bodySite.coding', { system: SNOMED, code: '85151006' }),
  },
  {
    name: 'M7: body site is a hand of no side',
    of: 'stored',
    change: put('bodySite', concept(SNOMED, '85562004')),
  },
  { name: 'M7: body site is in words', of: 'charted', change: put('bodySite', { text: 'left hand' }) },
  {
    name: 'M7: body site is of another system',
    of: 'chartedWhole',
    change: put('bodySite.coding.0.system', 'https://ehr.example/sites'),
  },
  { name: 'S4: mean of a hand has no body site', of: 'charted', change: drop('bodySite') },
  { name: 'S4: highest of a hand has no body site', of: 'chartedWhole', change: drop('bodySite') },
  {
    name: 'S4: highest of either hand has a body site',
    of: 'filed',
    change: put('bodySite', concept(SNOMED, '78791008')),
  },
  {
    name: 'S4: mean of both hands has a body site',
    of: 'withdrawn',
    change: put('bodySite', concept(SNOMED, '85151006')),
  },

  // S2
  { name: 'S2: status is registered', of: 'charted', change: put('status', 'registered') },
  { name: 'S2: status is cancelled', of: 'stored', change: put('status', 'cancelled') },
  { name: 'S2: status is unknown', of: 'charted', change: put('status', 'unknown') },

  // S3, S5: code
  { name: 'S3: code is of the hospital only', of: 'chartedWhole', change: drop('code.coding.1') },
  {
    name: 'S3: code is in words only',
    of: 'charted',
    change: put('code', { text: 'Mean of the left hand' }),
  },
  {
    name: 'S3: code names two kinds',
    of: 'charted',
    change: add('code.coding', { system: GRIP_CODES, code: 'highest-per-hand' }),
  },
  {
    name: 'S3: code is a kind that we do not have',
    of: 'charted',
    change: put('code.coding.0.code', 'median-per-hand'),
  },
  {
    name: 'S3: code is that of an interpretation',
    of: 'filed',
    change: put('code.coding.0.code', 'strength-against-norm'),
  },
  {
    name: 'S3: code is one of our components beside the kind',
    of: 'charted',
    change: add('code.coding', { system: GRIP_CODES, code: 'trial-number' }),
  },
  {
    name: 'S3: kind is of another system',
    of: 'charted',
    change: put('code.coding.0.system', 'https://ehr.example/kinds'),
  },
  { name: 'S3: kind has no system', of: 'charted', change: drop('code.coding.0.system') },
  { name: 'S5: code says a trial of the right hand too', of: 'stored', change: loincBeside('83174-3') },
  { name: 'S5: code says a trial of the left hand too', of: 'charted', change: loincBeside('83173-5') },
  { name: 'S5: code says the NIH Toolbox test 83145-3 too', of: 'charted', change: loincBeside('83145-3') },
  { name: 'S5: code says the NIH Toolbox score 83175-0 too', of: 'charted', change: loincBeside('83175-0') },
  { name: 'S5: code says the NIH Toolbox score 83176-8 too', of: 'charted', change: loincBeside('83176-8') },
  { name: 'S5: code says the NIH Toolbox score 84418-3 too', of: 'charted', change: loincBeside('84418-3') },
  { name: 'S5: code says the NIH Toolbox score 84416-7 too', of: 'charted', change: loincBeside('84416-7') },
  { name: 'S5: code says the NIH Toolbox score 84417-5 too', of: 'charted', change: loincBeside('84417-5') },
  {
    name: 'S5: code says the NIH Toolbox percentile 84419-1 too',
    of: 'charted',
    change: loincBeside('84419-1'),
  },
  { name: 'S5: code says the PhenX protocol 62821-4 too', of: 'charted', change: loincBeside('62821-4') },

  // S9
  {
    name: 'S9: summary of the software has an interpretation',
    of: 'stored',
    change: add('interpretation', concept(OBSERVATION_INTERPRETATION, 'L')),
  },
  {
    name: 'S9: summary of the software has a reference range',
    of: 'filed',
    change: add('referenceRange', { text: 'Invented range' }),
  },
  {
    name: 'S9: summary of the software has a component',
    of: 'stored',
    change: add('component', { code: { text: 'Number of trials' }, valueInteger: 3 }),
  },
]);
