/**
 * What the FHIR door offers of each type of resource: one table, from which the routes, the index of the store and the
 * CapabilityStatement all follow. `GET` of an address that is not in it is a 404, another method a 405.
 */
import type {
  CodeSystem,
  ConceptMap,
  Device,
  FhirResource,
  Library,
  Observation,
  OperationDefinition,
  Provenance,
  StructureDefinition,
  ValueSet,
} from 'fhir/r4.js';
import type { DocumentTerm } from '../document.ts';
import {
  codingTerms,
  conceptTerms,
  identifierTerms,
  referenceTerms,
  type Term,
  textTerms,
  timeTerms,
  valueTerms,
} from './search-terms.ts';

export type SearchType = 'token' | 'reference' | 'date' | 'uri' | 'string';

export interface SearchParameter {
  readonly name: string;
  readonly type: SearchType;
  /** Canonical of the standard parameter. */
  readonly definition: string;
  /** Type that a bare id is of, for a reference to one type only. */
  readonly target?: string;
  readonly terms: (resource: never) => readonly Term[];
}

export interface Offered {
  /** `results` are filed by evaluations; `definitions` come with the installation. */
  readonly from: 'results' | 'definitions';
  readonly parameters: readonly SearchParameter[];
  /** The parameter that a search can sort by, besides `_lastUpdated`; newest first where none is asked for. */
  readonly sort?: string;
  /** `_revinclude` values. */
  readonly revIncludes?: readonly string[];
}

/** @param standard tail of the canonical of the SearchParameter in R4 */
function parameter<T extends FhirResource>(
  standard: string,
  name: string,
  type: SearchType,
  terms: (resource: T) => readonly Term[],
): SearchParameter {
  return { name, type, definition: `http://hl7.org/fhir/SearchParameter/${standard}`, terms };
}

const observation = (
  standard: string,
  name: string,
  type: SearchType,
  terms: (resource: Observation) => readonly Term[],
) => parameter(`${standard}-${name}`, name, type, terms);
const provenance = (name: string, type: SearchType, terms: (resource: Provenance) => readonly Term[]) =>
  parameter(`Provenance-${name}`, name, type, terms);

/** Bound to the elements `status`, whose codes name no system. */
const OBSERVATION_STATUS = 'http://hl7.org/fhir/observation-status';
const DEVICE_STATUS = 'http://hl7.org/fhir/device-status';
const PUBLICATION_STATUS = 'http://hl7.org/fhir/publication-status';

/** Those with which R4 describes every canonical resource. */
type Canonical = StructureDefinition | OperationDefinition | CodeSystem | ValueSet | ConceptMap | Library;

const canonical = (standard: 'conformance' | 'Library'): readonly SearchParameter[] => [
  parameter<Canonical>(`${standard}-url`, 'url', 'uri', ({ url }) => valueTerms([url])),
  parameter<Canonical>(`${standard}-version`, 'version', 'token', ({ version }) => valueTerms([version])),
  parameter<Canonical>(`${standard}-name`, 'name', 'string', ({ name }) => textTerms([name])),
  parameter<Canonical>(`${standard}-title`, 'title', 'string', ({ title }) => textTerms([title])),
  parameter<Canonical>(`${standard}-status`, 'status', 'token', ({ status }) =>
    valueTerms([status], PUBLICATION_STATUS),
  ),
];

export const OFFERED = {
  Observation: {
    from: 'results',
    sort: 'date',
    revIncludes: ['Provenance:target'],
    parameters: [
      {
        ...observation('clinical', 'patient', 'reference', ({ subject }) => referenceTerms([subject])),
        target: 'Patient',
      },
      observation('Observation', 'subject', 'reference', ({ subject }) => referenceTerms([subject])),
      observation('clinical', 'date', 'date', ({ effectiveDateTime }) => timeTerms([effectiveDateTime])),
      observation('clinical', 'code', 'token', ({ code }) => conceptTerms([code])),
      observation('Observation', 'derived-from', 'reference', ({ derivedFrom }) =>
        referenceTerms(derivedFrom ?? []),
      ),
      observation('Observation', 'category', 'token', ({ category }) => conceptTerms(category ?? [])),
      observation('Observation', 'status', 'token', ({ status }) => valueTerms([status], OBSERVATION_STATUS)),
      observation('clinical', 'identifier', 'token', ({ identifier }) => identifierTerms(identifier)),
      observation('Observation', 'value-concept', 'token', ({ valueCodeableConcept }) =>
        conceptTerms([valueCodeableConcept]),
      ),
      observation('Observation', 'device', 'reference', ({ device }) => referenceTerms([device])),
    ],
  },
  Provenance: {
    from: 'results',
    sort: 'recorded',
    parameters: [
      provenance('target', 'reference', ({ target }) => referenceTerms(target)),
      provenance('recorded', 'date', ({ recorded }) => timeTerms([recorded])),
      provenance('entity', 'reference', ({ entity }) =>
        referenceTerms((entity ?? []).map(({ what }) => what)),
      ),
      provenance('agent', 'reference', ({ agent }) => referenceTerms(agent.map(({ who }) => who))),
    ],
  },
  Device: {
    from: 'results',
    parameters: [
      parameter<Device>('Device-device-name', 'device-name', 'string', ({ deviceName, type }) =>
        textTerms([
          ...(deviceName ?? []).map(({ name }) => name),
          ...(type?.coding ?? []).map(({ display }) => display),
          type?.text,
        ]),
      ),
      parameter<Device>('Device-status', 'status', 'token', ({ status }) =>
        valueTerms([status], DEVICE_STATUS),
      ),
    ],
  },
  StructureDefinition: {
    from: 'definitions',
    parameters: [
      ...canonical('conformance'),
      parameter<StructureDefinition>('StructureDefinition-type', 'type', 'uri', ({ type }) =>
        valueTerms([type]),
      ),
    ],
  },
  OperationDefinition: {
    from: 'definitions',
    parameters: [
      ...canonical('conformance'),
      parameter<OperationDefinition>('OperationDefinition-code', 'code', 'token', ({ code }) =>
        valueTerms([code]),
      ),
    ],
  },
  CodeSystem: { from: 'definitions', parameters: canonical('conformance') },
  ValueSet: { from: 'definitions', parameters: canonical('conformance') },
  ConceptMap: { from: 'definitions', parameters: canonical('conformance') },
  Library: {
    from: 'definitions',
    parameters: [
      ...canonical('Library'),
      parameter<Library>('Library-identifier', 'identifier', 'token', ({ identifier }) =>
        identifierTerms(identifier),
      ),
      parameter<Library>('Library-type', 'type', 'token', ({ type }) => conceptTerms([type])),
    ],
  },
  // R4 defines no search parameter of its own for it.
  ObservationDefinition: { from: 'definitions', parameters: [] },
} as const satisfies Record<string, Offered>;

export type OfferedType = keyof typeof OFFERED;
export const OFFERED_TYPES = Object.keys(OFFERED) as readonly OfferedType[];

export function isOffered(type: string): type is OfferedType {
  return Object.hasOwn(OFFERED, type);
}

/** Of every type. */
export const COMMON_PARAMETERS: readonly SearchParameter[] = [
  parameter('Resource-id', '_id', 'token', ({ id }) => valueTerms([id])),
  parameter('Resource-lastUpdated', '_lastUpdated', 'date', ({ meta }) => timeTerms([meta?.lastUpdated])),
  parameter('Resource-profile', '_profile', 'uri', ({ meta }) => valueTerms(meta?.profile ?? [])),
  parameter('Resource-security', '_security', 'token', ({ meta }) => codingTerms(meta?.security)),
];

export function parametersOf(type: OfferedType): readonly SearchParameter[] {
  return [...COMMON_PARAMETERS, ...OFFERED[type].parameters];
}

/** Everything by which a search finds the resource. */
export function termsOf(type: OfferedType, resource: FhirResource): readonly DocumentTerm[] {
  return parametersOf(type).flatMap(({ name, terms }) =>
    terms(resource as never).map((term) => ({ name, ...term })),
  );
}

/** What a search sorts by, in milliseconds since 1970-01-01T00:00Z: the date of the type, else the last update. */
export function momentOf(type: OfferedType, resource: FhirResource): number {
  const { sort } = OFFERED[type] as Offered;
  const parameter = parametersOf(type).find(({ name }) => name === (sort ?? '_lastUpdated'));
  return parameter?.terms(resource as never)[0]?.low ?? 0;
}
