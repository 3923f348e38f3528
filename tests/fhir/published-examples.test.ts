/** Examples that HL7 publishes (tests/outside/fhir-r4-examples/SOURCE.md) through both doors of the real service. */
import { readdirSync, readFileSync } from 'node:fs';
import type { Bundle, FhirResource, Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_LOINC, LOINC } from '../../src/fhir/codes.ts';
import {
  bundleOf,
  coded,
  collection,
  FHIR_DOOR,
  HOOK_DOOR,
  hookCallOf,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
} from '../fixtures.ts';
import { judgeByJsonSchema } from '../profiles/judges.ts';
import {
  codesOf,
  issuesOf,
  openForTests,
  refusalsOf,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

const FOLDER = new URL('../outside/fhir-r4-examples/', import.meta.url);
const examples = readdirSync(FOLDER)
  .filter((name) => name.endsWith('.json'))
  .map((name): readonly [string, FhirResource] => [
    name.replace('.json', ''),
    JSON.parse(readFileSync(new URL(name, FOLDER), 'utf8')),
  ]);

function ofType<T extends FhirResource['resourceType']>(type: T) {
  return examples.filter(
    (each): each is readonly [string, Extract<FhirResource, { resourceType: T }>] =>
      each[1].resourceType === type,
  );
}

const observations = ofType('Observation');

let service: TestService;
/** Replies to our own fixtures: words that stand in them are no echo of an example. */
let ownReplies = '';
beforeAll(async () => {
  service = await openForTests();
  const others = SIX_TRIALS.map((trial) => ({ ...trial, subject: { reference: 'Patient/other' } }));
  for (const list of [SIX_TRIALS, others, []])
    for (const [, path, body] of everyWay(PATIENT, list)) ownReplies += (await service.post(path, body)).text;
});
afterAll(() => service.close());

/** Every way in with these Observations and nothing else. */
function everyWay(patient: Patient, list: readonly Observation[], others: readonly FhirResource[] = []) {
  const devices = others.map((resource) => ({ name: 'device', resource }));
  const hook = hookCallOf(patient, list);
  (hook.prefetch.grip as Bundle).entry?.push(...others.map((resource) => ({ resource })));
  return [
    ['Bundle', FHIR_DOOR.path, collection([patient, ...list, ...others])],
    ['Parameters', FHIR_DOOR.path, parametersOf(patient, list, devices)],
    ['hook', HOOK_DOOR.path, hook],
  ] as const;
}

/** Names, identifiers, addresses, notes and narrative: what no reply may repeat. */
function privateTexts(example: FhirResource): readonly string[] {
  const found = new Set<string>();
  const collect = (value: unknown, isPrivate: boolean) => {
    if (typeof value === 'string') {
      // Digits alone could stand in any of the identifiers that a reply makes up.
      if (isPrivate && value.length >= (/^\d+$/.test(value) ? 8 : 5)) found.add(value);
    } else if (Array.isArray(value)) for (const each of value) collect(each, isPrivate);
    else if (typeof value === 'object' && value !== null)
      for (const [name, inner] of Object.entries(value)) {
        // Single short words of a narrative (LOINC, female) stand in replies of our own as well.
        if (name === 'div')
          for (const each of String(inner).split(/<[^>]*>/))
            collect(each, each.length > 9 && /\S \S/.test(each));
        else if (name === 'system' || name === 'use') continue;
        else collect(inner, isPrivate || PRIVATE.has(name));
      }
  };
  collect(example, false);
  return [...found];
}

const PRIVATE = new Set([
  'name',
  'identifier',
  'telecom',
  'address',
  'note',
  'contact',
  'performer',
  'generalPractitioner',
  'managingOrganization',
  'valueString',
  'url',
]);

function expectNoEcho(reply: { text: string }, example: FhirResource): void {
  const echoed = privateTexts(example).filter(
    (text) => reply.text.includes(text) && !ownReplies.includes(text),
  );
  expect(echoed).toEqual([]);
}

describe('the examples', () => {
  it('are as many as their source says, and the texts that must not be repeated are found in them', () => {
    const counts = ['Observation', 'Patient', 'Device', 'DeviceMetric', 'Bundle', 'Parameters'] as const;
    expect(counts.map((type) => ofType(type).length)).toEqual([29, 7, 2, 1, 3, 1]);
    const texts = examples.flatMap(([, example]) => privateTexts(example));
    for (const text of [
      'van de Heuvel',
      'A. Langeveld',
      '444222222',
      'Bos en Lommerplein 280',
      'Generated Narrative',
    ])
      expect(texts).toContain(text);
  });

  it.each(examples)('%s is R4 by the JSON schema', (_name, example) => {
    expect(judgeByJsonSchema(example)).toEqual([]);
  });
});

describe('an Observation of somebody else', () => {
  it.each(observations)(
    '%s is refused where its subject is, and nothing of it is repeated',
    async (_name, example) => {
      for (const [way, path, body] of everyWay(PATIENT, [...SIX_TRIALS, example])) {
        const reply = await service.post(path, body);
        expectNoEcho(reply, example);
        if (!example.subject) {
          // Only `decimal` says of nobody that it is theirs: it is left out, since its code is not read.
          expect([example.id, reply.status], way).toEqual(['decimal', 200]);
          continue;
        }
        expect(reply.status, way).toBe(400);
        expect(codesOf(reply)).toEqual(['PATIENT_MISMATCH']);
        expect(issuesOf(reply)[0]?.expression?.[0], way).toMatch(/\[\d+\]\.resource\.subject\.reference$/);
      }
    },
  );
});

/** Other than by its code a trial of the right hand, of our patient. */
const asOwn = (example: Observation): Observation => ({
  ...example,
  subject: { reference: `Patient/${PATIENT.id}` },
});
const asTrial = (example: Observation): Observation => ({
  ...asOwn(example),
  code: coded([LOINC, GRIP_LOINC.right]),
});

/** The measures that are read; weight, height and body mass index were taken years before the trials. */
const MEASURES = ['observation-example', 'observation-example-bmi', 'observation-example-body-height'];

describe('an Observation of the patient beside six trials', () => {
  it.each(observations)('%s changes no result, and nothing of it is repeated', async (name, example) => {
    await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
    const alone = verdictsOf(service.last());
    expect(alone.length).toBeGreaterThan(0);
    for (const [way, path, body] of everyWay(PATIENT, [...SIX_TRIALS, asOwn(example)])) {
      const reply = await service.post(path, body);
      expect(reply.status, way).toBe(200);
      expectNoEcho(reply, example);
      expect(verdictsOf(service.last()), way).toEqual(alone);
      const refused = refusalsOf(service.last()).filter(({ trial }) => trial === `Observation/${example.id}`);
      expect(
        refused.map(({ code }) => code),
        way,
      ).toEqual(MEASURES.includes(name) ? [] : ['CODE_NOT_GRIP']);
    }
  });
});

/** Why an example is no trial even under the code of one, by what the reader meets first. */
const REFUSED_AS_TRIAL: Readonly<Record<string, readonly string[]>> = {
  STATUS_NOT_USABLE: ['bloodpressure-cancel', 'f202-temperature', 'unsat'],
  MODIFIER_UNKNOWN: ['trachcare'],
  TIME_MISSING: ['decimal', 'f204-creatinine', 'f205-egfr', 'f206-staphylococcus'],
  VALUE_ABSENT: [
    'abdo-tender',
    'alcohol-type',
    'bloodpressure-dar',
    'clinical-gender',
    'date-lastmp',
    'eye-color',
    'rhstatus',
    'sample-data',
    'secondsmoke',
  ],
  UNIT_UNKNOWN: [
    'bmi',
    'body-height',
    'body-temperature',
    'f001-glucose',
    'f002-excess',
    'heart-rate',
    'herd1',
    'map-sitting',
    'mbp',
    'satO2',
  ],
};
/** 185 pounds: the one example that could be a grip strength. */
const READ_AS_TRIAL = 'observation-example';

function refusedAsTrial(name: string): readonly string[] {
  const short = name.replace(/^observation-(?:example-)?/, '');
  // A panel: under that code its four members, which were not sent, would be of grip.
  if (short === 'vitals-panel') return Array(4).fill('MEMBER_MISSING');
  return Object.entries(REFUSED_AS_TRIAL).flatMap(([code, names]) => (names.includes(short) ? [code] : []));
}

describe('an Observation under the code of a grip trial', () => {
  it.each(observations)(
    '%s is refused for what it says, and nothing of it is repeated',
    async (name, example) => {
      for (const [way, path, body] of everyWay(PATIENT, [...SIX_TRIALS, asTrial(example)])) {
        const reply = await service.post(path, body);
        expect(reply.status, way).toBe(200);
        expectNoEcho(reply, example);
        const refused = refusalsOf(service.last()).filter(
          ({ trial }) => trial === `Observation/${example.id}`,
        );
        expect(
          refused.map(({ code }) => code),
          way,
        ).toEqual(refusedAsTrial(name));
        const trials = service.last().content.input.sessions.flatMap((session) => session.trials);
        expect(trials, way).toHaveLength(name === READ_AS_TRIAL ? 7 : 6);
      }
    },
  );
});

/** What keeps the six trials of an example from being interpreted, where something does. */
const PATIENTS: Readonly<Record<string, string>> = {
  'patient-example-infant-fetal': 'BIRTH_DATE_MISSING',
  // Nine years old: 31 kg is more than such hands hold.
  'patient-example-infant-twin-1': 'UNIT_IMPLAUSIBLE',
  'patient-example-newborn': 'UNIT_IMPLAUSIBLE',
};

describe('a Patient', () => {
  it.each(ofType('Patient'))('%s is read, and nothing of it is repeated', async (name, example) => {
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, subject: { reference: `Patient/${example.id}` } }));
    for (const [way, path, body] of everyWay(example, trials)) {
      const reply = await service.post(path, body);
      expect(reply.status, way).toBe(200);
      expectNoEcho(reply, example);
      const codes = new Set(refusalsOf(service.last()).map(({ code }) => code));
      const expected = PATIENTS[name];
      if (expected) expect(codes, way).toContain(expected);
      else expect(verdictsOf(service.last()).length, way).toBeGreaterThan(0);
    }
  });
});

describe('an instrument', () => {
  it.each([...ofType('Device'), ...ofType('DeviceMetric')])(
    '%s as that of the trials is read, changes no result, and nothing of it is repeated',
    async (_name, example) => {
      await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
      const alone = verdictsOf(service.last());
      const device = { reference: `${example.resourceType}/${example.id}` };
      const trials = SIX_TRIALS.map((trial) => ({ ...trial, device }));
      for (const [way, path, body] of everyWay(PATIENT, trials, [example])) {
        const reply = await service.post(path, body);
        expect(reply.status, way).toBe(200);
        expectNoEcho(reply, example);
        expect(verdictsOf(service.last()), way).toEqual(alone);
      }
    },
  );

  it('devicemetric-example gives its calibration, which was ten years before the trials', async () => {
    const device = { reference: 'DeviceMetric/example' };
    const [, example] = ofType('DeviceMetric')[0] ?? [];
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, device }));
    await service.post(FHIR_DOOR.path, collection([PATIENT, ...trials, example as FhirResource]));
    expect(JSON.stringify(service.last().content.input)).toContain('"calibratedOn":"2016-12-28"');
  });
});

describe('a Bundle or Parameters as it is', () => {
  it.each<[string, string, string | undefined]>([
    // MedicationRequest and Medication only.
    ['bundle-example', 'PATIENT_MISSING', undefined],
    // An OperationOutcome only.
    ['bundle-search-warning', 'PATIENT_MISSING', undefined],
    // Four Patients.
    ['bundle-references', 'PATIENT_MISMATCH', 'Bundle.entry[1].resource'],
    ['parameters-example', 'BODY_INVALID', 'Parameters.parameter[0].name'],
  ])('%s is answered with 400 %s, and nothing of it is repeated', async (name, code, expression) => {
    const example = examples.find(([each]) => each === name)?.[1] as FhirResource;
    const reply = await service.post(FHIR_DOOR.path, example);
    expect(reply.status).toBe(400);
    expect(new Set(codesOf(reply))).toEqual(new Set([code]));
    expect(issuesOf(reply)[0]?.expression?.[0]).toBe(expression);
    expectNoEcho(reply, example);
  });

  it.each(ofType('Bundle'))('%s as the prefetch of a hook call is never a failure', async (name, example) => {
    const reply = await service.post(HOOK_DOOR.path, {
      ...hookCallOf(PATIENT, []),
      prefetch: { patient: PATIENT, grip: example },
    });
    const isForeign = name === 'bundle-references';
    expect(reply.status).toBe(isForeign ? 400 : 200);
    if (isForeign) expect(codesOf(reply)).toEqual(['PATIENT_MISMATCH']);
    expectNoEcho(reply, example);
  });
});
