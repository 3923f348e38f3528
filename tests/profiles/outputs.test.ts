/**
 * What the service writes, and what its tests give it to read, is valid FHIR by judges that this project did not
 * write; Observations of ours follow their profile.
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Observation, Patient, Resource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_CODES, LOINC, SNOMED } from '../../src/fhir/codes.ts';
import {
  broken,
  bundleOf,
  coded,
  FHIR_DOOR,
  HOOK_DOOR,
  hookCallOf,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
  sitting,
  TRIAL,
} from '../fixtures.ts';
import { HEIGHT, handedness, measureOf, RIGHT_HANDED, WEIGHT } from '../measure-fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';
import { profileOf } from './definitions.ts';
import { allIn, expectValid, judge, profileByCode } from './judges.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** Every resource in it, each by its profile where it has one. Names the first that is not valid. */
function expectAllValid(resource: unknown, what: string): void {
  for (const each of allIn(resource as Resource)) {
    expectValid(each, profileByCode(each), `${what}: ${each.resourceType}`);
  }
}

const WOMAN: Patient = { ...PATIENT, gender: 'female' };
const OF_NO_SEX: Patient = { ...PATIENT, gender: 'unknown' };
const CHILD: Patient = { ...PATIENT, gender: 'female', birthDate: '2015-05-02' };
const RECORD = [
  ...SIX_TRIALS,
  WEIGHT,
  HEIGHT,
  measureOf('gait-speed', 0.7, 'm/s'),
  measureOf('five-chair-rises', 17, 's'),
  handedness(RIGHT_HANDED),
];
const OWN_BASELINE = SIX_TRIALS.map((trial, index) =>
  index < 3
    ? trial
    : { ...trial, component: [{ code: coded([GRIP_CODES, 'own-baseline']), valueBoolean: true }] },
);
const DONE_ALIKE = SIX_TRIALS.map(
  (trial): Observation => ({
    ...trial,
    extension: [
      {
        url: 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition',
        valueCodeableConcept: coded([SNOMED, '10904000']),
      },
    ],
    component: [
      { code: coded([GRIP_CODES, 'handle-position']), valueInteger: 3 },
      {
        code: coded([GRIP_CODES, 'arm-position']),
        valueCodeableConcept: coded([GRIP_CODES, 'elbow-straight']),
      },
    ],
  }),
);
const REFUSED: readonly Observation[] = [
  broken(TRIAL, 'status', 'entered-in-error'),
  broken({ ...TRIAL, id: 't2' }, 'code', coded([LOINC, '8867-4'])),
  broken({ ...TRIAL, id: 't3' }, 'bodySite', coded([SNOMED, '7771000'])),
  broken({ ...TRIAL, id: 't4' }, 'valueQuantity.code', 'lbs'),
  broken({ ...TRIAL, id: 't5' }, 'valueQuantity.comparator', '>'),
  broken({ ...TRIAL, id: 't6' }, 'effectiveDateTime', '2026'),
  broken({ ...TRIAL, id: 't7' }, 'valueQuantity', undefined),
  broken({ ...TRIAL, id: 't8' }, 'subject', undefined),
  { ...TRIAL, id: 't9', modifierExtension: [{ url: 'https://ehr.example/negated', valueBoolean: true }] },
];
const withoutIds = SIX_TRIALS.map((trial) => broken(trial, 'id', undefined));
const byDate = sitting([31, 32, 30], [28, 29, 28.5], { at: '2026-11-16' });

/** Who, and what the record holds. */
const PEOPLE: Readonly<Record<string, readonly [Patient, readonly Observation[]]>> = {
  'a man and all that a set may ask for': [PATIENT, RECORD],
  'a woman, not reduced': [WOMAN, RECORD],
  'a weak woman': [WOMAN, sitting([12, 11, 12.5], [10, 11, 10.5])],
  'somebody whose sex is not known': [OF_NO_SEX, RECORD],
  'a girl of 11': [CHILD, sitting([16, 15, 16.5], [14, 15, 14.5])],
  'an infant, whom no set covers': [{ ...CHILD, birthDate: '2025-05-02' }, SIX_TRIALS],
  'a birth date of which the year is known': [{ ...PATIENT, birthDate: '1954' }, RECORD],
  'no birth date': [broken(PATIENT, 'birthDate', undefined), SIX_TRIALS],
  'somebody deceased': [{ ...PATIENT, deceasedBoolean: true }, SIX_TRIALS],
  'one hand': [PATIENT, sitting([31, 32, 30], [])],
  'trials too few and scattered': [PATIENT, sitting([31, 18], [28])],
  'pounds of force': [PATIENT, sitting([68, 70, 66], [61, 63, 62], { unit: '[lbf_av]' })],
  'pounds as charted': [PATIENT, sitting([68, 70, 66], [61, 63, 62], { unit: '[lb_av]' })],
  newtons: [PATIENT, sitting([304, 313, 294], [275, 284, 280], { unit: 'N' })],
  'a reading that a unit stops': [WOMAN, sitting([84, 83, 85], [80, 81, 82])],
  'a hand with its own baseline': [PATIENT, OWN_BASELINE],
  'another protocol than that of the sets': [PATIENT, DONE_ALIKE],
  'two sessions': [
    PATIENT,
    [...SIX_TRIALS, ...sitting([36, 37, 35], [33, 34, 33.5], { id: 'earlier', at: '2026-09-01T10:00:00Z' })],
  ],
  'trials without ids': [PATIENT, withoutIds],
  'trials charted by the day': [PATIENT, byDate],
  'preliminary trials': [PATIENT, SIX_TRIALS.map((trial) => ({ ...trial, status: 'preliminary' }))],
  'trials of which none can be used': [PATIENT, REFUSED],
  'no trials': [PATIENT, []],
};
const PANELS = readdirSync(`${ROOT}norms/panels`);

/** JSON below a folder of the package, where there is one. */
function jsonBelow(folder: string): readonly [string, Resource][] {
  if (!existsSync(`${ROOT}${folder}`)) return [];
  return readdirSync(`${ROOT}${folder}`, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.json'))
    .map((name) => [
      `${folder}/${name}`,
      JSON.parse(readFileSync(`${ROOT}${folder}/${name}`, 'utf8')) as Resource,
    ]);
}

const FIXTURES = jsonBelow('tests/fixtures').filter(([, { resourceType }]) => resourceType !== undefined);
/** Shapes in which hospitals chart. */
const CHARTED = FIXTURES.filter(([, { resourceType }]) => /^(?:Bundle|Parameters)$/.test(resourceType));

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

describe('the reply of $interpret-grip is valid', () => {
  it.each(Object.entries(PEOPLE))('for %s', async (what, [patient, record]) => {
    const reply = await service.call(FHIR_DOOR, patient, record);
    expect(reply.status).toBe(200);
    expectAllValid(reply.body, what);
  });

  it.each(PANELS)('by the panel %s, for both sexes, an unknown one and a child', async (panel) => {
    for (const [patient, record] of [
      [PATIENT, RECORD],
      [WOMAN, RECORD],
      [OF_NO_SEX, RECORD],
      [CHILD, RECORD],
    ] as const) {
      const body = parametersOf(patient, record, [{ name: 'panel', valueCode: panel }]);
      const reply = await service.post(FHIR_DOOR.path, body);
      expect(reply.status).toBe(200);
      expectAllValid(reply.body, `${panel}, ${patient.gender}`);
    }
  });

  it.each(CHARTED)('to %s', async (name, request) => {
    const reply = await service.post(FHIR_DOOR.path, request);
    expect(reply.status).toBe(200);
    expectAllValid(reply.body, name);
  });

  it('for earlier trials as parameters', async () => {
    const prior = sitting([36, 37, 35], [33, 34, 33.5], { id: 'earlier', at: '2026-05-01T10:00:00Z' });
    const body = parametersOf(
      PATIENT,
      SIX_TRIALS,
      prior.map((resource) => ({ name: 'prior', resource })),
    );
    expectAllValid((await service.post(FHIR_DOOR.path, body)).body, 'prior');
  });

  it('holds summaries and interpretations, so that their profiles are put to use', async () => {
    const { body } = await service.call(FHIR_DOOR, PATIENT, RECORD);
    const profiles = allIn(body).map(profileByCode);
    expect(profiles).toContain('grip-hand-summary');
    expect(profiles).toContain('grip-interpretation');
  });
});

/** The writers are those of the operation; what differs is that nothing has an id. */
const AT_THE_HOOK = Object.entries(PEOPLE).filter(([what]) =>
  /weak|not known|girl|own baseline|stops|two sessions|without ids|none can/.test(what),
);

describe('the Observations that a card offers to file are valid', () => {
  it.each(AT_THE_HOOK)('for %s', async (what, [patient, record]) => {
    const reply = await service.call(HOOK_DOOR, patient, record);
    expect(reply.status).toBe(200);
    for (const { suggestions = [] } of cardsOf(reply)) {
      for (const { actions } of suggestions) {
        for (const { resource } of actions) if (resource) expectAllValid(resource, what);
      }
    }
  });

  it('and there are some', async () => {
    const reply = await service.call(HOOK_DOOR, PATIENT, RECORD);
    const offered = cardsOf(reply).flatMap(({ suggestions = [] }) =>
      suggestions.flatMap(({ actions }) => actions.flatMap(({ resource }) => resource ?? [])),
    );
    expect(offered.map((resource) => profileByCode(resource as Resource))).toContain('grip-interpretation');
  });
});

describe('an error is a valid OperationOutcome', () => {
  const operation = FHIR_DOOR.path;
  const valid = bundleOf(PATIENT, SIX_TRIALS);
  const calls: Readonly<Record<string, () => PromiseLike<{ status: number; body: unknown }>>> = {
    'a body that is not JSON': () => service.post(operation, '{'),
    'a body of another form': () => service.post(operation, broken(valid, 'entry.1.resource.status', 'done')),
    'another resource': () => service.post(operation, PATIENT),
    'no patient': () => service.post(operation, { resourceType: 'Bundle', type: 'collection' }),
    'data of two patients': () =>
      service.post(operation, bundleOf(PATIENT, sitting([31], [], { subject: 'Patient/another' }))),
    'an unknown panel': () =>
      service.post(operation, parametersOf(PATIENT, SIX_TRIALS, [{ name: 'panel', valueCode: 'none' }])),
    'an unknown address': () => service.get('/fhir/Nothing'),
    'a method that is not answered': () => service.get(operation),
    'a form that is not written': () => service.post(operation, valid, { accept: 'application/fhir+xml' }),
    'a form that is not read': () => service.post(operation, '<a/>', { 'content-type': 'application/xml' }),
  };
  it.each(Object.entries(calls))('for %s', async (what, call) => {
    const { status, body } = await call();
    expect(status).toBeGreaterThanOrEqual(400);
    expect(body).toMatchObject({ resourceType: 'OperationOutcome' });
    expectAllValid(body, what);
  });
});

describe('what is filed is valid', () => {
  const isOk = (status: number) => expect(status).toBe(200);

  it('found by a search with its Provenance, read by its id, and as a page', async () => {
    isOk((await service.call(FHIR_DOOR, PATIENT, RECORD)).status);
    const found = await service.get(
      '/fhir/Observation?patient=invented-1&_revinclude=Provenance:target&_count=20',
    );
    isOk(found.status);
    expectAllValid(found.body, 'search');
    const resources = allIn(found.body);
    expect(resources.map(({ resourceType }) => resourceType)).toEqual(
      expect.arrayContaining(['Observation', 'Provenance']),
    );
    const { id } = resources.find(({ resourceType }) => resourceType === 'Observation') ?? {};
    const read = await service.get(`/fhir/Observation/${id}`);
    isOk(read.status);
    expectAllValid(read.body, 'read');
  });

  it('in the reply of a batch, and where an entry of it fails', async () => {
    const reply = await service.post('/fhir', {
      resourceType: 'Bundle',
      type: 'batch',
      entry: [
        { request: { method: 'GET', url: 'Observation?patient=invented-1&_count=2' } },
        { request: { method: 'GET', url: 'Observation/none' } },
        {
          request: { method: 'POST', url: 'Observation/$interpret-grip' },
          resource: bundleOf(PATIENT, SIX_TRIALS),
        },
      ],
    });
    isOk(reply.status);
    expectAllValid(reply.body, 'batch');
  });
});

it('the CapabilityStatement is valid', async () => {
  const { status, body } = await service.get('/fhir/metadata');
  expect(status).toBe(200);
  expectAllValid(body, 'metadata');
});

describe('what the tests give the service to read is valid', () => {
  it.each([
    ['the patient', PATIENT],
    ['the trial', TRIAL],
    ['the record', bundleOf(PATIENT, RECORD)],
    ['trials done in a known way', bundleOf(PATIENT, DONE_ALIKE)],
    ['Parameters', parametersOf(PATIENT, RECORD, [{ name: 'asOf', valueDate: '2026-11-25' }])],
    ['the prefetched Bundle', hookCallOf(PATIENT, RECORD).prefetch.grip as Resource],
    ...FIXTURES,
  ] as [string, Resource][])('%s', (name, resource) => {
    expect.hasAssertions();
    // A hospital's way of charting need not follow our profiles, unless it says so (meta.profile).
    for (const each of allIn(resource)) expectValid(each, undefined, `${name}: ${each.resourceType}`);
  });
});

describe('definitions are valid', () => {
  it.each([...jsonBelow('profiles'), ...jsonBelow('terminology')])('%s', (name, resource) => {
    expect.hasAssertions();
    expectAllValid(resource, name);
  });
});

describe('the judges', () => {
  it('each find an Observation without its code', () => {
    const found = judge(broken(TRIAL, 'code', undefined));
    expect([...new Set(found.map(({ judge: name }) => name))]).toEqual(
      expect.arrayContaining(['json-schema', 'medplum']),
    );
  });

  it('find an invariant of the standard broken, which the schema cannot say', () => {
    const bare = { ...TRIAL, referenceRange: [{ type: { text: 'normal' } }] };
    expect(judge(bare).map(({ judge: name, rule }) => `${name} ${rule.slice(0, 20)}`)).toEqual([
      expect.stringMatching(/^medplum .*obs-3/),
      expect.stringMatching(/^fhirpath obs-3/),
    ]);
  });

  it('find a trial that does not follow its profile, which the base does not mind', () => {
    const charted = broken(TRIAL, 'valueQuantity.code', 'lbs');
    expect(judge(charted)).toEqual([]);
    expect(judge(charted, profileOf('grip-trial')).length).toBeGreaterThan(1);
  });
});
