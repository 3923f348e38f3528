/** Records of an invented person for the service grip-test-readiness, and a call of it. */
import type { Condition, Device, FhirResource, Observation, Patient, Procedure } from 'fhir/r4.js';
import { HANDEDNESS_SNOMED, SNOMED } from '../../src/fhir/codes.ts';
import { coded, type HookBody, hookCallOf, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { cardsOf, type TestService } from '../service-for-tests.ts';

export const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
export const OWN = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-testing-caution';
export const FLOWSHEET = 'https://alder-reach.example/flowsheet';
export const RIGHT_SITE = coded([SNOMED, '78791008']);
export const LEFT_SITE = coded([SNOMED, '85151006']);
const CLINICAL = 'http://terminology.hl7.org/CodeSystem/condition-clinical';
const VERIFICATION = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';
const SUBJECT = { reference: 'Patient/invented-1' };

export const clinical = (code: string) => ({ clinicalStatus: coded([CLINICAL, code]) });
export const verified = (code: string) => ({ verificationStatus: coded([VERIFICATION, code]) });

export function condition(system: string, code: string, more: Partial<Condition> = {}): Condition {
  return {
    resourceType: 'Condition',
    id: `c-${code.replace(/[^A-Za-z0-9.-]/g, '')}`,
    ...clinical('active'),
    ...verified('confirmed'),
    code: coded([system, code]),
    subject: SUBJECT,
    onsetDateTime: '2026-11-10',
    ...more,
  };
}

export function procedure(system: string, code: string, more: Partial<Procedure> = {}): Procedure {
  return {
    resourceType: 'Procedure',
    id: `p-${code.replace(/[^A-Za-z0-9.-]/g, '')}`,
    status: 'completed',
    code: coded([system, code]),
    subject: SUBJECT,
    performedDateTime: '2026-11-10',
    ...more,
  };
}

export function device(system: string, code: string, more: Partial<Device> = {}): Device {
  return {
    resourceType: 'Device',
    id: `d-${code.replace(/[^A-Za-z0-9.-]/g, '')}`,
    status: 'active',
    type: coded([system, code]),
    patient: SUBJECT,
    ...more,
  };
}

export function line(code: string, more: Partial<Observation> = {}): Observation {
  return {
    resourceType: 'Observation',
    id: `l-${code}`,
    status: 'final',
    code: coded([FLOWSHEET, code]),
    subject: SUBJECT,
    effectiveDateTime: '2026-11-25T08:00:00Z',
    valueBoolean: true,
    ...more,
  };
}

export function handed(code: '46669005' | '87683000' | '23088002'): Observation {
  return {
    resourceType: 'Observation',
    id: 'handedness-1',
    status: 'final',
    code: coded([SNOMED, HANDEDNESS_SNOMED]),
    subject: SUBJECT,
    effectiveDateTime: '2026-01-01',
    valueCodeableConcept: coded([SNOMED, code]),
  };
}

export interface Chart {
  readonly patient?: Patient;
  readonly conditions?: readonly FhirResource[] | null;
  readonly procedures?: readonly FhirResource[] | null;
  readonly devices?: readonly FhirResource[] | null;
  readonly lines?: readonly FhirResource[] | null;
  readonly grip?: readonly FhirResource[] | null;
  readonly handedness?: readonly FhirResource[] | null;
}

/** Nine days old on the day of the tests: the next is not due. */
export const RECENT_GRIP: readonly Observation[] = SIX_TRIALS;
/** Fourteen days old: the next is due today. */
export const DUE_GRIP: readonly Observation[] = sitting([31], [28], { at: '2026-11-11T14:00:00Z' });

export function searchset(resources: readonly FhirResource[], more: object = {}): unknown {
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    entry: resources.map((resource) => ({ resource })),
    ...more,
  };
}

/** Every key is there, empty where the chart does not say; one that is null is left out of the call. */
export function readinessCall(chart: Chart): HookBody {
  const { patient = PATIENT, conditions = [], procedures = [], devices = [] } = chart;
  const { lines = [], grip = RECENT_GRIP, handedness = [] } = chart;
  const given = { conditions, procedures, devices, lines, grip, handedness };
  const prefetch = Object.entries(given).flatMap(([key, resources]) =>
    resources === null ? [] : [[key, searchset(resources)] as const],
  );
  return { ...hookCallOf(patient, []), prefetch: { patient, ...Object.fromEntries(prefetch) } };
}

export const READINESS = '/cds-services/grip-test-readiness';

export async function cardOf(service: TestService, chart: Chart) {
  const reply = await service.post(READINESS, readinessCall(chart)).expect(200);
  return cardsOf(reply)[0];
}
