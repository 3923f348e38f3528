/** The list of everything that is served as a definition, and what stops the start. */
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, onTestFinished } from 'vitest';
import { DefinitionFault, loadDefinitions } from '../../src/definitions/load-definitions.ts';
import { CANONICAL } from '../../src/fhir/codes.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { openLibrary } from '../../src/service.ts';
import { NORMS } from '../interpret/build.ts';
import { type Json, relock } from '../reference/altered-norms.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const library = openLibrary();
const CODES = 'terminology/CodeSystem-grip-strength.json';
const codeSystem: Json = JSON.parse(readFileSync(join(ROOT, CODES), 'utf8'));

function temporary(): string {
  const folder = mkdtempSync(join(tmpdir(), 'definitions-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  return folder;
}

/** A package with these files; text is written as it is. */
function packageWith(files: Readonly<Record<string, unknown>>): string {
  const root = temporary();
  for (const [path, content] of Object.entries(files)) {
    mkdirSync(join(root, path, '..'), { recursive: true });
    writeFileSync(join(root, path), typeof content === 'string' ? content : JSON.stringify(content));
  }
  return root;
}

function faultOf(root: string, of = library): string {
  try {
    loadDefinitions(root, of);
  } catch (fault) {
    if (fault instanceof DefinitionFault) return fault.message;
    throw fault;
  }
  throw new Error('the definitions loaded');
}

const ofFiles = (root: string) =>
  loadDefinitions(root, library).filter(
    ({ resourceType }) => resourceType !== 'Library' && resourceType !== 'ObservationDefinition',
  );

describe('the definitions of this package', () => {
  const all = loadDefinitions(ROOT, library);

  it('have an id each, unlike any other of their type, and a URL of ours where R4 has one', () => {
    const names = all.map(({ resourceType, id }) => `${resourceType}/${id}`);
    expect(new Set(names).size).toBe(all.length);
    for (const each of all) {
      if (each.resourceType === 'ObservationDefinition') continue;
      expect((each as Json).url).toMatch(new RegExp(`^${CANONICAL}/${each.resourceType}/`));
    }
  });

  it('hold the code systems, and have the version of the package where they come from files', () => {
    const { version } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));
    const files = ofFiles(ROOT);
    expect(files.filter(({ resourceType }) => resourceType === 'CodeSystem').length).toBeGreaterThan(2);
    // The value sets of cautions have that of their rule, which names each with its digest.
    for (const each of files) {
      const isOfRule = each.resourceType === 'ValueSet' && each.id?.startsWith('grip-testing-');
      expect((each as Json).version, each.id).toBe(isOfRule ? '1.0.0' : version);
    }
  });

  it('are shipped', () => {
    const { files } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));
    expect(files).toEqual(expect.arrayContaining(['norms', 'profiles', 'terminology']));
  });
});

describe('a package', () => {
  it('may lack either folder; folders in them and files that are not JSON are left alone', () => {
    expect(ofFiles(temporary())).toEqual([]);
    const root = packageWith({
      [CODES]: codeSystem,
      'profiles/fsh/CodeSystem-x.json': '{',
      'profiles/README.md': '#',
      'profiles/sushi-config.yaml': 'id: x',
    });
    expect(ofFiles(root)).toEqual([codeSystem]);
  });

  it.each<[string, Record<string, unknown>, string]>([
    ['is no JSON', { [CODES]: '{' }, `${CODES} is not JSON`],
    ['is no object', { [CODES]: 'null' }, `${CODES} is no resource`],
    [
      'is an instance',
      { 'profiles/a.json': { resourceType: 'Patient', id: 'a' } },
      'profiles/a.json must be one of',
    ],
    [
      'has the URL of somebody else',
      { [CODES]: { ...codeSystem, url: `${CANONICAL}.org/CodeSystem/grip-strength` } },
      `${CODES}: its url must begin with ${CANONICAL}/CodeSystem/`,
    ],
    ['has no URL', { [CODES]: { ...codeSystem, url: undefined } }, `${CODES}: its url must begin with`],
    [
      'has no id',
      { [CODES]: { ...codeSystem, id: undefined } },
      `${CODES}: the id of its CodeSystem must be`,
    ],
    [
      'has an id with a slash',
      { [CODES]: { ...codeSystem, id: 'a/b' } },
      `${CODES}: the id of its CodeSystem`,
    ],
    [
      'has an id that is too long',
      { [CODES]: { ...codeSystem, id: 'a'.repeat(65) } },
      `${CODES}: the id of its`,
    ],
    [
      'has the id of another',
      { 'profiles/b.json': codeSystem, [CODES]: codeSystem },
      `${CODES} goes by the name of profiles/b.json: CodeSystem/grip-strength`,
    ],
  ])('with a file that %s stops the start, and the file is named', (_what, files, message) => {
    expect(faultOf(packageWith(files))).toContain(message);
  });
});

describe("a site's own set", () => {
  function siteWith(id: string): string {
    const folder = temporary();
    const path = `tables/${id}/1.0.0.json`;
    const file: Json = JSON.parse(
      readFileSync(join(NORMS, 'tables/mathiowetz-1985-us-adults/1.1.0.json'), 'utf8'),
    );
    Object.assign(file, { id, version: '1.0.0', supersedes: null });
    mkdirSync(join(folder, path, '..'), { recursive: true });
    writeFileSync(join(folder, path), JSON.stringify(file));
    relock(folder);
    return folder;
  }

  it('is served with ours, with its own bytes and without the path of its folder', () => {
    const folder = siteWith('north-table');
    const all = loadDefinitions(ROOT, loadLibrary(NORMS, folder));
    expect(all.length).toBe(loadDefinitions(ROOT, library).length + 2);
    const found: Json = all.find(
      ({ id, resourceType }) => id === 'table-north-table-1.0.0' && resourceType === 'Library',
    );
    const bytes = readFileSync(join(folder, 'tables/north-table/1.0.0.json'));
    expect(Buffer.from(found.content[0].data, 'base64').equals(bytes)).toBe(true);
    expect(
      all.find(
        ({ id, resourceType }) =>
          id === 'table-north-table-1.0.0' && resourceType === 'ObservationDefinition',
      ),
    ).toMatchObject({ qualifiedInterval: expect.any(Array) });
    expect(JSON.stringify(all)).not.toContain(folder);
  });

  it('with a name too long for an id stops the start', () => {
    const id = `north-${'a'.repeat(60)}`;
    expect(faultOf(ROOT, loadLibrary(NORMS, siteWith(id)))).toContain(
      `tables/${id}/1.0.0.json: the id of its Library`,
    );
  });
});
