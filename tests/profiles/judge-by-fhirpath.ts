/** Invariants of the standard and of our profiles, by fhirpath.js: another engine than the one in Medplum. */
import type { ElementDefinition, Resource, StructureDefinition } from 'fhir/r4.js';
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4';
import { BASE, type Judge } from './definitions.ts';

interface Invariant {
  readonly path: string;
  readonly rule: string;
  /** FHIRPath. */
  readonly text: string;
  readonly holds: (resource: Resource) => boolean;
}

/** What fhirpath.js cannot answer: without a server or a reader of XHTML. */
const NOT_EVALUABLE = /htmlChecks\(|resolve\(|conformsTo\(|memberOf\(/;
/** Regular expressions that fhirpath.js does not take: they escape what a Unicode expression must not. */
const NOT_TAKEN: ReadonlySet<string> = new Set(['eld-16', 'eld-19']);
const SILENT = { traceFn: () => {} };
const compiled = new Map<StructureDefinition, readonly Invariant[]>();

function invariantsOf(definition: StructureDefinition): readonly Invariant[] {
  const known = compiled.get(definition);
  if (known) return known;
  // Constraints of slices repeat those of the element.
  const elements = (definition.snapshot?.element ?? []).filter(({ id }) => !id?.includes(':'));
  const all = elements.flatMap((element) => [
    ...evaluable(element.constraint).map((each) => toInvariant(element.path, each)),
    ...(element.type ?? []).flatMap((type) => ofType(element, type)),
  ]);
  const own = [...new Map(all.map((each) => [each.text, each])).values()];
  compiled.set(definition, own);
  return own;
}

type Constraint = NonNullable<ElementDefinition['constraint']>[number];
type Type = NonNullable<ElementDefinition['type']>[number];

/** `ele-1` is looked for in the whole resource at once. */
function evaluable(constraints: ElementDefinition['constraint'] = []): readonly Constraint[] {
  return constraints.filter(
    ({ key, severity, expression }) =>
      severity === 'error' &&
      expression &&
      key !== 'ele-1' &&
      !NOT_TAKEN.has(key) &&
      !NOT_EVALUABLE.test(expression),
  );
}

/** Of a data type, and of the data types in it: the period of an identifier. A choice has several. */
function ofType(
  { path }: Pick<ElementDefinition, 'path'>,
  { code, profile }: Type,
  depth = 0,
): readonly Invariant[] {
  const name = profile?.[0]?.split('/').at(-1) ?? code;
  const definition = BASE.get(name) ?? BASE.get(code);
  if (definition?.kind !== 'complex-type' || depth > 2 || code === 'Element' || code === 'BackboneElement')
    return [];
  const place = path.endsWith('[x]') ? `${path.slice(0, -3)}.ofType(${code})` : path;
  const [root, ...members] = definition.snapshot?.element ?? [];
  return [
    ...evaluable(root?.constraint).map((each) => toInvariant(place, each)),
    ...members
      .filter(
        (member) =>
          member.path.split('.').length === 2 &&
          member.max !== '0' &&
          !/\.(?:extension|id)$/.test(member.path),
      )
      .flatMap((member) => {
        const inner = `${place}.${member.path.split('.')[1]}`;
        return [
          ...evaluable(member.constraint).map((each) => toInvariant(inner, each)),
          ...(member.type ?? []).flatMap((type) => ofType({ path: inner }, type, depth + 1)),
        ];
      }),
  ];
}

/**
 * Ours must come out true. Those of the standard must not come out false: ref-1 comes out empty for a reference by
 * name only, which it is not about.
 */
function toInvariant(path: string, { key, human, expression = '' }: Constraint): Invariant {
  const place = path.includes('.') ? `${path.replaceAll('[x]', '')}.` : '';
  // dom-3 says `as` of many elements, which is meant as `ofType` and taken by this engine as that only.
  const text = isOurs(key)
    ? `${place}all(${expression})`
    : `${place}where((${expression.replaceAll('.as(', '.ofType(').replaceAll('where(as(', 'where(ofType(')}) = false).empty()`;
  let evaluate: ReturnType<typeof fhirpath.compile> | undefined;
  return {
    path,
    text,
    rule: `${key}: ${human}`,
    holds: (resource) => {
      evaluate ??= fhirpath.compile(text, r4, SILENT);
      const run = evaluate;
      return isTrue(() => run(resource, { resource, rootResource: resource }));
    },
  };
}

export const isOurs = (key: string) => key.startsWith('grip-');

/** What cannot be answered does not hold: a figure charted as text cannot be compared. */
function isTrue(evaluate: () => unknown): boolean {
  try {
    const [answer] = evaluate() as unknown[];
    return answer === true;
  } catch {
    return false;
  }
}

/** Whether the element, or a choice of its name, is there: most are not, and asking the engine takes the time. */
function mayApply(path: string, resource: Resource): boolean {
  const [, element] = path.split('.');
  const name = element?.replace(/\[x\]$/, '');
  return name === undefined || Object.keys(resource).some((key) => key.startsWith(name));
}

const emptyOnes = fhirpath.compile(
  'descendants().where((hasValue() or children().exists()).not())',
  r4,
  SILENT,
);
/** ele-1 of every element; the XHTML of a narrative has no value to this engine. */
const NOTHING_EMPTY: Invariant = {
  path: '',
  text: '',
  rule: 'ele-1: All FHIR elements must have a @value or children',
  holds: (resource) => (emptyOnes(resource) as unknown[]).every((found) => typeof found === 'string'),
};

export const judgeByFhirPath: Judge = (resource, profile) => {
  const definition = profile ?? BASE.get(resource.resourceType);
  if (!definition) return [{ judge: 'fhirpath', path: resource.resourceType, rule: 'no such type' }];
  return [...invariantsOf(definition), NOTHING_EMPTY]
    .filter(({ path, holds }) => mayApply(path, resource) && !holds(resource))
    .map(({ path, rule }) => ({ judge: 'fhirpath', path, rule }));
};
