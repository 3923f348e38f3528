/** Reads request bodies: JSON in UTF-8 and nothing else. Numbers, strings and nulls stay what they are. */
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { RequestError } from '../errors.ts';

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
    return NEEDS_CARE.test(text) ? JSON.parse(text, refuseUnsafe) : JSON.parse(text);
  } catch (cause) {
    throw new RequestError('BODY_NOT_JSON', [], { cause });
  }
}

/** Escapes can hide a name, or make half a character, which no file and no hash can keep. */
const NEEDS_CARE = /__proto__|\\u/i;

/** A member called `__proto__` has no place in FHIR or CDS Hooks, only in attacks. */
function refuseUnsafe(name: string, value: unknown): unknown {
  if (name === '__proto__') throw new SyntaxError('a member is called __proto__');
  if (!name.isWellFormed() || (typeof value === 'string' && !value.isWellFormed())) {
    throw new SyntaxError('a text holds half a surrogate pair');
  }
  return value;
}

/** `application/fhir+json; fhirVersion=4.0`: absent or 4.0, nothing else (STANDARDS X2). */
function requireR4(contentType: string): void {
  const version = /;\s*fhirVersion\s*=\s*"?([^";\s]+)"?/i.exec(contentType)?.[1];
  if (version !== undefined && version !== '4.0') throw new RequestError('MEDIA_TYPE_UNSUPPORTED');
}
