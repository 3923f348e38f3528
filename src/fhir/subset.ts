/** `_summary` and `_elements`: a resource with some of its elements, and marked as such (STANDARDS X11). */
import type { FhirResource } from 'fhir/r4.js';
import { RequestError } from '../errors.ts';
import { OBSERVATION_VALUE } from './codes.ts';
import { ELEMENTS_OF_TYPE, type ElementsOfType } from './summary-elements.ts';

/** Null: the whole resource. */
export type Subset =
  | { readonly summary: 'true' | 'text' | 'data' }
  | { readonly elements: readonly string[] }
  | null;

const SUMMARIES = ['true', 'text', 'data', 'count', 'false'];

/** @throws RequestError SEARCH_INVALID */
export function readSubset(summary: string | undefined, elements: string | undefined): Subset {
  if (summary !== undefined && !SUMMARIES.includes(summary)) {
    const text = `_summary must be one of: ${SUMMARIES.join(', ')}`;
    throw new RequestError('SEARCH_INVALID', [{ expression: null, text }]);
  }
  if (summary === 'true' || summary === 'text' || summary === 'data') return { summary };
  // A count is of a search; of one resource it leaves nothing out.
  return elements === undefined ? null : { elements: elements.split(',').map((each) => each.trim()) };
}

/** Mandatory elements and modifiers stay, whatever was asked for. */
export function subsetOf(resource: FhirResource, subset: Subset): FhirResource {
  if (!subset) return resource;
  const wanted = wantedOf(resource.resourceType, subset);
  const kept = Object.entries(resource).filter(([name]) => isKept(name, wanted));
  const { tag = [], ...meta } = resource.meta ?? {};
  const marked = { ...meta, tag: [...tag, { system: OBSERVATION_VALUE, code: 'SUBSETTED' }] };
  // In the order of the resource.
  return { ...(Object.fromEntries(kept) as unknown as FhirResource), meta: marked };
}

const ALWAYS = ['resourceType', 'id', 'meta', 'implicitRules'];

function isKept(name: string, wanted: (element: string) => boolean): boolean {
  const element = name.replace(/^_/, '');
  return ALWAYS.includes(element) || wanted(element);
}

function wantedOf(type: string, subset: NonNullable<Subset>): (element: string) => boolean {
  const { summary, mandatory, modifier } = ELEMENTS_OF_TYPE.get(type) ?? NO_ELEMENTS;
  const mustStay = (element: string) => mandatory.has(element) || modifier.has(element);
  if ('elements' in subset) {
    return (element) => mustStay(element) || subset.elements.some((asked) => isAsked(asked, element));
  }
  if (subset.summary === 'data') return (element) => element !== 'text';
  if (subset.summary === 'text') return (element) => element === 'text' || mustStay(element);
  return (element) => mustStay(element) || summary.has(element);
}

/** Stems of the elements with a choice of types, in the types that are offered. */
const CHOICES: ReadonlySet<string> = new Set([
  'value',
  'effective',
  'occurred',
  'subject',
  'source',
  'target',
]);

const NO_ELEMENTS: ElementsOfType = { summary: new Set(), mandatory: new Set(), modifier: new Set() };

/** `_elements=value` or `valueQuantity`; also with the type before it, as `Observation.value`. */
function isAsked(asked: string, element: string): boolean {
  const name = asked.replace(/^[A-Z][A-Za-z]*\./, '');
  return name === element || (CHOICES.has(name) && new RegExp(`^${name}[A-Z]`).test(element));
}
