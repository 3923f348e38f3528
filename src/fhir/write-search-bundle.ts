/** What a search found -> a searchset Bundle with its links (STANDARDS X10). */
import type { Bundle, BundleEntry, BundleLink, FhirResource, OperationOutcome } from 'fhir/r4.js';
import type { DocumentPage } from '../document.ts';
import type { RequestIssue } from '../errors.ts';
import { GRIP_ISSUES } from './codes.ts';
import type { OfferedType } from './offered.ts';
import type { Search } from './read-search.ts';
import { subsetOf } from './subset.ts';

export interface Found {
  readonly type: OfferedType;
  readonly search: Search;
  readonly page: DocumentPage;
  /** Resources that `_revinclude` asks for. */
  readonly included: readonly FhirResource[];
}

/** @param base of the FHIR door, without a slash at its end */
export function writeSearchBundle({ type, search, page, included }: Found, base: string): Bundle {
  const resources = page.documents.map(({ content }) => JSON.parse(content ?? '{}') as FhirResource);
  const { ignored, subset, wantsTotal } = search;
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    ...(wantsTotal && page.total !== null ? { total: page.total } : {}),
    link: links(type, search, page, base),
    entry: entries(
      resources.map((resource) => subsetOf(resource, subset)),
      included,
      ignored,
      base,
    ),
  };
}

function entries(
  resources: readonly FhirResource[],
  included: readonly FhirResource[],
  ignored: readonly RequestIssue[],
  base: string,
): BundleEntry[] | undefined {
  const entry = [
    ...resources.map((resource) => entryOf(resource, 'match', base)),
    ...included.map((resource) => entryOf(resource, 'include', base)),
    ...(ignored.length > 0
      ? [{ resource: ignoredOutcome(ignored), search: { mode: 'outcome' as const } }]
      : []),
  ];
  return entry.length > 0 ? entry : undefined;
}

function entryOf(resource: FhirResource, mode: 'match' | 'include', base: string): BundleEntry {
  return { fullUrl: `${base}/${resource.resourceType}/${resource.id}`, resource, search: { mode } };
}

/** With lenient handling, what was ignored is said, and is missing from `self`. */
function ignoredOutcome(ignored: readonly RequestIssue[]): OperationOutcome {
  return {
    resourceType: 'OperationOutcome',
    issue: ignored.map(({ text }) => ({
      severity: 'warning',
      code: 'not-supported',
      details: {
        coding: [{ system: GRIP_ISSUES, code: 'SEARCH_INVALID' }],
        text: 'A parameter was ignored.',
      },
      diagnostics: text,
    })),
  };
}

function links(type: OfferedType, { used, query }: Search, page: DocumentPage, base: string): BundleLink[] {
  const { limit, offset } = query;
  const url = (start: number) => {
    const parameters = new URLSearchParams(used.map(([name, value]): [string, string] => [name, value]));
    if (start > 0 || query.upTo !== undefined) parameters.set('_page', `${start}-${page.upTo}`);
    const text = parameters.toString();
    return `${base}/${type}${text ? `?${text}` : ''}`;
  };
  const self: BundleLink = { relation: 'self', url: url(offset) };
  if (limit === 0) return [self];
  const { total, documents } = page;
  const hasNext = total === null ? documents.length === limit : offset + limit < total;
  return [
    self,
    { relation: 'first', url: url(0) },
    ...(offset > 0 ? [{ relation: 'previous', url: url(Math.max(0, offset - limit)) }] : []),
    ...(hasNext ? [{ relation: 'next', url: url(offset + limit) }] : []),
    ...(total === null
      ? []
      : [{ relation: 'last', url: url(Math.max(0, Math.ceil(total / limit) - 1) * limit) }]),
  ];
}
