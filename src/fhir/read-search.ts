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
/** Of all conditions together; the store takes no condition that is nested a thousand deep. */
const MOST_VALUES = 200;
/** Each is asked of every result that the others leave. */
const MOST_CONDITIONS = 10;
/** A reply must not be larger than what was asked. */
const MOST_ISSUES = 20;
/** Read elsewhere: the form of the reply, which that of the next page has to have too. */
const OF_THE_REPLY: ReadonlySet<string> = new Set(['_format', '_pretty']);

export interface SearchSetting {
  /** `Prefer: handling=lenient`: a parameter that is not known is ignored. One that is known must be right. */
  readonly isLenient: boolean;
  /** Address of the FHIR door, without a slash at its end. */
  readonly base: string;
}

/** @throws RequestError SEARCH_INVALID naming each parameter that cannot be used */
export function readSearch(
  type: OfferedType,
  given: URLSearchParams,
  { isLenient, base }: SearchSetting,
): Search {
  const known = new Map(parametersOf(type).map((each) => [each.name, each]));
  const control = new Map<string, string>();
  const conditions: TermCondition[] = [];
  const used: [string, string][] = [];
  const faults: RequestIssue[] = [];
  const ignored: RequestIssue[] = [];
  for (const [index, [name, value]] of [...given].entries()) {
    const [code = '', modifier] = name.split(/:(.*)/s);
    const parameter = known.get(code);
    if (parameter) {
      const condition = readCondition(parameter, modifier, value, base);
      if (typeof condition === 'string') faults.push(issue(`${code} ${condition}`));
      else conditions.push(condition);
    } else if (CONTROLS.has(code)) {
      const fault = noteControl(control, { name: code, modifier, value });
      if (fault) faults.push(issue(`${code} ${fault}`));
    } else if (!OF_THE_REPLY.has(name)) {
      ignored.push(issue(unknownText(index, known)));
      continue;
    }
    if (name !== '_page') used.push([name, name === '_count' ? usedCount(value) : value]);
  }
  if (faults.length > 0 || (ignored.length > 0 && !isLenient)) {
    throw new RequestError('SEARCH_INVALID', [...faults, ...ignored].slice(0, MOST_ISSUES));
  }
  requireFewValues(conditions);
  const { limit, offset, upTo } = readPage(control);
  const { from } = OFFERED[type] as Offered;
  const sort = readSort(type, control.get('_sort')) ?? [{ by: 'moment', descending: from === 'results' }];
  return {
    query: { type, conditions, sort, limit, offset, upTo },
    subset: readSubset(control.get('_summary'), control.get('_elements')),
    revIncludes: readRevIncludes(type, control.get('_revinclude')),
    used,
    ignored,
    wantsTotal: readTotal(control.get('_total')),
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
function noteControl(
  control: Map<string, string>,
  { name, modifier, value }: { name: string; modifier: string | undefined; value: string },
): string | undefined {
  if (modifier !== undefined) return 'has a modifier that is not offered';
  if (control.has(name)) return 'must not be repeated';
  control.set(name, value);
  return undefined;
}

/** Told by its place: its name may be a person's. */
function unknownText(index: number, known: ReadonlyMap<string, SearchParameter>): string {
  return `Parameter ${index + 1} is not a search parameter here; known: ${[...known.keys(), ...CONTROLS].join(', ')}`;
}

function issue(text: string): RequestIssue {
  return { expression: null, text };
}

function invalid(text: string): RequestError {
  return new RequestError('SEARCH_INVALID', [issue(text)]);
}

function requireFewValues(conditions: readonly TermCondition[]): void {
  const values = conditions.reduce((sum, { anyOf }) => sum + Math.max(1, anyOf.length), 0);
  if (conditions.length > MOST_CONDITIONS) {
    throw invalid(`A search must not have more than ${MOST_CONDITIONS} parameters`);
  }
  if (values > MOST_VALUES) throw invalid(`A search must not have more than ${MOST_VALUES} values`);
}

/** More than the most is the most, and the links say so. */
function usedCount(asked: string): string {
  return Number(asked) > PAGE_MOST ? String(PAGE_MOST) : asked;
}

/** An estimate may be exact. */
function readTotal(asked = 'accurate'): boolean {
  if (!['none', 'estimate', 'accurate'].includes(asked)) {
    throw invalid('_total must be one of: none, estimate, accurate');
  }
  return asked !== 'none';
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
  const known = [sort, '_lastUpdated'].filter((each) => each !== undefined);
  const named = asked
    .split(',')
    .map((each) => ({ name: each.replace(/^-/, ''), descending: each.startsWith('-') }));
  const isKnown = named.every(({ name }) => known.includes(name));
  if (!isKnown || new Set(named.map(({ name }) => name)).size < named.length) {
    throw invalid(`_sort must be ${known.join(' or ')} or both, with - before it for the latest first`);
  }
  return named.map(({ name, descending }) => ({ by: name === sort ? 'moment' : 'updated', descending }));
}

function readRevIncludes(type: OfferedType, asked: string | undefined): readonly string[] {
  if (asked === undefined) return [];
  const { revIncludes = [] } = OFFERED[type] as Offered;
  if (revIncludes.includes(asked)) return [asked];
  throw invalid(
    `_revinclude ${revIncludes.length > 0 ? `must be ${revIncludes.join(' or ')}` : 'is not offered here'}`,
  );
}
