/** Second batch of mutants of the profile grip-trial, written after the profile was finished and before anything judged them. */
import { GRIP_CODES, LOINC, SNOMED, UCUM } from '../../../src/fhir/codes.ts';
import { add, drop, inTurn, mutantsOf, put } from '../mutant.ts';
import { VALID_TRIALS } from '../valid-trials.ts';

const BODY_POSITION = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition';
const NOTE_EXTENSION = [{ url: 'https://ehr.example/note', valueString: 'see chart' }];
const ours = (code: string) => ({ coding: [{ system: GRIP_CODES, code }] });
const component = (code: object, value: object = { valueInteger: 31 }) =>
  add('component', { code, ...value });
const dateTime = (value: unknown) => put('effectiveDateTime', value);
const div = (inner: string) => put('text.div', `<div xmlns="http://www.w3.org/1999/xhtml">${inner}</div>`);
const containedPatient = (patient: object) =>
  inTurn(
    add('contained', { resourceType: 'Patient', id: 'person', ...patient }),
    put('subject', { reference: '#person' }),
  );

export const MUTANTS = mutantsOf('grip-trial', VALID_TRIALS, [
  {
    name: 'R4: resource type begins with a small letter',
    of: 'least',
    change: put('resourceType', 'observation'),
  },
  { name: 'R4: id has a space', of: 'whole', change: put('id', 'trial 7') },
  { name: 'R4: id has an umlaut', of: 'whole', change: put('id', 'griff-prüfung') },
  { name: 'R4: language is a locale of POSIX', of: 'whole', change: put('language', 'en_US') },
  { name: 'R4: version in meta has a slash', of: 'whole', change: put('meta.versionId', 'W/3') },
  { name: 'R4: source in meta has a space', of: 'whole', change: put('meta.source', 'Ward 4 flowsheet') },
  { name: 'R4: tag in meta is no list', of: 'whole', change: put('meta.tag', { code: 'ward' }) },
  { name: 'R4: a profile in meta is null', of: 'whole', change: put('meta.profile', [null]) },
  { name: 'R4: has the comments of DSTU2', of: 'least', change: put('fhir_comments', ['right hand']) },
  {
    name: 'R4: has the related of STU3',
    of: 'least',
    change: put('related', [{ target: { reference: 'Observation/1' } }]),
  },
  {
    name: 'R4: has the bodyStructure of R5',
    of: 'least',
    change: put('bodyStructure', { reference: 'BodyStructure/1' }),
  },
  { name: 'R4: narrative has an unescaped less-than', of: 'whole', change: div('<p>Grip < 30 kg</p>') },
  { name: 'R4: narrative has a bare ampersand', of: 'whole', change: div('<p>Grip & pinch</p>') },
  { name: 'R4: narrative has a br that is not closed', of: 'whole', change: div('<p>Left<br>28 kgf</p>') },
  { name: 'R4: narrative has a body', of: 'whole', change: div('<body><p>Left 28 kgf</p></body>') },
  {
    name: 'R4: narrative has a choice list',
    of: 'whole',
    change: div('<p>Left <select><option>28</option></select></p>'),
  },
  {
    name: 'R4: root of the narrative has a capital',
    of: 'whole',
    change: put('text.div', '<Div xmlns="http://www.w3.org/1999/xhtml">28 kgf</Div>'),
  },
  {
    name: 'R4: a contained Device has its types in a list, as in R5',
    of: 'whole',
    change: put('contained.0.type', [{ text: 'Dynamometer' }]),
  },
  {
    name: 'R4: a contained Device has a status that is no code of the binding',
    of: 'whole',
    change: put('contained.0.status', 'in-use'),
  },
  {
    name: 'R4: name of a contained Device has no type',
    of: 'whole',
    change: put('contained.0.deviceName', [{ name: 'Dynamometer 4' }]),
  },
  { name: 'R4: a contained DeviceMetric has no type', of: 'whole', change: drop('contained.1.type') },
  {
    name: 'R4: a contained DeviceMetric is of a Patient',
    of: 'whole',
    change: put('contained.1.parent', { reference: 'Patient/invented-1' }),
  },
  {
    name: 'R4: a contained calibration has a time without a zone',
    of: 'whole',
    change: put('contained.1.calibration.0.time', '2026-06-02T09:00:00'),
  },
  {
    name: 'R4: a contained Patient has the gender M',
    of: 'least',
    change: containedPatient({ gender: 'M' }),
  },
  {
    name: 'R4: a contained Patient has a birth date with slashes',
    of: 'least',
    change: containedPatient({ birthDate: '02/11/1950' }),
  },
  {
    name: 'R4: a contained Patient has a name as text',
    of: 'least',
    change: containedPatient({ name: 'Invented, Person' }),
  },
  { name: 'R4: a list of contained resources has a null', of: 'whole', change: add('contained', null) },
  { name: 'R4: status has a space at the end', of: 'least', change: put('status', 'final ') },
  { name: 'R4: status is F of HL7 version 2', of: 'least', change: put('status', 'F') },
  { name: 'R4: extension of the status is a text', of: 'least', change: put('_status', 'reviewed') },
  {
    name: 'R4: extension of the status has neither value nor extension',
    of: 'least',
    change: put('_status', { extension: [{ url: 'https://ehr.example/note' }] }),
  },
  { name: 'R4: category is a list of words', of: 'least', change: put('category', ['exam']) },
  {
    name: 'R4: a category is a list of its own',
    of: 'least',
    change: (trial) => put('category', [trial.category])(trial),
  },
  { name: 'R4: text of the code is empty', of: 'whole', change: put('code.text', '') },
  {
    name: 'R4: code of a coding has two spaces within',
    of: 'beside',
    change: put('code.coding.0.code', 'GRIP  R'),
  },
  {
    name: 'R4: code of a coding ends with a line',
    of: 'beside',
    change: put('code.coding.0.code', 'GRIP-R-1\n'),
  },
  { name: 'R4: version of a coding is a number', of: 'whole', change: put('code.coding.0.version', 2.78) },
  {
    name: 'R4: encounter is a list',
    of: 'whole',
    change: (trial) => put('encounter', [trial.encounter])(trial),
  },
  {
    name: 'R4: identifier of the encounter is text',
    of: 'whole',
    change: put('encounter.identifier', 'V-77'),
  },
  {
    name: 'R4: performer is a HealthcareService',
    of: 'whole',
    change: put('performer.0.reference', 'HealthcareService/hand-clinic'),
  },
  {
    name: 'R4: performer without a reference has the type Device',
    of: 'whole',
    change: put('performer.0', { type: 'Device', display: 'Dynamometer 4' }),
  },
  {
    name: 'R4: device refers to a Device and has the type Patient',
    of: 'least',
    change: put('device', { reference: 'Device/4', type: 'Patient' }),
  },
  {
    name: 'R4: device is a DeviceDefinition',
    of: 'least',
    change: put('device', { reference: 'DeviceDefinition/hydraulic' }),
  },
  {
    name: 'R4: device is a contained Patient',
    of: 'least',
    change: inTurn(
      add('contained', { resourceType: 'Patient', id: 'p' }),
      put('device', { reference: '#p' }),
    ),
  },
  { name: 'R4: an order is a Task', of: 'least', change: put('basedOn', [{ reference: 'Task/17' }]) },
  {
    name: 'R4: is derived from a DiagnosticReport',
    of: 'least',
    change: put('derivedFrom', [{ reference: 'DiagnosticReport/3' }]),
  },
  {
    name: 'R4: a note was written by a PractitionerRole',
    of: 'whole',
    change: put('note.0.authorReference', { reference: 'PractitionerRole/ot' }),
  },
  { name: 'R4: time of a note has no zone', of: 'whole', change: put('note.0.time', '2026-11-16T14:05:00') },
  {
    name: 'R4: system of the identifier has a space',
    of: 'whole',
    change: put('identifier.0.system', 'Flowsheet rows'),
  },
  { name: 'R4: type of the identifier is a code', of: 'whole', change: put('identifier.0.type', 'FILL') },
  { name: 'R4: issued has no seconds', of: 'whole', change: put('issued', '2026-11-16T14:10Z') },
  { name: 'R4: number of the reading has a comma', of: 'least', change: put('valueQuantity.value', '31,5') },
  { name: 'R4: reading is a boolean', of: 'least', change: put('valueQuantity.value', true) },
  {
    name: 'R4: reading has a text beside it that has only an extension',
    of: 'least',
    change: put('_valueString', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'R4: time has an instant beside it that has only an extension',
    of: 'least',
    change: put('_effectiveInstant', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'R4: reason of the absence is a coding',
    of: 'noReading',
    change: put('dataAbsentReason', {
      system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason',
      code: 'not-performed',
    }),
  },
  {
    name: 'R4: reason of the absence is a list',
    of: 'noReading',
    change: (trial) => put('dataAbsentReason', [trial.dataAbsentReason])(trial),
  },
  {
    name: 'R4: a component has components',
    of: 'whole',
    change: put('component.0.component', [{ code: { text: 'Grip span' } }]),
  },
  {
    name: 'R4: a reference range of a component is empty of limit and text',
    of: 'beside',
    change: put('component.0.referenceRange', [{ type: { text: 'normal' } }]),
  },
  {
    name: 'R4: url of an extension has a space',
    of: 'whole',
    change: add('extension', { url: 'https://ehr.example/grip span', valueInteger: 2 }),
  },
  {
    name: 'R4: extensions are no list',
    of: 'least',
    change: put('extension', {
      url: BODY_POSITION,
      valueCodeableConcept: { coding: [{ system: SNOMED, code: '33586001' }] },
    }),
  },
  { name: 'R4: time is at 24 hours', of: 'least', change: dateTime('2026-11-16T24:00:00Z') },
  { name: 'R4: zone of the time has no colon', of: 'least', change: dateTime('2026-11-16T14:05:00+0100') },
  { name: 'R4: zone of the time is 15 hours', of: 'least', change: dateTime('2026-11-16T14:05:00+15:00') },
  { name: 'R4: day has a zone', of: 'least', change: dateTime('2026-11-16Z') },
  { name: 'R4: time has a z in lower case', of: 'least', change: dateTime('2026-11-16T14:05:00z') },
  { name: 'R4: time is a day without hyphens', of: 'least', change: dateTime('20261116') },
  { name: 'R4: time is a stamp of HL7 version 2', of: 'least', change: dateTime('20261116140500+0100') },
  { name: 'R4: time begins with a space', of: 'least', change: dateTime(' 2026-11-16') },
  { name: 'R4: time is empty', of: 'least', change: dateTime('') },
  { name: 'R4: time is a day of a week', of: 'least', change: dateTime('2026-W47-1') },
  { name: 'A5: time is on 29 February of 2100', of: 'least', change: dateTime('2100-02-29') },
  {
    name: 'A5: instant is on 31 November',
    of: 'whole',
    change: put('effectiveInstant', '2026-11-31T14:05:30Z'),
  },
  {
    name: 'R4: instant has no zone',
    of: 'whole',
    change: put('effectiveInstant', '2026-11-16T14:05:30.250'),
  },
  {
    name: 'R4: period ends before it starts once the zones are counted',
    of: 'bySite',
    change: put('effectivePeriod', { start: '2026-11-16T14:05:00Z', end: '2026-11-16T15:05:00+02:00' }),
  },
  {
    name: 'R4: period is in a list',
    of: 'bySite',
    change: (trial) => put('effectivePeriod', [trial.effectivePeriod])(trial),
  },
  { name: 'T7: period is empty', of: 'bySite', change: put('effectivePeriod', {}) },
  {
    name: 'T7: start of the period has only an extension',
    of: 'bySite',
    change: inTurn(
      drop('effectivePeriod.start'),
      put('effectivePeriod._start', { extension: NOTE_EXTENSION }),
    ),
  },
  {
    name: 'A1: implicit rules have only an extension',
    of: 'least',
    change: put('_implicitRules', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'A1: has the body position as modifier extension',
    of: 'least',
    change: put('modifierExtension', [{ url: BODY_POSITION, valueCodeableConcept: { text: 'Sitting' } }]),
  },
  {
    name: 'A2: subject is patient in lower case',
    of: 'least',
    change: put('subject.reference', 'patient/invented-1'),
  },
  { name: 'A2: subject is a bare id', of: 'least', change: put('subject.reference', 'invented-1') },
  {
    name: 'A2: reference of the subject ends with a slash',
    of: 'least',
    change: put('subject.reference', 'Patient/invented-1/'),
  },
  {
    name: 'A2: reference of the subject has a format',
    of: 'least',
    change: put('subject.reference', 'Patient/invented-1?_format=json'),
  },
  {
    name: 'A2: reference of the subject begins with a space',
    of: 'least',
    change: put('subject.reference', ' Patient/invented-1'),
  },
  {
    name: 'A2: subject has the type patient in lower case',
    of: 'least',
    change: put('subject.type', 'patient'),
  },
  {
    name: 'A2: subject is the Observation that contains',
    of: 'least',
    change: put('subject.reference', '#'),
  },
  {
    name: 'A2: subject is a contained Group',
    of: 'least',
    change: inTurn(
      add('contained', { resourceType: 'Group', id: 'g', type: 'person', actual: true }),
      put('subject.reference', '#g'),
    ),
  },
  {
    name: 'A3: exam is of the system of STU3',
    of: 'least',
    change: put('category.0.coding.0.system', 'http://hl7.org/fhir/observation-category'),
  },
  {
    name: 'A3: system of exam ends with a slash',
    of: 'least',
    change: put('category.0.coding.0.system', 'http://terminology.hl7.org/CodeSystem/observation-category/'),
  },
  {
    name: 'A3: exam is the display of procedure',
    of: 'least',
    change: put('category.0.coding.0', {
      system: 'http://terminology.hl7.org/CodeSystem/observation-category',
      code: 'procedure',
      display: 'exam',
    }),
  },
  {
    name: 'A4: vital-signs is a second coding of the category exam',
    of: 'least',
    change: add('category.0.coding', {
      system: 'http://terminology.hl7.org/CodeSystem/observation-category',
      code: 'vital-signs',
    }),
  },
  {
    name: 'A4: has vital-signs of the system of STU3 beside exam',
    of: 'least',
    change: add('category', {
      coding: [{ system: 'http://hl7.org/fhir/observation-category', code: 'vital-signs' }],
    }),
  },
  {
    name: 'A6: unit is the code of UCUM that ignores case',
    of: 'bySite',
    change: put('valueQuantity.code', '[LBF_AV]'),
  },
  { name: 'A6: unit is kilopond', of: 'whole', change: put('valueQuantity.code', 'kp') },
  {
    name: 'A6: unit is newton spelt out in base units',
    of: 'beside',
    change: put('valueQuantity.code', 'kg.m/s2'),
  },
  { name: 'A6: unit is newton in lower case', of: 'beside', change: put('valueQuantity.code', 'n') },
  { name: 'A6: unit is kgf with a space at the end', of: 'whole', change: put('valueQuantity.code', 'kgf ') },
  {
    name: 'A6: system of the unit ends with a slash',
    of: 'least',
    change: put('valueQuantity.system', `${UCUM}/`),
  },
  {
    name: 'A6: reading has the comparator ad of R5',
    of: 'least',
    change: put('valueQuantity.comparator', 'ad'),
  },
  { name: 'A6: reading has the comparator >=', of: 'least', change: put('valueQuantity.comparator', '>=') },
  {
    name: 'T9: reading is a ratio',
    of: 'least',
    change: inTurn(
      drop('valueQuantity'),
      put('valueRatio', { numerator: { value: 31 }, denominator: { value: 1 } }),
    ),
  },
  {
    name: 'T9: reading is a boolean of its own',
    of: 'least',
    change: inTurn(drop('valueQuantity'), put('valueBoolean', true)),
  },
  {
    name: 'T9: reading is a wave form',
    of: 'least',
    change: inTurn(
      drop('valueQuantity'),
      put('valueSampledData', { origin: { value: 0 }, period: 10, dimensions: 1, data: '1 2 3' }),
    ),
  },
  {
    name: 'T3: system of LOINC is https',
    of: 'least',
    change: put('code.coding.0.system', 'https://loinc.org'),
  },
  {
    name: 'T3: system of LOINC is its OID',
    of: 'least',
    change: put('code.coding.0.system', 'urn:oid:2.16.840.1.113883.6.1'),
  },
  {
    name: 'T3: system of LOINC is the name of HL7 version 2',
    of: 'least',
    change: put('code.coding.0.system', 'LN'),
  },
  { name: 'T3: LOINC code has no check digit', of: 'least', change: put('code.coding.0.code', '83174') },
  {
    name: 'T3: system of SNOMED CT is an edition',
    of: 'bySite',
    change: put('code.coding.0.system', `${SNOMED}/900000000000207008`),
  },
  { name: 'T3: SNOMED CT code is a number', of: 'bySite', change: put('code.coding.0.code', 251433001) },
  {
    name: 'T3: code is a grip trial of our own system only',
    of: 'least',
    change: put('code.coding.0', { system: GRIP_CODES, code: 'grip-trial' }),
  },
  {
    name: 'T4: side is in the text of the code only',
    of: 'bySite',
    change: inTurn(drop('bodySite'), put('code.text', 'Grip strength, left hand')),
  },
  {
    name: 'T4: side is in the display of a body site only',
    of: 'bySite',
    change: put('bodySite.coding.0', { system: SNOMED, code: '85562004', display: 'Structure of left hand' }),
  },
  {
    name: 'T4: system of the side ends with a slash',
    of: 'bySite',
    change: put('bodySite.coding.0.system', `${SNOMED}/`),
  },
  {
    name: 'T5: right by code, left hand and right hand by body site',
    of: 'beside',
    change: add('bodySite.coding', { system: SNOMED, code: '85151006' }),
  },
  {
    name: 'T6: code says the number of the trial too',
    of: 'least',
    change: add('code.coding', { system: GRIP_CODES, code: 'trial-number' }),
  },
  {
    name: 'T6: code says strength-against-norm too',
    of: 'least',
    change: add('code.coding', { system: GRIP_CODES, code: 'strength-against-norm' }),
  },
  {
    name: 'T6: code says grip-trial with a capital too',
    of: 'least',
    change: add('code.coding', { system: GRIP_CODES, code: 'Grip-trial' }),
  },
  {
    name: 'T2: status is entered in error, with spaces',
    of: 'least',
    change: put('status', 'entered in error'),
  },
  {
    name: 'T8: has a reason in words beside the reading',
    of: 'whole',
    change: put('dataAbsentReason', { text: 'Pain' }),
  },
  { name: 'T8: reason of the absence is empty', of: 'noReading', change: put('dataAbsentReason', {}) },
  {
    name: 'T10: handle position is a boolean',
    of: 'whole',
    change: put('component.0', { code: ours('handle-position'), valueBoolean: true }),
  },
  {
    name: 'T10: handle position is a reason for its absence',
    of: 'whole',
    change: put('component.0', { code: ours('handle-position'), dataAbsentReason: { text: 'not noted' } }),
  },
  { name: 'T10: handle position is minus 2', of: 'whole', change: put('component.0.valueInteger', -2) },
  {
    name: 'T10: handle position is a range',
    of: 'whole',
    change: put('component.0', {
      code: ours('handle-position'),
      valueRange: { low: { value: 2 }, high: { value: 3 } },
    }),
  },
  {
    name: 'R4: handle position is a number as text',
    of: 'whole',
    change: put('component.0.valueInteger', '2'),
  },
  {
    name: 'R4: handle position is a decimal',
    of: 'whole',
    change: put('component.0', { code: ours('handle-position'), valueDecimal: 2 }),
  },
  {
    name: 'T11: arm position has no system',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', { coding: [{ code: 'elbow-supported' }] }),
  },
  {
    name: 'T11: arm position has a capital',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', ours('Elbow-supported')),
  },
  {
    name: 'T11: arm position is a boolean',
    of: 'whole',
    change: put('component.1', { code: ours('arm-position'), valueBoolean: true }),
  },
  {
    name: 'R4: arm position is a coding for a concept',
    of: 'whole',
    change: put('component.1.valueCodeableConcept', { system: GRIP_CODES, code: 'elbow-supported' }),
  },
  {
    name: 'T12: own baseline is a concept',
    of: 'whole',
    change: put('component.2', { code: ours('own-baseline'), valueCodeableConcept: { text: 'yes' } }),
  },
  { name: 'R4: own baseline is 1 as a boolean', of: 'whole', change: put('component.2.valueBoolean', 1) },
  {
    name: 'T13: number of the trial is a quantity',
    of: 'whole',
    change: put('component.3', { code: ours('trial-number'), valueQuantity: { value: 2 } }),
  },
  {
    name: 'R4: number of the trial has a fraction',
    of: 'whole',
    change: put('component.3.valueInteger', 1.5),
  },
  {
    name: 'T13: number of the trial is a boolean',
    of: 'whole',
    change: put('component.3', { code: ours('trial-number'), valueBoolean: true }),
  },
  {
    name: 'T14: a component of another code has a modifier extension',
    of: 'beside',
    change: put('component.0.modifierExtension', [{ url: 'https://ehr.example/not', valueBoolean: true }]),
  },
  {
    name: 'T15: position of the body has words only',
    of: 'whole',
    change: put('extension.0.valueCodeableConcept', { text: 'Sitting' }),
  },
  {
    name: 'T15: code of the position of the body is a number',
    of: 'whole',
    change: put('extension.0.valueCodeableConcept.coding.0.code', 33586001),
  },
  {
    name: 'T15: position of the body is sitting and lying',
    of: 'whole',
    change: add('extension.0.valueCodeableConcept.coding', { system: SNOMED, code: '102538003' }),
  },
  {
    name: 'T16: method calls the reading a maximum beside a code of the hospital',
    of: 'whole',
    change: put('method.coding', [
      { system: 'https://ehr.example/methods', code: 'G1' },
      { system: 'http://terminology.hl7.org/CodeSystem/observation-statistics', code: 'maximum' },
    ]),
  },
  {
    name: 'T17: a component is the right hand in LOINC',
    of: 'bySite',
    change: component({ coding: [{ system: LOINC, code: '83174-3' }] }),
  },
  {
    name: 'T17: a component is the left hand in LOINC beside a code of the hospital',
    of: 'least',
    change: component({
      coding: [
        { system: 'https://ehr.example/flowsheet', code: 'L' },
        { system: LOINC, code: '83173-5' },
      ],
    }),
  },
  {
    name: 'T17: a component is the grip strength of SNOMED CT',
    of: 'least',
    change: component({ coding: [{ system: SNOMED, code: '251433001' }] }),
  },
  { name: 'T17: a component is a grip trial', of: 'least', change: component(ours('grip-trial')) },
  { name: 'T17: a component is the mean of the hand', of: 'least', change: component(ours('mean-per-hand')) },
  {
    name: 'T17: a component is the highest of either hand',
    of: 'least',
    change: component(ours('highest-of-either-hand')),
  },
]);
