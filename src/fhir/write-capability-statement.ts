/** What the FHIR door offers, as a CapabilityStatement written from the table of what it offers (STANDARDS X3, X16). */
import type { CapabilityStatement, CapabilityStatementRestResource } from 'fhir/r4.js';
import { CANONICAL } from './codes.ts';
import { COMMON_PARAMETERS, OFFERED, OFFERED_TYPES, type Offered, type OfferedType } from './offered.ts';

export interface Instance {
  readonly engine: { readonly name: string; readonly version: string };
  /** RFC 3339, when this instance started. */
  readonly startedAt: string;
  /** Address of the FHIR door, where the installation is configured with one. */
  readonly base: string | null;
  /** Clients are asked for a bearer token. */
  readonly isProtected: boolean;
}

export function writeCapabilityStatement({
  engine,
  startedAt,
  base,
  isProtected,
}: Instance): CapabilityStatement {
  return {
    resourceType: 'CapabilityStatement',
    url: `${CANONICAL}/CapabilityStatement/grip-strength-cds`,
    version: engine.version,
    name: 'GripStrengthCds',
    title: 'Interpretation of maximal hand grip strength',
    status: 'active',
    date: startedAt,
    kind: 'instance',
    software: { name: engine.name, version: engine.version },
    implementation: {
      description: 'Interpretation of maximal hand grip strength',
      ...(base === null ? {} : { url: base }),
    },
    fhirVersion: '4.0.1',
    format: ['application/fhir+json', 'json'],
    rest: [
      {
        mode: 'server',
        documentation: DOCUMENTATION,
        security: {
          description: isProtected
            ? 'Every FHIR address but metadata asks for a bearer token; a client reads what it filed itself, or all where the installation lets it.'
            : 'Access is open: for use on one host only.',
        },
        resource: OFFERED_TYPES.map(resourceOf),
        interaction: [{ code: 'batch' }],
        searchParam: COMMON_PARAMETERS.map(searchParam),
      },
    ],
  };
}

const DOCUMENTATION =
  `Results are written by $interpret-grip only; there is no create, update, patch or delete. A
search refuses a parameter that it does not know unless Prefer: handling=lenient is sent. _count (to 100), _sort,
_summary, _elements, _total and _format are known to every search.`.replaceAll('\n', ' ');

function resourceOf(type: OfferedType): CapabilityStatementRestResource {
  const { from, parameters, revIncludes }: Offered = OFFERED[type];
  return {
    type,
    ...(type === 'Observation' ? { supportedProfile: PROFILES } : {}),
    interaction: [{ code: 'read' }, { code: 'vread' }, { code: 'search-type' }],
    versioning: 'versioned',
    readHistory: false,
    updateCreate: false,
    conditionalCreate: false,
    conditionalRead: 'full-support',
    conditionalUpdate: false,
    conditionalDelete: 'not-supported',
    ...(revIncludes ? { searchRevInclude: [...revIncludes] } : {}),
    ...(parameters.length > 0 ? { searchParam: parameters.map(searchParam) } : {}),
    ...(type === 'Observation' ? { operation: [INTERPRET_GRIP] } : {}),
    documentation: from === 'results' ? 'Filed by evaluations.' : 'Comes with the installation.',
  };
}

const PROFILES = ['grip-trial', 'grip-hand-summary', 'grip-interpretation'].map(
  (profile) => `${CANONICAL}/StructureDefinition/${profile}`,
);

const INTERPRET_GRIP = {
  name: 'interpret-grip',
  definition: `${CANONICAL}/OperationDefinition/Observation-interpret-grip`,
  documentation:
    'POST of a Bundle with one Patient and its Observations, or of Parameters. A trial is read by the profile grip-trial; results have the other two.',
};

function searchParam({ name, type, definition }: Offered['parameters'][number]) {
  return { name, type, definition };
}
