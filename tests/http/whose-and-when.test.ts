/** The person and the day: another patient's data, ages that cannot be known, tests that have not happened. */
import type { Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RefusalCode } from '../../src/interpret/finding.ts';
import { broken, DOORS, FHIR_DOOR, HOOK_DOOR, PATIENT, SIX_TRIALS, sitting, TRIAL } from '../fixtures.ts';
import {
  cardsOf,
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  refusalsOf,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

let service: TestService;
let now = new Date('2026-11-25T12:00:00Z');
beforeAll(async () => {
  service = await openForTests(() => now);
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

const STOPS: readonly (readonly [string, Patient, RefusalCode])[] = [
  ['the date of birth is missing (FS4)', broken(PATIENT, 'birthDate', undefined), 'BIRTH_DATE_MISSING'],
  [
    'the date of birth is in no calendar (FS4)',
    broken(PATIENT, 'birthDate', '1954-02-30'),
    'BIRTH_DATE_PARTIAL',
  ],
  [
    'the date of birth is after the test (FS5)',
    broken(PATIENT, 'birthDate', '2026-11-17'),
    'BIRTH_AFTER_TEST',
  ],
  ['the person is recorded as deceased (FS5)', broken(PATIENT, 'deceasedBoolean', true), 'SUBJECT_DECEASED'],
  [
    'the person has a date of death (FS5)',
    broken(PATIENT, 'deceasedDateTime', '2026-11-20'),
    'SUBJECT_DECEASED',
  ],
];

describe.each(DOORS)('the %s', (_name, door) => {
  it.each(STOPS)('does not interpret when %s', async (_what, patient, code) => {
    const reply = await service.call(door, patient, SIX_TRIALS);
    expect(reply.status).toBe(200);
    expect(verdictsOf(service.last())).toEqual([]);
    expect(refusalsOf(service.last())).toMatchObject([{ code, set: null, trial: null }]);
    if (door === FHIR_DOOR) {
      expect(observationsOf(reply)).toEqual([]);
      expect(codesOf(reply)).toContain(code);
    } else if (code === 'SUBJECT_DECEASED') {
      // As before a test: no card about a person who has died.
      expect(cardsOf(reply)).toEqual([]);
    } else {
      const [card] = cardsOf(reply);
      expect(card?.indicator).toBe('warning');
      expect(card?.summary).toContain('not interpreted');
      expect(card?.suggestions).toBeUndefined();
    }
  });

  it('interprets a person recorded as not deceased, and one born on the day of the test', async () => {
    await service.call(door, broken(PATIENT, 'deceasedBoolean', false), SIX_TRIALS);
    expect(verdictsOf(service.last())).not.toEqual([]);
    await service.call(door, broken(PATIENT, 'birthDate', '2026-11-16'), SIX_TRIALS);
    expect(service.last().content.findings[0]?.ageYears).toBe(0);
  });

  it('interprets a person of whose birth the year or month is known (FS4)', async () => {
    await service.call(door, broken(PATIENT, 'birthDate', '1954'), SIX_TRIALS);
    expect(service.last().content.findings).toMatchObject([{ ageYears: 71, ageAtMost: 72 }]);
    await service.call(door, broken(PATIENT, 'birthDate', '1954-03'), SIX_TRIALS);
    expect(service.last().content.findings).toMatchObject([{ ageYears: 72 }]);
    expect(verdictsOf(service.last())).not.toEqual([]);
  });

  it.each([
    'Patient/invented-2',
    'https://ehr.example/fhir/Patient/invented-2',
    'Patient/invented-1/x',
    'urn:uuid:1',
    'Group/invented-1',
  ])('refuses the whole call when a trial is about %s', async (subject) => {
    const before = service.store.head().seq;
    const stranger = broken(TRIAL, 'subject.reference', subject);
    const reply = await service.call(door, PATIENT, [...SIX_TRIALS, stranger]);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)).toEqual(['PATIENT_MISMATCH']);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${door.observation(6)}.subject.reference`]);
    expect(service.store.head().seq).toBe(before);
  });

  it.each([
    'Patient/invented-1',
    'Patient/invented-1/_history/3',
    'https://ehr.example/fhir/Patient/invented-1',
  ])('knows its patient as %s', async (subject) => {
    const reply = await service.call(door, PATIENT, sitting([31, 32, 30], [], { subject }));
    expect(reply.status).toBe(200);
    expect(service.last().patient).toBe('Patient/invented-1');
  });

  it.each(['implicitRules', 'modifierExtension'])('refuses a Patient with %s', async (element) => {
    const value = element === 'implicitRules' ? 'https://rules.example' : [{ url: 'https://rules.example' }];
    const reply = await service.call(door, broken(PATIENT, element, value), SIX_TRIALS);
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual([door.patient]);
  });

  it.each([
    ['birthDate', '9 March 1954'],
    ['gender', 'M'],
    ['deceasedBoolean', 'true'],
    ['id', 'a b'],
  ])('refuses a Patient whose %s is %j', async (element, value) => {
    const patient = broken(PATIENT, element, value);
    const body = { ...door.bodyOf(patient, []) };
    if ('context' in body) body.context = { userId: 'Practitioner/1', patientId: 'invented-1' };
    const reply = await service.post(door.path, body);
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression?.[0]).toMatch(
      new RegExp(
        `^${door.patient.replaceAll(/[[\].]/g, '\\$&')}\\.${element.replace(/^deceased[A-Z]\w*/, 'deceased')}$`,
      ),
    );
  });
});

describe('the FHIR operation', () => {
  it('refuses data without a Patient, and data of two', async () => {
    const none = await service.post(FHIR_DOOR.path, {
      resourceType: 'Bundle',
      type: 'collection',
      entry: [{ resource: TRIAL }],
    });
    expect([none.status, codesOf(none)]).toEqual([400, ['PATIENT_MISSING']]);
    const two = await service.post(FHIR_DOOR.path, {
      resourceType: 'Bundle',
      type: 'collection',
      entry: [PATIENT, { ...PATIENT, id: 'invented-2' }, TRIAL].map((resource) => ({ resource })),
    });
    expect([two.status, codesOf(two)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(two)[0]?.expression).toEqual(['Bundle.entry[1].resource']);
  });

  it('knows a patient without an id by the fullUrl of its entry', async () => {
    const fullUrl = 'urn:uuid:5b7e2f4e-6f0f-4b62-9d2c-0f8d5a3c7e11';
    const bundle = (subject: string) => ({
      resourceType: 'Bundle',
      type: 'collection',
      entry: [
        { fullUrl, resource: broken(PATIENT, 'id', undefined) },
        { resource: broken(TRIAL, 'subject.reference', subject) },
      ],
    });
    expect((await service.post(FHIR_DOOR.path, bundle(fullUrl))).status).toBe(200);
    expect(service.last().patient).toBe(fullUrl);
    expect((await service.post(FHIR_DOOR.path, bundle('Patient/invented-1'))).status).toBe(400);
  });

  it('takes the same id on another server for another patient', async () => {
    const bundle = (subject: string) => ({
      resourceType: 'Bundle',
      type: 'collection',
      entry: [
        { fullUrl: 'https://one.example/fhir/Patient/invented-1', resource: PATIENT },
        { resource: broken(TRIAL, 'subject.reference', subject) },
      ],
    });
    expect(
      (await service.post(FHIR_DOOR.path, bundle('https://one.example/fhir/Patient/invented-1'))).status,
    ).toBe(200);
    expect(
      (await service.post(FHIR_DOOR.path, bundle('https://two.example/fhir/Patient/invented-1'))).status,
    ).toBe(400);
  });
});

describe('a test charted for a later time than now', () => {
  const charted = (at: string): Observation[] => sitting([31, 32, 30], [], { at });

  /** Clock, time charted, and whether it counts as the future. */
  it.each([
    ['2026-11-25T12:00:00Z', '2026-11-25T12:08:00Z', false], // trials at 12:08, 12:09, 12:10: clocks differ
    ['2026-11-25T12:00:00Z', '2026-11-25T12:11:00Z', true],
    ['2026-11-25T12:00:00Z', '2026-11-25T13:00:00+01:00', false], // 12:00 UTC
    ['2026-11-25T12:00:00Z', '2026-11-26T01:50:00+14:00', false], // tomorrow there, 11:50 UTC
    ['2026-11-25T12:00:00Z', '2026-11-26', false], // date only: it is 02:00 on the 26th at UTC+14
    ['2026-11-25T09:59:00Z', '2026-11-26', true], // date only: it is nowhere the 26th yet
    ['2026-11-25T10:00:00Z', '2026-11-26', false],
    ['2026-11-25T12:00:00Z', '2026-11-27', true],
  ] as const)('by a clock at %s, %s is the future: %s', async (clock, at, future) => {
    now = new Date(clock);
    for (const door of [FHIR_DOOR, HOOK_DOOR]) {
      const reply = await service.call(door, PATIENT, charted(at));
      expect(reply.status).toBe(200);
      const codes = refusalsOf(service.last())
        .filter(({ trial }) => trial !== null)
        .map(({ code }) => code);
      expect(codes).toEqual(future ? Array(3).fill('TIME_IN_FUTURE') : []);
    }
  });
});
