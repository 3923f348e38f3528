/** What else the invented hospital has on record: diagnoses, operations and lines that speak against testing an arm. */
import type { Condition, FhirResource, Observation, Patient, Procedure } from 'fhir/r4.js';
import { ICD10CM } from '../fhir/caution-codes.ts';
import { HAND_STRUCTURE, SNOMED } from '../fhir/codes.ts';
import type { Hand } from '../interpret/measurement.ts';

/** By prefetch key of the service grip-test-readiness. */
export interface DemoRecords {
  readonly conditions: readonly Condition[];
  readonly procedures: readonly Procedure[];
  readonly lines: readonly Observation[];
}

/** The flowsheet of the shipped example of a site's map. */
const FLOWSHEET = 'https://alder-reach.example/flowsheet';

const CLINICAL = 'http://terminology.hl7.org/CodeSystem/condition-clinical';

export function diagnosis(patient: Patient, code: string, onsetDateTime: string): Condition {
  return {
    resourceType: 'Condition',
    id: `${patient.id}-${code}`,
    clinicalStatus: { coding: [{ system: CLINICAL, code: 'active' }] },
    code: { coding: [{ system: ICD10CM, code }] },
    subject: { reference: `Patient/${patient.id}` },
    onsetDateTime,
  };
}

/** By SNOMED CT code. */
export function operation(patient: Patient, code: string, performedDateTime: string, hand?: Hand): Procedure {
  return {
    resourceType: 'Procedure',
    id: `${patient.id}-${code}`,
    status: 'completed',
    code: { coding: [{ system: SNOMED, code }] },
    subject: { reference: `Patient/${patient.id}` },
    performedDateTime,
    ...(hand ? { bodySite: [{ coding: [{ system: SNOMED, ...HAND_STRUCTURE[hand] }] }] } : {}),
  };
}

/** A row of the flowsheet that says that the line is there. */
export function chartedLine(patient: Patient, code: string, effectiveDateTime: string): Observation {
  return {
    resourceType: 'Observation',
    id: `${patient.id}-${code}`,
    status: 'final',
    code: { coding: [{ system: FLOWSHEET, code }] },
    subject: { reference: `Patient/${patient.id}` },
    effectiveDateTime,
    valueBoolean: true,
  };
}

export function recordsOf(records: Partial<DemoRecords>): DemoRecords {
  return { conditions: [], procedures: [], lines: [], ...records };
}

/** As a search answers. */
export function searchset(resources: readonly FhirResource[]): unknown {
  return { resourceType: 'Bundle', type: 'searchset', entry: resources.map((resource) => ({ resource })) };
}
