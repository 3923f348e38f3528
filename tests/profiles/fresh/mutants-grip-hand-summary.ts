/** Second batch of mutants of the profile grip-hand-summary, written after the profile was finished and before anything judged them. */
import { GRIP_CODES, LOINC, SNOMED, US_CORE_CATEGORY } from '../../../src/fhir/codes.ts';
import { add, drop, inTurn, mutantsOf, put } from '../mutant.ts';
import { VALID_HAND_SUMMARIES } from '../valid-hand-summaries.ts';

const NOTE_EXTENSION = [{ url: 'https://ehr.example/note', valueString: 'see chart' }];
const UUID = '0b7e2f3c-1d2e-4a5b-8c6d-7e8f9a0b1c2d';
const ours = (code: string) => ({ coding: [{ system: GRIP_CODES, code }] });
const div = (inner: string) => put('text.div', `<div xmlns="http://www.w3.org/1999/xhtml">${inner}</div>`);
const kind = (code: unknown) => put('code.coding.0.code', code);
const kindSystem = (system: string) => put('code.coding.0.system', system);
const uuid = (value: string) => put('identifier.0.value', value);
const method = (text: unknown) => put('method.text', text);
const source = (reference: string) => put('derivedFrom.0.reference', reference);
const label = (coding: object) => put('meta.security.0', coding);

export const MUTANTS = mutantsOf('grip-hand-summary', VALID_HAND_SUMMARIES, [
  {
    name: 'R4: resource is an Observation within a list',
    of: 'charted',
    change: put('resourceType', ['Observation']),
  },
  { name: 'R4: id has a colon', of: 'chartedWhole', change: put('id', 'average:left') },
  { name: 'R4: id is a urn', of: 'stored', change: put('id', `urn:uuid:${UUID}`) },
  { name: 'R4: language has an underscore', of: 'stored', change: put('language', 'de_DE') },
  {
    name: 'R4: meta was last updated in seconds since 1970',
    of: 'stored',
    change: put('meta.lastUpdated', 1795608000),
  },
  {
    name: 'R4: meta was last updated with a space for the T',
    of: 'stored',
    change: put('meta.lastUpdated', '2026-11-25 12:00:00Z'),
  },
  {
    name: 'R4: profiles in meta are objects',
    of: 'stored',
    change: put('meta.profile', [
      { url: 'https://grip-strength-cds.example/fhir/StructureDefinition/grip-hand-summary' },
    ]),
  },
  {
    name: 'R4: a tag in meta has a code with a space at the end',
    of: 'stored',
    change: put('meta.tag', [{ code: 'ward ' }]),
  },
  {
    name: 'R4: narrative has a video',
    of: 'stored',
    change: div('<p>Grip</p><video src="grip.mp4"></video>'),
  },
  {
    name: 'R4: narrative has a head',
    of: 'stored',
    change: div('<head><title>Grip</title></head><p>31 kg</p>'),
  },
  {
    name: 'R4: narrative has a text area',
    of: 'stored',
    change: div('<p>Grip</p><textarea>31 kg</textarea>'),
  },
  {
    name: 'R4: narrative has an attribute without quotes',
    of: 'stored',
    change: div('<p class=grip>31 kg</p>'),
  },
  { name: 'R4: narrative has tags that cross', of: 'stored', change: div('<p><b>31 kg</p></b>') },
  { name: 'R4: narrative is markdown', of: 'stored', change: put('text.div', '**Grip strength**: 31 kg') },
  {
    name: 'R4: narrative has a script in capitals',
    of: 'stored',
    change: div('<p>31 kg</p><SCRIPT>alert(1)</SCRIPT>'),
  },
  {
    name: 'R4: narrative has a handler of errors on an image',
    of: 'stored',
    change: div('<p>31 kg <img src="a.png" alt="grip"\nonerror="go()"/></p>'),
  },
  {
    name: 'R4: status of the narrative has a capital',
    of: 'stored',
    change: put('text.status', 'Generated'),
  },
  {
    name: 'R4: narrative is in a list',
    of: 'stored',
    change: (summary) => put('text', [summary.text])(summary),
  },
  {
    name: 'R4: a contained Practitioner has a gender in one letter',
    of: 'charted',
    change: inTurn(
      add('contained', { resourceType: 'Practitioner', id: 'ot', gender: 'F' }),
      put('performer', [{ reference: '#ot' }]),
    ),
  },
  {
    name: 'R4: a contained Practitioner is written in another case than the reference',
    of: 'charted',
    change: inTurn(
      add('contained', { resourceType: 'Practitioner', id: 'OT' }),
      put('performer', [{ reference: '#ot' }]),
    ),
  },
  {
    name: 'R4: a contained resource has no id',
    of: 'charted',
    change: add('contained', { resourceType: 'Device', type: { text: 'Dynamometer' } }),
  },
  {
    name: 'R4: has the encounter of STU3 as context',
    of: 'charted',
    change: put('context', { reference: 'Encounter/9' }),
  },
  {
    name: 'R4: has the triggeredBy of R5',
    of: 'stored',
    change: put('triggeredBy', [{ observation: { reference: 'Observation/trial-1' }, type: 'reflex' }]),
  },
  { name: 'R4: has its date under the name date', of: 'charted', change: put('date', '2026-11-16') },
  { name: 'R4: status is null with no extension', of: 'charted', change: put('status', null) },
  { name: 'R4: status has two values', of: 'charted', change: put('status', 'final amended') },
  { name: 'R4: categories have a null among them', of: 'charted', change: add('category', null) },
  {
    name: 'R4: category is one concept outside a list',
    of: 'charted',
    change: (summary) => put('category', summary.category?.[0])(summary),
  },
  {
    name: 'R4: codings of the code are an object',
    of: 'charted',
    change: put('code.coding', { system: GRIP_CODES, code: 'mean-per-hand' }),
  },
  {
    name: 'R4: display of the code is a list',
    of: 'chartedWhole',
    change: put('code.coding.1.display', ['Highest', 'grip']),
  },
  {
    name: 'R4: code of the hospital has a tab at the end',
    of: 'chartedWhole',
    change: put('code.coding.0.code', 'GRIP-L-MAX\t'),
  },
  {
    name: 'R4: subject has a property that no Reference has',
    of: 'charted',
    change: put('subject.name', 'Invented Person'),
  },
  {
    name: 'R4: display of the subject is a name of parts',
    of: 'charted',
    change: put('subject.display', { family: 'Invented' }),
  },
  {
    name: 'R4: performer is a Location',
    of: 'chartedWhole',
    change: put('performer.0.reference', 'Location/ward-4'),
  },
  {
    name: 'R4: performer is a Device at an absolute address',
    of: 'filed',
    change: put('performer.0.reference', 'https://ehr.example/fhir/Device/4'),
  },
  {
    name: 'R4: device is an Organization',
    of: 'chartedWhole',
    change: put('device.reference', 'Organization/ward-4'),
  },
  {
    name: 'R4: device has the type Practitioner',
    of: 'chartedWhole',
    change: put('device.type', 'Practitioner'),
  },
  {
    name: 'R4: encounter is an Appointment',
    of: 'charted',
    change: put('encounter', { reference: 'Appointment/8' }),
  },
  { name: 'R4: is part of a Task', of: 'charted', change: put('partOf', [{ reference: 'Task/8' }]) },
  {
    name: 'R4: a note was written by a CareTeam',
    of: 'stored',
    change: put('note.0.authorReference', { reference: 'CareTeam/ward' }),
  },
  {
    name: 'R4: a note was written by text and by a Practitioner',
    of: 'stored',
    change: inTurn(
      put('note.0.authorString', 'OT'),
      put('note.0.authorReference', { reference: 'Practitioner/ot' }),
    ),
  },
  {
    name: 'R4: a note is a list of lines',
    of: 'stored',
    change: put('note.0.text', ['On record', 'as evaluation 1.']),
  },
  { name: 'R4: identifier has the use primary', of: 'stored', change: put('identifier.0.use', 'primary') },
  {
    name: 'R4: identifier was assigned by a name',
    of: 'stored',
    change: put('identifier.0.assigner', 'Alder Reach Hospital'),
  },
  {
    name: 'R4: issued has a zone without a colon',
    of: 'stored',
    change: put('issued', '2026-11-25T12:00:00+0000'),
  },
  { name: 'R4: issued is null', of: 'charted', change: put('issued', null) },
  {
    name: 'R4: time has the zone in words',
    of: 'charted',
    change: put('effectiveDateTime', '2026-11-16T14:05:00 UTC'),
  },
  {
    name: 'R4: fraction of the second has a comma',
    of: 'charted',
    change: put('effectiveDateTime', '2026-11-16T14:05:30,250Z'),
  },
  { name: 'R4: time has second 61', of: 'charted', change: put('effectiveDateTime', '2026-11-16T14:05:61Z') },
  { name: 'R4: day has one digit', of: 'charted', change: put('effectiveDateTime', '2026-11-6') },
  { name: 'R4: day stands before the month', of: 'charted', change: put('effectiveDateTime', '16-11-2026') },
  {
    name: 'R4: period starts at an hour without minutes',
    of: 'chartedWhole',
    change: put('effectivePeriod.start', '2026-11-16T14'),
  },
  {
    name: 'R4: period ends before it starts once the zones are counted',
    of: 'chartedWhole',
    change: put('effectivePeriod.end', '2026-11-16T16:00:00+02:00'),
  },
  {
    name: 'R4: has a time and a Timing that has only an event',
    of: 'charted',
    change: put('effectiveTiming', { event: ['2026-11-16'] }),
  },
  { name: 'R4: figure is not a number', of: 'charted', change: put('valueQuantity.value', 'NaN') },
  { name: 'R4: figure is in a list', of: 'charted', change: put('valueQuantity.value', [29.3]) },
  { name: 'R4: figure carries its unit', of: 'charted', change: put('valueQuantity.value', '29.3 kg') },
  { name: 'R4: unit of the figure is empty', of: 'charted', change: put('valueQuantity.unit', '') },
  { name: 'R4: quantity is a number with a name', of: 'charted', change: put('valueQuantity.number', 29.3) },
  {
    name: 'R4: has a concept beside the quantity',
    of: 'charted',
    change: put('valueCodeableConcept', { text: 'normal' }),
  },
  {
    name: 'R4: age of a reference range is a number',
    of: 'chartedWhole',
    change: put('referenceRange.0.age', 70),
  },
  {
    name: 'R4: age of a reference range is upside down',
    of: 'chartedWhole',
    change: put('referenceRange.0.age', {
      low: { value: 80, system: 'http://unitsofmeasure.org', code: 'a' },
      high: { value: 70, system: 'http://unitsofmeasure.org', code: 'a' },
    }),
  },
  {
    name: 'R4: reference range has its unit without a system',
    of: 'chartedWhole',
    change: put('referenceRange.0.low', { value: 20, code: 'kg' }),
  },
  {
    name: 'R4: reference range is words',
    of: 'chartedWhole',
    change: put('referenceRange', ['20 to 40 kg']),
  },
  { name: 'R4: interpretation is a code', of: 'charted', change: put('interpretation', ['L']) },
  {
    name: 'A1: implicit rules have only an extension',
    of: 'charted',
    change: put('_implicitRules', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'A1: names a focus by words only',
    of: 'charted',
    change: put('focus', [{ display: 'left hand' }]),
  },
  { name: 'A2: subject is an Encounter', of: 'charted', change: put('subject.reference', 'Encounter/9') },
  {
    name: 'A2: subject is a Patient with a fragment',
    of: 'charted',
    change: put('subject.reference', 'Patient/invented-1#name'),
  },
  {
    name: 'A2: subject is a version without an id',
    of: 'charted',
    change: put('subject.reference', 'Patient/_history/2'),
  },
  {
    name: 'A2: id of the subject has 65 characters',
    of: 'charted',
    change: put('subject.reference', `Patient/${'1'.repeat(65)}`),
  },
  {
    name: 'A2: reference of the subject ends with a space',
    of: 'charted',
    change: put('subject.reference', 'Patient/invented-1 '),
  },
  {
    name: 'A2: subject is a contained Person',
    of: 'charted',
    change: inTurn(
      add('contained', { resourceType: 'Person', id: 'person' }),
      put('subject.reference', '#person'),
    ),
  },
  {
    name: 'A2: subject has the type Patient of a profile',
    of: 'charted',
    change: put('subject.type', 'us-core-patient'),
  },
  {
    name: 'A3: exam is of the category of HL7 version 3',
    of: 'charted',
    change: put('category.0.coding.0.system', 'http://terminology.hl7.org/CodeSystem/v3-ActCode'),
  },
  {
    name: 'A3: category says exam in its display and therapy as its code',
    of: 'charted',
    change: put('category.0.coding.0.code', 'therapy'),
  },
  {
    name: 'A3: system of exam has its version behind a bar',
    of: 'charted',
    change: put(
      'category.0.coding.0.system',
      'http://terminology.hl7.org/CodeSystem/observation-category|4.0.1',
    ),
  },
  { name: 'A3: code of exam is missing', of: 'charted', change: drop('category.0.coding.0.code') },
  {
    name: 'A4: vital-signs is a second coding of functional-status',
    of: 'stored',
    change: add('category.1.coding', {
      system: 'http://terminology.hl7.org/CodeSystem/observation-category',
      code: 'vital-signs',
    }),
  },
  {
    name: 'A5: period starts on 29 February of a year without it',
    of: 'chartedWhole',
    change: put('effectivePeriod.start', '2025-02-29'),
  },
  { name: 'A5: time is on 31 September', of: 'charted', change: put('effectiveDateTime', '2026-09-31') },
  {
    name: 'S7: period has only an extension',
    of: 'chartedWhole',
    change: put('effectivePeriod', { extension: NOTE_EXTENSION }),
  },
  { name: 'A6: figure has the comparator ~', of: 'charted', change: put('valueQuantity.comparator', '~') },
  { name: 'A6: figure has the comparator <=', of: 'charted', change: put('valueQuantity.comparator', '<=') },
  {
    name: 'A6: unit is the pound without its brackets',
    of: 'filed',
    change: put('valueQuantity.code', 'lbf_av'),
  },
  {
    name: 'A6: unit is the pound per square inch',
    of: 'charted',
    change: put('valueQuantity.code', '[psi]'),
  },
  { name: 'A6: unit is the kilogram in words', of: 'charted', change: put('valueQuantity.code', 'kilogram') },
  {
    name: 'A6: unit is an annotation of UCUM',
    of: 'charted',
    change: put('valueQuantity.code', 'kg{force}'),
  },
  { name: 'A6: unit is the centinewton', of: 'withdrawn', change: put('valueQuantity.code', 'cN') },
  { name: 'A6: unit is UCUM in other words', of: 'charted', change: put('valueQuantity.system', 'UCUM') },
  {
    name: 'A6: system of the unit begins with www',
    of: 'charted',
    change: put('valueQuantity.system', 'http://www.unitsofmeasure.org'),
  },
  {
    name: 'S6: value is a period',
    of: 'charted',
    change: inTurn(drop('valueQuantity'), put('valuePeriod', { start: '2026-11-16' })),
  },
  {
    name: 'S6: value is a range of trials',
    of: 'charted',
    change: inTurn(drop('valueQuantity'), put('valueRange', { low: { value: 27 }, high: { value: 31 } })),
  },
  {
    name: 'S6: reason of the absence has only an extension',
    of: 'charted',
    change: put('dataAbsentReason', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'M1: label has a space at the end',
    of: 'stored',
    change: label({ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'AIAST ' }),
  },
  {
    name: 'M1: label is of the system of STU3',
    of: 'stored',
    change: label({ system: 'http://hl7.org/fhir/v3/ObservationValue', code: 'AIAST' }),
  },
  {
    name: 'M1: label is AIRPT',
    of: 'stored',
    change: label({ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'AIRPT' }),
  },
  {
    name: 'M1: label is its display only',
    of: 'filed',
    change: label({ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', display: 'AIAST' }),
  },
  {
    name: 'M1: summary of a hospital refers to the software at an absolute address',
    of: 'charted',
    change: put('device', { reference: 'https://ehr.example/fhir/Device/grip-strength-cds-0.2.0' }),
  },
  {
    name: 'M2: system of the uuid is that of RFC 4122',
    of: 'stored',
    change: put('identifier.0.system', 'urn:ietf:rfc:4122'),
  },
  { name: 'M2: uuid has braces', of: 'stored', change: uuid(`urn:uuid:{${UUID}}`) },
  { name: 'M2: uuid has a g', of: 'stored', change: uuid(`urn:uuid:g${UUID.slice(1)}`) },
  { name: 'M2: uuid has a space at the end', of: 'stored', change: uuid(`urn:uuid:${UUID} `) },
  { name: 'M2: scheme of the uuid is in capitals', of: 'stored', change: uuid(`URN:UUID:${UUID}`) },
  {
    name: 'M2: the same uuid stands twice',
    of: 'stored',
    change: (summary) => add('identifier', structuredClone(summary.identifier?.[0]))(summary),
  },
  { name: 'M2: uuid is followed by a version', of: 'stored', change: uuid(`urn:uuid:${UUID}/_history/1`) },
  {
    name: 'M3: version follows a hyphen',
    of: 'stored',
    change: method('grip-strength-cds-0.2.0; mean of the right hand'),
  },
  {
    name: 'M3: version follows a slash',
    of: 'stored',
    change: method('grip-strength-cds/0.2.0; mean of the right hand'),
  },
  {
    name: 'M3: version follows two spaces',
    of: 'stored',
    change: method('grip-strength-cds  0.2.0; mean of the right hand'),
  },
  {
    name: 'M3: version has commas',
    of: 'stored',
    change: method('grip-strength-cds 0,2,0; mean of the right hand'),
  },
  {
    name: 'M3: method begins with the version',
    of: 'stored',
    change: method('0.2.0 grip-strength-cds; mean of the right hand'),
  },
  { name: 'R4: method text is null', of: 'stored', change: method(null) },
  { name: 'M3: display of the device is empty', of: 'filed', change: put('device.display', '') },
  {
    name: 'M4: a source stands twice, the second time with a name',
    of: 'stored',
    change: add('derivedFrom', { reference: 'Observation/trial-1', display: 'Trial 1' }),
  },
  { name: 'M4: a source is a DocumentReference', of: 'stored', change: source('DocumentReference/scan') },
  {
    name: 'M4: a source is a MolecularSequence at an absolute address',
    of: 'stored',
    change: source('https://ehr.example/fhir/MolecularSequence/1'),
  },
  { name: 'M4: a source is in lower case', of: 'stored', change: source('observation/trial-1') },
  {
    name: 'M4: version of a source is missing',
    of: 'stored',
    change: source('Observation/trial-1/_history/'),
  },
  { name: 'M4: id of a source has an underscore', of: 'stored', change: source('Observation/trial_1') },
  {
    name: 'M4: a source has the type observation in lower case',
    of: 'stored',
    change: put('derivedFrom.0.type', 'observation'),
  },
  { name: 'R4: a source is empty', of: 'stored', change: add('derivedFrom', {}) },
  {
    name: 'M4: sources are two in one reference',
    of: 'stored',
    change: source('Observation/trial-1,Observation/trial-2'),
  },
  {
    name: 'M6: system of functional-status ends with a slash',
    of: 'stored',
    change: put('category.1.coding.0.system', `${US_CORE_CATEGORY}/`),
  },
  {
    name: 'M6: functional-status has capitals',
    of: 'stored',
    change: put('category.1.coding.0.code', 'Functional-Status'),
  },
  {
    name: 'M6: functional-status has become disability-status',
    of: 'stored',
    change: put('category.1.coding.0.code', 'disability-status'),
  },
  {
    name: 'M7: system of the body site is an edition',
    of: 'charted',
    change: put('bodySite.coding.0.system', `${SNOMED}/731000124108`),
  },
  {
    name: 'M7: code of the body site is a number',
    of: 'charted',
    change: put('bodySite.coding.0.code', 85151006),
  },
  { name: 'M7: body site is the forearm', of: 'charted', change: put('bodySite.coding.0.code', '14975008') },
  {
    name: 'M7: body site is the right hand, and the left hand beside it',
    of: 'charted',
    change: add('bodySite.coding', { system: SNOMED, code: '78791008' }),
  },
  { name: 'S4: body site of a highest hand is empty', of: 'chartedWhole', change: put('bodySite', {}) },
  {
    name: 'S4: highest of either hand has a body site in words',
    of: 'filed',
    change: put('bodySite', { text: 'right' }),
  },
  {
    name: 'S4: mean of the hand has become the mean of both',
    of: 'charted',
    change: kind('mean-of-both-hands'),
  },
  {
    name: 'S4: mean of both hands has become the mean of a hand',
    of: 'withdrawn',
    change: kind('mean-per-hand'),
  },
  { name: 'S2: status is appended', of: 'charted', change: put('status', 'appended') },
  { name: 'S2: status is completed', of: 'charted', change: put('status', 'completed') },
  { name: 'S3: kind is in camel case', of: 'charted', change: kind('meanPerHand') },
  { name: 'S3: kind has underscores', of: 'charted', change: kind('mean_per_hand') },
  { name: 'S3: kind has a capital', of: 'charted', change: kind('Mean-per-hand') },
  {
    name: 'S3: system of the kind is http',
    of: 'charted',
    change: kindSystem(GRIP_CODES.replace('https:', 'http:')),
  },
  {
    name: 'S3: system of the kind has a version behind a bar',
    of: 'charted',
    change: kindSystem(`${GRIP_CODES}|0.2.0`),
  },
  {
    name: 'S3: system of the kind is its ValueSet',
    of: 'charted',
    change: kindSystem('https://grip-strength-cds.example/fhir/ValueSet/grip-summary-kinds'),
  },
  {
    name: 'S3: kind is the display of a coding without a code',
    of: 'charted',
    change: put('code.coding.0', { system: GRIP_CODES, display: 'mean-per-hand' }),
  },
  {
    name: 'S3: code says a grip trial too',
    of: 'charted',
    change: add('code.coding', { system: GRIP_CODES, code: 'grip-trial' }),
  },
  {
    name: 'S5: code says a trial of a version of LOINC too',
    of: 'charted',
    change: add('code.coding', {
      system: LOINC,
      version: '2.78',
      code: '83173-5',
      display: 'Grip strength Hand - left Dynamometer',
    }),
  },
  {
    name: 'S5: code says the PhenX protocol before the kind',
    of: 'chartedWhole',
    change: put('code.coding.0', { system: LOINC, code: '62821-4' }),
  },
  {
    name: 'S8: withdrawn summary of the software is in kilograms of mass',
    of: 'withdrawn',
    change: put('valueQuantity.code', 'kg'),
  },
  {
    name: 'S9: summary filed from a card has the flag N',
    of: 'filed',
    change: put('interpretation', [
      {
        coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', code: 'N' }],
      },
    ]),
  },
  {
    name: 'S9: summary filed from a card has its trials as components',
    of: 'filed',
    change: put('component', [{ code: ours('trial-number'), valueInteger: 1 }]),
  },
  {
    name: 'S9: withdrawn summary of the software has a range in words',
    of: 'withdrawn',
    change: put('referenceRange', [{ text: 'Range of the ward' }]),
  },
]);
