/** Mutants of grip-interpretation, from profiles/README.md and R4: what this software must never write. */
import {
  DATA_ABSENT_REASON,
  GRIP_CODES,
  LOINC,
  OBSERVATION_CATEGORY,
  OBSERVATION_INTERPRETATION,
  OBSERVATION_VALUE,
  SNOMED,
  UCUM,
} from '../../src/fhir/codes.ts';
import { add, drop, mutantsOf, put } from './mutant.ts';
import { instead, WITHOUT_VALUE } from './mutants-grip-trial.ts';
import { VALID_INTERPRETATIONS } from './valid-interpretations.ts';

const concept = (system: string, ...codes: string[]) => ({ coding: codes.map((code) => ({ system, code })) });
const grip = (...codes: string[]) => concept(GRIP_CODES, ...codes);
const flag = (...codes: string[]) => concept(OBSERVATION_INTERPRETATION, ...codes);
const absent = (...codes: string[]) => concept(DATA_ABSENT_REASON, ...codes);
const ucum = (value: number, code: string) => ({ value, system: UCUM, code });
const div = (content: string) => `<div xmlns="http://www.w3.org/1999/xhtml">${content}</div>`;
const EXTENSION = 'https://ehr.example/fhir/StructureDefinition/asked';

const [range = {}] = VALID_INTERPRETATIONS.reduced.referenceRange ?? [];
const columnMale = {
  code: grip('column-male'),
  valueCodeableConcept: { ...grip('reduced'), text: 'Reduced.' },
};

export const MUTANTS = mutantsOf('grip-interpretation', VALID_INTERPRETATIONS, [
  // R4: the resource and its id, meta and narrative
  {
    name: 'R4: resource is a DiagnosticReport',
    of: 'reduced',
    change: put('resourceType', 'DiagnosticReport'),
  },
  { name: 'R4: id has a slash', of: 'reduced', change: put('id', 'evaluation/1') },
  { name: 'R4: id is in a list', of: 'notReduced', change: put('id', ['evaluation-1']) },
  { name: 'R4: meta is empty', of: 'byCutPoint', change: put('meta', {}) },
  { name: 'R4: version in meta is a number', of: 'reduced', change: put('meta.versionId', 1) },
  {
    name: 'R4: meta was last updated on 31 June',
    of: 'reduced',
    change: put('meta.lastUpdated', '2026-06-31T12:00:00.000Z'),
  },
  { name: 'R4: a profile in meta is empty', of: 'reduced', change: put('meta.profile.0', '') },
  {
    name: 'R4: security label is no list',
    of: 'reduced',
    change: put('meta.security', { system: OBSERVATION_VALUE, code: 'AIAST' }),
  },
  {
    name: 'R4: narrative has no namespace',
    of: 'notRead',
    change: put('text.div', '<div><p>Not read.</p></div>'),
  },
  {
    name: 'R4: narrative has a script',
    of: 'reduced',
    change: put('text.div', div('<script src="https://ehr.example/x.js"></script><p>Reduced</p>')),
  },
  {
    name: 'R4: narrative has a frame',
    of: 'reduced',
    change: put('text.div', div('<iframe src="https://ehr.example"></iframe>')),
  },
  {
    name: 'R4: narrative is a paragraph without a div',
    of: 'reduced',
    change: put('text.div', '<p xmlns="http://www.w3.org/1999/xhtml">Reduced.</p>'),
  },
  { name: 'R4: narrative is text', of: 'reduced', change: put('text', 'Right hand: reduced.') },
  { name: 'R4: status of the narrative is missing', of: 'byCutPoint', change: drop('text.status') },
  {
    name: 'R4: contains a Device that nothing refers to',
    of: 'reduced',
    change: put('contained', [{ resourceType: 'Device', id: 'spare' }]),
  },

  // R4: types, cardinalities and bindings of elements
  { name: 'R4: has no status', of: 'reduced', change: drop('status') },
  { name: 'R4: has no code', of: 'reduced', change: drop('code') },
  { name: 'R4: status is a number', of: 'reduced', change: put('status', 2) },
  { name: 'R4: status is draft', of: 'reduced', change: put('status', 'draft') },
  { name: 'R4: code is text', of: 'reduced', change: put('code', 'strength-against-norm') },
  {
    name: 'R4: text of the code is in a list',
    of: 'reduced',
    change: put('code.text', ['Grip strength against an invented norm']),
  },
  { name: 'R4: has a property of a report', of: 'reduced', change: put('conclusion', 'Reduced.') },
  {
    name: 'R4: has a value of a type of R5',
    of: 'notRead',
    change: put('valueReference', { reference: 'Observation/trial-1' }),
  },
  { name: 'R4: issued is in words', of: 'reduced', change: put('issued', 'today') },
  { name: 'R4: issued is in month 0', of: 'reduced', change: put('issued', '2026-00-25T12:00:00.000Z') },
  { name: 'R4: time is on day 32', of: 'byCutPoint', change: put('effectiveDateTime', '2026-11-32') },
  { name: 'R4: time has no zone', of: 'reduced', change: put('effectiveDateTime', '2026-11-16T14:05:00') },
  {
    name: 'R4: time is at minute 60',
    of: 'reduced',
    change: put('effectiveDateTime', '2026-11-16T14:60:00Z'),
  },
  { name: 'R4: interpretation is no list', of: 'reduced', change: put('interpretation', flag('L')) },
  { name: 'R4: list of interpretations is empty', of: 'byCutPoint', change: put('interpretation', []) },
  { name: 'R4: note is no list', of: 'reduced', change: put('note', { text: 'On record as evaluation 1.' }) },
  { name: 'R4: a note has no text', of: 'reduced', change: drop('note.1.text') },
  {
    name: 'R4: a note was written by a Device',
    of: 'reduced',
    change: put('note.1.authorReference', { reference: 'Device/grip-strength-cds-0.2.0' }),
  },
  {
    name: 'R4: performer is the software',
    of: 'reduced',
    change: add('performer', { reference: 'Device/grip-strength-cds-0.2.0' }),
  },
  {
    name: 'R4: encounter is an EpisodeOfCare',
    of: 'reduced',
    change: put('encounter', { reference: 'EpisodeOfCare/invented-9' }),
  },
  {
    name: 'R4: device is in a list',
    of: 'byCutPoint',
    change: put('device', [{ display: 'grip-strength-cds 0.2.0' }]),
  },
  { name: 'R4: device is text', of: 'byCutPoint', change: put('device', 'grip-strength-cds 0.2.0') },
  { name: 'R4: body site has two texts', of: 'reduced', change: put('bodySite.text', ['right', 'hand']) },
  {
    name: 'R4: sources are no list',
    of: 'reduced',
    change: put('derivedFrom', { reference: 'Observation/trial-1' }),
  },
  { name: 'R4: a source is text', of: 'reduced', change: put('derivedFrom.1', 'Observation/trial-1') },
  { name: 'R4: display of a source is a number', of: 'byCutPoint', change: put('derivedFrom.0.display', 2) },
  {
    name: 'R4: use of the identifier is no code of the binding',
    of: 'reduced',
    change: put('identifier.0.use', 'evaluation'),
  },
  {
    name: 'R4: period of the identifier ends before it starts',
    of: 'reduced',
    change: put('identifier.0.period', { start: '2026-11-25', end: '2026-11-24' }),
  },
  { name: 'R4: reference range is no list', of: 'reduced', change: put('referenceRange', range) },
  { name: 'R4: limit of the range is a number', of: 'reduced', change: put('referenceRange.0.low', 33.1) },
  {
    name: 'R4: limit of the range is text',
    of: 'reduced',
    change: put('referenceRange.0.low.value', '33.1'),
  },
  { name: 'R4: age of the range is text', of: 'reduced', change: put('referenceRange.0.age', '70 to 74') },
  {
    name: 'R4: range has a property that no range has',
    of: 'reduced',
    change: put('referenceRange.0.source', 'invented-norm|1.0.0'),
  },
  {
    name: 'R4: sex of the range is in no list',
    of: 'reduced',
    change: put('referenceRange.0.appliesTo', concept(SNOMED, '248153007')),
  },
  {
    name: 'R4: components are no list',
    of: 'notReduced',
    change: put('component', { code: grip('centile-place'), valueString: 'x' }),
  },
  { name: 'R4: a component is empty', of: 'byCutPoint', change: add('component', {}) },
  { name: 'R4: a component has no code', of: 'byCutPoint', change: drop('component.0.code') },
  {
    name: 'R4: a component has a note',
    of: 'byCutPoint',
    change: put('component.0.note', [{ text: 'Invented.' }]),
  },
  { name: 'R4: a component has two values', of: 'byCutPoint', change: put('component.0.valueInteger', 3) },
  { name: 'R4: place among centiles is empty', of: 'notReduced', change: put('component.0.valueString', '') },
  {
    name: 'R4: a component has the code of the Observation, which has a value',
    of: 'reduced',
    change: add('component.0.code.coding', { system: GRIP_CODES, code: 'strength-against-norm' }),
  },
  {
    name: 'R4: a component has a flag outside a list',
    of: 'reduced',
    change: put('component.0.interpretation', flag('L')),
  },
  {
    name: 'R4: an extension has a value and an extension',
    of: 'reduced',
    change: add('extension', { url: EXTENSION, valueCode: 'a', extension: [{ url: 'b', valueCode: 'c' }] }),
  },
  {
    name: 'R4: an extension has a value without its type',
    of: 'reduced',
    change: add('extension', { url: EXTENSION, value: 'a' }),
  },

  // A1 to A5, I5
  {
    name: 'A1: has implicit rules',
    of: 'reduced',
    change: put('implicitRules', 'https://ehr.example/rules'),
  },
  {
    name: 'A1: has a modifier extension',
    of: 'notRead',
    change: add('modifierExtension', { url: EXTENSION, valueBoolean: false }),
  },
  {
    name: 'A1: has the summary as focus',
    of: 'reduced',
    change: add('focus', { reference: 'Observation/6f0e6c2a' }),
  },
  {
    name: 'A1: has a member',
    of: 'byCutPoint',
    change: add('hasMember', { reference: 'Observation/trial-1' }),
  },
  { name: 'A2: has no subject', of: 'notRead', change: drop('subject') },
  { name: 'A2: subject is a Location', of: 'reduced', change: put('subject.reference', 'Location/ward-4') },
  {
    name: 'A2: subject is in no contained resource',
    of: 'byCutPoint',
    change: put('subject.reference', '#patient'),
  },
  { name: 'A2: subject has the type Person', of: 'reduced', change: put('subject.type', 'Person') },
  {
    name: 'A2: subject has an identifier for a reference',
    of: 'reduced',
    change: instead('subject.reference', 'subject.identifier', { value: '1' }),
  },
  {
    name: 'A2: path of the subject goes on after the id',
    of: 'reduced',
    change: put('subject.reference', 'Patient/invented-1/name'),
  },
  { name: 'A3: has no category', of: 'reduced', change: drop('category') },
  { name: 'A3: has no exam', of: 'byCutPoint', change: drop('category.0') },
  {
    name: 'A3: exam is survey',
    of: 'reduced',
    change: put('category.0', concept(OBSERVATION_CATEGORY, 'survey')),
  },
  {
    name: 'A4: has the category vital-signs',
    of: 'reduced',
    change: add('category', concept(OBSERVATION_CATEGORY, 'vital-signs')),
  },
  {
    name: 'A4: a category has vital-signs of the hospital beside functional-status',
    of: 'notReduced',
    change: add('category.1.coding', { system: 'https://ehr.example/category', code: 'vital-signs' }),
  },
  { name: 'A5: has no effective time', of: 'notRead', change: drop('effectiveDateTime') },
  { name: 'A5: time is a month', of: 'byCutPoint', change: put('effectiveDateTime', '2026-11') },
  {
    name: 'A5: time has no value',
    of: 'reduced',
    change: instead('effectiveDateTime', '_effectiveDateTime', WITHOUT_VALUE),
  },
  {
    name: 'A5: has a dateTime and a period',
    of: 'reduced',
    change: put('effectivePeriod', { start: '2026-11-16T14:05:00Z' }),
  },
  {
    name: 'I5: time is an instant',
    of: 'reduced',
    change: instead('effectiveDateTime', 'effectiveInstant', '2026-11-16T14:05:00Z'),
  },
  {
    name: 'I5: time is a period',
    of: 'byCutPoint',
    change: instead('effectiveDateTime', 'effectivePeriod', { start: '2026-11-16' }),
  },
  {
    name: 'I5: time is a Timing',
    of: 'notRead',
    change: instead('effectiveDateTime', 'effectiveTiming', { event: ['2026-11-16'] }),
  },

  // M1, M2, I2
  { name: 'I2: has no label', of: 'reduced', change: drop('meta.security') },
  { name: 'I2: label is DEVAST', of: 'notRead', change: put('meta.security.0.code', 'DEVAST') },
  { name: 'I2: label has no system', of: 'reduced', change: drop('meta.security.0.system') },
  { name: 'I2: label is in lower case', of: 'byCutPoint', change: put('meta.security.0.code', 'aiast') },
  { name: 'M2: has no identifier', of: 'byCutPoint', change: drop('identifier') },
  {
    name: 'M2: uuid is of a system of the hospital',
    of: 'reduced',
    change: put('identifier.0.system', 'urn:oid:2.999.1'),
  },
  {
    name: 'M2: uuid has capitals',
    of: 'reduced',
    change: put('identifier.0.value', 'urn:uuid:5A1C0F6E-7b2d-4c3e-9f80-112233445566'),
  },
  {
    name: 'M2: uuid has no hyphens',
    of: 'notRead',
    change: put('identifier.0.value', 'urn:uuid:5a1c0f6e7b2d4c3e9f80112233445566'),
  },
  {
    name: 'M2: has two uuids',
    of: 'reduced',
    change: add('identifier', {
      system: 'urn:ietf:rfc:3986',
      value: 'urn:uuid:6a1c0f6e-7b2d-4c3e-9f80-112233445566',
    }),
  },

  // M3, M4
  { name: 'M3: has no method', of: 'reduced', change: drop('method') },
  {
    name: 'M3: method has no text',
    of: 'notRead',
    change: put('method', concept('https://ehr.example/method', 'table')),
  },
  {
    name: 'M3: method names no version',
    of: 'reduced',
    change: put('method.text', 'grip-strength-cds, table invented-norm|1.0.0'),
  },
  {
    name: 'M3: version begins with a v',
    of: 'byCutPoint',
    change: put('method.text', 'grip-strength-cds v0.2.0; panel adult-inpatient-us|1.0.0'),
  },
  { name: 'M3: has no device', of: 'byCutPoint', change: drop('device') },
  { name: 'M3: device has a type only', of: 'reduced', change: put('device', { type: 'Device' }) },
  { name: 'M4: has no source', of: 'notRead', change: drop('derivedFrom') },
  {
    name: 'M4: a source is identified only',
    of: 'reduced',
    change: put('derivedFrom.3', { identifier: { value: 'height' } }),
  },
  {
    name: 'M4: a source stands twice',
    of: 'reduced',
    change: put('derivedFrom.2.reference', 'Observation/trial-1'),
  },
  {
    name: 'M4: a source is a Media',
    of: 'notReduced',
    change: put('derivedFrom.3.reference', 'Media/height'),
  },
  {
    name: 'M4: a source has the type QuestionnaireResponse',
    of: 'reduced',
    change: put('derivedFrom.1.type', 'QuestionnaireResponse'),
  },
  {
    name: 'M4: a source is a search',
    of: 'reduced',
    change: put('derivedFrom.1.reference', 'Observation?code=83174-3'),
  },

  // M5 to M7
  { name: 'M5: has no moment of making', of: 'byCutPoint', change: drop('issued') },
  { name: 'M5: has no narrative', of: 'reduced', change: drop('text') },
  { name: 'M5: has no note beside the value', of: 'reduced', change: drop('note') },
  { name: 'M6: has no functional-status', of: 'notRead', change: drop('category.1') },
  {
    name: 'M6: functional-status is in words',
    of: 'reduced',
    change: put('category.1', { text: 'functional-status' }),
  },
  {
    name: 'M7: body site is a laterality',
    of: 'reduced',
    change: put('bodySite', concept(SNOMED, '24028007')),
  },
  {
    name: 'M7: body site is both hands',
    of: 'notReduced',
    change: add('bodySite.coding', { system: SNOMED, code: '78791008' }),
  },
  { name: 'M7: body site has no system', of: 'reduced', change: drop('bodySite.coding.0.system') },

  // I3, I4
  { name: 'I3: status is corrected', of: 'reduced', change: put('status', 'corrected') },
  { name: 'I3: status is registered', of: 'notRead', change: put('status', 'registered') },
  { name: 'I3: status is cancelled', of: 'notRead', change: put('status', 'cancelled') },
  { name: 'I3: status is unknown', of: 'byCutPoint', change: put('status', 'unknown') },
  {
    name: 'I4: code has two of our codes',
    of: 'notRead',
    change: add('code.coding', { system: GRIP_CODES, code: 'strength-against-norm' }),
  },
  {
    name: 'I4: code has the NIH Toolbox percentile beside ours',
    of: 'reduced',
    change: add('code.coding', { system: LOINC, code: '84419-1' }),
  },
  {
    name: 'I4: code is the NIH Toolbox score',
    of: 'notRead',
    change: put('code.coding.0', { system: LOINC, code: '83175-0' }),
  },
  {
    name: 'I4: code is that of a summary',
    of: 'notRead',
    change: put('code.coding.0.code', 'mean-per-hand'),
  },
  {
    name: 'I4: code is of another system',
    of: 'notRead',
    change: put('code.coding.0.system', 'https://ehr.example/codes'),
  },
  { name: 'I4: code has no coding', of: 'notRead', change: drop('code.coding') },
  { name: 'I4: code has no text', of: 'reduced', change: drop('code.text') },

  // I6, I7
  {
    name: 'I6: value is a code that we do not have',
    of: 'byCutPoint',
    change: put('valueCodeableConcept.coding.0.code', 'normal'),
  },
  {
    name: 'I6: value is of another system',
    of: 'byCutPoint',
    change: put('valueCodeableConcept.coding.0.system', SNOMED),
  },
  {
    name: 'I6: value is in words',
    of: 'byCutPoint',
    change: put('valueCodeableConcept', { text: 'not reduced' }),
  },
  {
    name: 'I6: value has one more of our codes',
    of: 'byCutPoint',
    change: put('valueCodeableConcept', grip('not-reduced', 'source-band')),
  },
  {
    name: 'I6: value is reduced and not-reduced',
    of: 'reduced',
    change: put('valueCodeableConcept', grip('reduced', 'not-reduced')),
  },
  {
    name: 'I6: value is a string',
    of: 'byCutPoint',
    change: instead('valueCodeableConcept', 'valueString', 'not-reduced'),
  },
  {
    name: 'I6: value is a boolean',
    of: 'byCutPoint',
    change: instead('valueCodeableConcept', 'valueBoolean', false),
  },
  {
    name: 'I6: value is the figure',
    of: 'byCutPoint',
    change: instead('valueCodeableConcept', 'valueQuantity', ucum(36.2, 'kgf')),
  },
  { name: 'I7: has neither value nor reason', of: 'notRead', change: drop('dataAbsentReason') },
  {
    name: 'I7: has a reason beside the value',
    of: 'byCutPoint',
    change: put('dataAbsentReason', absent('unknown')),
  },
  {
    name: 'I7: reason is in words',
    of: 'notRead',
    change: put('dataAbsentReason', { text: 'No usable age.' }),
  },
  {
    name: 'I7: reason is of our system',
    of: 'notRead',
    change: put('dataAbsentReason.coding.0.system', GRIP_CODES),
  },
  {
    name: 'I7: reason is a code that the system does not have',
    of: 'notRead',
    change: put('dataAbsentReason.coding.0.code', 'no-sex'),
  },
  {
    name: 'I7: has two reasons',
    of: 'notRead',
    change: put('dataAbsentReason', absent('unknown', 'not-applicable')),
  },
  { name: 'I7: has no note beside the reason', of: 'notRead', change: drop('note') },

  // I8
  { name: 'I8: reduced has no flag', of: 'reduced', change: drop('interpretation') },
  { name: 'I8: reduced has the flag N', of: 'reduced', change: put('interpretation.0.coding.0.code', 'N') },
  { name: 'I8: reduced has the flag LL', of: 'reduced', change: put('interpretation.0.coding.0.code', 'LL') },
  {
    name: 'I8: flag is of HL7 version 2',
    of: 'reduced',
    change: put('interpretation.0.coding.0.system', 'http://terminology.hl7.org/CodeSystem/v2-0078'),
  },
  { name: 'I8: flag is in words', of: 'reduced', change: put('interpretation.0', { text: 'low' }) },
  { name: 'I8: has two flags', of: 'reduced', change: add('interpretation', flag('L')) },
  {
    name: 'I8: flag has two codings',
    of: 'reduced',
    change: add('interpretation.0.coding', { system: 'https://ehr.example/flags', code: 'LOW' }),
  },
  {
    name: 'I8: not reduced by a norm has the flag L',
    of: 'notReduced',
    change: put('interpretation.0.coding.0.code', 'L'),
  },
  { name: 'I8: not reduced by a norm has no flag', of: 'notReduced', change: drop('interpretation') },
  {
    name: 'I8: not reduced by a cut-point has the flag N',
    of: 'byCutPoint',
    change: put('interpretation', [flag('N')]),
  },
  {
    name: 'I8: not reduced by a cut-point has the flag H',
    of: 'byCutPoint',
    change: put('interpretation', [flag('H')]),
  },
  { name: 'I8: absent value has the flag L', of: 'bothColumns', change: put('interpretation', [flag('L')]) },
  { name: 'I8: absent value has the flag N', of: 'notRead', change: put('interpretation', [flag('N')]) },

  // I9
  { name: 'I9: value has no range', of: 'reduced', change: drop('referenceRange') },
  {
    name: 'I9: value has two ranges',
    of: 'reduced',
    change: add('referenceRange', { ...range, text: 'Another row' }),
  },
  { name: 'I9: absent value has a range', of: 'notRead', change: put('referenceRange', [range]) },

  // I10
  { name: 'I10: range has no text', of: 'reduced', change: drop('referenceRange.0.text') },
  { name: 'R4: range has neither limit nor text', of: 'byCutPoint', change: drop('referenceRange.0.text') },
  {
    name: 'I10: range of a column has no text',
    of: 'bothColumns',
    change: drop('component.0.referenceRange.0.text'),
  },
  { name: 'I10: range has no type', of: 'reduced', change: drop('referenceRange.0.type') },
  {
    name: 'I10: range has the type recommended',
    of: 'reduced',
    change: put('referenceRange.0.type.coding.0.code', 'recommended'),
  },
  {
    name: 'I10: type of the range is in words',
    of: 'byCutPoint',
    change: put('referenceRange.0.type', { text: 'normal' }),
  },
  {
    name: 'I10: type of the range of a column is of another system',
    of: 'bothColumns',
    change: put('component.1.referenceRange.0.type.coding.0.system', GRIP_CODES),
  },
  { name: 'I10: range has no sex', of: 'reduced', change: drop('referenceRange.0.appliesTo') },
  {
    name: 'I10: range is of a race',
    of: 'notReduced',
    change: put('referenceRange.0.appliesTo', [{ text: 'Any race' }]),
  },
  {
    name: 'I10: range is of women and men in two items',
    of: 'reduced',
    change: add('referenceRange.0.appliesTo', concept(SNOMED, '248152002')),
  },
  {
    name: 'I10: range is of women and men in one item',
    of: 'reduced',
    change: add('referenceRange.0.appliesTo.0.coding', { system: SNOMED, code: '248152002' }),
  },
  {
    name: 'I10: sex of the range is an administrative gender',
    of: 'reduced',
    change: put('referenceRange.0.appliesTo.0', concept('http://hl7.org/fhir/administrative-gender', 'male')),
  },
  {
    name: 'I10: range is of the pregnant',
    of: 'notReduced',
    change: put('referenceRange.0.appliesTo.0', concept(SNOMED, '77386006')),
  },

  // I11
  { name: 'I11: range has no age', of: 'reduced', change: drop('referenceRange.0.age') },
  { name: 'I11: age has no low end', of: 'reduced', change: drop('referenceRange.0.age.low') },
  {
    name: 'I11: low end of the age has no number',
    of: 'notReduced',
    change: drop('referenceRange.0.age.low.value'),
  },
  {
    name: 'I11: low end of the age is below zero',
    of: 'notReduced',
    change: put('referenceRange.0.age.low.value', -1),
  },
  {
    name: 'I11: low end of the age is in months',
    of: 'notReduced',
    change: put('referenceRange.0.age.low.code', 'mo'),
  },
  {
    name: 'I11: low end of the age has no system',
    of: 'notReduced',
    change: drop('referenceRange.0.age.low.system'),
  },
  {
    name: 'I11: low end of the age has its unit in words',
    of: 'notReduced',
    change: drop('referenceRange.0.age.low.code'),
  },
  {
    name: 'I11: high end of the age is below the low end',
    of: 'reduced',
    change: put('referenceRange.0.age.high.value', 69),
  },
  {
    name: 'I11: high end of the age is in months',
    of: 'reduced',
    change: put('referenceRange.0.age.high', ucum(888, 'mo')),
  },
  {
    name: 'I11: high end of the age is of another system',
    of: 'reduced',
    change: put('referenceRange.0.age.high.system', SNOMED),
  },
  {
    name: 'I11: range of a column has no age',
    of: 'bothColumns',
    change: drop('component.1.referenceRange.0.age'),
  },
  {
    name: 'I11: age of a column is upside down',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.age.high.value', 60),
  },

  // I12
  { name: 'I12: range has a high end', of: 'reduced', change: put('referenceRange.0.high', ucum(50, 'kgf')) },
  {
    name: 'I12: range has its limit as the high end',
    of: 'byCutPoint',
    change: put('referenceRange.0.high', ucum(27, 'kgf')),
  },
  {
    name: 'I12: range of a column has a high end',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.high', ucum(40, 'kgf')),
  },
  { name: 'I12: limit is 0', of: 'reduced', change: put('referenceRange.0.low.value', 0) },
  { name: 'I12: limit is negative', of: 'notReduced', change: put('referenceRange.0.low.value', -9.2) },
  { name: 'I12: limit has no number', of: 'reduced', change: drop('referenceRange.0.low.value') },
  {
    name: 'I12: limit has a comparator',
    of: 'reduced',
    change: put('referenceRange.0.low.comparator', '<='),
  },
  {
    name: 'I12: limit is in kilograms of mass',
    of: 'reduced',
    change: put('referenceRange.0.low.code', 'kg'),
  },
  { name: 'I12: limit is over a metre', of: 'notReduced', change: put('referenceRange.0.low.code', 'kgf/m') },
  { name: 'I12: limit is in kg/m2', of: 'notReduced', change: put('referenceRange.0.low.code', 'kg/m2') },
  {
    name: 'I12: unit of the limit has no system',
    of: 'reduced',
    change: drop('referenceRange.0.low.system'),
  },
  { name: 'I12: unit of the limit is in words', of: 'reduced', change: drop('referenceRange.0.low.code') },
  {
    name: 'I12: limit of a column is in pounds of mass',
    of: 'bothColumns',
    change: put('component.1.referenceRange.0.low.code', '[lb_av]'),
  },

  // I13
  {
    name: 'I13: a component has a code of a trial',
    of: 'reduced',
    change: add('component', { code: grip('handle-position'), valueInteger: 2 }),
  },
  {
    name: 'I13: a component has a code in words',
    of: 'byCutPoint',
    change: put('component.0.code', { text: 'Band of the source' }),
  },
  {
    name: 'I13: a component is of another system',
    of: 'byCutPoint',
    change: put('component.0.code.coding.0.system', 'https://ehr.example/parts'),
  },
  {
    name: 'I13: a component has two codes',
    of: 'byCutPoint',
    change: put('component.0.code', grip('source-band', 'centile-place')),
  },
  { name: 'I13: a component has no value', of: 'byCutPoint', change: drop('component.0.valueString') },
  {
    name: 'I13: a component has a reason for an absent value',
    of: 'byCutPoint',
    change: instead('component.0.valueString', 'component.0.dataAbsentReason', absent('unknown')),
  },
  {
    name: 'I13: a component has a reason beside its value',
    of: 'notReduced',
    change: put('component.0.dataAbsentReason', absent('unknown')),
  },
  {
    name: 'I13: a component has a modifier extension',
    of: 'byCutPoint',
    change: add('component.0.modifierExtension', { url: EXTENSION, valueBoolean: true }),
  },

  // I14: components of `reduced` are z-score and percentile
  { name: 'I14: z-score stands alone', of: 'reduced', change: drop('component.1') },
  { name: 'I14: percentile stands alone', of: 'reduced', change: drop('component.0') },
  {
    name: 'I14: z-score stands twice',
    of: 'reduced',
    change: add('component', { code: grip('z-score'), valueQuantity: ucum(-2.1, '{z-score}') }),
  },
  {
    name: 'I14: percentile stands twice',
    of: 'reduced',
    change: add('component', { code: grip('percentile'), valueQuantity: ucum(1.7, '%') }),
  },
  {
    name: 'I14: z-score is text',
    of: 'reduced',
    change: instead('component.0.valueQuantity', 'component.0.valueString', '-2.13'),
  },
  { name: 'I14: z-score has no number', of: 'reduced', change: drop('component.0.valueQuantity.value') },
  {
    name: 'I14: z-score is in the unit 1',
    of: 'reduced',
    change: put('component.0.valueQuantity.code', '1'),
  },
  {
    name: 'I14: z-score is not in UCUM',
    of: 'reduced',
    change: put('component.0.valueQuantity.system', 'https://ehr.example/units'),
  },
  {
    name: 'I14: z-score has a comparator',
    of: 'reduced',
    change: put('component.0.valueQuantity.comparator', '<'),
  },
  { name: 'I14: percentile is 101', of: 'reduced', change: put('component.1.valueQuantity.value', 101) },
  { name: 'I14: percentile is below 0', of: 'reduced', change: put('component.1.valueQuantity.value', -0.5) },
  { name: 'I14: percentile has no number', of: 'reduced', change: drop('component.1.valueQuantity.value') },
  {
    name: 'I14: percentile is an integer',
    of: 'reduced',
    change: instead('component.1.valueQuantity', 'component.1.valueInteger', 2),
  },
  {
    name: 'I14: percentile is in a unit of our own',
    of: 'reduced',
    change: put('component.1.valueQuantity.code', '{percentile}'),
  },
  {
    name: 'I14: percentile has a comparator',
    of: 'reduced',
    change: put('component.1.valueQuantity.comparator', '>'),
  },
  {
    name: 'I14: percentile has a unit without a system',
    of: 'reduced',
    change: drop('component.1.valueQuantity.system'),
  },
  {
    name: 'I14: place among centiles stands twice',
    of: 'notReduced',
    change: add('component', { code: grip('centile-place'), valueString: 'above the 25th' }),
  },
  {
    name: 'I14: band of the source stands twice',
    of: 'byCutPoint',
    change: add('component', { code: grip('source-band'), valueString: 'average' }),
  },
  {
    name: 'I14: place among centiles is a concept',
    of: 'notReduced',
    change: instead('component.0.valueString', 'component.0.valueCodeableConcept', {
      text: 'between the 25th and the 50th',
    }),
  },
  {
    name: 'I14: band of the source is a quantity',
    of: 'byCutPoint',
    change: instead('component.0.valueString', 'component.0.valueQuantity', { value: 2 }),
  },
  {
    name: 'I14: band of the source is beside no value',
    of: 'notRead',
    change: add('component', { code: grip('source-band'), valueString: 'weak' }),
  },
  {
    name: 'I14: place among centiles is beside no value',
    of: 'bothColumns',
    change: add('component', { code: grip('centile-place'), valueString: 'below the 5th' }),
  },
  {
    name: 'I14: z-score and percentile are beside no value',
    of: 'notRead',
    change: put('component', [
      { code: grip('z-score'), valueQuantity: ucum(0, '{z-score}') },
      { code: grip('percentile'), valueQuantity: ucum(50, '%') },
    ]),
  },

  // I15: components of `bothColumns` are column-female and column-male
  {
    name: 'I15: a column is beside a value',
    of: 'reduced',
    change: add('component', { ...columnMale, referenceRange: [range] }),
  },
  {
    name: 'I15: column has no words',
    of: 'bothColumns',
    change: drop('component.0.valueCodeableConcept.text'),
  },
  {
    name: 'I15: column has words only',
    of: 'bothColumns',
    change: drop('component.1.valueCodeableConcept.coding'),
  },
  {
    name: 'I15: column says a code that we do not have',
    of: 'bothColumns',
    change: put('component.0.valueCodeableConcept.coding.0.code', 'borderline'),
  },
  {
    name: 'I15: column says reduced of another system',
    of: 'bothColumns',
    change: put('component.1.valueCodeableConcept.coding.0.system', SNOMED),
  },
  {
    name: 'I15: column says reduced and not-reduced',
    of: 'bothColumns',
    change: add('component.1.valueCodeableConcept.coding', { system: GRIP_CODES, code: 'not-reduced' }),
  },
  {
    name: 'I15: column is text',
    of: 'bothColumns',
    change: instead('component.1.valueCodeableConcept', 'component.1.valueString', 'reduced'),
  },
  {
    name: 'I15: column is a boolean',
    of: 'bothColumns',
    change: instead('component.0.valueCodeableConcept', 'component.0.valueBoolean', false),
  },
  { name: 'I15: column has no range', of: 'bothColumns', change: drop('component.0.referenceRange') },
  {
    name: 'I15: column has two ranges',
    of: 'bothColumns',
    change: add('component.1.referenceRange', { ...range, text: 'Another row' }),
  },
  {
    name: 'I15: column for women has the range of men',
    of: 'bothColumns',
    change: put('component.0.referenceRange.0.appliesTo', [concept(SNOMED, '248153007')]),
  },
  {
    name: 'I15: column for men has the range of women',
    of: 'bothColumns',
    change: put('component.1.referenceRange.0.appliesTo', [concept(SNOMED, '248152002')]),
  },
  {
    name: 'I15: column has a flag',
    of: 'bothColumns',
    change: put('component.1.interpretation', [flag('L')]),
  },
]);
