/** What the CDS Hooks services say about themselves (CDS Hooks 2.0.1, discovery). */
import { GRIP_LOINC, GRIP_SNOMED, LOINC, SNOMED } from '../fhir/codes.ts';

export interface ServiceDescription {
  readonly id: string;
  readonly hook: string;
  readonly title: string;
  readonly description: string;
  readonly prefetch: Readonly<Record<string, string>>;
  readonly usageRequirements: string;
}

const GRIP_CODE_LIST = [
  `${LOINC}|${GRIP_LOINC.right}`,
  `${LOINC}|${GRIP_LOINC.left}`,
  `${SNOMED}|${GRIP_SNOMED}`,
];

/** Observations asked for: more than a year of monthly sessions of six trials. */
const GRIP_COUNT = 100;

export const GRIP_INTERPRETATION: ServiceDescription = {
  id: 'grip-interpretation',
  hook: 'patient-view',
  title: 'Grip strength: what the last measurement means',
  description:
    'Reads the most recent session of grip strength trials against versioned norms and consensus cut-points, set by set, ' +
    'and offers the interpretation for filing. One item of a nutrition assessment; it diagnoses nothing.',
  prefetch: {
    patient: 'Patient/{{context.patientId}}',
    grip: `Observation?patient={{context.patientId}}&code=${GRIP_CODE_LIST.join(',')}&_sort=-date&_count=${GRIP_COUNT}`,
  },
  usageRequirements:
    'Both prefetch keys are required. Grip trials are charted as one Observation for each trial, with a UCUM unit and the hand.',
};

export const SERVICES: readonly ServiceDescription[] = [GRIP_INTERPRETATION];
