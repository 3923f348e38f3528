/** Second batch of mutants of the profile grip-interpretation, written after the profile was finished and before anything judged them. */
import { GRIP_CODES, LOINC, SNOMED, UCUM, US_CORE_CATEGORY } from '../../../src/fhir/codes.ts';
import { add, drop, inTurn, mutantsOf, put } from '../mutant.ts';
import { VALID_INTERPRETATIONS } from '../valid-interpretations.ts';

const NOTE_EXTENSION = [{ url: 'https://ehr.example/note', valueString: 'see chart' }];
const FLAGS = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';
const ABSENT = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
const ours = (code: string) => ({ coding: [{ system: GRIP_CODES, code }] });
const flag = (code: string, system = FLAGS) => ({ coding: [{ system, code }] });
const div = (inner: string) => put('text.div', `<div xmlns="http://www.w3.org/1999/xhtml">${inner}</div>`);
const label = (coding: object) => put('meta.security.0', coding);
const method = (text: string) => put('method.text', text);
const source = (reference: string) => put('derivedFrom.0.reference', reference);
const finding = (value: unknown) => put('valueCodeableConcept', value);
const reason = (code: string, system = ABSENT) => put('dataAbsentReason.coding.0', { system, code });
const limit = (code: string) => put('referenceRange.0.low.code', code);
const sex = (value: unknown) => put('referenceRange.0.appliesTo', value);
const age = (value: unknown) => put('referenceRange.0.age', value);
const column = (path: string, value: unknown) => put(`component.0.${path}`, value);

export const MUTANTS = mutantsOf('grip-interpretation', VALID_INTERPRETATIONS, [
  { name: 'R4: resource type is missing', of: 'reduced', change: drop('resourceType') },
  {
    name: 'R4: id is a uuid in braces',
    of: 'reduced',
    change: put('id', '{9e107d9d-372b-4b68-9e0f-0a1b2c3d4e5f}'),
  },
  { name: 'R4: id is null', of: 'reduced', change: put('id', null) },
  { name: 'R4: version in meta has an underscore', of: 'reduced', change: put('meta.versionId', 'v_1') },
  {
    name: 'R4: meta was last updated at a minute',
    of: 'reduced',
    change: put('meta.lastUpdated', '2026-11-25T12:00Z'),
  },
  { name: 'R4: meta has a property of the server', of: 'reduced', change: put('meta.author', 'service') },
  { name: 'R4: language is a word with a space', of: 'reduced', change: put('language', 'en us') },
  {
    name: 'R4: narrative has an iframe in capitals',
    of: 'reduced',
    change: div('<p>Reduced</p><IFRAME src="x"></IFRAME>'),
  },
  {
    name: 'R4: narrative has an unescaped less-than',
    of: 'reduced',
    change: div('<p>Reduced: 31 < 33.1 kg</p>'),
  },
  {
    name: 'R4: narrative has an audio',
    of: 'reduced',
    change: div('<p>Reduced</p><audio src="a.mp3"></audio>'),
  },
  { name: 'R4: narrative has a button', of: 'reduced', change: div('<p>Reduced</p><button>Accept</button>') },
  {
    name: 'R4: narrative has two roots',
    of: 'reduced',
    change: (reading) => put('text.div', `${reading.text?.div}${reading.text?.div}`)(reading),
  },
  {
    name: 'R4: narrative has a declaration before the div',
    of: 'reduced',
    change: (reading) => put('text.div', `<?xml version="1.0"?>${reading.text?.div}`)(reading),
  },
  {
    name: 'R4: narrative has an attribute that stands twice',
    of: 'reduced',
    change: div('<p class="a" class="b">Reduced</p>'),
  },
  { name: 'R4: narrative has white space and no more', of: 'reduced', change: div('<p> </p><p>\n</p>') },
  { name: 'R4: a paragraph of the narrative is not closed', of: 'reduced', change: div('<p>Reduced') },
  {
    name: 'R4: a contained resource has the versions of its profile',
    of: 'reduced',
    change: inTurn(
      add('contained', { resourceType: 'Device', id: 'd', meta: { versionId: '1' } }),
      put('device', { reference: '#d' }),
    ),
  },
  {
    name: 'R4: two contained resources, one without an id',
    of: 'reduced',
    change: inTurn(
      add('contained', { resourceType: 'Device', id: 'd' }),
      add('contained', { resourceType: 'Device' }),
      put('device', { reference: '#d' }),
    ),
  },
  {
    name: 'R4: contained Device has a status of a list of its own',
    of: 'reduced',
    change: inTurn(
      add('contained', { resourceType: 'Device', id: 'd', status: 'running' }),
      put('device', { reference: '#d' }),
    ),
  },
  {
    name: 'R4: device is a contained Organization',
    of: 'reduced',
    change: inTurn(
      add('contained', { resourceType: 'Organization', id: 'd', name: 'Ward' }),
      put('device', { reference: '#d' }),
    ),
  },
  { name: 'R4: has the comment of STU3', of: 'reduced', change: put('comment', 'Sex of the row: male.') },
  { name: 'R4: has its conclusion in words', of: 'reduced', change: put('conclusion', 'Reduced') },
  { name: 'R4: status has a space before it', of: 'reduced', change: put('status', ' preliminary') },
  {
    name: 'R4: status has only an id',
    of: 'reduced',
    change: inTurn(drop('status'), put('_status', { id: 's' })),
  },
  {
    name: 'R4: a category has its code outside a coding',
    of: 'reduced',
    change: add('category', { system: US_CORE_CATEGORY, code: 'functional-status' }),
  },
  { name: 'R4: a category is empty', of: 'reduced', change: add('category', {}) },
  { name: 'R4: user has chosen the code by 1', of: 'reduced', change: put('code.coding.0.userSelected', 1) },
  { name: 'R4: issued is at second 75', of: 'reduced', change: put('issued', '2026-11-25T12:00:75.000Z') },
  { name: 'R4: issued is a time only', of: 'reduced', change: put('issued', '12:00:00') },
  { name: 'R4: issued is on 30 February', of: 'reduced', change: put('issued', '2026-02-30T12:00:00Z') },
  {
    name: 'R4: time has a zone of 14 and a half hours',
    of: 'reduced',
    change: put('effectiveDateTime', '2026-11-16T14:05:00+14:30'),
  },
  {
    name: 'R4: time is at 24 hours',
    of: 'reduced',
    change: put('effectiveDateTime', '2026-11-16T24:00:00Z'),
  },
  {
    name: 'R4: time has no zone but milliseconds',
    of: 'reduced',
    change: put('effectiveDateTime', '2026-11-16T14:05:00.000'),
  },
  { name: 'R4: time ends with a line', of: 'reduced', change: put('effectiveDateTime', '2026-11-16\n') },
  { name: 'R4: time is in a list', of: 'reduced', change: put('effectiveDateTime', ['2026-11-16']) },
  { name: 'R4: time has an empty period beside it', of: 'reduced', change: put('effectivePeriod', {}) },
  {
    name: 'R4: time has a period beside it that has only an extension',
    of: 'reduced',
    change: put('effectivePeriod', { extension: NOTE_EXTENSION }),
  },
  { name: 'R4: value has a boolean beside it', of: 'reduced', change: put('valueBoolean', true) },
  {
    name: 'R4: value has a text beside it that has only an extension',
    of: 'reduced',
    change: put('_valueString', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'R4: value is in a list',
    of: 'reduced',
    change: (reading) => finding([reading.valueCodeableConcept])(reading),
  },
  {
    name: 'R4: value is a coding for a concept',
    of: 'reduced',
    change: finding({ system: GRIP_CODES, code: 'reduced' }),
  },
  {
    name: 'R4: value is of the type Coding',
    of: 'reduced',
    change: inTurn(drop('valueCodeableConcept'), put('valueCoding', { system: GRIP_CODES, code: 'reduced' })),
  },
  {
    name: 'R4: interpretation is a list of codings',
    of: 'reduced',
    change: put('interpretation', [{ system: FLAGS, code: 'L' }]),
  },
  {
    name: 'R4: a note was written by a PractitionerRole',
    of: 'reduced',
    change: put('note.0.authorReference', { reference: 'PractitionerRole/1' }),
  },
  {
    name: 'R4: a note is words outside an Annotation',
    of: 'reduced',
    change: put('note', ['Sex of the row: male.']),
  },
  {
    name: 'R4: a performer is an EpisodeOfCare',
    of: 'reduced',
    change: put('performer', [{ reference: 'EpisodeOfCare/1' }]),
  },
  {
    name: 'R4: a performer has a space in its reference',
    of: 'reduced',
    change: put('performer', [{ reference: 'Practitioner/invented dietitian' }]),
  },
  {
    name: 'R4: a specimen is a Patient',
    of: 'reduced',
    change: put('specimen', { reference: 'Patient/invented-1' }),
  },
  {
    name: 'R4: an order is a Procedure',
    of: 'reduced',
    change: put('basedOn', [{ reference: 'Procedure/1' }]),
  },
  {
    name: 'R4: an order is no list',
    of: 'reduced',
    change: put('basedOn', { reference: 'ServiceRequest/1' }),
  },
  { name: 'R4: type of the identifier is text', of: 'reduced', change: put('identifier.0.type', 'uuid') },
  {
    name: 'R4: identifier was assigned by a Device',
    of: 'reduced',
    change: put('identifier.0.assigner', { reference: 'Device/grip' }),
  },
  {
    name: 'R4: range is a range within itself',
    of: 'reduced',
    change: put('referenceRange.0.range', { low: { value: 33.1 } }),
  },
  {
    name: 'R4: type of the range is a list',
    of: 'reduced',
    change: (reading) => put('referenceRange.0.type', [reading.referenceRange?.[0]?.type])(reading),
  },
  {
    name: 'R4: text of the range is a concept',
    of: 'reduced',
    change: put('referenceRange.0.text', { text: 'Men of 70 to 74' }),
  },
  {
    name: 'R4: number of the limit is text',
    of: 'reduced',
    change: put('referenceRange.0.low.value', '33.1'),
  },
  { name: 'R4: limit is empty', of: 'reduced', change: put('referenceRange.0.low', {}) },
  {
    name: 'R4: range is in a list of its own',
    of: 'reduced',
    change: (reading) => put('referenceRange', [reading.referenceRange])(reading),
  },
  {
    name: 'R4: code of a component is a list',
    of: 'reduced',
    change: put('component.0.code', [ours('z-score')]),
  },
  {
    name: 'R4: component has a body site',
    of: 'reduced',
    change: put('component.0.bodySite', { text: 'right hand' }),
  },
  { name: 'R4: component has a status', of: 'reduced', change: put('component.0.status', 'final') },
  {
    name: 'R4: component has a component',
    of: 'reduced',
    change: put('component.0.component', [{ code: ours('percentile'), valueInteger: 2 }]),
  },
  {
    name: 'R4: component has the value under the name value',
    of: 'byCutPoint',
    change: inTurn(drop('component.0.valueString'), put('component.0.value', 'normal')),
  },
  {
    name: 'R4: unit of a component is a list',
    of: 'reduced',
    change: put('component.1.valueQuantity.unit', ['%']),
  },
  { name: 'R4: list of components is empty', of: 'byCutPoint', change: put('component', []) },
  { name: 'R4: id of a component is a number', of: 'reduced', change: put('component.0.id', 1) },
  {
    name: 'R4: extension of a component has no url',
    of: 'reduced',
    change: put('component.0.extension', [{ valueString: 'x' }]),
  },
  {
    name: 'R4: range of a column has neither limit nor text',
    of: 'bothColumns',
    change: inTurn(drop('component.0.referenceRange.0.text'), drop('component.0.referenceRange.0.low')),
  },
  {
    name: 'A1: implicit rules have only an extension',
    of: 'reduced',
    change: put('_implicitRules', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'A1: has its summary as member by name',
    of: 'reduced',
    change: put('hasMember', [{ display: 'mean of the right hand' }]),
  },
  {
    name: 'A2: subject is a Group of one person',
    of: 'reduced',
    change: put('subject.reference', 'Group/1'),
  },
  {
    name: 'A2: subject is Patients of an address without an id',
    of: 'reduced',
    change: put('subject.reference', 'https://ehr.example/fhir/Patient'),
  },
  {
    name: 'A2: subject is a contained RelatedPerson',
    of: 'reduced',
    change: inTurn(
      add('contained', { resourceType: 'RelatedPerson', id: 'r', patient: { reference: 'Patient/1' } }),
      put('subject.reference', '#r'),
    ),
  },
  {
    name: 'A2: subject is everything of a Patient',
    of: 'reduced',
    change: put('subject.reference', 'Patient/invented-1/$everything'),
  },
  {
    name: 'A2: subject is PATIENT in capitals',
    of: 'reduced',
    change: put('subject.reference', 'PATIENT/invented-1'),
  },
  {
    name: 'A3: exam is of the system of DSTU2',
    of: 'reduced',
    change: put('category.0.coding.0.system', 'http://hl7.org/fhir/observation-category'),
  },
  {
    name: 'A3: exam has a space at the end',
    of: 'reduced',
    change: put('category.0.coding.0.code', 'exam '),
  },
  {
    name: 'A4: vital-signs is a second coding of exam',
    of: 'reduced',
    change: add('category.0.coding', { code: 'vital-signs' }),
  },
  {
    name: 'A5: time is on 29 February of 2027',
    of: 'reduced',
    change: put('effectiveDateTime', '2027-02-29'),
  },
  {
    name: 'A5: time has only an extension',
    of: 'reduced',
    change: inTurn(drop('effectiveDateTime'), put('_effectiveDateTime', { extension: NOTE_EXTENSION })),
  },
  {
    name: 'I2: label is a tag',
    of: 'reduced',
    change: inTurn(
      drop('meta.security'),
      put('meta.tag', [
        { system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'AIAST' },
      ]),
    ),
  },
  {
    name: 'I2: label is of the system of STU3',
    of: 'reduced',
    change: label({ system: 'http://hl7.org/fhir/v3/ObservationValue', code: 'AIAST' }),
  },
  {
    name: 'I2: label is of v3-ActCode',
    of: 'reduced',
    change: label({ system: 'http://terminology.hl7.org/CodeSystem/v3-ActCode', code: 'AIAST' }),
  },
  {
    name: 'I2: label is CLINAST',
    of: 'reduced',
    change: label({ system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue', code: 'CLINAST' }),
  },
  {
    name: 'M2: uuid has underscores',
    of: 'reduced',
    change: put('identifier.0.value', 'urn:uuid:5a1c0f6e_7b2d_4c3e_9f80_112233445566'),
  },
  {
    name: 'M2: uuid is said twice',
    of: 'reduced',
    change: put('identifier.0.value', 'urn:uuid:urn:uuid:5a1c0f6e-7b2d-4c3e-9f80-112233445566'),
  },
  {
    name: 'M2: system of the uuid is in capitals',
    of: 'reduced',
    change: put('identifier.0.system', 'urn:ietf:RFC:3986'),
  },
  {
    name: 'M2: the same uuid stands twice',
    of: 'reduced',
    change: (reading) => add('identifier', structuredClone(reading.identifier?.[0]))(reading),
  },
  {
    name: 'M3: version follows a comma',
    of: 'reduced',
    change: method('grip-strength-cds, 0.2.0; table invented-norm|1.0.0'),
  },
  {
    name: 'M3: method begins with a space',
    of: 'reduced',
    change: method(' grip-strength-cds 0.2.0; table invented-norm|1.0.0'),
  },
  {
    name: 'M3: version is one number',
    of: 'reduced',
    change: method('grip-strength-cds 2; table invented-norm|1.0.0'),
  },
  {
    name: 'M3: method is in a code of the hospital',
    of: 'reduced',
    change: put('method', {
      coding: [{ system: 'https://ehr.example/methods', code: 'CDS', display: 'grip-strength-cds 0.2.0' }],
    }),
  },
  {
    name: 'M3: device is a type and an identifier',
    of: 'reduced',
    change: put('device', { type: 'Device', identifier: { value: 'grip-strength-cds' } }),
  },
  { name: 'M4: a source is a bare id', of: 'reduced', change: source('trial-1') },
  { name: 'M4: a source is an ImagingStudy', of: 'reduced', change: source('ImagingStudy/1') },
  {
    name: 'M4: a source is an Observation with a fragment',
    of: 'reduced',
    change: source('Observation/trial-9#component'),
  },
  {
    name: 'M4: a source stands twice, once with its type',
    of: 'reduced',
    change: add('derivedFrom', { reference: 'Observation/height', type: 'Observation' }),
  },
  {
    name: 'M4: a source has its type in the plural',
    of: 'byCutPoint',
    change: put('derivedFrom.0.type', 'Observations'),
  },
  {
    name: 'M4: a source is a uuid of no scheme',
    of: 'reduced',
    change: source('uuid:1b9d6bcd-bbfd-4b2d-9b5d-ab8dfbbd4bed'),
  },
  { name: 'M5: notes are an empty list', of: 'reduced', change: put('note', []) },
  {
    name: 'M5: issued has only an id',
    of: 'reduced',
    change: inTurn(drop('issued'), put('_issued', { id: 'later' })),
  },
  {
    name: 'M6: functional-status is of the code and not of a category',
    of: 'reduced',
    change: inTurn(
      drop('category.1'),
      put('code.coding', [{ system: US_CORE_CATEGORY, code: 'functional-status' }]),
    ),
  },
  {
    name: 'M6: system of functional-status is of terminology.hl7.org',
    of: 'reduced',
    change: put('category.1.coding.0.system', 'http://terminology.hl7.org/CodeSystem/us-core-category'),
  },
  {
    name: 'M7: body site is a hand by its display',
    of: 'reduced',
    change: put('bodySite.coding.0', { system: SNOMED, display: 'Structure of right hand' }),
  },
  { name: 'M7: body site is the wrist', of: 'reduced', change: put('bodySite.coding.0.code', '9736006') },
  {
    name: 'M7: system of the body site is sct without its host',
    of: 'reduced',
    change: put('bodySite.coding.0.system', 'sct'),
  },
  { name: 'I3: status is corrected by the laboratory', of: 'notReduced', change: put('status', 'corrected') },
  { name: 'I3: status is Final with a capital', of: 'notReduced', change: put('status', 'Final') },
  {
    name: 'I4: the same coding stands twice',
    of: 'reduced',
    change: add('code.coding', { system: GRIP_CODES, code: 'strength-against-norm' }),
  },
  {
    name: 'I4: code has a LOINC code of a trial beside ours',
    of: 'reduced',
    change: add('code.coding', { system: LOINC, code: '83174-3' }),
  },
  {
    name: 'I4: code has no hyphen in cut-point',
    of: 'byCutPoint',
    change: put('code.coding.0.code', 'strength-against-cutpoint'),
  },
  {
    name: 'I4: system of the code is that of our issues',
    of: 'reduced',
    change: put('code.coding.0.system', `${GRIP_CODES}-issue`),
  },
  { name: 'I4: text of the code is empty', of: 'reduced', change: put('code.text', '') },
  {
    name: 'I4: text of the code is its display',
    of: 'reduced',
    change: inTurn(drop('code.text'), put('code.coding.0.display', 'Grip strength against an invented norm')),
  },
  {
    name: 'I6: value is the day',
    of: 'reduced',
    change: inTurn(drop('valueCodeableConcept'), put('valueDateTime', '2026-11-16')),
  },
  { name: 'I7: reason is NaN of DSTU2', of: 'notRead', change: reason('NaN') },
  { name: 'I7: reason is asked of STU3', of: 'notRead', change: reason('asked') },
  {
    name: 'I7: reason is of the system of STU3',
    of: 'notRead',
    change: reason('not-applicable', 'http://hl7.org/fhir/data-absent-reason'),
  },
  {
    name: 'I7: reason is a null flavour',
    of: 'notRead',
    change: reason('NA', 'http://terminology.hl7.org/CodeSystem/v3-NullFlavor'),
  },
  {
    name: 'I7: reason has no code',
    of: 'notRead',
    change: put('dataAbsentReason.coding.0', { system: ABSENT, display: 'Not Applicable' }),
  },
  { name: 'I7: reason is empty', of: 'notRead', change: put('dataAbsentReason', {}) },
  {
    name: 'I8: reduced by a cut-point has no flag',
    of: 'reduced',
    change: inTurn(put('code.coding.0.code', 'strength-against-cut-point'), drop('interpretation')),
  },
  {
    name: 'I8: not reduced has become reduced, and its flag stayed',
    of: 'notReduced',
    change: finding(ours('reduced')),
  },
  {
    name: 'I8: norm has become a cut-point, and the flag N stayed',
    of: 'notReduced',
    change: put('code.coding.0.code', 'strength-against-cut-point'),
  },
  { name: 'I8: the flag L stands twice', of: 'reduced', change: add('interpretation', flag('L')) },
  { name: 'I8: flag is in lower case', of: 'reduced', change: put('interpretation', [flag('l')]) },
  {
    name: 'I8: flag has no system',
    of: 'reduced',
    change: put('interpretation', [{ coding: [{ code: 'L' }] }]),
  },
  {
    name: 'I8: flag is of the system of STU3',
    of: 'reduced',
    change: put('interpretation', [flag('L', 'http://hl7.org/fhir/v2/0078')]),
  },
  { name: 'I8: flag is A', of: 'reduced', change: put('interpretation', [flag('A')]) },
  {
    name: 'I8: flag L has a flag of the hospital beside it',
    of: 'reduced',
    change: add('interpretation.0.coding', { system: 'https://ehr.example/flags', code: '!' }),
  },
  { name: 'I8: both columns have the flag L', of: 'bothColumns', change: put('interpretation', [flag('L')]) },
  {
    name: 'I9: the same range stands twice',
    of: 'reduced',
    change: (reading) => add('referenceRange', structuredClone(reading.referenceRange?.[0]))(reading),
  },
  {
    name: 'I9: range of the value is on a component only',
    of: 'reduced',
    change: (reading) =>
      inTurn(put('component.0.referenceRange', reading.referenceRange), drop('referenceRange'))(reading),
  },
  {
    name: 'I9: both columns have a range of the whole too',
    of: 'bothColumns',
    change: (reading) =>
      put('referenceRange', structuredClone(reading.component?.[1]?.referenceRange))(reading),
  },
  { name: 'I10: text of the range is empty', of: 'reduced', change: put('referenceRange.0.text', '') },
  {
    name: 'I10: type of the range has a capital',
    of: 'reduced',
    change: put('referenceRange.0.type.coding.0.code', 'Normal'),
  },
  {
    name: 'I10: type of the range is of the system of STU3',
    of: 'reduced',
    change: put('referenceRange.0.type.coding.0.system', 'http://hl7.org/fhir/referencerange-meaning'),
  },
  {
    name: 'I10: type of the range is treatment',
    of: 'reduced',
    change: put('referenceRange.0.type.coding.0.code', 'treatment'),
  },
  { name: 'I10: sex of the range is in words', of: 'reduced', change: sex([{ text: 'Male' }]) },
  {
    name: 'I10: sex of the range is of LOINC',
    of: 'reduced',
    change: sex([{ coding: [{ system: LOINC, code: 'LA2-8' }] }]),
  },
  {
    name: 'I10: sex of the range is a gender identity',
    of: 'reduced',
    change: sex([{ coding: [{ system: SNOMED, code: '446151000124109' }] }]),
  },
  {
    name: 'I10: sex of the range is of an edition of SNOMED CT',
    of: 'reduced',
    change: sex([{ coding: [{ system: `${SNOMED}/731000124108`, code: '248153007' }] }]),
  },
  {
    name: 'I10: sex of the range stands beside a race in another item',
    of: 'reduced',
    change: add('referenceRange.0.appliesTo', { text: 'Invented population' }),
  },
  {
    name: 'I10: range of a column has no sex',
    of: 'bothColumns',
    change: drop('component.1.referenceRange.0.appliesTo'),
  },
  {
    name: 'I10: range of a z-score has no type',
    of: 'reduced',
    change: (reading) =>
      inTurn(
        put('component.0.referenceRange', structuredClone(reading.referenceRange)),
        drop('component.0.referenceRange.0.type'),
      )(reading),
  },
  { name: 'I11: age is a quantity', of: 'reduced', change: age({ value: 70, system: UCUM, code: 'a' }) },
  { name: 'I11: age is empty', of: 'reduced', change: age({}) },
  { name: 'I11: age is in weeks', of: 'notReduced', change: put('referenceRange.0.age.low.code', 'wk') },
  {
    name: 'I11: age is in Julian years',
    of: 'notReduced',
    change: put('referenceRange.0.age.low.code', 'a_j'),
  },
  {
    name: 'I11: age is in years as of the display',
    of: 'notReduced',
    change: put('referenceRange.0.age.low.code', 'years'),
  },
  {
    name: 'I11: age is in A in capitals',
    of: 'notReduced',
    change: put('referenceRange.0.age.low.code', 'A'),
  },
  {
    name: 'I11: low end of the age has a comparator',
    of: 'reduced',
    change: put('referenceRange.0.age.low.comparator', '>='),
  },
  {
    name: 'I11: high end of the age has a comparator',
    of: 'reduced',
    change: put('referenceRange.0.age.high.comparator', '<'),
  },
  {
    name: 'I11: high end of the age has no number',
    of: 'reduced',
    change: drop('referenceRange.0.age.high.value'),
  },
  {
    name: 'I11: high end of the age has no code',
    of: 'reduced',
    change: drop('referenceRange.0.age.high.code'),
  },
  {
    name: 'I11: high end of the age is a tenth below the low end',
    of: 'reduced',
    change: put('referenceRange.0.age.high.value', 69.9),
  },
  {
    name: 'I11: age of a column is below zero',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.age.low.value', -1),
  },
  { name: 'I12: limit is over kilograms', of: 'notReduced', change: limit('kgf/kg') },
  { name: 'I12: limit is over m^2', of: 'notReduced', change: limit('kgf/m^2') },
  { name: 'I12: limit is over kg/m2 without brackets', of: 'notReduced', change: limit('kgf/kg/m2') },
  { name: 'I12: limit has spaces in its unit', of: 'notReduced', change: limit('kgf / m2') },
  { name: 'I12: limit is in kilonewtons', of: 'reduced', change: limit('kN') },
  { name: 'I12: limit is in capitals', of: 'reduced', change: limit('KGF') },
  { name: 'I12: limit is in pounds without brackets', of: 'reduced', change: limit('lbf_av') },
  {
    name: 'I12: limit is in a unit of a system of the hospital',
    of: 'reduced',
    change: put('referenceRange.0.low.system', 'https://ehr.example/units'),
  },
  { name: 'I12: limit has no code of its unit', of: 'reduced', change: drop('referenceRange.0.low.code') },
  {
    name: 'I12: limit of a column is 0',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.low.value', 0),
  },
  {
    name: 'I12: limit of a column has a comparator',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.low.comparator', '<'),
  },
  {
    name: 'I12: range without a limit has a high end',
    of: 'byCutPoint',
    change: put('referenceRange.0.high', { value: 27, unit: 'kg', system: UCUM, code: 'kgf' }),
  },
  {
    name: 'I13: a component has a capital in its code',
    of: 'byCutPoint',
    change: put('component.0.code', ours('Source-band')),
  },
  {
    name: 'I13: a component is a z-score of LOINC',
    of: 'byCutPoint',
    change: put('component.0.code', { coding: [{ system: LOINC, code: '84419-1' }] }),
  },
  {
    name: 'I13: a component is the value once more',
    of: 'byCutPoint',
    change: add('component', { code: ours('reduced'), valueBoolean: false }),
  },
  {
    name: 'I13: a component has a reason with only an extension',
    of: 'byCutPoint',
    change: put('component.0.dataAbsentReason', { extension: NOTE_EXTENSION }),
  },
  {
    name: 'I13: value of a component is empty',
    of: 'bothColumns',
    change: column('valueCodeableConcept', {}),
  },
  {
    name: 'I14: percentile is a hair above 100',
    of: 'reduced',
    change: put('component.1.valueQuantity.value', 100.01),
  },
  {
    name: 'I14: percentile is a hair below 0',
    of: 'reduced',
    change: put('component.1.valueQuantity.value', -0.01),
  },
  {
    name: 'I14: percentile is in the code of its name',
    of: 'reduced',
    change: put('component.1.valueQuantity.code', 'percent'),
  },
  {
    name: 'I14: percentile is in percent of percentile',
    of: 'reduced',
    change: put('component.1.valueQuantity.code', '{percentile}'),
  },
  {
    name: 'I14: percentile is text',
    of: 'reduced',
    change: put('component.1', { code: ours('percentile'), valueString: '1.66 %' }),
  },
  {
    name: 'I14: z-score is in a unit with capitals',
    of: 'reduced',
    change: put('component.0.valueQuantity.code', '{Z-score}'),
  },
  {
    name: 'I14: z-score is in standard deviations',
    of: 'reduced',
    change: put('component.0.valueQuantity.code', '{SD}'),
  },
  {
    name: 'I14: z-score has no unit',
    of: 'reduced',
    change: put('component.0.valueQuantity', { value: -2.13 }),
  },
  {
    name: 'I14: z-score is a range',
    of: 'reduced',
    change: put('component.0', {
      code: ours('z-score'),
      valueRange: { low: { value: -3 }, high: { value: -2 } },
    }),
  },
  {
    name: 'I14: place among centiles is a number',
    of: 'notReduced',
    change: put('component.0', { code: ours('centile-place'), valueInteger: 25 }),
  },
  {
    name: 'I14: place among centiles is a range',
    of: 'notReduced',
    change: put('component.0', {
      code: ours('centile-place'),
      valueRange: { low: { value: 25 }, high: { value: 50 } },
    }),
  },
  {
    name: 'I14: band of the source is a boolean',
    of: 'byCutPoint',
    change: put('component.0', { code: ours('source-band'), valueBoolean: true }),
  },
  { name: 'I14: band of the source is empty', of: 'byCutPoint', change: put('component.0.valueString', '') },
  {
    name: 'I14: percentile is beside both columns',
    of: 'bothColumns',
    change: inTurn(
      add('component', {
        code: ours('z-score'),
        valueQuantity: { value: -2, system: UCUM, code: '{z-score}' },
      }),
      add('component', { code: ours('percentile'), valueQuantity: { value: 2, system: UCUM, code: '%' } }),
    ),
  },
  {
    name: 'I15: columns were swapped',
    of: 'bothColumns',
    change: inTurn(column('code', ours('column-male')), put('component.1.code', ours('column-female'))),
  },
  {
    name: 'I15: column has its words as the display',
    of: 'bothColumns',
    change: column('valueCodeableConcept', {
      coding: [{ system: GRIP_CODES, code: 'reduced', display: 'In the column for women: reduced.' }],
    }),
  },
  {
    name: 'I15: words of a column are empty',
    of: 'bothColumns',
    change: column('valueCodeableConcept.text', ''),
  },
  {
    name: 'I15: column says reduced with a capital',
    of: 'bothColumns',
    change: column('valueCodeableConcept.coding.0.code', 'Reduced'),
  },
  {
    name: 'I15: column is the figure',
    of: 'bothColumns',
    change: inTurn(
      drop('component.0.valueCodeableConcept'),
      column('valueQuantity', { value: 18, system: UCUM, code: 'kgf' }),
    ),
  },
  {
    name: 'I15: column for women is beside a value by a cut-point',
    of: 'byCutPoint',
    change: (reading) =>
      add('component', {
        code: ours('column-female'),
        valueCodeableConcept: { ...ours('reduced'), text: 'Reduced.' },
        referenceRange: [
          {
            ...structuredClone(reading.referenceRange?.[0]),
            appliesTo: [{ coding: [{ system: SNOMED, code: '248152002' }] }],
          },
        ],
      })(reading),
  },
  {
    name: 'I15: ranges of a column are an empty list',
    of: 'bothColumns',
    change: column('referenceRange', []),
  },
  {
    name: 'I15: a column has the flag of normal',
    of: 'bothColumns',
    change: column('interpretation', [flag('N')]),
  },
]);
