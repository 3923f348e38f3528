/** Elements of FHIR resources -> the terms by which a search finds them (R4 search, by the type of parameter). */
import type { CodeableConcept, Coding, Identifier, Reference } from 'fhir/r4.js';
import type { DocumentTerm } from '../document.ts';
import { unversioned } from './reference.ts';

/** Terms without the name of their parameter. */
export type Term = Omit<DocumentTerm, 'name'>;

export function codingTerms(codings: readonly Coding[] | undefined): readonly Term[] {
  return (codings ?? []).flatMap(({ system, code }) => (code === undefined ? [] : [{ system, value: code }]));
}

export function conceptTerms(concepts: readonly (CodeableConcept | undefined)[]): readonly Term[] {
  return concepts.flatMap((concept) => codingTerms(concept?.coding));
}

export function identifierTerms(identifiers: readonly Identifier[] | undefined): readonly Term[] {
  return (identifiers ?? []).flatMap(({ system, value }) => (value === undefined ? [] : [{ system, value }]));
}

/** A code, uri, canonical or boolean. @param system of a code that names none, because its binding does */
export function valueTerms(values: readonly (string | undefined)[], system?: string): readonly Term[] {
  return values.flatMap((value) => (value === undefined ? [] : [{ system, value }]));
}

/** Texts are compared without case and accents. */
export function folded(text: string): string {
  return text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
}

/** A name is found by how it begins, whatever its case and accents; `system` keeps it as it is written, for `:exact`. */
export function textTerms(texts: readonly (string | undefined)[]): readonly Term[] {
  return texts.flatMap((text) => (text === undefined ? [] : [{ value: folded(text), system: text }]));
}

/**
 * As written, without its version, and by the id at its end: `Observation/a/_history/2`, `Observation/a` and `a` all
 * find it. What is named by display only is not found.
 */
export function referenceTerms(references: readonly (Reference | undefined)[]): readonly Term[] {
  const found = references.flatMap((reference) => {
    const written = reference?.reference;
    if (!written) return [];
    const current = unversioned(written);
    const own = /(?:^|\/)([A-Z][A-Za-z]+\/([A-Za-z0-9.-]{1,64}))$/.exec(current);
    return [written, current, ...(own ? [own[1] ?? '', own[2] ?? ''] : [])];
  });
  return [...new Set(found)].map((value) => ({ value }));
}

/** A date, dateTime or instant as the stretch of time that it can mean; a date without a zone counts as UTC. */
export function timeTerms(times: readonly (string | undefined)[]): readonly Term[] {
  return times.flatMap((time) => stretchOf(time ?? '') ?? []);
}

const DATE_TIME =
  /^(\d{4})(?:-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01])(?:T([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d|60)(\.\d+)?)?(Z|[+-](?:0\d|1[0-4]):[0-5]\d)?)?)?)?$/;

/** From the first millisecond to before the last; undefined when it is no date. */
export function stretchOf(text: string): { low: number; high: number } | undefined {
  const parts = DATE_TIME.exec(text);
  if (!parts) return undefined;
  const [, year = '', month, day, hour, minute, second, fraction = '', zone = 'Z'] = parts;
  const from = `${year}-${month ?? '01'}-${day ?? '01'}T${hour ?? '00'}:${minute ?? '00'}:${second === '60' ? '59' : (second ?? '00')}${fraction}${zone}`;
  const low = Date.parse(from);
  if (Number.isNaN(low) || !isDayOfMonth(year, month, day)) return undefined;
  if (fraction) return { low, high: low + 1 };
  if (second) return { low, high: low + 1_000 };
  if (minute) return { low, high: low + 60_000 };
  if (day) return { low, high: low + 86_400_000 };
  const next = new Date(low);
  if (month) next.setUTCMonth(next.getUTCMonth() + 1);
  else next.setUTCFullYear(next.getUTCFullYear() + 1);
  return { low, high: next.getTime() };
}

/** `Date.parse` takes the 30th of February for the 2nd of March. */
function isDayOfMonth(year: string, month = '01', day = '01'): boolean {
  return new Date(`${year}-${month}-${day}T00:00:00Z`).getUTCDate() === Number(day);
}
