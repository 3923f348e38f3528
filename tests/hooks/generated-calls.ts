/**
 * Hook calls for fuzzing: made from a discovery entry about one invented person with varied data, changed anywhere, and with
 * data of another person in places where a fault of the client could put them.
 */
import fc from 'fast-check';
import type { FhirResource, Observation, Patient, Reference } from 'fhir/r4.js';
import { GRIP_LOINC, LOINC, UCUM } from '../../src/fhir/codes.ts';
import { coded, type HookBody } from '../fixtures.ts';
import { junk, type Splice, spliced, splices } from '../splices.ts';
import { callOf, type Discovered, type Person } from './valid-calls.ts';

/** Stands in everything that belongs to the other person, and in nothing else: no UUID or digest can hold it by chance. */
export const CANARY = 'zqx-canary';
/** Force of the other person's trials, in kilograms; no other trial has it, nor can a mean give it. */
export const CANARY_FORCE = 17.19371;
const OTHER_ID = `other-${CANARY}`;
/** Of the person whom the call is about: never in a reply or a record either. */
export const OWN_NAME = 'Ownfamilyname';

/** What must not leave: ids, name, token, force, day of birth and moment of test of the other; the name of the own. */
export const FORBIDDEN: readonly string[] = [CANARY, '17.19371', '1931-07-13', '03:17:29', OWN_NAME];

const OTHER_PATIENT: Patient & { readonly id: string } = {
  resourceType: 'Patient',
  id: OTHER_ID,
  name: [{ family: `Othername-${CANARY}` }],
  gender: 'male',
  birthDate: '1931-07-13',
};

/** A trial of the other person, said to be so in one of many ways. */
function otherTrial(subject: Reference | undefined): Observation {
  return {
    resourceType: 'Observation',
    id: `trial-${CANARY}`,
    status: 'final',
    code: coded([LOINC, GRIP_LOINC.right]),
    ...(subject ? { subject } : {}),
    effectiveDateTime: '2026-11-07T03:17:29Z',
    valueQuantity: { value: CANARY_FORCE, unit: 'kg', system: UCUM, code: 'kgf' },
  };
}

/** The other person alone, for a call that is rightly about them. */
export const OTHER: Person = {
  patient: OTHER_PATIENT,
  resources: [otherTrial({ reference: `Patient/${OTHER_ID}` })],
};

const OTHER_SUBJECTS: readonly Reference[] = [
  { reference: `Patient/${OTHER_ID}` },
  { reference: `Patient/${OTHER_ID}/_history/2` },
  { reference: `https://ehr.example.org/fhir/Patient/${OTHER_ID}` },
  { reference: `https://elsewhere.example.net/Patient/${OTHER_ID}`, display: `Othername-${CANARY}` },
  { reference: `Patient/${OTHER_ID}`, identifier: { value: 'own-4d1e' } },
];

type Foreign =
  | { readonly kind: 'none' }
  | { readonly kind: 'patient' }
  | { readonly kind: 'context' }
  | {
      readonly kind: 'resource';
      readonly key: number;
      readonly resource: FhirResource;
      readonly first: boolean;
    };

const foreignResource = fc.oneof(
  fc.constantFrom(...OTHER_SUBJECTS).map(otherTrial),
  fc.constantFrom(...OTHER_SUBJECTS).map(
    (subject): FhirResource => ({
      resourceType: 'Condition',
      id: `condition-${CANARY}`,
      clinicalStatus: coded(['http://terminology.hl7.org/CodeSystem/condition-clinical', 'active']),
      code: { text: `Invented ${CANARY}`, coding: [{ system: 'http://snomed.info/sct', code: '50582007' }] },
      subject,
    }),
  ),
  fc.constant<FhirResource>(OTHER_PATIENT),
);

const foreign: fc.Arbitrary<Foreign> = fc.oneof(
  { weight: 6, arbitrary: fc.constant<Foreign>({ kind: 'none' }) },
  { weight: 1, arbitrary: fc.constantFrom<Foreign>({ kind: 'patient' }, { kind: 'context' }) },
  {
    weight: 3,
    arbitrary: fc.record({
      kind: fc.constant('resource' as const),
      key: fc.nat(9),
      resource: foreignResource,
      first: fc.boolean(),
    }),
  },
);

const SUBJECT = { reference: 'Patient/own-4d1e' };
const force = fc.oneof(
  { weight: 4, arbitrary: fc.integer({ min: 20, max: 900 }).map((tenths) => tenths / 10) },
  {
    weight: 1,
    arbitrary: fc.constantFrom<unknown>(0, -3, 1e308, 5e-324, 1e21, 2 ** 53 + 2, '31.5', null),
  },
);
const unit = fc.oneof(
  { weight: 4, arbitrary: fc.constantFrom('kgf', 'kg', '[lbf_av]', '[lb_av]', 'N') },
  { weight: 1, arbitrary: fc.constantFrom('stone', '', 'KG', 'kg\u0000', '千克') },
);
const moment = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.constantFrom(
      '2026-11-16T14:05:00Z',
      '2026-11-16',
      '2025-02-03T08:00:00+05:30',
      '2026-11-25',
    ),
  },
  {
    weight: 1,
    arbitrary: fc.constantFrom('2026-02-30', '2026', '9999-12-31T23:59:59.999Z', '0000-01-01', 'gestern'),
  },
);

/** An Observation that is right in its form; some of its values are not. */
const trial = fc
  .record({ hand: fc.constantFrom('right', 'left'), value: force, code: unit, at: moment, id: fc.nat(3) })
  .map(
    ({ hand, value, code, at, id }) =>
      ({
        resourceType: 'Observation',
        id: `own-trial-${id}`,
        status: 'final',
        code: coded([LOINC, GRIP_LOINC[hand as 'right']]),
        subject: SUBJECT,
        effectiveDateTime: at,
        valueQuantity: { value, unit: code, system: UCUM, code },
      }) as unknown as Observation,
  );

const condition = fc.record({ code: fc.constantFrom('50582007', '69896004', '1'), at: moment }).map(
  ({ code, at }): FhirResource => ({
    resourceType: 'Condition',
    id: 'own-condition',
    code: coded(['http://snomed.info/sct', code]),
    subject: SUBJECT,
    onsetDateTime: at,
  }),
);

const person: fc.Arbitrary<Person> = fc
  .record({
    gender: fc.constantFrom('male', 'female', 'other', 'unknown', undefined),
    birthDate: fc.constantFrom('1954-03-09', '2002-05-17', '2015', '1954-03', '2027-01-01', undefined),
    trials: fc.array(trial, { maxLength: 2 }),
    conditions: fc.array(condition, { maxLength: 1 }),
  })
  .map(({ gender, birthDate, trials, conditions }) => ({
    patient: {
      resourceType: 'Patient' as const,
      id: 'own-4d1e',
      name: [{ family: OWN_NAME }],
      ...(gender ? { gender: gender as 'male' } : {}),
      ...(birthDate ? { birthDate } : {}),
    },
    resources: [...trials, ...conditions],
  }));

const envelope = fc.oneof(
  { weight: 6, arbitrary: fc.constant({}) },
  { weight: 1, arbitrary: fc.dictionary(fc.constantFrom('extension', 'fhirServer', 'vendor'), junk) },
  {
    weight: 1,
    arbitrary: fc.constant({
      fhirServer: 'https://ehr.example.org/fhir',
      fhirAuthorization: {
        access_token: `token-${CANARY}`,
        token_type: 'Bearer',
        expires_in: 300,
        scope: 'user/*.rs',
        subject: `client-${CANARY}`,
      },
    }),
  },
);

/** What the text is changed to where nothing of the other person is in it. */
const TEXT_CHANGES: readonly ((text: string, at: number) => string)[] = [
  (text, at) => text.slice(0, at % text.length),
  (text) => text.replace(/:(\d+)/, ':1e999'),
  (text) => text.replace('{', '{"hook":"patient-view",'),
  (text) => text.replace('"Patient"', '"Pat\\ud800ient"'),
  (text) => `\ufeff${text}`,
];

interface Parts {
  readonly person: Person;
  readonly envelope: object;
  readonly changes: readonly Splice[];
  readonly foreign: Foreign;
  readonly text: number;
  readonly at: number;
}

/** @returns JSON text, or what was JSON text */
export function callsOf(service: Discovered): fc.Arbitrary<string> {
  return fc
    .record<Parts>({
      person,
      envelope,
      changes: fc.oneof({ weight: 2, arbitrary: fc.constant([]) }, { weight: 3, arbitrary: splices }),
      foreign,
      text: fc.nat(40),
      at: fc.nat(10_000),
    })
    .map((parts) => writeCall(service, parts));
}

function writeCall(service: Discovered, parts: Parts): string {
  const valid = { ...callOf(service, parts.person), ...parts.envelope };
  const call = spliced(valid, parts.changes) as HookBody;
  if (parts.foreign.kind !== 'none') return JSON.stringify(withForeign(call, parts.foreign));
  const text = JSON.stringify(call);
  return TEXT_CHANGES[parts.text]?.(text, parts.at) ?? text;
}

/** Put in last: what says whose data they are stays as it is. */
function withForeign(call: HookBody, foreign: Exclude<Foreign, { kind: 'none' }>): HookBody {
  if (foreign.kind === 'context')
    return isObject(call.context) ? { ...call, context: { ...call.context, patientId: OTHER_ID } } : call;
  if (foreign.kind === 'patient')
    return isObject(call.prefetch)
      ? { ...call, prefetch: { ...call.prefetch, patient: OTHER_PATIENT } }
      : call;
  return withResource(call, foreign);
}

/** In one of the Bundles of the prefetch, or of the context of a hook that has one. */
function withResource(
  call: HookBody,
  { key, resource, first }: Extract<Foreign, { kind: 'resource' }>,
): HookBody {
  const places = (['prefetch', 'context'] as const).flatMap((member) =>
    Object.entries(isObject(call[member]) ? call[member] : {}).flatMap(([name, value]) =>
      isObject(value) && value.resourceType === 'Bundle' ? [{ member, name, bundle: value }] : [],
    ),
  );
  const place = places[key % Math.max(1, places.length)];
  if (!place) return call;
  const { member, name, bundle } = place;
  const own = Array.isArray(bundle.entry) ? bundle.entry : [];
  const entry = first ? [{ resource }, ...own] : [...own, { resource }];
  return { ...call, [member]: { ...call[member], [name]: { ...bundle, entry } } };
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
