/** Twenty calls that differ in what a reader has to be told: invented people, each named after what is special. */
import type { Bundle, FhirResource, Observation, Patient } from 'fhir/r4.js';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import { broken, type HookBody, hookCallOf, PATIENT, SIX_TRIALS, sitting, TRIAL } from '../fixtures.ts';

export interface NamedCall {
  readonly name: string;
  readonly body: HookBody;
}

const searchset = (resources: readonly FhirResource[]): Bundle => ({
  resourceType: 'Bundle',
  type: 'searchset',
  entry: resources.map((resource) => ({ resource })),
});

function demoCall(id: string): HookBody {
  const found = DEMO_PATIENTS.find(({ patient }) => patient.id === id);
  if (!found) throw new Error(`there is no demo patient ${id}`);
  const call = hookCallOf(found.patient, found.observations);
  call.prefetch.measures = searchset(found.measures);
  call.prefetch.height = searchset(found.measures);
  call.prefetch.handedness = searchset(found.measures);
  return call;
}

/** As a client would send it that had looked for the optional keys and found nothing. */
function call(observations: readonly Observation[], patient: Patient = PATIENT): HookBody {
  const body = hookCallOf(patient, observations);
  Object.assign(body.prefetch, { height: null, handedness: null, measures: null });
  return body;
}

const earlier = (right: readonly number[], left: readonly number[], parts = {}) =>
  sitting(right, left, { id: 'earlier', at: '2026-10-19T14:05:00Z', ...parts });

const failed = {
  resourceType: 'OperationOutcome',
  issue: [{ severity: 'error', code: 'timeout' }],
};

function moreToCome(): HookBody {
  const body = call(SIX_TRIALS);
  const link = [{ relation: 'next', url: 'https://fhir.example.org/Observation?page=2' }];
  Object.assign(body.prefetch.grip as object, { link });
  return body;
}

function unread(): HookBody {
  const body = call(SIX_TRIALS);
  Object.assign(body.prefetch, { height: failed, measures: failed });
  return body;
}

const averaged = (['83174-3', '83173-5'] as const).map((code, index) => ({
  ...broken(TRIAL, 'id', `mean-${index}`),
  code: { coding: [{ system: 'http://loinc.org', code }] },
  valueQuantity: {
    value: [24.3, 22.1][index] ?? 0,
    unit: 'kg',
    system: 'http://unitsofmeasure.org',
    code: 'kg',
  },
  method: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/observation-statistics', code: 'average' }],
  },
}));

const newerRefused = SIX_TRIALS.map((trial, index) => ({
  ...broken(broken(trial, 'valueQuantity.code', 'lb'), 'effectiveDateTime', '2026-11-20T14:00:00Z'),
  id: `newer-${index}`,
}));

const inPounds = sitting([66, 66, 66], [60, 60, 60], {
  unit: '[lb_av]',
  id: 'more',
  at: '2026-11-16T14:12:00Z',
});

export const TWENTY_CALLS: readonly NamedCall[] = [
  { name: 'disagreeing groups, in pounds', body: demoCall('demo-octave') },
  { name: 'pounds, exactly at a limit, the hands differ', body: demoCall('demo-linnea') },
  { name: 'one hand', body: demoCall('demo-perpetua') },
  { name: 'own baseline and scatter', body: demoCall('demo-casimir') },
  { name: 'unknown sex', body: demoCall('demo-river') },
  { name: 'child of 15', body: demoCall('demo-juniper') },
  { name: 'pounds charted as kilograms, stopped', body: demoCall('demo-barnaby') },
  { name: 'change up over twelve weeks', body: demoCall('demo-augusta') },
  {
    name: 'change down, reduced by every set',
    body: call([...sitting([18, 19, 18], [17, 17, 16]), ...earlier([25, 26, 25], [24, 24, 23])]),
  },
  { name: 'one trial', body: call([TRIAL]) },
  { name: 'scattered trials', body: call(sitting([20, 32, 26], [28, 29, 28.5])) },
  { name: 'partial date of birth', body: call(SIX_TRIALS, broken(PATIENT, 'birthDate', '1951')) },
  {
    name: 'an age that some sets do not cover',
    body: call(SIX_TRIALS, broken(PATIENT, 'birthDate', '1981-03-09')),
  },
  {
    name: 'an age that no set covers',
    body: call(sitting([3, 3, 3], [3, 3, 3]), broken(PATIENT, 'birthDate', '2023-03-09')),
  },
  { name: 'newer trials that could not be read', body: call([...SIX_TRIALS, ...newerRefused]) },
  { name: 'further pages', body: moreToCome() },
  { name: 'charted means', body: call(averaged) },
  { name: 'mixed units', body: call([...sitting([30, 31], [28]), ...inPounds]) },
  { name: 'another protocol than the sets were built on', body: call(protocolOtherwise()) },
  { name: 'optional keys that could not be had', body: unread() },
];

function protocolOtherwise(): readonly Observation[] {
  return SIX_TRIALS.map((trial) => ({
    ...trial,
    extension: [
      {
        url: 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition',
        valueCodeableConcept: { coding: [{ system: 'http://snomed.info/sct', code: '102538003' }] },
      },
    ],
  }));
}
