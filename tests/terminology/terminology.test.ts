/** What stands in terminology/ and profiles/: that it follows from the code tables, and that no code has a wrong digit. */
import { readdirSync, readFileSync } from 'node:fs';
import type { CodeSystem, FhirResource, StructureDefinition, ValueSet } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import {
  CANONICAL,
  DOMINANCE_OF_SNOMED,
  GRIP_LOINC,
  GRIP_SNOMED,
  HAND_STRUCTURE,
  HANDEDNESS_SNOMED,
  LOINC,
  MEASURE_CODES,
  POSTURE_OF_SNOMED,
  SEX_SNOMED,
  SIDE_OF_SNOMED,
  SNOMED,
} from '../../src/fhir/codes.ts';
import { generatedFiles } from '../../tools/generated.ts';
import { DEFINITIONS_VERSION } from '../../tools/generated-terminology.ts';

const root = new URL('../../', import.meta.url);
const read = (path: string) => readFileSync(new URL(path, root), 'utf8');
const filesOf = (folder: string) =>
  readdirSync(new URL(folder, root))
    .filter((name) => name.endsWith('.json'))
    .map((name): [string, FhirResource] => [name, JSON.parse(read(`${folder}${name}`))]);

const terminology = filesOf('terminology/');
const profiles = filesOf('profiles/');
const codeSystems = terminology
  .map(([, resource]) => resource)
  .filter((resource): resource is CodeSystem => resource.resourceType === 'CodeSystem');
const valueSets = terminology
  .map(([, resource]) => resource)
  .filter((resource): resource is ValueSet => resource.resourceType === 'ValueSet');

describe('generated files', () => {
  const generated = generatedFiles(read('DEVELOPERS.md'));
  for (const [path, content] of generated) {
    it(`${path} follows from the code tables (npm run generate)`, () => {
      expect(read(path)).toBe(content);
    });
  }

  it('are all the code systems and value sets there are', () => {
    const kept = terminology.map(([name]) => `terminology/${name}`);
    expect(
      kept.filter((path) => !generated.has(path) && !/\/(?:ConceptMap|NamingSystem)-/.test(path)),
    ).toEqual([]);
  });
});

describe('definitions', () => {
  it.each([...terminology, ...profiles])(
    '%s is one of the canonical base, at the version of the package, or of the rule that it follows from',
    (name, resource) => {
      const isOfRule = name.startsWith('ValueSet-grip-testing-');
      const { version } = isOfRule ? { version: '1.0.0' } : JSON.parse(read('package.json'));
      const { resourceType, id } = resource;
      expect(name).toBe(`${resourceType}-${id}.json`);
      expect(resource).toMatchObject({
        url: `${CANONICAL}/${resourceType}/${id}`,
        version,
        status: 'active',
        publisher: 'grip-strength-cds',
        name: expect.stringMatching(/^[A-Z][A-Za-z0-9]+$/),
        title: expect.stringMatching(/./),
        date: expect.stringMatching(/^\d{4}-\d{2}-\d{2}$/),
        description: expect.stringMatching(/./),
      });
    },
  );

  it('are built at the version of the package', () => {
    const { version } = JSON.parse(read('package.json'));
    expect(DEFINITIONS_VERSION).toBe(version);
    expect(read('profiles/sushi-config.yaml')).toContain(`\nversion: ${version}\n`);
  });
});

describe('code systems', () => {
  it.each(codeSystems.map((system) => [system.id, system] as const))(
    '%s has no code twice and a display for each',
    (_id, { concept = [], count }) => {
      const codes = concept.map(({ code }) => code);
      expect(new Set(codes).size).toBe(codes.length);
      expect(count).toBe(codes.length);
      expect(concept.every(({ display }) => (display ?? '').length > 0)).toBe(true);
    },
  );
});

describe('value sets', () => {
  const included = (set: ValueSet) => set.compose?.include ?? [];

  it.each(valueSets.map((set) => [set.id, set] as const))(
    '%s has codes, each with a display; those of ours are in the code system, with its display',
    (_id, set) => {
      expect(included(set).length).toBeGreaterThan(0);
      for (const { system, concept = [] } of included(set)) {
        expect(concept.length).toBeGreaterThan(0);
        expect(new Set(concept.map(({ code }) => code)).size).toBe(concept.length);
        expect(concept.filter(({ display }) => !display)).toEqual([]);
        const ours = codeSystems.find(({ url }) => url === system);
        if (ours) expect(ours.concept).toEqual(expect.arrayContaining(concept));
        else expect(system).not.toContain(CANONICAL);
      }
    },
  );

  it('are there for every binding of a profile to a set of ours', () => {
    const bound = profiles.flatMap(([, resource]) =>
      ((resource as StructureDefinition).snapshot?.element ?? []).flatMap(
        ({ binding }) => binding?.valueSet ?? [],
      ),
    );
    const ours = bound.filter((url) => url.startsWith(CANONICAL));
    expect(ours.length).toBeGreaterThan(8);
    expect(ours.filter((url) => !valueSets.some((set) => set.url === url))).toEqual([]);
  });
});

/** LOINC part 1 of the users' guide: the last digit is a mod-10 (Luhn) check digit. */
function loincCheckDigitHolds(code: string): boolean {
  const [number = '', check] = code.split('-');
  const digits = [...number].reverse().map(Number);
  const total = digits.reduce((sum, digit, index) => {
    const doubled = index % 2 === 0 ? digit * 2 : digit;
    return sum + (doubled > 9 ? doubled - 9 : doubled);
  }, 0);
  return String((10 - (total % 10)) % 10) === check;
}

const D = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 2, 3, 4, 0, 6, 7, 8, 9, 5],
  [2, 3, 4, 0, 1, 7, 8, 9, 5, 6],
  [3, 4, 0, 1, 2, 8, 9, 5, 6, 7],
  [4, 0, 1, 2, 3, 9, 5, 6, 7, 8],
  [5, 9, 8, 7, 6, 0, 4, 3, 2, 1],
  [6, 5, 9, 8, 7, 1, 0, 4, 3, 2],
  [7, 6, 5, 9, 8, 2, 1, 0, 4, 3],
  [8, 7, 6, 5, 9, 3, 2, 1, 0, 4],
  [9, 8, 7, 6, 5, 4, 3, 2, 1, 0],
];
const P = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 5, 7, 6, 2, 8, 3, 0, 9, 4],
  [5, 8, 0, 3, 7, 9, 6, 1, 4, 2],
  [8, 9, 1, 6, 0, 4, 3, 5, 2, 7],
  [9, 4, 5, 3, 1, 2, 6, 8, 7, 0],
  [4, 2, 8, 6, 5, 7, 3, 9, 0, 1],
  [2, 7, 9, 3, 8, 0, 6, 4, 1, 5],
  [7, 0, 4, 6, 9, 1, 3, 2, 5, 8],
];

/** SNOMED CT technical implementation guide: the last digit of an identifier is a Verhoeff check digit. */
function snomedCheckDigitHolds(code: string): boolean {
  const digits = [...code].reverse().map(Number);
  return digits.reduce((check, digit, index) => D[check]?.[P[index % 8]?.[digit] ?? 0] ?? -1, 0) === 0;
}

/** Every code beside its system, however deep: Coding, Quantity, ValueSet.compose, ConceptMap.group. */
function codesIn(node: unknown, system?: string): readonly (readonly [system: string, code: string])[] {
  if (Array.isArray(node)) return node.flatMap((item) => codesIn(item, system));
  if (typeof node !== 'object' || node === null) return [];
  const own = node as Record<string, unknown>;
  const here = typeof own.system === 'string' ? own.system : system;
  const code = typeof own.code === 'string' && here ? [[here, own.code] as const] : [];
  if (own.resourceType === 'ConceptMap') return [...code, ...conceptMapCodes(own)];
  // A CodeSystem's concepts are of its own URL.
  const below = own.resourceType === 'CodeSystem' ? (own.url as string) : here;
  return [
    ...code,
    ...Object.values(own).flatMap((value) =>
      codesIn(value, typeof own.code === 'string' ? undefined : below),
    ),
  ];
}

function conceptMapCodes({ group }: { group?: unknown }): readonly (readonly [string, string])[] {
  const groups = (group ?? []) as readonly {
    source?: string;
    target?: string;
    element: readonly { code?: string; target?: readonly { code?: string; product?: unknown }[] }[];
  }[];
  return groups.flatMap(({ source = '', target: to = '', element }) =>
    element.flatMap(({ code, target = [] }) => [
      ...(code ? [[source, code] as const] : []),
      ...target.flatMap((each) => [
        ...(each.code ? [[to, each.code] as const] : []),
        ...productsOf(each.product),
      ]),
    ]),
  );
}

/** `product` names its code `value`. */
function productsOf(product: unknown): readonly (readonly [string, string])[] {
  const all = (product ?? []) as readonly { system?: string; value?: string }[];
  return all.flatMap(({ system, value }) => (system && value ? [[system, value] as const] : []));
}

/** In an invariant the code stands in text: `system = 'http://loinc.org' and (code = '83174-3' ...)`. */
function codesInText(text: string): readonly (readonly [string, string])[] {
  return [
    ...[...text.matchAll(/'(\d{1,7}-\d)'/g)].map(([, code = '']) => [LOINC, code] as const),
    ...[...text.matchAll(/'(\d{6,18})'/g)].map(([, code = '']) => [SNOMED, code] as const),
  ];
}

const everyCode = [
  ...[...terminology, ...profiles].flatMap(([, resource]) => codesIn(resource)),
  ...profiles.flatMap(([name]) => codesInText(read(`profiles/${name}`))),
  ...codesInText(read('profiles/README.md').replace(/(?<![-\d])(\d{5}-\d|\d{7,9})(?![-\d])/g, "'$1'")),
];
const ofSystem = (system: string) => [
  ...new Set(everyCode.flatMap(([of, code]) => (of === system ? [code] : []))),
];

describe('check digits', () => {
  const measures = Object.values(MEASURE_CODES).flatMap(({ system, code }) =>
    system === LOINC ? [code] : [],
  );
  it.each([...new Set([...Object.values(GRIP_LOINC), ...measures, ...ofSystem(LOINC)])])(
    'LOINC %s',
    (code) => {
      expect(loincCheckDigitHolds(code)).toBe(true);
    },
  );

  it('finds a LOINC code that public mappings have wrong', () => {
    expect(loincCheckDigitHolds('83189-2')).toBe(false);
  });

  const snomed = [
    GRIP_SNOMED,
    ...Object.keys(SIDE_OF_SNOMED),
    ...Object.values(HAND_STRUCTURE).map(({ code }) => code),
    ...Object.values(SEX_SNOMED).map(({ code }) => code),
    HANDEDNESS_SNOMED,
    ...Object.keys(DOMINANCE_OF_SNOMED),
    ...Object.keys(POSTURE_OF_SNOMED),
  ];
  it.each([...new Set([...snomed, ...ofSystem(SNOMED)])])('SNOMED CT %s', (code) => {
    expect(snomedCheckDigitHolds(code)).toBe(true);
  });

  it('finds a SNOMED CT code with one digit changed', () => {
    expect(snomedCheckDigitHolds('251433002')).toBe(false);
  });

  it('are looked for in value sets, concept maps, patterns and invariants', () => {
    const map = {
      resourceType: 'ConceptMap',
      group: [
        {
          source: 'https://ehr.example/flowsheet',
          target: LOINC,
          element: [
            {
              code: 'R1',
              target: [{ code: '83189-2', product: [{ property: 'x', system: SNOMED, value: '251433002' }] }],
            },
          ],
        },
      ],
    };
    expect(codesIn(map)).toEqual([
      ['https://ehr.example/flowsheet', 'R1'],
      [LOINC, '83189-2'],
      [SNOMED, '251433002'],
    ]);
    const set = {
      resourceType: 'ValueSet',
      compose: { include: [{ system: LOINC, concept: [{ code: '83189-2' }] }] },
    };
    expect(codesIn(set)).toEqual([[LOINC, '83189-2']]);
    expect(ofSystem(LOINC)).toEqual(expect.arrayContaining(['83174-3', '83145-3', '62821-4']));
    expect(ofSystem(SNOMED)).toEqual(expect.arrayContaining(['251433001', '40199007', '364940007']));
  });
});
