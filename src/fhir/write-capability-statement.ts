/** What the FHIR door offers, as a CapabilityStatement (STANDARDS X3, X16). */
import type { CapabilityStatement } from 'fhir/r4.js';
import { CANONICAL } from './codes.ts';

/** @param startedAt RFC 3339, when this instance started */
export function writeCapabilityStatement(
  engine: { readonly name: string; readonly version: string },
  startedAt: string,
): CapabilityStatement {
  return {
    resourceType: 'CapabilityStatement',
    status: 'active',
    date: startedAt,
    kind: 'instance',
    software: { name: engine.name, version: engine.version },
    implementation: { description: 'Interpretation of maximal hand grip strength' },
    fhirVersion: '4.0.1',
    format: ['application/fhir+json', 'json'],
    rest: [
      {
        mode: 'server',
        resource: [
          {
            type: 'Observation',
            operation: [
              {
                name: 'interpret-grip',
                definition: `${CANONICAL}/OperationDefinition/Observation-interpret-grip`,
                documentation:
                  'POST a Bundle (Patient and grip trials), or Parameters: patient, observation 1..*, prior 0..*, panel 0..1, asOf 0..1 (date).',
              },
            ],
          },
        ],
      },
    ],
  };
}
