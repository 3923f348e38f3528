/**
 * The data of a call, key by key: what was prefetched or fetched, what is not there, and what could not be had (table
 * P11 of the standards brief). What is absent is fetched where the call and the settings allow it.
 */
import { z } from 'zod';
import { RequestError } from '../errors.ts';
import type { EvaluateDeps } from '../evaluate.ts';
import { requireForm, resourceForm } from '../fhir/forms.ts';
import { placedEntries } from '../fhir/read-request.ts';
import { outbound as ownOutbound } from '../outbound/outbound.ts';
import type { Caller } from './caller.ts';
import { REQUIRED_KEYS, type ServiceDescription } from './discovery.ts';
import type { Envelope } from './envelope.ts';
import { BUDGET_MS, openBudget } from './fetch-budget.ts';
import { type FirstPage, hasNext, needsMore, readPages, readSearch } from './fetch-pages.ts';
import { type Fetching, fetchResource } from './fetch-resource.ts';
import { findSource, resolveTemplate } from './fetch-source.ts';

/** What there is under one prefetch key. */
export type Gathered =
  | {
      readonly state: 'here';
      readonly resource: unknown;
      /** From the FHIR server of the call, in whole or in its further pages. */
      readonly fetched?: boolean;
      /** Pages that were needed could not be had. */
      readonly partly?: boolean;
    }
  /** The client, or its server, says that there is nothing. */
  | { readonly state: 'nothing'; readonly fetched?: boolean }
  /** `why` is said of the key. */
  | { readonly state: 'missing'; readonly why: string };

export type GatheredData = Readonly<Record<string, Gathered>>;

/** How data are fetched; a part that is absent is that of production. */
export type FetchOptions = Partial<Pick<EvaluateDeps, 'outbound' | 'fetchBudgetMs'>>;

type Received = Gathered | { readonly state: 'absent' };

/** What is gathered for; `required` where it is not REQUIRED_KEYS. */
export type GatheredService = Pick<ServiceDescription, 'prefetch'> & {
  readonly required?: readonly string[];
};

/**
 * Fetches within the budget of one call, at most; nothing is fetched for a call that is refused anyway.
 * @returns every key of the service; a required one is never `missing`
 * @throws RequestError BODY_INVALID for a prefetched value that is no such resource, PREFETCH_MISSING naming each
 * required key that could not be had
 */
export async function gather(
  envelope: Envelope,
  service: GatheredService,
  caller: Caller,
  { outbound = ownOutbound, fetchBudgetMs = BUDGET_MS }: FetchOptions = {},
): Promise<GatheredData> {
  const wanted = Object.entries(service.prefetch).map(([key, template]): Wanted => {
    return {
      key,
      template,
      envelope,
      received: readPrefetched(key, envelope.prefetch[key], typeOf(template)),
    };
  });
  requireNoneMissing(
    wanted.map(({ key, received }) => [key, received]),
    service,
  );
  const source = findSource(envelope, caller);
  const gathered =
    typeof source === 'string'
      ? wanted.map((each) => [each.key, withoutFetching(each, source)] as const)
      : await completeAll(wanted, {
          source,
          outbound,
          patientId: envelope.patientId,
          budget: openBudget(fetchBudgetMs),
        });
  requireNoneMissing(gathered, service);
  return Object.fromEntries(gathered);
}

/** What a key stands for in one call. */
interface Wanted {
  readonly key: string;
  readonly template: string;
  readonly envelope: Envelope;
  readonly received: Received;
}

/** A search that finds nothing is an answer; a read that finds nothing leaves nothing to go on with. */
function requireNoneMissing(
  found: readonly (readonly [key: string, Received])[],
  { prefetch, required = REQUIRED_KEYS }: GatheredService,
): void {
  const issues = found.flatMap(([key, each]) => {
    const text = whyMissing(each, prefetch[key] ?? '');
    return text !== undefined && required.includes(key) ? [{ expression: `prefetch.${key}`, text }] : [];
  });
  if (issues.length > 0) throw new RequestError('PREFETCH_MISSING', issues);
}

function whyMissing(received: Received, template: string): string | undefined {
  if (received.state === 'missing') return received.why;
  if (received.state !== 'nothing' || isSearch(template)) return undefined;
  const type = typeOf(template);
  return received.fetched
    ? `was not prefetched, and the FHIR server says that there is no such ${type}`
    : `is null: there is no such ${type}`;
}

/** Type of what a template asks for. */
function typeOf(template: string): string {
  return isSearch(template) ? 'Bundle' : (template.split('/', 1)[0] ?? '');
}

const isSearch = (template: string) => template.includes('?');

function readPrefetched(key: string, value: unknown, resourceType: string): Received {
  if (value === undefined) return { state: 'absent' };
  if (value === null) return { state: 'nothing' };
  const resource = requireForm(resourceForm, value, `prefetch.${key}`);
  if (resource.resourceType === 'OperationOutcome') return NOT_RETRIEVED;
  if (resource.resourceType !== resourceType) {
    const expression = `prefetch.${key}.resourceType`;
    throw new RequestError('BODY_INVALID', [{ expression, text: `must be ${resourceType}` }]);
  }
  return resourceType === 'Bundle' && holdsFailure(resource, key)
    ? NOT_RETRIEVED
    : { state: 'here', resource };
}

/** An OperationOutcome spares a query that failed already: it is not fetched again. */
const NOT_RETRIEVED: Gathered = { state: 'missing', why: 'could not be retrieved by the client' };

const notPrefetched = (why: string): Gathered => ({
  state: 'missing',
  why: `was not prefetched, and ${why}`,
});

function withoutFetching({ received, template }: Wanted, why: string): Gathered {
  if (received.state === 'absent') return notPrefetched(why);
  const isPart =
    received.state === 'here' && isSearch(template) && needsMore(received.resource, readSearch(template));
  return isPart ? { ...received, partly: true } : received;
}

async function completeAll(wanted: readonly Wanted[], fetching: Fetching) {
  try {
    return await Promise.all(wanted.map(async (each) => [each.key, await complete(each, fetching)] as const));
  } finally {
    fetching.budget.close();
  }
}

async function complete(wanted: Wanted, fetching: Fetching): Promise<Gathered> {
  const { received, template } = wanted;
  if (received.state === 'absent') return fetchKey(wanted, fetching);
  if (received.state !== 'here' || !isSearch(template) || !hasNext(received.resource)) return received;
  const { bundle, added, partly } = await readOn(
    { bundle: received.resource, at: `${fetching.source.base}/` },
    wanted,
    fetching,
  );
  const read = added > 0 ? { resource: bundle, fetched: true } : { resource: received.resource };
  return { state: 'here', ...read, ...(partly ? { partly } : {}) };
}

async function fetchKey(wanted: Wanted, fetching: Fetching): Promise<Gathered> {
  const { key, template, envelope } = wanted;
  const url = resolveTemplate(template, envelope, fetching.source.base);
  if (url === undefined) return notPrefetched('the context does not give what its template asks for');
  const found = await fetchResource(url, fetching);
  if ('why' in found) {
    const isGone = !isSearch(template) && (found.status === 404 || found.status === 410);
    return isGone ? { state: 'nothing', fetched: true } : notPrefetched(found.why);
  }
  const { resource } = found;
  if (!isUsable(resource, key, typeOf(template))) {
    return notPrefetched('the FHIR server gave something else than was asked for');
  }
  if (!isSearch(template)) return { state: 'here', resource, fetched: true };
  const { bundle, partly } = await readOn({ bundle: resource, at: url }, wanted, fetching);
  return { state: 'here', resource: bundle, fetched: true, ...(partly ? { partly } : {}) };
}

function readOn(first: FirstPage, { key, template }: Wanted, fetching: Fetching) {
  const isUsablePage = (page: unknown) => isUsable(page, key, 'Bundle');
  return readPages(first, readSearch(template), fetching, isUsablePage);
}

/** Of what was fetched: the same rules as for what was prefetched, and what breaks them could not be had. */
function isUsable(resource: unknown, key: string, resourceType: string): boolean {
  try {
    return readPrefetched(key, resource, resourceType).state === 'here';
  } catch (fault) {
    if (fault instanceof RequestError) return false;
    throw fault;
  }
}

function holdsFailure(bundle: unknown, key: string): boolean {
  return placedEntries(bundle, `prefetch.${key}`).some(
    ({ resource, resourceType, expression }) =>
      resourceType === 'OperationOutcome' && saysFailure(resource, expression),
  );
}

const outcomeForm = z.looseObject({ issue: z.array(z.looseObject({ severity: z.string() })) });

/** A search may come with an OperationOutcome that only warns. */
function saysFailure(resource: unknown, expression: string): boolean {
  const outcome = requireForm(outcomeForm, resource, expression);
  return outcome.issue.some(({ severity }) => severity === 'error' || severity === 'fatal');
}
