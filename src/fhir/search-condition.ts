/** One search parameter with its modifier and values -> a condition on the terms of a document (R4 search). */
import type { TermCondition, TermMatch, TimeBound } from '../document.ts';
import type { SearchParameter } from './offered.ts';
import { folded, stretchOf } from './search-terms.ts';

/**
 * @param value values with commas between them: any of them will do
 * @param base address of the FHIR door: what it stands before is the same as without
 * @returns what is wrong with it, as the end of a sentence that begins with its name
 */
export function readCondition(
  parameter: SearchParameter,
  modifier: string | undefined,
  value: string,
  base: string,
): TermCondition | string {
  const { name, type } = parameter;
  if (modifier === 'missing') {
    if (value !== 'true' && value !== 'false') return 'must be true or false';
    return { name, absent: value === 'true', anyOf: [] };
  }
  const isNot = modifier === 'not' && type === 'token';
  const reader = isNot ? readToken : readerOf(parameter, modifier, base);
  if (!reader) return 'has a modifier that is not offered';
  const values = valuesOf(value);
  if (values.some((each) => each === '')) return 'has no value';
  const matches = values.map(reader);
  const fault = matches.find((match) => typeof match === 'string');
  if (fault) return fault as string;
  return { name, absent: isNot, anyOf: matches as readonly TermMatch[] };
}

/** Between commas that no backslash stands before; the escapes stay. */
function valuesOf(value: string): readonly string[] {
  return value.match(/(?:\\.|[^,\\]|\\$)+|(?<=,|^)(?=,|$)/gs) ?? [''];
}

const unescaped = (text: string) => text.replace(/\\([,|$\\])/g, '$1');

type Reader = (value: string) => TermMatch | string;

function readerOf(
  { type, target }: SearchParameter,
  modifier: string | undefined,
  base: string,
): Reader | undefined {
  if (type === 'string') {
    if (modifier === 'exact') return (value) => ({ kind: 'value', system: unescaped(value) });
    const how = modifier === undefined ? 'starts' : modifier === 'contains' ? 'contains' : undefined;
    return how && ((value) => ({ kind: 'text', how, value: folded(unescaped(value)) }));
  }
  if (type === 'reference') {
    if (modifier !== undefined && !/^[A-Z][A-Za-z]+$/.test(modifier)) return undefined;
    return (value) => {
      const written = unescaped(value);
      const own = written.startsWith(`${base}/`) ? written.slice(base.length + 1) : written;
      return readReference(own, modifier, target);
    };
  }
  if (modifier !== undefined) return undefined;
  if (type === 'date') return readTime;
  return type === 'token' ? readToken : (value) => ({ kind: 'value', value: unescaped(value) });
}

/** `code`, `system|code`, `|code` (no system) or `system|`. */
function readToken(value: string): TermMatch | string {
  const parts = /^((?:\\.|[^|\\])*)\|(.*)$/s.exec(value)?.slice(1) ?? [value];
  const [before = '', after] = parts.map(unescaped);
  if (after === undefined) return { kind: 'value', value: before };
  if (before === '' && after === '') return 'has no value';
  return { kind: 'value', system: before === '' ? null : before, ...(after === '' ? {} : { value: after }) };
}

/**
 * @param type that the modifier says
 * @param target type of the resource that a bare id is of, where no modifier says it
 */
function readReference(
  value: string,
  type: string | undefined,
  target: string | undefined,
): TermMatch | string {
  const bare = type ?? target;
  if (/^[A-Za-z0-9.-]{1,64}$/.test(value)) return { kind: 'value', value: bare ? `${bare}/${value}` : value };
  const isOfType = type === undefined || value.startsWith(`${type}/`) || value.includes(`/${type}/`);
  return isOfType ? { kind: 'value', value } : 'is of another type than its modifier says';
}

/**
 * R4 compares stretches of time: `2026-11` is the whole month, and a date finds what lies wholly within it. A date
 * without a zone counts as UTC, like the dates of the results.
 */
function readTime(value: string): TermMatch | string {
  const [, prefix = 'eq', date = ''] = /^(eq|ne|gt|lt|ge|le|sa|eb|ap)?(.*)$/s.exec(value) ?? [];
  const stretch = stretchOf(unescaped(date));
  if (!stretch) return 'must be a date, with eq, ne, gt, lt, ge, le, sa or eb before it where needed';
  const bounds = BOUNDS[prefix];
  if (!bounds) return 'has a prefix that is not offered';
  return { kind: 'time', anyOf: bounds(stretch) };
}

type Bounds = (stretch: { low: number; high: number }) => readonly (readonly TimeBound[])[];

const bound = (column: TimeBound['column'], operator: TimeBound['operator'], value: number): TimeBound => ({
  column,
  operator,
  value,
});
const within: Bounds = ({ low, high }) => [[bound('low', '>=', low), bound('high', '<=', high)]];
const after: Bounds = ({ high }) => [[bound('high', '>', high)]];
const before: Bounds = ({ low }) => [[bound('low', '<', low)]];

const BOUNDS: Readonly<Record<string, Bounds>> = {
  eq: within,
  ne: ({ low, high }) => [[bound('low', '<', low)], [bound('high', '>', high)]],
  gt: after,
  lt: before,
  ge: (stretch) => [...after(stretch), ...within(stretch)],
  le: (stretch) => [...before(stretch), ...within(stretch)],
  sa: ({ high }) => [[bound('low', '>=', high)]],
  eb: ({ low }) => [[bound('high', '<=', low)]],
};
