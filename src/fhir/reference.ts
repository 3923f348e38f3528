/** References of FHIR as text. */

/** `Observation/a/_history/2` -> `Observation/a`. */
export function unversioned(reference: string): string {
  return reference.replace(/\/_history\/[^/]+$/, '');
}

/**
 * What a source is known by, whatever its version, component or server:
 * `https://ehr.example/fhir/Observation/a/_history/2#component[0]` -> `Observation/a`; a URN stays what it is.
 */
export function sourceKey(reference: string): string {
  return unversioned(reference.replace(/#.*$/s, '')).replace(/^https?:\/\/.*\/([A-Za-z]+\/[^/]+)$/s, '$1');
}
