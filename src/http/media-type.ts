/** Media types that go out. */
import { RequestError } from '../errors.ts';

export const FHIR_JSON = 'application/fhir+json; charset=utf-8';
export const JSON_UTF8 = 'application/json; charset=utf-8';

/**
 * FHIR JSON unless the client names plain JSON only.
 * @throws RequestError NOT_ACCEPTABLE for anything but FHIR R4 in JSON (STANDARDS X1, X2)
 */
export function negotiate(accept: string | undefined): string {
  if (!accept) return FHIR_JSON;
  const ranges = accept.split(',').map((range) => range.trim().toLowerCase());
  for (const range of ranges) {
    const [type, ...parameters] = range.split(';').map((part) => part.trim());
    const version = parameters.find((parameter) => parameter.startsWith('fhirversion='));
    if (version && version !== 'fhirversion=4.0') continue;
    if (type === 'application/fhir+json' || type === '*/*' || type === 'application/*') return FHIR_JSON;
    if (type === 'application/json') return JSON_UTF8;
  }
  throw new RequestError('NOT_ACCEPTABLE');
}
