/** Everything served as a definition: the files of profiles/ and terminology/, and the reference sets. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { FhirResource } from 'fhir/r4.js';
import { CANONICAL } from '../fhir/codes.ts';
import { everyRelease } from '../reference/find-release.ts';
import type { ReferenceLibrary } from '../reference/library.ts';
import { writeLibrary } from './write-library.ts';
import { writeObservationDefinition } from './write-observation-definition.ts';

/** A definition that cannot be served: the start stops. The message names the file or the set. */
export class DefinitionFault extends Error {
  override readonly name = 'DefinitionFault';
}

/** Folders of the package whose JSON files are definitions; what is in folders below them is not. */
const FOLDERS = ['profiles', 'terminology'] as const;

/** With a canonical URL, and what only they are: ObservationDefinition has none in R4. */
const FROM_FILES: readonly string[] = [
  'StructureDefinition',
  'OperationDefinition',
  'CodeSystem',
  'ValueSet',
  'ConceptMap',
];

interface Definition {
  readonly from: string;
  readonly resource: FhirResource;
}

/**
 * @param root folder of the package
 * @returns each with an id of its own among its type; the order is that of folders, files and releases
 * @throws DefinitionFault
 */
export function loadDefinitions(root: string, library: ReferenceLibrary): readonly FhirResource[] {
  const definitions = [...FOLDERS.flatMap((folder) => readFolder(root, folder)), ...ofReferences(library)];
  requireOwnIds(definitions);
  return definitions.map(({ resource }) => resource);
}

/** The Library of every released file, and the ObservationDefinition of every table and set of cut-points. */
function ofReferences(library: ReferenceLibrary): readonly Definition[] {
  const { tables, cutPoints } = library.releases;
  return [
    ...everyRelease(library).map((release) => ({
      from: release.path,
      resource: writeLibrary(library, release),
    })),
    ...[...tables, ...cutPoints].map((release) => ({
      from: release.path,
      resource: writeObservationDefinition(library, release),
    })),
  ];
}

function readFolder(root: string, folder: string): readonly Definition[] {
  const path = join(root, folder);
  if (!existsSync(path)) return [];
  const files = readdirSync(path, { withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith('.json'))
    .map(({ name }) => name)
    .sort();
  return files.map((name) => readDefinition(join(path, name), `${folder}/${name}`));
}

function readDefinition(path: string, from: string): Definition {
  const resource = parseJson(readFileSync(path, 'utf8'), from);
  const { resourceType, url } = resource as { resourceType?: unknown; url?: unknown };
  if (typeof resourceType !== 'string' || !FROM_FILES.includes(resourceType)) {
    throw new DefinitionFault(`${from} must be one of: ${FROM_FILES.join(', ')}`);
  }
  if (typeof url !== 'string' || !url.startsWith(`${CANONICAL}/${resourceType}/`)) {
    throw new DefinitionFault(`${from}: its url must begin with ${CANONICAL}/${resourceType}/`);
  }
  return { from, resource: resource as FhirResource };
}

function parseJson(text: string, from: string): object {
  try {
    const parsed: unknown = JSON.parse(text);
    if (typeof parsed === 'object' && parsed !== null) return parsed;
  } catch (cause) {
    throw new DefinitionFault(`${from} is not JSON`, { cause });
  }
  throw new DefinitionFault(`${from} is no resource`);
}

function requireOwnIds(definitions: readonly Definition[]): void {
  const known = new Map<string, string>();
  for (const { from, resource } of definitions) {
    const { resourceType, id } = resource;
    if (typeof id !== 'string' || !/^[A-Za-z0-9.-]{1,64}$/.test(id)) {
      throw new DefinitionFault(
        `${from}: the id of its ${resourceType} must be 1 to 64 of A-Z, a-z, 0-9, "-" and "."`,
      );
    }
    const name = `${resourceType}/${id}`;
    const before = known.get(name);
    if (before) throw new DefinitionFault(`${from} goes by the name of ${before}: ${name}`);
    known.set(name, from);
  }
}
