/** Resources -> documents that are filed and found by their terms. */
import { createHash } from 'node:crypto';
import type { FhirResource } from 'fhir/r4.js';
import type { DocumentDraft } from '../document.ts';
import { isOffered, momentOf, termsOf } from './offered.ts';

/**
 * The first version of a resource, which says so in its meta.
 * @param updated RFC 3339
 */
export function draftOf(resource: FhirResource, updated: string, version = 1): DocumentDraft {
  const { resourceType: type, id = '' } = resource;
  if (!isOffered(type)) throw new Error(`${type} is not offered, so it must not be filed`);
  const moment = momentOf(type, resource);
  return {
    type,
    id,
    version,
    updated,
    moment,
    content: JSON.stringify(resource),
    terms: termsOf(type, resource),
  };
}

/**
 * A definition of this installation. Its version is a number that follows from its content: after an upgrade a client
 * that holds the former content is not told that it has the newest.
 * @param updated RFC 3339, when this instance started
 */
export function draftOfDefinition(definition: FhirResource, updated: string): DocumentDraft {
  const digest = createHash('sha256').update(JSON.stringify(definition), 'utf8').digest();
  const version = digest.readUInt32BE(0) + 1;
  const { resourceType, id, meta, ...rest } = definition as FhirResource & { meta?: object };
  const versioned = { ...meta, versionId: String(version), lastUpdated: updated };
  return draftOf({ resourceType, id, meta: versioned, ...rest } as FhirResource, updated, version);
}
