/** Media types that go out. */
import { RequestError } from '../errors.ts';

export const FHIR_JSON = 'application/fhir+json; charset=utf-8';
export const JSON_UTF8 = 'application/json; charset=utf-8';

/**
 * FHIR JSON unless the client prefers plain JSON. `_format` goes before Accept (STANDARDS X1, X2).
 * @throws RequestError NOT_ACCEPTABLE for anything but FHIR R4 in JSON
 */
export function negotiate(accept: string | undefined, format?: unknown): string {
  if (format !== undefined) return forFormat(format);
  if (!accept) return FHIR_JSON;
  for (const range of accept.split(',')) {
    const found = forRange(range);
    if (found) return found;
  }
  throw new RequestError('NOT_ACCEPTABLE');
}

function forFormat(format: unknown): string {
  if (format === 'json' || format === 'application/fhir+json') return FHIR_JSON;
  if (format === 'application/json') return JSON_UTF8;
  throw new RequestError('NOT_ACCEPTABLE');
}

/** One media range of an Accept header; undefined when it means nothing that we have. */
function forRange(range: string): string | undefined {
  const [type, ...parameters] = range.split(';').map((part) => part.trim().toLowerCase());
  const parameterOf = (name: string) =>
    parameters
      .find((parameter) => parameter.startsWith(`${name}=`))
      ?.slice(name.length + 1)
      .replaceAll('"', '');
  const version = parameterOf('fhirversion');
  if (version !== undefined && version !== '4.0') return undefined;
  if (Number(parameterOf('q') ?? 1) === 0) return undefined;
  if (type === 'application/fhir+json' || type === '*/*' || type === 'application/*') return FHIR_JSON;
  return type === 'application/json' ? JSON_UTF8 : undefined;
}
