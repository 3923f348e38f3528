/** Reads request bodies: JSON in UTF-8 and nothing else. Numbers, strings and nulls stay what they are. */
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { RequestError } from '../errors.ts';
import { isParsedSoon, parseUntrusted } from '../untrusted-json.ts';

const utf8 = new TextDecoder('utf-8', { fatal: true });

/** Replaces Fastify's parsers, which accept text/plain and bad UTF-8 and know no `application/fhir+json`. */
export function acceptOnlyJson(app: FastifyInstance): void {
  app.removeAllContentTypeParsers();
  app.addContentTypeParser(
    ['application/json', 'application/fhir+json'],
    { parseAs: 'buffer' },
    async (request: FastifyRequest, body: Buffer) => {
      requireR4(request.headers['content-type'] ?? '');
      return parseJson(body);
    },
  );
}

/** The body of `POST [type]/_search`, in the routes of `app` only. */
export function acceptForms(app: FastifyInstance): void {
  app.addContentTypeParser(
    'application/x-www-form-urlencoded',
    { parseAs: 'buffer' },
    async (_request: FastifyRequest, body: Buffer) => {
      try {
        return new URLSearchParams(utf8.decode(body));
      } catch (cause) {
        throw new RequestError('SEARCH_INVALID', [], { cause });
      }
    },
  );
}

function parseJson(body: Buffer): unknown {
  try {
    const text = utf8.decode(body);
    if (!isParsedSoon(text)) throw new SyntaxError('it nests too deep, or holds too many values');
    return parseUntrusted(text);
  } catch (cause) {
    throw new RequestError('BODY_NOT_JSON', [], { cause });
  }
}

/** `application/fhir+json; fhirVersion=4.0`: absent or 4.0, nothing else (STANDARDS X2). */
function requireR4(contentType: string): void {
  const version = /;\s*fhirVersion\s*=\s*"?([^";\s]+)"?/i.exec(contentType)?.[1];
  if (version !== undefined && version !== '4.0') throw new RequestError('MEDIA_TYPE_UNSUPPORTED');
}
