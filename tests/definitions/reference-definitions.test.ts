/**
 * Every released file as Library, every table and set of cut-points as ObservationDefinition. Limits are worked out
 * here again, from the text of the released files, in whole numbers.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Library, ObservationDefinition } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import { loadDefinitions } from '../../src/definitions/load-definitions.ts';
import { digestIdentifier } from '../../src/definitions/write-library.ts';
import { CANONICAL } from '../../src/fhir/codes.ts';
import { releaseCanonical, releaseId, releaseUrl } from '../../src/fhir/release-identity.ts';
import { everyRelease } from '../../src/reference/find-release.ts';
import { openLibrary } from '../../src/service.ts';
import { NORMS } from '../interpret/build.ts';
import { judge } from '../profiles/judges.ts';
import type { Json } from '../reference/altered-norms.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const all = loadDefinitions(ROOT, openLibrary());
const libraries = all.filter((each): each is Library => each.resourceType === 'Library');
const observationDefinitions = all.filter(
  (each): each is ObservationDefinition => each.resourceType === 'ObservationDefinition',
);
const lock: Record<string, string> = JSON.parse(readFileSync(join(NORMS, 'lock.json'), 'utf8'));

const KINDS: Record<string, string> = {
  tables: 'table',
  'cut-points': 'cut-points',
  rules: 'rule',
  panels: 'panel',
};

/** Every released file, straight from the folder. */
const files = Object.entries(lock).map(([path, digest]) => {
  const [folder = '', id = '', name = ''] = path.split('/');
  const version = name.replace(/\.json$/, '');
  const bytes = readFileSync(join(NORMS, path));
  const file: Json = JSON.parse(bytes.toString('utf8'));
  return { path, digest, bytes, file, kind: KINDS[folder] ?? '', id: `${KINDS[folder]}-${id}-${version}` };
});
type Released = (typeof files)[number];
const named = (list: readonly Released[]) => list.map((each) => [each.id, each] as const);
const sets = files.filter(({ kind }) => kind === 'table' || kind === 'cut-points');

const libraryOf = (id: string) => libraries.find((each) => each.id === id);
const definitionOf = (id: string) => observationDefinitions.find((each) => each.id === id);

describe('Library', () => {
  it('there is one for every locked file, and none besides', () => {
    expect(libraries.map(({ id }) => id).sort()).toEqual(files.map(({ id }) => id).sort());
  });

  it.each(named(files))('%s carries the released file to the byte, with its digests', (id, released) => {
    const [content, ...more] = libraryOf(id)?.content ?? [];
    const bytes = Buffer.from(content?.data ?? '', 'base64');
    expect(more).toEqual([]);
    expect(bytes.equals(released.bytes)).toBe(true);
    expect(createHash('sha256').update(bytes).digest('hex')).toBe(released.digest);
    expect(content).toMatchObject({
      contentType: 'application/json',
      size: released.bytes.length,
      hash: createHash('sha1').update(released.bytes).digest('base64'),
      title: expect.stringContaining(`SHA-256 ${released.digest}`),
    });
    expect(libraryOf(id)?.identifier).toEqual([
      { system: 'urn:ietf:rfc:3986', value: `nih:sha-256;${released.digest}` },
    ]);
  });

  it.each(named(files))('%s is valid by both judges, and says what its file says', (id, { file, kind }) => {
    const library = libraryOf(id) as Library;
    expect(judge(library)).toEqual([]);
    expect(library).toMatchObject({
      url: `${CANONICAL}/Library/${kind}-${file.id}`,
      version: file.version,
      title: file.title,
      date: file.released,
    });
    expect(library.copyright).toBe(file.licence);
    expect(library.name).toMatch(/^[A-Z][A-Za-z0-9_]{0,254}$/);
    expect(library.publisher).toBeUndefined();
    for (const doubt of file.doubts) expect(library.description).toContain(doubt);
  });

  it('a replaced or superseded release is retired, a provisional one a draft, any other active', () => {
    const replaced = new Set(
      files.flatMap(({ file }) =>
        file.supersedes ? [`${file.kind}-${file.supersedes.id}-${file.supersedes.version}`] : [],
      ),
    );
    for (const { id, file } of files) {
      const old = file.status === 'superseded' || file.supersededBy || replaced.has(id);
      const expected = old ? 'retired' : file.status === 'provisional' ? 'draft' : 'active';
      expect(libraryOf(id)?.status, id).toBe(expected);
    }
    const found = new Set(libraries.map(({ status }) => status));
    expect(found).toEqual(new Set(['active', 'retired', 'draft']));
  });

  it('cites its source with the DOI, and names what it replaces and what replaces it', () => {
    const related = libraryOf('cut-points-ewgsop1-2010-1.1.0')?.relatedArtifact;
    expect(related).toEqual([
      {
        type: 'citation',
        citation: expect.stringContaining('doi:10.1093/ageing/afq034'),
        url: 'https://doi.org/10.1093/ageing/afq034',
      },
      {
        type: 'predecessor',
        display: expect.any(String),
        resource: `${CANONICAL}/Library/cut-points-ewgsop1-2010|1.0.0`,
      },
      {
        type: 'successor',
        display: 'EWGSOP2 2019',
        resource: `${CANONICAL}/Library/cut-points-ewgsop2-2019`,
      },
    ]);
    const first = libraryOf('cut-points-ewgsop2-2019-1.0.0')?.relatedArtifact ?? [];
    expect(first).toContainEqual({
      type: 'successor',
      resource: `${CANONICAL}/Library/cut-points-ewgsop2-2019|1.1.0`,
    });
  });

  it.each(named(files.filter(({ kind }) => kind === 'panel')))(
    '%s depends on the sets and rules that its file names, each served, and on nothing else',
    (id, { file }) => {
      const url = (kind: string, { id: name, version }: Json) =>
        `${CANONICAL}/Library/${kind}-${name}|${version}`;
      const expected = new Set<string>();
      for (const { set, rule } of file.entries) {
        expected.add(url(set.kind, set));
        if (rule) expected.add(url('rule', rule));
      }
      for (const { table, rule } of file.unitGuards ?? [])
        expected.add(url('table', table)).add(url('rule', rule));
      for (const rule of Object.values<Json>(file.rules)) expected.add(url('rule', rule));
      const served = libraries.map((each) => `${each.url}|${each.version}`);
      const dependencies = (libraryOf(id)?.relatedArtifact ?? []).filter(({ type }) => type === 'depends-on');
      expect(dependencies.map(({ resource }) => resource).sort()).toEqual([...expected].sort());
      for (const { resource } of dependencies) expect(served).toContain(resource);
    },
  );

  it('is found by the names that answers and records give a release', () => {
    for (const { ref } of everyRelease(openLibrary())) {
      const library = libraryOf(releaseId(ref));
      expect(`${library?.url}|${library?.version}`).toBe(releaseCanonical(ref));
      expect(library?.url).toBe(releaseUrl(ref));
      expect(library?.identifier).toEqual([digestIdentifier(ref)]);
    }
  });
});

/** A limit as a whole number of millionths, from the printed text. */
const millionths = (text: string): bigint => {
  const [whole = '', fraction = ''] = text.split('.');
  return BigInt(whole + fraction.padEnd(6, '0'));
};

/** What the rule of the first worked example makes of a printed row; undefined where a figure is missing. */
function limitOf(row: Json, file: Json): { limit: bigint; operator: string } | undefined {
  if (file.kind === 'cut-points')
    return row.value === null ? undefined : { limit: millionths(row.value), operator: row.operator };
  const { id, version } = file.examples[0].rule;
  const { form, parameters } = files.find((each) => each.id === `rule-${id}-${version}`)?.file ?? {};
  const { operator } = parameters;
  if (form === 'centile') {
    const printed = row.percentiles?.[String(parameters.reducedBelow)];
    return printed === undefined ? undefined : { limit: millionths(printed), operator };
  }
  const sd = row.sd
    ? millionths(row.sd)
    : row.oneSdBelow && millionths(row.mean) - millionths(row.oneSdBelow);
  if (row.mean === null || !sd) return undefined;
  return { limit: millionths(row.mean) - BigInt(parameters.sdBelow) * sd, operator };
}

const UCUM_OF: Record<string, string> = {
  kg: 'kgf',
  lb: '[lbf_av]',
  'kg force-over-bmi': 'kgf/(kg/m2)',
  'kg force-over-height-squared': 'kgf/m2',
};

describe('ObservationDefinition', () => {
  it('there is one for every table and set of cut-points, and none besides', () => {
    expect(observationDefinitions.map(({ id }) => id).sort()).toEqual(sets.map(({ id }) => id).sort());
  });

  it.each(named(sets))('%s is valid by both judges and names its Library', (id) => {
    const definition = definitionOf(id) as ObservationDefinition;
    const library = libraryOf(id);
    expect(judge(definition)).toEqual([]);
    expect(definition.identifier).toEqual([
      { system: 'urn:ietf:rfc:3986', value: `${library?.url}|${library?.version}` },
    ]);
    // Medplum adds a publisher to this resource; R4 has none.
    expect(definition).not.toHaveProperty('publisher');
  });

  it.each(named(sets))(
    '%s has one interval for each row whose limit is known, with its limit',
    (id, { file }) => {
      const known: readonly Json[] = file.rows.filter((row: Json) => limitOf(row, file));
      const intervals = definitionOf(id)?.qualifiedInterval ?? [];
      expect(intervals).toHaveLength(known.length);
      for (const [index, row] of known.entries()) {
        const { limit, operator } = limitOf(row, file) ?? { limit: 0n, operator: '' };
        const { range, age, gender, appliesTo, condition = '', category } = intervals[index] ?? {};
        const said = /Reduced is (below|at or below) (\d+(?:\.\d+)?) (\S+)\. Verification: ([a-z-]+)/.exec(
          condition,
        );
        expect(said?.[1]).toBe(operator === '<' ? 'below' : 'at or below');
        expect(millionths(said?.[2] ?? '')).toBe(limit);
        expect(said?.[4]).toBe(row.verification);
        if (operator === '<') {
          expect(millionths(String(range?.low?.value))).toBe(limit);
          expect(range?.low?.code).toBe(UCUM_OF[[file.unit, file.quantity].filter(Boolean).join(' ')]);
        } else expect(range).toBeUndefined();
        expect(category).toBe('reference');
        expect(gender).toBe(row.sex);
        expect(appliesTo?.[0]?.coding?.[0]?.code).toBe(row.sex === 'female' ? '248152002' : '248153007');
        expect([age?.low?.value ?? null, age?.high?.value ?? null]).toEqual([row.ageMin, row.ageMax]);
        for (const end of [age?.low, age?.high]) if (end) expect(end.code).toBe('a');
        for (const figure of [row.mean, row.sd, ...Object.values<string>(row.percentiles ?? {})])
          if (figure) expect(condition).toContain(figure);
        if (row.hand)
          expect(condition).toMatch(new RegExp(row.hand === 'nondominant' ? 'Other than' : row.hand, 'i'));
        for (const end of [row.stratum?.min, row.stratum?.max]) if (end) expect(condition).toContain(end);
      }
    },
  );

  it('says how many rows are left out, which rule the limits rest on, and that a limit may belong to what is reduced', () => {
    const text = (id: string) => definitionOf(id)?.text?.div ?? '';
    expect(text('table-dodds-2014-great-britain-1.0.0')).toContain('not known here: 5.');
    expect(text('table-mathiowetz-1985-us-adults-1.1.0')).toContain('two-sd-below-mean 1.0.0');
    expect(text('table-mathiowetz-1985-us-adults-1.1.0')).toContain(
      'Where a figure equal to the limit counts as reduced',
    );
    expect(text('cut-points-ewgsop2-2019-1.1.0')).not.toContain('Where a figure equal');
    expect(text('cut-points-ewgsop2-2019-1.1.0')).not.toContain('left out');
  });

  it('has one concept as its code: SNOMED CT with the kind of summary, and neither LOINC nor SNOMED CT for a ratio', () => {
    const codes = (id: string) => (definitionOf(id)?.code.coding ?? []).map(({ code }) => code);
    expect(codes('table-mathiowetz-1985-us-adults-1.1.0')).toEqual(['251433001', 'mean-per-hand']);
    expect(codes('cut-points-ewgsop2-2019-1.1.0')).toEqual(['251433001', 'highest-of-either-hand']);
    expect(codes('cut-points-fnih-2014-bmi-1.0.0')).toEqual(['strength-against-cut-point']);
    expect(codes('table-nhanes-2011-2014-best-over-height-squared-1.0.0')).toEqual(['strength-against-norm']);
  });

  it('gives the customary unit, the newton, and the factor between them', () => {
    const details = (id: string) => definitionOf(id)?.quantitativeDetails;
    expect(details('table-mathiowetz-1985-us-adults-1.1.0')).toMatchObject({
      customaryUnit: { coding: [{ code: '[lbf_av]' }] },
      unit: { coding: [{ code: 'N' }] },
      conversionFactor: 0.22480894,
      decimalPrecision: 1,
    });
    expect(details('cut-points-fnih-2014-bmi-1.0.0')).toMatchObject({
      customaryUnit: { coding: [{ code: 'kgf/(kg/m2)' }] },
      unit: { coding: [{ code: 'N/(kg/m2)' }] },
      conversionFactor: 0.10197162,
      decimalPrecision: 2,
    });
  });
});
