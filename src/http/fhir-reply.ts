/** Every answer of the FHIR door leaves here: media type, `_pretty`, entity tag and conditional read. */
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { StoredDocument } from '../document.ts';
import { RequestError } from '../errors.ts';
import type { Subset } from '../fhir/subset.ts';
import { subsetOf } from '../fhir/subset.ts';
import { negotiate } from './media-type.ts';

/** Query of a request, with repeated parameters kept; `+` and `%20` are spaces. */
export function queryOf({ url }: FastifyRequest): URLSearchParams {
  // A question mark may stand in a value too.
  const start = url.indexOf('?');
  return new URLSearchParams(start < 0 ? '' : url.slice(start + 1));
}

/** How a client wants a reply; settled before anything is done for it. */
export interface ReplyForm {
  readonly mediaType: string;
  readonly isPretty: boolean;
}

/** @throws RequestError NOT_ACCEPTABLE */
export function replyFormOf(request: FastifyRequest, query = queryOf(request)): ReplyForm {
  const mediaType = negotiate(request.headers.accept, query.get('_format') ?? undefined);
  return { mediaType, isPretty: query.get('_pretty') === 'true' };
}

/** @param body JSON text, or data */
export function sendFhir(
  reply: FastifyReply,
  { mediaType, isPretty }: ReplyForm,
  body: unknown,
): FastifyReply {
  const isText = typeof body === 'string';
  const text =
    isText && !isPretty ? body : JSON.stringify(isText ? JSON.parse(body) : body, null, isPretty ? 2 : 0);
  return reply.type(mediaType).send(text);
}

/** A document as it was filed, or 304 where the client has it (STANDARDS X4, X5, X11). */
export function sendDocument(
  request: FastifyRequest,
  reply: FastifyReply,
  { document, form, subset }: { document: StoredDocument; form: ReplyForm; subset: Subset },
): FastifyReply {
  const { content, version, updated } = document;
  if (content === null) throw new RequestError('GONE');
  const etag = `W/"${version}"`;
  reply.header('etag', etag).header('last-modified', new Date(updated).toUTCString());
  // A part of a resource is another representation: a client that holds the part does not hold the whole.
  if (!subset && isHeldBy(request, etag, updated)) return reply.code(304).send();
  return sendFhir(reply, form, subset ? subsetOf(JSON.parse(content), subset) : content);
}

/** `If-None-Match` goes before `If-Modified-Since` (RFC 9110), which knows whole seconds only. */
export function isHeldBy({ headers }: FastifyRequest, etag: string, updated: string): boolean {
  const held = headers['if-none-match'];
  if (held !== undefined) {
    const bare = (tag: string) => tag.trim().replace(/^W\//, '');
    return held.trim() === '*' || held.split(',').some((tag) => bare(tag) === bare(etag));
  }
  const since = Date.parse(headers['if-modified-since'] ?? '');
  return !Number.isNaN(since) && Math.floor(Date.parse(updated) / 1_000) * 1_000 <= since;
}

/**
 * Address of the service as the client knows it, without a slash at its end.
 * @param publicUrl of the service, where the installation is configured with one
 */
export function serviceBaseOf(request: FastifyRequest, publicUrl: string | null): string {
  if (publicUrl !== null) return publicUrl;
  const host = /^[A-Za-z0-9.:[\]-]{1,255}$/.test(request.host) ? request.host : 'localhost';
  return `http://${host}`;
}

/** Address of the FHIR door, likewise. */
export function fhirBaseOf(request: FastifyRequest, publicUrl: string | null): string {
  return `${serviceBaseOf(request, publicUrl)}/fhir`;
}
