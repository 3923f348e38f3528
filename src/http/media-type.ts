/** Media types that go out (STANDARDS X1, X2). */
import { RequestError } from '../errors.ts';

export const FHIR_JSON = 'application/fhir+json; charset=utf-8';
export const JSON_UTF8 = 'application/json; charset=utf-8';
/** Said back to a client that asked for the version by name. */
const FHIR_JSON_R4 = 'application/fhir+json; fhirVersion=4.0; charset=utf-8';

/**
 * FHIR JSON unless the client prefers plain JSON. `_format` goes before Accept.
 * @throws RequestError NOT_ACCEPTABLE for anything but FHIR R4 in JSON
 */
export function negotiate(accept: string | undefined, format?: unknown): string {
  if (format !== undefined) return forFormat(format);
  if (!accept) return FHIR_JSON;
  const ranges = accept.split(',').map(readRange);
  const [best] = ranges
    .flatMap(({ quality, answer }) => (answer && quality > 0 ? [{ quality, answer }] : []))
    .sort((a, b) => b.quality - a.quality);
  if (best) return best.answer;
  throw new RequestError('NOT_ACCEPTABLE');
}

function forFormat(format: unknown): string {
  // A plus sign that was not encoded in the address arrives as a space.
  const asked =
    typeof format === 'string' ? format.replace(/^application\/fhir json/, 'application/fhir+json') : '';
  const answer = asked === 'json' || asked === 'text/json' ? FHIR_JSON : readRange(asked).answer;
  if (!answer || asked.includes('*')) throw new RequestError('NOT_ACCEPTABLE');
  return answer;
}

/** One media range of an Accept header; no answer when it means nothing that we have. */
function readRange(range: string): { readonly quality: number; readonly answer: string | undefined } {
  const [type = '', ...parameters] = range.split(';').map((part) => part.trim().toLowerCase());
  const parameterOf = (name: string) =>
    parameters
      .find((parameter) => parameter.replace(/\s*=.*/s, '') === name)
      ?.replace(/^[^=]*=\s*/, '')
      .replaceAll('"', '');
  const version = parameterOf('fhirversion');
  const quality = Number(parameterOf('q') ?? 1);
  return {
    quality,
    answer: version === undefined || version === '4.0' ? answerFor(type, version) : undefined,
  };
}

/** `application/json+fhir` is the name before R3, which some clients still send. */
const FHIR_TYPES = ['application/fhir+json', 'application/json+fhir', '*/*', 'application/*'];

function answerFor(type: string, version: string | undefined): string | undefined {
  if (type === 'application/json') return JSON_UTF8;
  if (!FHIR_TYPES.includes(type)) return undefined;
  return version === undefined ? FHIR_JSON : FHIR_JSON_R4;
}
