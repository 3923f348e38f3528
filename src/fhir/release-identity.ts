/** What a released file (norms/) is called in FHIR: the id, URL and version of its Library. */
import type { SetRef } from '../interpret/reference-set.ts';
import { CANONICAL } from './codes.ts';

type Named = Pick<SetRef, 'kind' | 'id' | 'version'>;

/** Of the Library and of the ObservationDefinition: each version is a resource of its own. */
export function releaseId({ kind, id, version }: Named): string {
  return `${kind}-${id}-${version}`;
}

/** Canonical URL of the Library, the same for all its versions. */
export function releaseUrl({ kind, id }: Pick<SetRef, 'kind' | 'id'>): string {
  return `${CANONICAL}/Library/${kind}-${id}`;
}

export function releaseCanonical(ref: Named): string {
  return `${releaseUrl(ref)}|${ref.version}`;
}
