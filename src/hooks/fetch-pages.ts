/** The further pages of a search: as many as it takes to have what the template asks for. */
import { z } from 'zod';
import { bundleForm } from '../fhir/forms.ts';
import { type Fetching, fetchResource } from './fetch-resource.ts';
import { isBelow } from './fetch-source.ts';

/** Of one search: a server that gives ten at a time still gives a hundred. */
const MOST_PAGES = 10;

/** What a search was for. */
export interface Search {
  readonly resourceType: string;
  /** `_count` of the template: the newest so many are read. Null: all. */
  readonly count: number | null;
}

/** @param template of a search, e.g. `Observation?patient={{context.patientId}}&_count=5` */
export function readSearch(template: string): Search {
  const [resourceType = '', query = ''] = template.split('?', 2);
  const count = Number(new URLSearchParams(query).get('_count') ?? Number.NaN);
  return { resourceType, count: Number.isSafeInteger(count) ? count : null };
}

/** Resources of a search, of one page or of several. */
export interface Pages {
  /** A Bundle; with a link `next` when there is more. */
  readonly bundle: unknown;
  /** The server has more, and what was read is less than was asked for or not surely the newest. */
  readonly partly: boolean;
  /** Pages read after the first. */
  readonly added: number;
}

const linked = {
  link: z.array(z.looseObject({ relation: z.string().optional(), url: z.string().optional() })).optional(),
};
/** Of every Bundle the links only: most have no `next`, and their entries are read elsewhere. */
const linksForm = z.looseObject(linked);
const pageForm = bundleForm.extend(linked);
type Page = z.infer<typeof pageForm>;
type Entries = NonNullable<Page['entry']>;

/** Whether the pages after the first are needed. */
export function needsMore(first: unknown, search: Search): boolean {
  return hasNext(first) && isWanting(readPage(first)?.entry ?? [], search);
}

/** The page that there is. */
export interface FirstPage {
  /** A Bundle that can be used. */
  readonly bundle: unknown;
  /** Its address; for one that was prefetched, the base of the server with a slash. */
  readonly at: string;
}

/** @param isUsable whether a further page can be used */
export async function readPages(
  { bundle: first, at }: FirstPage,
  search: Search,
  fetching: Fetching,
  isUsable: (page: unknown) => boolean,
): Promise<Pages> {
  const page = readPage(first);
  if (!page) return { bundle: first, partly: false, added: 0 };
  const entries = [...(page.entry ?? [])];
  const seen = new Set([at]);
  let next = findNext(page);
  let from = at;
  let added = 0;
  while (next !== undefined && added < MOST_PAGES - 1 && isWanting(entries, search)) {
    const address = resolveNext(next, from, fetching);
    if (address === undefined || seen.has(address)) break;
    seen.add(address);
    const found = await fetchResource(address, fetching);
    const more = 'resource' in found && isUsable(found.resource) ? readPage(found.resource) : undefined;
    if (!more) break;
    entries.push(...(more.entry ?? []));
    added += 1;
    next = findNext(more);
    from = address;
  }
  const kept = keepNewest(entries, search, fetching);
  const hasMore = next !== undefined;
  const link = hasMore || kept.length < entries.length ? [{ relation: 'next' }] : [];
  return { bundle: { ...page, entry: kept, link }, partly: hasMore && isWanting(entries, search), added };
}

/** Whether a Bundle says that there is more. */
export function hasNext(bundle: unknown): boolean {
  const parsed = linksForm.safeParse(bundle);
  return parsed.success && findNext(parsed.data) !== undefined;
}

function readPage(bundle: unknown): Page | undefined {
  const parsed = pageForm.safeParse(bundle);
  return parsed.success ? parsed.data : undefined;
}

/** What the link `next` says, empty where it says nothing; undefined where there is none. */
function findNext({ link = [] }: Pick<Page, 'link'>): string | undefined {
  const next = link.find(({ relation }) => relation === 'next');
  return next && (next.url ?? '');
}

/** Undefined where it leads to where the token must not go. */
function resolveNext(next: string, from: string, { source }: Fetching): string | undefined {
  if (next === '' || !URL.canParse(next, from)) return undefined;
  const url = new URL(next, from);
  url.hash = '';
  return isBelow(source, url) ? url.href : undefined;
}

/** Whether another page is needed: too few so far, or a server that does not give the newest first. */
function isWanting(entries: Entries, search: Search): boolean {
  const own = matches(entries, search);
  if (search.count === null || own.length < search.count) return true;
  const days = own.map(dayOf).filter((day) => day !== '');
  return days.some((day, index) => index > 0 && day > (days[index - 1] ?? ''));
}

/**
 * Where more came than was asked for, the newest. What has no date stays, and so does what is not plainly the patient's:
 * it is for the readers to refuse.
 */
function keepNewest(entries: Entries, search: Search, { source, patientId }: Fetching): Entries {
  const names: readonly unknown[] = [`Patient/${patientId}`, `${source.base}/Patient/${patientId}`];
  const own = matches(entries, search).filter((entry) => names.includes(subjectOf(entry)));
  if (search.count === null || own.length <= search.count) return entries;
  const newestFirst = own.toSorted((a, b) => compare(dayOf(b) || LAST_DAY, dayOf(a) || LAST_DAY));
  const left = new Set(newestFirst.slice(search.count));
  return entries.filter((entry) => !left.has(entry));
}

function subjectOf({ resource }: Entries[number]): unknown {
  const { subject }: Record<string, unknown> = resource ?? {};
  return ((subject ?? {}) as { reference?: unknown }).reference;
}

const LAST_DAY = '9999-12-31';
const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);

function matches(entries: Entries, { resourceType }: Search): Entries {
  return entries.filter(({ resource }) => resource?.resourceType === resourceType);
}

/** Day on which it was charted to be, `YYYY-MM-DD`; empty when it does not say. */
function dayOf({ resource }: Entries[number]): string {
  const { effectiveDateTime, effectiveInstant, effectivePeriod }: Record<string, unknown> = resource ?? {};
  const { start, end } = (effectivePeriod ?? {}) as { start?: unknown; end?: unknown };
  const said = [effectiveDateTime, effectiveInstant, end, start].find((each) => typeof each === 'string');
  return typeof said === 'string' ? said.slice(0, 10) : '';
}
