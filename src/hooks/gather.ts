/** The data of a call, key by key: what was prefetched, what is not there, and what could not be had (table P11). */
import { z } from 'zod';
import { RequestError } from '../errors.ts';
import { requireForm, resourceForm } from '../fhir/forms.ts';
import { placedEntries } from '../fhir/read-request.ts';
import type { Caller } from './caller.ts';
import { REQUIRED_KEYS, type ServiceDescription } from './discovery.ts';
import type { Envelope } from './envelope.ts';

/** What there is under one prefetch key. */
export type Gathered =
  | { readonly state: 'here'; readonly resource: unknown }
  /** The client says that there is nothing. */
  | { readonly state: 'nothing' }
  | { readonly state: 'missing'; readonly why: string };

export type GatheredData = Readonly<Record<string, Gathered>>;

/** What is gathered for; `required` where it is not REQUIRED_KEYS. */
export type GatheredService = Pick<ServiceDescription, 'prefetch'> & {
  readonly required?: readonly string[];
};

/**
 * @returns every key of the service; a required one is never `missing`
 * @throws RequestError BODY_INVALID for a value that is no such resource, PREFETCH_MISSING naming a required key
 */
export async function gather(
  { prefetch }: Envelope,
  { prefetch: templates, required = REQUIRED_KEYS }: GatheredService,
  _caller: Caller,
): Promise<GatheredData> {
  const gathered: Record<string, Gathered> = {};
  for (const [key, template] of Object.entries(templates)) {
    const found = readPrefetched(key, prefetch[key], template.includes('?') ? 'Bundle' : typeOf(template));
    if (found.state === 'missing' && required.includes(key)) {
      throw new RequestError('PREFETCH_MISSING', [{ expression: `prefetch.${key}`, text: found.why }]);
    }
    gathered[key] = found;
  }
  return gathered;
}

const typeOf = (template: string) => template.split('/', 1)[0] ?? '';

function readPrefetched(key: string, value: unknown, resourceType: string): Gathered {
  if (value === undefined) return { state: 'missing', why: 'is required' };
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

const NOT_RETRIEVED: Gathered = { state: 'missing', why: 'could not be retrieved by the client' };

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
