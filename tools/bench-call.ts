/** The hook call that the benchmark sends: 8 trial Observations as a hospital charts them, about 9 KB. Invented. */
import type { Observation } from 'fhir/r4.js';
import { GRIP_LOINC, LOINC, UCUM } from '../src/fhir/codes.ts';

const READINGS = [
  { hand: 'right', at: '2026-10-20T14:00:00Z', value: 26.5 },
  { hand: 'left', at: '2026-10-20T14:01:00Z', value: 24.5 },
  { hand: 'right', at: '2026-11-16T14:00:00Z', value: 28 },
  { hand: 'left', at: '2026-11-16T14:01:00Z', value: 26 },
  { hand: 'right', at: '2026-11-16T14:02:00Z', value: 29 },
  { hand: 'left', at: '2026-11-16T14:03:00Z', value: 26.5 },
  { hand: 'right', at: '2026-11-16T14:04:00Z', value: 28.5 },
  { hand: 'left', at: '2026-11-16T14:05:00Z', value: 27 },
] as const;

function observation({ hand, at, value }: (typeof READINGS)[number], index: number): Observation {
  return {
    resourceType: 'Observation',
    id: `bench-trial-${index + 1}`,
    meta: {
      versionId: '1',
      lastUpdated: at,
      source: 'urn:oid:2.999.1',
      profile: ['http://hl7.org/fhir/us/core/StructureDefinition/us-core-observation-clinical-result'],
    },
    status: 'final',
    category: [
      {
        coding: [
          {
            system: 'http://terminology.hl7.org/CodeSystem/observation-category',
            code: 'exam',
            display: 'Exam',
          },
        ],
      },
    ],
    code: {
      coding: [
        { system: LOINC, code: GRIP_LOINC[hand], display: `Grip strength Hand - ${hand} Dynamometer` },
      ],
      text: `Grip strength, ${hand} hand`,
    },
    subject: { reference: 'Patient/bench', display: 'Marchbanks, Octave (invented)' },
    encounter: { reference: 'Encounter/bench-stay' },
    effectiveDateTime: at,
    issued: at,
    performer: [{ reference: 'Practitioner/bench-dietitian', display: 'Registered dietitian (invented)' }],
    valueQuantity: { value, unit: 'kg', system: UCUM, code: 'kg' },
    method: { text: 'Seated, elbow at 90 degrees, handle position 2, maximal squeeze' },
    device: { reference: 'Device/bench-dynamometer', display: 'Hydraulic hand dynamometer' },
  };
}

export const BENCH_CALL = JSON.stringify({
  hook: 'patient-view',
  hookInstance: 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea',
  context: { userId: 'Practitioner/bench-dietitian', patientId: 'bench' },
  prefetch: {
    patient: { resourceType: 'Patient', id: 'bench', birthDate: '1954-03-09', gender: 'male' },
    grip: {
      resourceType: 'Bundle',
      type: 'searchset',
      entry: READINGS.map((reading, index) => ({
        fullUrl: `https://ehr.example/fhir/Observation/bench-trial-${index + 1}`,
        resource: observation(reading, index),
        search: { mode: 'match' },
      })),
    },
  },
});
