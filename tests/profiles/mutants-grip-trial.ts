/** Mutants of grip-trial, from profiles/README.md and R4: what a hospital may get wrong about one squeeze. */
import {
  DATA_ABSENT_REASON,
  GRIP_CODES,
  LOINC,
  OBSERVATION_CATEGORY,
  SNOMED,
  UCUM,
} from '../../src/fhir/codes.ts';
import { add, drop, mutantsOf, put } from './mutant.ts';
import { EXAM, VALID_TRIALS } from './valid-trials.ts';

/** Moves what was said to another element: the usual way to get the type of a choice wrong. */
export function instead(path: string, other: string, value: unknown): (clone: object) => void {
  return (clone) => {
    drop(path)(clone);
    put(other, value)(clone);
  };
}

/** Stands for a primitive that has no value: R4 lets it pass as present, so only a rule about the value objects. */
export const WITHOUT_VALUE = {
  extension: [{ url: 'http://hl7.org/fhir/StructureDefinition/data-absent-reason', valueCode: 'unknown' }],
};

const concept = (system: string, ...codes: string[]) => ({ coding: codes.map((code) => ({ system, code })) });
const force = (value: number, code = 'kg') => ({ value, system: UCUM, code });
const position = (value: object) => ({
  url: 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition',
  ...value,
});
const div = (content: string) => `<div xmlns="http://www.w3.org/1999/xhtml">${content}</div>`;

export const MUTANTS = mutantsOf('grip-trial', VALID_TRIALS, [
  // R4: the resource and its id, meta and narrative
  { name: 'R4: resource type is no type of FHIR', of: 'least', change: put('resourceType', 'GripTrial') },
  { name: 'R4: id has an underscore', of: 'whole', change: put('id', 'trial_7') },
  { name: 'R4: id is a number', of: 'whole', change: put('id', 7) },
  { name: 'R4: has a property that no Observation has', of: 'least', change: put('hand', 'right') },
  { name: 'R4: meta has a version with a space', of: 'whole', change: put('meta.versionId', 'version 3') },
  { name: 'R4: meta was last updated on a day', of: 'whole', change: put('meta.lastUpdated', '2026-11-17') },
  {
    name: 'R4: meta names its profile outside a list',
    of: 'least',
    change: put('meta.profile', 'https://ehr.example/p'),
  },
  { name: 'R4: language is a number', of: 'least', change: put('language', 1033) },
  {
    name: 'R4: narrative has no namespace',
    of: 'whole',
    change: put('text.div', '<div><p>Grip, left: 28 kgf</p></div>'),
  },
  {
    name: 'R4: narrative has a script',
    of: 'whole',
    change: put('text.div', div('<p>Grip, left: 28 kgf</p><script>alert(1)</script>')),
  },
  {
    name: 'R4: narrative is not well formed',
    of: 'whole',
    change: put('text.div', div('<p>Grip, left: <b>28 kgf</p>')),
  },
  { name: 'R4: narrative has no status', of: 'whole', change: drop('text.status') },

  // R4: contained resources
  {
    name: 'R4: contains a resource that nothing refers to',
    of: 'whole',
    change: add('contained', { resourceType: 'Device', id: 'spare' }),
  },
  {
    name: 'R4: a contained resource contains another',
    of: 'whole',
    change: put('contained.1.contained', [{ resourceType: 'Device', id: 'inner' }]),
  },
  {
    name: 'R4: a contained resource has a version',
    of: 'whole',
    change: put('contained.0.meta', { versionId: '1' }),
  },
  {
    name: 'R4: a contained resource has a security label',
    of: 'whole',
    change: put('contained.0.meta', {
      security: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-Confidentiality', code: 'R' }],
    }),
  },
  { name: 'R4: a contained DeviceMetric has no category', of: 'whole', change: drop('contained.1.category') },
  {
    name: 'R4: a contained calibration has a state that is no code of the binding',
    of: 'whole',
    change: put('contained.1.calibration.0.state', 'passed'),
  },
  {
    name: 'R4: a contained resource does not say its type',
    of: 'whole',
    change: drop('contained.0.resourceType'),
  },
  {
    name: 'R4: performer is in no contained resource',
    of: 'least',
    change: put('performer', [{ reference: '#nobody' }]),
  },

  // R4: types, cardinalities and bindings of elements
  { name: 'R4: has no status', of: 'least', change: drop('status') },
  { name: 'R4: has no code', of: 'least', change: drop('code') },
  { name: 'R4: status is a list', of: 'least', change: put('status', ['final']) },
  { name: 'R4: status is null', of: 'least', change: put('status', null) },
  { name: 'R4: status has a capital', of: 'least', change: put('status', 'Final') },
  { name: 'R4: category is not in a list', of: 'least', change: put('category', EXAM) },
  {
    name: 'R4: subject is in a list',
    of: 'least',
    change: put('subject', [{ reference: 'Patient/invented-1' }]),
  },
  { name: 'R4: subject is text', of: 'least', change: put('subject', 'Patient/invented-1') },
  {
    name: 'R4: code has one coding outside a list',
    of: 'least',
    change: put('code.coding', { system: LOINC, code: '83174-3' }),
  },
  { name: 'R4: text of the code is a number', of: 'whole', change: put('code.text', 831735) },
  { name: 'R4: a coding has a display that is empty', of: 'whole', change: put('code.coding.0.display', '') },
  {
    name: 'R4: a coding has a property that no Coding has',
    of: 'least',
    change: put('code.coding.0.name', 'Grip'),
  },
  { name: 'R4: reading is a number as text', of: 'least', change: put('valueQuantity.value', '31.5') },
  { name: 'R4: reading is null', of: 'least', change: put('valueQuantity.value', null) },
  { name: 'R4: quantity is in a list', of: 'least', change: put('valueQuantity', [force(31.5)]) },
  { name: 'R4: quantity has units', of: 'least', change: put('valueQuantity.units', 'kg') },
  { name: 'R4: unit of the quantity is a number', of: 'whole', change: put('valueQuantity.unit', 1) },
  {
    name: 'R4: value is of a type that no Observation has',
    of: 'least',
    change: instead('valueQuantity', 'valueDecimal', 31.5),
  },
  { name: 'R4: has a quantity and a text as values', of: 'least', change: put('valueString', '31.5 kg') },
  {
    name: 'R4: encounter is a Patient',
    of: 'whole',
    change: put('encounter.reference', 'Patient/invented-1'),
  },
  {
    name: 'R4: performer is a Device',
    of: 'whole',
    change: put('performer.0.reference', 'Device/dynamometer-4'),
  },
  {
    name: 'R4: performer is no list',
    of: 'whole',
    change: put('performer', { reference: 'Practitioner/invented-dietitian' }),
  },
  { name: 'R4: list of performers is empty', of: 'whole', change: put('performer', []) },
  {
    name: 'R4: reference to the device has a space',
    of: 'least',
    change: put('device', { reference: 'Device/dynamometer 4' }),
  },
  {
    name: 'R4: device is a Practitioner',
    of: 'least',
    change: put('device', { reference: 'Practitioner/invented-dietitian' }),
  },
  { name: 'R4: issued has no time zone', of: 'whole', change: put('issued', '2026-11-16T14:10:00') },
  { name: 'R4: note has no text', of: 'whole', change: put('note', [{ time: '2026-11-16T14:10:00Z' }]) },
  { name: 'R4: note is text', of: 'whole', change: put('note', 'Two fingers taped.') },
  {
    name: 'R4: note has two authors',
    of: 'whole',
    change: put('note.0', { text: 'Taped.', authorString: 'A', authorReference: { display: 'B' } }),
  },
  {
    name: 'R4: use of the identifier is no code of the binding',
    of: 'whole',
    change: put('identifier.0.use', 'primary'),
  },
  { name: 'R4: value of the identifier is a number', of: 'whole', change: put('identifier.0.value', 100234) },
  { name: 'R4: method is empty', of: 'least', change: put('method', {}) },
  { name: 'R4: body site is in a list', of: 'whole', change: put('bodySite', [concept(SNOMED, '85151006')]) },
  {
    name: 'R4: has the context of R3',
    of: 'least',
    change: put('context', { reference: 'Encounter/invented-9' }),
  },
  {
    name: 'R4: a reference range has neither limit nor text',
    of: 'least',
    change: add('referenceRange', { appliesTo: [{ text: 'Men' }] }),
  },
  {
    name: 'R4: a component has the code of the Observation, which has a value',
    of: 'least',
    change: add('component', { code: concept(LOINC, '83174-3'), valueQuantity: force(31.5) }),
  },
  { name: 'R4: a component has no code', of: 'beside', change: drop('component.0.code') },
  { name: 'R4: a component has two values', of: 'beside', change: put('component.0.valueString', 'none') },
  {
    name: 'R4: an extension has a value and an extension',
    of: 'whole',
    change: put('extension.0.extension', [{ url: 'side', valueCode: 'left' }]),
  },
  {
    name: 'R4: an extension has no url',
    of: 'least',
    change: add('extension', { valueString: 'second squeeze' }),
  },
  {
    name: 'R4: an extension has two values',
    of: 'least',
    change: add('extension', {
      url: 'https://ehr.example/fhir/StructureDefinition/squeeze',
      valueString: 'b',
      valueInteger: 2,
    }),
  },

  // A1
  { name: 'A1: has implicit rules', of: 'least', change: put('implicitRules', 'https://ehr.example/rules') },
  {
    name: 'A1: has a modifier extension',
    of: 'least',
    change: add('modifierExtension', {
      url: 'https://ehr.example/fhir/StructureDefinition/not-done',
      valueBoolean: true,
    }),
  },
  { name: 'A1: has a focus', of: 'least', change: add('focus', { reference: 'Patient/invented-2' }) },
  { name: 'A1: has a member', of: 'whole', change: add('hasMember', { reference: 'Observation/trial-8' }) },

  // A2
  { name: 'A2: has no subject', of: 'least', change: drop('subject') },
  {
    name: 'A2: subject is named only',
    of: 'least',
    change: put('subject', { display: 'An invented person' }),
  },
  {
    name: 'A2: subject is identified, without a reference',
    of: 'least',
    change: put('subject', { type: 'Patient', identifier: { system: 'urn:oid:2.999.2', value: '1' } }),
  },
  { name: 'A2: subject is a Group', of: 'least', change: put('subject.reference', 'Group/ward-4') },
  {
    name: 'A2: subject is a Device at an absolute address',
    of: 'whole',
    change: put('subject.reference', 'https://ehr.example/fhir/Device/1'),
  },
  { name: 'A2: subject has the type Group', of: 'whole', change: put('subject.type', 'Group') },
  {
    name: 'A2: subject is a contained Device',
    of: 'whole',
    change: put('subject.reference', '#dynamometer'),
  },
  {
    name: 'A2: subject is in no contained resource',
    of: 'least',
    change: put('subject.reference', '#person'),
  },
  {
    name: 'A2: reference of the subject ends without an id',
    of: 'least',
    change: put('subject.reference', 'Patient/'),
  },
  {
    name: 'A2: reference of the subject is a search',
    of: 'least',
    change: put('subject.reference', 'Patient?identifier=1'),
  },

  // A3, A4
  { name: 'A3: has no category', of: 'least', change: drop('category') },
  {
    name: 'A3: category is laboratory',
    of: 'least',
    change: put('category.0', concept(OBSERVATION_CATEGORY, 'laboratory')),
  },
  {
    name: 'A3: exam is of a system of the hospital',
    of: 'least',
    change: put('category.0', concept('https://ehr.example/category', 'exam')),
  },
  { name: 'A3: exam is text', of: 'least', change: put('category.0', { text: 'exam' }) },
  { name: 'A3: has functional-status without exam', of: 'whole', change: drop('category.0') },
  {
    name: 'A4: has the category vital-signs',
    of: 'least',
    change: add('category', concept(OBSERVATION_CATEGORY, 'vital-signs')),
  },
  {
    name: 'A4: a category has vital-signs in another system beside exam',
    of: 'least',
    change: add('category.0.coding', { system: 'https://ehr.example/category', code: 'vital-signs' }),
  },

  // A5, T7
  { name: 'A5: has no effective time', of: 'least', change: drop('effectiveDateTime') },
  { name: 'A5: time is a month', of: 'least', change: put('effectiveDateTime', '2026-11') },
  {
    name: 'A5: time has no value',
    of: 'least',
    change: instead('effectiveDateTime', '_effectiveDateTime', WITHOUT_VALUE),
  },
  {
    name: 'A5: has a dateTime and a period',
    of: 'least',
    change: put('effectivePeriod', { start: '2026-11-16' }),
  },
  {
    name: 'T7: time is a Timing',
    of: 'least',
    change: instead('effectiveDateTime', 'effectiveTiming', { event: ['2026-11-16T14:05:00Z'] }),
  },
  { name: 'T7: period has no start', of: 'bySite', change: drop('effectivePeriod.start') },
  { name: 'T7: period starts in a year', of: 'bySite', change: put('effectivePeriod.start', '2026') },
  {
    name: 'R4: period ends before it starts',
    of: 'bySite',
    change: put('effectivePeriod.end', '2026-11-16T14:04:00Z'),
  },
  { name: 'R4: time is on 30 February', of: 'least', change: put('effectiveDateTime', '2026-02-30') },
  { name: 'R4: time is in month 13', of: 'least', change: put('effectiveDateTime', '2026-13-01') },
  { name: 'R4: time has no zone', of: 'beside', change: put('effectiveDateTime', '2026-11-16T14:05:00') },
  { name: 'R4: time is written with slashes', of: 'least', change: put('effectiveDateTime', '11/16/2026') },
  { name: 'R4: instant is a day', of: 'whole', change: put('effectiveInstant', '2026-11-16') },

  // A6, T9
  { name: 'A6: reading is 0', of: 'least', change: put('valueQuantity.value', 0) },
  { name: 'A6: reading is negative', of: 'beside', change: put('valueQuantity.value', -310.25) },
  { name: 'A6: reading has the comparator <', of: 'least', change: put('valueQuantity.comparator', '<') },
  { name: 'A6: has a unit without a number', of: 'whole', change: drop('valueQuantity.value') },
  { name: 'A6: unit has a code without a system', of: 'least', change: drop('valueQuantity.system') },
  { name: 'A6: unit of mass is of SNOMED CT', of: 'least', change: put('valueQuantity.system', SNOMED) },
  {
    name: 'A6: system of the unit is UCUM over https',
    of: 'whole',
    change: put('valueQuantity.system', 'https://unitsofmeasure.org'),
  },
  { name: 'A6: unit has no code', of: 'bySite', change: drop('valueQuantity.code') },
  { name: 'A6: unit is lb, which is no UCUM code', of: 'bySite', change: put('valueQuantity.code', 'lb') },
  { name: 'A6: unit is grams', of: 'least', change: put('valueQuantity.code', 'g') },
  { name: 'A6: unit is a pressure', of: 'least', change: put('valueQuantity.code', 'mm[Hg]') },
  { name: 'T9: reading is text', of: 'least', change: instead('valueQuantity', 'valueString', '31.5 kg') },
  {
    name: 'T9: reading is a bare integer',
    of: 'least',
    change: instead('valueQuantity', 'valueInteger', 31),
  },
  {
    name: 'T9: reading is a range',
    of: 'least',
    change: instead('valueQuantity', 'valueRange', { low: force(30), high: force(33) }),
  },
  {
    name: 'T9: reading is a concept',
    of: 'least',
    change: instead('valueQuantity', 'valueCodeableConcept', { text: 'strong' }),
  },

  // T2
  { name: 'T2: status is registered', of: 'least', change: put('status', 'registered') },
  { name: 'T2: status is entered-in-error', of: 'whole', change: put('status', 'entered-in-error') },
  { name: 'T2: status is cancelled', of: 'noReading', change: put('status', 'cancelled') },
  { name: 'T2: status is unknown', of: 'beside', change: put('status', 'unknown') },
  { name: 'T2: status has no value', of: 'least', change: instead('status', '_status', WITHOUT_VALUE) },

  // T3, T6
  { name: 'T3: code is an NIH Toolbox score', of: 'least', change: put('code.coding.0.code', '83176-8') },
  {
    name: 'T3: LOINC code has a wrong check digit',
    of: 'least',
    change: put('code.coding.0.code', '83174-4'),
  },
  {
    name: 'T3: code has both hands in LOINC',
    of: 'least',
    change: add('code.coding', { system: LOINC, code: '83173-5' }),
  },
  {
    name: 'T3: LOINC code is of a system of the hospital',
    of: 'least',
    change: put('code.coding.0.system', 'https://ehr.example/loinc'),
  },
  { name: 'T3: LOINC code has no system', of: 'least', change: drop('code.coding.0.system') },
  { name: 'T3: code is text', of: 'least', change: put('code', { text: 'Grip strength, right hand' }) },
  { name: 'T3: SNOMED CT code is called LOINC', of: 'bySite', change: put('code.coding.0.system', LOINC) },
  {
    name: 'T6: code says height too',
    of: 'least',
    change: add('code.coding', { system: LOINC, code: '8302-2' }),
  },
  {
    name: 'T6: code says weight too',
    of: 'beside',
    change: add('code.coding', { system: LOINC, code: '29463-7' }),
  },
  {
    name: 'T6: code says body mass index too',
    of: 'least',
    change: add('code.coding', { system: LOINC, code: '39156-5' }),
  },
  {
    name: 'T6: code says handedness too',
    of: 'bySite',
    change: add('code.coding', { system: SNOMED, code: '364940007' }),
  },
  {
    name: 'T6: code says a mean too',
    of: 'least',
    change: add('code.coding', { system: GRIP_CODES, code: 'mean-per-hand' }),
  },

  // T4, T5
  { name: 'T4: SNOMED CT code has no body site', of: 'bySite', change: drop('bodySite') },
  {
    name: 'T4: body site is a hand of no side',
    of: 'bySite',
    change: put('bodySite.coding.0', { system: SNOMED, code: '85562004' }),
  },
  { name: 'T4: body site is text', of: 'bySite', change: put('bodySite', { text: 'left hand' }) },
  {
    name: 'T4: side is of a system of the hospital',
    of: 'bySite',
    change: put('bodySite.coding.0.system', 'https://ehr.example/sides'),
  },
  {
    name: 'T5: right by code, left by body site',
    of: 'least',
    change: put('bodySite', concept(SNOMED, '85151006')),
  },
  {
    name: 'T5: left by code, right by laterality',
    of: 'whole',
    change: put('bodySite', concept(SNOMED, '24028007')),
  },
  {
    name: 'T5: body site is both hands',
    of: 'bySite',
    change: put('bodySite', concept(SNOMED, '78791008', '85151006')),
  },
  {
    name: 'T5: body site is right hand, laterality left',
    of: 'beside',
    change: put('bodySite.coding.1.code', '7771000'),
  },

  // T8
  { name: 'T8: has neither reading nor reason', of: 'least', change: drop('valueQuantity') },
  {
    name: 'T8: has a reason beside the reading',
    of: 'least',
    change: put('dataAbsentReason', concept(DATA_ABSENT_REASON, 'error')),
  },

  // T10 to T14: components of `whole` are handle-position, arm-position, own-baseline, trial-number
  { name: 'T10: handle position is 0', of: 'whole', change: put('component.0.valueInteger', 0) },
  { name: 'T10: handle position is 6', of: 'whole', change: put('component.0.valueInteger', 6) },
  {
    name: 'T10: handle position is text',
    of: 'whole',
    change: instead('component.0.valueInteger', 'component.0.valueString', '2'),
  },
  {
    name: 'T10: handle position is a quantity',
    of: 'whole',
    change: instead('component.0.valueInteger', 'component.0.valueQuantity', { value: 2 }),
  },
  { name: 'T10: handle position has no value', of: 'whole', change: drop('component.0.valueInteger') },
  {
    name: 'T10: handle position stands twice',
    of: 'whole',
    change: add('component', { code: concept(GRIP_CODES, 'handle-position'), valueInteger: 3 }),
  },
  { name: 'R4: handle position is between two', of: 'whole', change: put('component.0.valueInteger', 2.5) },
  {
    name: 'T11: arm position has a code that we do not have',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', concept(GRIP_CODES, 'elbow-bent')),
  },
  {
    name: 'T11: arm position has two codes',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', concept(GRIP_CODES, 'elbow-supported', 'elbow-straight')),
  },
  {
    name: 'T11: arm position has words only',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', { text: 'elbow at 90 degrees' }),
  },
  {
    name: 'T11: arm position is of another system',
    of: 'whole',
    change: put('component.1.valueCodeableConcept.coding.0.system', 'https://ehr.example/arm'),
  },
  {
    name: 'T11: arm position is text',
    of: 'whole',
    change: instead('component.1.valueCodeableConcept', 'component.1.valueString', 'elbow-straight'),
  },
  {
    name: 'T11: arm position stands twice',
    of: 'whole',
    change: add('component', {
      code: concept(GRIP_CODES, 'arm-position'),
      valueCodeableConcept: concept(GRIP_CODES, 'elbow-supported'),
    }),
  },
  {
    name: 'T12: own baseline is text',
    of: 'whole',
    change: instead('component.2.valueBoolean', 'component.2.valueString', 'yes'),
  },
  {
    name: 'T12: own baseline is 1',
    of: 'whole',
    change: instead('component.2.valueBoolean', 'component.2.valueInteger', 1),
  },
  { name: 'T12: own baseline has no value', of: 'whole', change: drop('component.2.valueBoolean') },
  {
    name: 'T12: own baseline stands twice',
    of: 'whole',
    change: add('component', { code: concept(GRIP_CODES, 'own-baseline'), valueBoolean: false }),
  },
  {
    name: 'R4: own baseline is a boolean as text',
    of: 'whole',
    change: put('component.2.valueBoolean', 'true'),
  },
  { name: 'T13: number of the trial is 0', of: 'whole', change: put('component.3.valueInteger', 0) },
  { name: 'T13: number of the trial is negative', of: 'beside', change: put('component.1.valueInteger', -1) },
  {
    name: 'T13: number of the trial is text',
    of: 'beside',
    change: instead('component.1.valueInteger', 'component.1.valueString', 'first'),
  },
  {
    name: 'T13: number of the trial stands twice',
    of: 'beside',
    change: add('component', { code: concept(GRIP_CODES, 'trial-number'), valueInteger: 2 }),
  },
  {
    name: 'R4: number of the trial is above 32 bits',
    of: 'beside',
    change: put('component.1.valueInteger', 2147483648),
  },
  {
    name: 'T14: a component has a modifier extension',
    of: 'beside',
    change: add('component.0.modifierExtension', {
      url: 'https://ehr.example/fhir/StructureDefinition/not-done',
      valueBoolean: true,
    }),
  },

  // T15
  {
    name: 'T15: position of the body has no value',
    of: 'whole',
    change: drop('extension.0.valueCodeableConcept'),
  },
  {
    name: 'T15: position of the body is text',
    of: 'whole',
    change: put('extension.0', position({ valueString: 'sitting' })),
  },
  {
    name: 'T15: position of the body is a coding',
    of: 'whole',
    change: put('extension.0', position({ valueCoding: { system: SNOMED, code: '33586001' } })),
  },
  {
    name: 'T15: position of the body is a handedness',
    of: 'whole',
    change: put('extension.0.valueCodeableConcept', concept(SNOMED, '46669005')),
  },
  {
    name: 'T15: position of the body is of another system',
    of: 'whole',
    change: put('extension.0.valueCodeableConcept.coding.0.system', 'https://ehr.example/posture'),
  },
  {
    name: 'T15: position of the body is sitting and standing',
    of: 'whole',
    change: add('extension.0.valueCodeableConcept.coding', { system: SNOMED, code: '10904000' }),
  },
  {
    name: 'T15: position of the body stands twice',
    of: 'whole',
    change: add('extension', position({ valueCodeableConcept: concept(SNOMED, '10904000') })),
  },
  // The rule came after the others were written.
  {
    name: 'T16: method calls the reading an average',
    of: 'whole',
    change: put('method', concept('http://terminology.hl7.org/CodeSystem/observation-statistics', 'average')),
  },
]);
