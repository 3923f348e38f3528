/** FHIR: read, vread and search of every type that is offered (STANDARDS X4, X5, X10, X11). */
import type { FastifyInstance, FastifyPluginAsync, FastifyReply, FastifyRequest } from 'fastify';
import type { FhirResource } from 'fhir/r4.js';
import type { DocumentReader } from '../../document.ts';
import { RequestError } from '../../errors.ts';
import { OFFERED, OFFERED_TYPES, type OfferedType } from '../../fhir/offered.ts';
import { readSearch, type Search } from '../../fhir/read-search.ts';
import { readSubset } from '../../fhir/subset.ts';
import { writeSearchBundle } from '../../fhir/write-search-bundle.ts';
import { ownerFor } from '../access.ts';
import { fhirBaseOf, queryOf, replyFormOf, sendDocument, sendFhir } from '../fhir-reply.ts';
import { acceptForms } from '../json-body.ts';

export interface ResourceDeps {
  /** Filed by evaluations. */
  readonly results: DocumentReader;
  /** Of this installation. */
  readonly definitions: DocumentReader;
  readonly publicUrl: string | null;
}

const ID = ':id(^[A-Za-z0-9.-]{1,64}$)';
const VERSION = ':version(^[1-9][0-9]{0,9}$)';

export function fhirResourceRoutes(deps: ResourceDeps): FastifyPluginAsync {
  return async (app) => {
    for (const type of OFFERED_TYPES) readRoutes(app, type, deps);
    await app.register(async (forms) => {
      acceptForms(forms);
      for (const type of OFFERED_TYPES) searchRoutes(forms, type, deps);
    });
  };
}

function readRoutes(app: FastifyInstance, type: OfferedType, deps: ResourceDeps): void {
  const documents = deps[OFFERED[type].from];
  const answer = (request: FastifyRequest, reply: FastifyReply, id: string, version?: number) => {
    const form = replyFormOf(request);
    const query = queryOf(request);
    const subset = readSubset(query.get('_summary') ?? undefined, query.get('_elements') ?? undefined);
    const document = documents.findDocument(type, id, version);
    const owner = ownerFor(request.client);
    // Not told apart from what is not there.
    if (!document || (owner !== undefined && (document.owner ?? owner) !== owner)) {
      throw new RequestError('NOT_FOUND');
    }
    return sendDocument(request, reply, { document, form, subset });
  };
  app.get<{ Params: { id: string } }>(`/fhir/${type}/${ID}`, async (request, reply) =>
    answer(request, reply, request.params.id),
  );
  app.get<{ Params: { id: string; version: string } }>(
    `/fhir/${type}/${ID}/_history/${VERSION}`,
    async (request, reply) => answer(request, reply, request.params.id, Number(request.params.version)),
  );
}

function searchRoutes(app: FastifyInstance, type: OfferedType, deps: ResourceDeps): void {
  const documents = deps[OFFERED[type].from];
  const answer = (request: FastifyRequest, reply: FastifyReply, given: URLSearchParams) => {
    const form = replyFormOf(request, given);
    const base = fhirBaseOf(request, deps.publicUrl);
    const search = readSearch(type, given, { isLenient: isLenient(request), base });
    const owner = ownerFor(request.client);
    const page = documents.searchDocuments({ ...search.query, owner });
    const included = includedWith(search, page.documents, documents, owner);
    return sendFhir(reply, form, writeSearchBundle({ type, search, page, included }, base));
  };
  app.get(`/fhir/${type}`, async (request, reply) => answer(request, reply, queryOf(request)));
  app.post(`/fhir/${type}/_search`, async (request, reply) => {
    // Parameters of the address count with those of the body.
    const form = request.body === undefined ? new URLSearchParams() : request.body;
    if (!(form instanceof URLSearchParams)) throw new RequestError('MEDIA_TYPE_UNSUPPORTED', [FORM_ONLY]);
    return answer(request, reply, new URLSearchParams([...queryOf(request), ...form]));
  });
}

const FORM_ONLY = { expression: null, text: 'Here application/x-www-form-urlencoded is read.' };

/** `Prefer: handling=lenient`; an unknown parameter is an error otherwise. */
function isLenient({ headers }: FastifyRequest): boolean {
  return /(?:^|[,;]\s*)handling\s*=\s*"?lenient"?\s*(?:$|[,;])/i.test(String(headers.prefer ?? ''));
}

/** `_revinclude=Provenance:target` is the only one there is. */
function includedWith(
  { revIncludes }: Search,
  matches: readonly { type: string; id: string }[],
  documents: DocumentReader,
  owner: string | undefined,
): readonly FhirResource[] {
  if (revIncludes.length === 0 || matches.length === 0) return [];
  const anyOf = matches.map(({ type, id }) => ({ kind: 'value' as const, value: `${type}/${id}` }));
  const found = documents.searchDocuments({
    type: 'Provenance',
    owner,
    conditions: [{ name: 'target', absent: false, anyOf }],
    sort: [{ by: 'moment', descending: true }],
    limit: MOST_INCLUDED,
    offset: 0,
  });
  return found.documents.map(({ content }) => JSON.parse(content ?? '{}'));
}

/** More than a page of results has: one Provenance for each, and one for each withdrawal. */
const MOST_INCLUDED = 500;
