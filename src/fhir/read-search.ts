/**
 * The query of a FHIR search -> what the store is asked, and what the reply says was used (STANDARDS X9 to X11). A
 * parameter that is not known is an error, unless the client asks for `handling=lenient`: a search that quietly ignored
 * `patient` would give out other people's results.
 */
import type { DocumentQuery, TermCondition } from '../document.ts';
import { RequestError, type RequestIssue } from '../errors.ts';
import { OFFERED, type Offered, type OfferedType, parametersOf, type SearchParameter } from './offered.ts';
import { readCondition } from './search-condition.ts';
import { readSubset, type Subset } from './subset.ts';

export interface Search {
  readonly query: DocumentQuery;
  readonly subset: Subset;
  /** `_revinclude` values that were asked for. */
  readonly revIncludes: readonly string[];
  /** The parameters that were used, without the page: for the links of the reply. */
  readonly used: readonly (readonly [name: string, value: string])[];
  /** Of parameters that were ignored, with lenient handling. */
  readonly ignored: readonly RequestIssue[];
  readonly wantsTotal: boolean;
}

const PAGE_DEFAULT = 20;
const PAGE_MOST = 100;
/** Read elsewhere: the form of the reply. */
const OF_THE_REPLY: ReadonlySet<string> = new Set(['_format', '_pretty']);

/** @throws RequestError SEARCH_INVALID naming each parameter that cannot be used */
export function readSearch(type: OfferedType, given: URLSearchParams, isLenient: boolean): Search {
  const known = new Map(parametersOf(type).map((each) => [each.name, each]));
  const reader = {
    conditions: [] as TermCondition[],
    used: [] as [string, string][],
    ignored: [] as RequestIssue[],
  };
  const control = new Map<string, string>();
  for (const [index, [name, value]] of [...given].entries()) {
    if (OF_THE_REPLY.has(name)) continue;
    const fault = CONTROLS.has(name)
      ? noteControl(control, name, value)
      : noteCondition(reader.conditions, known, name, value);
    if (fault) reader.ignored.push({ expression: null, text: `${nameOf(name, known, index)} ${fault}` });
    else if (name !== '_page') reader.used.push([name, value]);
  }
  if (reader.ignored.length > 0 && !isLenient) throw new RequestError('SEARCH_INVALID', reader.ignored);
  const { limit, offset, upTo } = readPage(control);
  const { from } = OFFERED[type] as Offered;
  const sort = readSort(type, control.get('_sort')) ?? { by: 'moment', descending: from === 'results' };
  return {
    query: { type, conditions: reader.conditions, sort, limit, offset, upTo },
    subset: readSubset(control.get('_summary'), control.get('_elements')),
    revIncludes: readRevIncludes(type, control.get('_revinclude')),
    used: reader.used,
    ignored: reader.ignored,
    wantsTotal: control.get('_total') !== 'none',
  };
}

const CONTROLS: ReadonlySet<string> = new Set([
  '_count',
  '_sort',
  '_summary',
  '_elements',
  '_total',
  '_revinclude',
  '_page',
]);

/** @returns what is wrong with it */
function noteControl(control: Map<string, string>, name: string, value: string): string | undefined {
  if (control.has(name)) return 'must not be repeated';
  control.set(name, value);
  return undefined;
}

function noteCondition(
  conditions: TermCondition[],
  known: ReadonlyMap<string, SearchParameter>,
  name: string,
  value: string,
): string | undefined {
  const [code = '', modifier] = name.split(/:(.*)/s);
  const parameter = known.get(code);
  if (!parameter)
    return `is not a search parameter here; known: ${[...known.keys(), ...CONTROLS].join(', ')}`;
  const condition = readCondition(parameter, modifier, value);
  if (typeof condition === 'string') return condition;
  conditions.push(condition);
  return undefined;
}

/** What is not known is told by its place: it may be a person's name. */
function nameOf(name: string, known: ReadonlyMap<string, SearchParameter>, index: number): string {
  const [code = ''] = name.split(':');
  return known.has(code) || CONTROLS.has(code) ? code : `Parameter ${index + 1}`;
}

function invalid(text: string): RequestError {
  return new RequestError('SEARCH_INVALID', [{ expression: null, text }]);
}

function readPage(control: ReadonlyMap<string, string>): Pick<DocumentQuery, 'limit' | 'offset' | 'upTo'> {
  const count = control.get('_count') ?? String(PAGE_DEFAULT);
  if (!/^\d{1,9}$/.test(count)) throw invalid('_count must be a number');
  // `_count=0` asks for the total only, like `_summary=count`.
  const limit = control.get('_summary') === 'count' ? 0 : Math.min(Number(count), PAGE_MOST);
  const page = control.get('_page');
  if (page === undefined) return { limit, offset: 0 };
  const [, offset = '', upTo = ''] = /^(\d{1,12})-(\d{1,12})$/.exec(page) ?? [];
  if (!offset) throw invalid('_page must come from a link of an earlier reply');
  return { limit, offset: Number(offset), upTo: Number(upTo) };
}

function readSort(type: OfferedType, asked: string | undefined): DocumentQuery['sort'] | undefined {
  if (asked === undefined) return undefined;
  const { sort } = OFFERED[type] as Offered;
  const descending = asked.startsWith('-');
  const name = descending ? asked.slice(1) : asked;
  if (name === '_lastUpdated') return { by: 'updated', descending };
  if (name === sort) return { by: 'moment', descending };
  const known = [sort, '_lastUpdated'].filter(Boolean).join(' or ');
  throw invalid(`_sort must be ${known}, with - before it for the latest first`);
}

function readRevIncludes(type: OfferedType, asked: string | undefined): readonly string[] {
  if (asked === undefined) return [];
  const { revIncludes = [] } = OFFERED[type] as Offered;
  if (revIncludes.includes(asked)) return [asked];
  throw invalid(
    `_revinclude ${revIncludes.length > 0 ? `must be ${revIncludes.join(' or ')}` : 'is not offered here'}`,
  );
}
