/** `_summary` and `_elements`: a resource with some of its elements, and marked as such (STANDARDS X11). */
import type { FhirResource } from 'fhir/r4.js';
import { RequestError } from '../errors.ts';
import { OBSERVATION_VALUE } from './codes.ts';
import { ELEMENTS } from './summary-elements.ts';

/** Null: the whole resource. */
export type Subset = { readonly summary: 'true' | 'text' | 'data' } | { readonly elements: readonly string[] } | null;

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
  const of = ELEMENTS[type] ?? { summary: [], mandatory: [], modifiers: [] };
  const isIn = (list: readonly string[], element: string) => list.some((each) => isNamed(each, element));
  const mustStay = (element: string) => isIn(of.mandatory, element) || isIn(of.modifiers, element);
  if ('elements' in subset) {
    return (element) => mustStay(element) || subset.elements.some((asked) => isAsked(asked, element));
  }
  if (subset.summary === 'data') return (element) => element !== 'text';
  if (subset.summary === 'text') return (element) => element === 'text' || mustStay(element);
  return (element) => mustStay(element) || isIn(of.summary, element);
}

/** `value[x]` is the definition's name of `valueQuantity`. */
function isNamed(defined: string, element: string): boolean {
  if (!defined.endsWith('[x]')) return defined === element;
  const stem = defined.slice(0, -3);
  return element.startsWith(stem) && /^[A-Z]/.test(element.slice(stem.length));
}

/** `_elements=value` or `valueQuantity`; also with the type before it, as `Observation.value`. */
function isAsked(asked: string, element: string): boolean {
  const name = asked.replace(/^[A-Z][A-Za-z]*\./, '');
  return name === element || isNamed(`${name}[x]`, element);
}
