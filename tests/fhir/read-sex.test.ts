/** Which column may be read (STANDARDS FS1 to FS3): precedence, four generations of extensions, no default. */
import { describe, expect, it } from 'vitest';
import type { Extension, PatientResource } from '../../src/fhir/forms.ts';
import { readSex } from '../../src/fhir/read-sex.ts';

const SNOMED = 'http://snomed.info/sct';
const FEMALE = '248152002';
const MALE = '248153007';
const TESTED = ['2026-11-16'];

const usCore = (name: string, value: Partial<Extension>): Extension => ({
  url: `http://hl7.org/fhir/us/core/StructureDefinition/${name}`,
  ...value,
});

/** Sex parameter for clinical use, with a period or without. */
function forClinicalUse(code: string, period?: { start?: string; end?: string }): Extension {
  const system = 'http://terminology.hl7.org/CodeSystem/sex-parameter-for-clinical-use';
  return {
    url: 'http://hl7.org/fhir/StructureDefinition/patient-sexParameterForClinicalUse',
    extension: [
      { url: 'value', valueCodeableConcept: { coding: [{ system, code }] } },
      ...(period ? [{ url: 'period', valuePeriod: period }] : []),
    ],
  };
}

function patient(gender?: PatientResource['gender'], ...extension: Extension[]): PatientResource {
  return { resourceType: 'Patient', id: 'invented-1', ...(gender ? { gender } : {}), extension };
}

describe('Patient.gender', () => {
  it.each(['female', 'male'] as const)(
    '%s is used when nothing else is said, and named as administrative',
    (gender) => {
      expect(readSex(patient(gender), [], TESTED)).toEqual({ sex: gender, source: 'administrative-gender' });
    },
  );

  it.each(['other', 'unknown'] as const)('%s gives no sex (FS2)', (gender) => {
    expect(readSex(patient(gender), [], TESTED)).toEqual({ sex: null, source: 'administrative-gender' });
  });

  it('that is absent gives no sex, and never a default (FS2)', () => {
    expect(readSex(patient(), [], TESTED)).toEqual({ sex: null, source: 'not-recorded' });
  });
});

describe('the US Core extensions (FS3)', () => {
  it.each([
    ['us-core-birthsex', { valueCode: 'F' }, 'female'],
    ['us-core-birthsex', { valueCode: 'M' }, 'male'],
    ['us-core-birthsex', { valueCode: 'UNK' }, null],
    ['us-core-sex', { valueCode: FEMALE }, 'female'],
    ['us-core-sex', { valueCode: MALE }, 'male'],
    ['us-core-sex', { valueCode: 'unknown' }, null],
    ['us-core-sex', { valueCoding: { system: SNOMED, code: FEMALE } }, 'female'],
    ['us-core-sex', { valueCoding: { system: SNOMED, code: MALE } }, 'male'],
    ['us-core-sex', { valueCoding: { system: 'https://codes.example', code: MALE } }, null],
    ['us-core-sex', { valueCoding: { code: MALE } }, null],
    ['us-core-individual-sex', { valueCoding: { system: SNOMED, code: FEMALE } }, 'female'],
    ['us-core-individual-sex', { valueCoding: { system: SNOMED, code: MALE } }, 'male'],
    ['us-core-individual-sex', {}, null],
  ] as const)('%s with %j reads as %s', (name, value, sex) => {
    expect(readSex(patient(undefined, usCore(name, value)), [], TESTED)).toEqual({ sex, source: name });
  });

  it('are named before the administrative gender that agrees with them', () => {
    const both = patient('female', usCore('us-core-birthsex', { valueCode: 'F' }));
    expect(readSex(both, [], TESTED)).toEqual({ sex: 'female', source: 'us-core-birthsex' });
  });

  it('that disagree with the gender or with each other give no sex (FS2)', () => {
    const disagree = { sex: null, source: 'sources-disagree' };
    const birthsex = usCore('us-core-birthsex', { valueCode: 'M' });
    expect(readSex(patient('female', birthsex), [], TESTED)).toEqual(disagree);
    expect(readSex(patient('other', birthsex), [], TESTED)).toEqual(disagree);
    const sex = usCore('us-core-sex', { valueCode: FEMALE });
    expect(readSex(patient(undefined, birthsex, sex), [], TESTED)).toEqual(disagree);
    expect(readSex(patient(undefined, sex, usCore('us-core-sex', { valueCode: MALE })), [], TESTED)).toEqual(
      disagree,
    );
  });

  it('of other things are not read', () => {
    const genderIdentity = usCore('us-core-genderIdentity', {
      valueCodeableConcept: { coding: [{ code: MALE }] },
    });
    expect(readSex(patient('female', genderIdentity), [], TESTED).sex).toBe('female');
  });
});

describe('the sex parameter for clinical use (FS1)', () => {
  const source = 'sex-parameter-for-clinical-use';

  it.each([
    ['female-typical', 'female'],
    ['male-typical', 'male'],
    ['specified', null],
    ['unknown', null],
  ])('%s reads as %s', (code, sex) => {
    expect(readSex(patient('male', forClinicalUse(code)), [], TESTED)).toEqual({ sex, source });
  });

  it('on the Patient goes before gender and the US Core extensions', () => {
    const said = patient(
      'male',
      usCore('us-core-sex', { valueCode: MALE }),
      forClinicalUse('female-typical'),
    );
    expect(readSex(said, [], TESTED)).toEqual({ sex: 'female', source });
  });

  it('on an Observation goes before the one on the Patient', () => {
    const said = patient('female', forClinicalUse('female-typical'));
    expect(readSex(said, [[], [forClinicalUse('male-typical')]], TESTED)).toEqual({ sex: 'male', source });
  });

  it('that is said twice alike is one, and twice differently is none (FS2)', () => {
    const alike = [[forClinicalUse('male-typical')], [forClinicalUse('male-typical')]];
    expect(readSex(patient(), alike, TESTED)).toEqual({ sex: 'male', source });
    const differently = [[forClinicalUse('male-typical')], [forClinicalUse('female-typical')]];
    expect(readSex(patient('male'), differently, TESTED)).toEqual({ sex: null, source: 'sources-disagree' });
  });

  it('in another code system, or without a value, gives no sex', () => {
    const elsewhere = forClinicalUse('male-typical');
    const [value] = elsewhere.extension ?? [];
    if (value)
      value.valueCodeableConcept = { coding: [{ system: 'https://codes.example', code: 'male-typical' }] };
    expect(readSex(patient('male', elsewhere), [], TESTED).sex).toBeNull();
    expect(readSex(patient('male', { url: elsewhere.url }), [], TESTED).sex).toBeNull();
  });

  it.each([
    ['without dates', {}, true],
    ['that began on the day of the test', { start: '2026-11-16' }, true],
    ['that ended on the day of the test', { end: '2026-11-16T08:00:00Z' }, true],
    ['around the test', { start: '2020', end: '2026-12-31' }, true],
    ['that began after the test', { start: '2026-11-17' }, false],
    ['that ended before the test', { end: '2026-11-15' }, false],
  ])('with a period %s counts: %s -> %s', (_what, period, counts) => {
    const said = patient('male', forClinicalUse('female-typical', period));
    expect(readSex(said, [], TESTED).sex === 'female').toBe(counts);
  });

  it('that covers only some of the sittings counts for none', () => {
    const said = patient('male', forClinicalUse('female-typical', { start: '2026-10-01' }));
    expect(readSex(said, [], ['2026-08-20', '2026-11-16']).sex).not.toBe('female');
  });
});
