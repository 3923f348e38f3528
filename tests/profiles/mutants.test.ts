/**
 * Every mutant is caught. Who catches how many is printed: the two judges of base resources, Medplum with the
 * profile, and all with the invariants of the profile.
 */
import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { judgeByFhirPath, judgeByJsonSchema, judgeByMedplum, profileOf } from './judges.ts';
import type { Mutant, Mutants } from './mutant.ts';

/** Mutants that no judge catches, `profile: name`, each with the reason. One that is caught after all fails. */
const MISSED: Readonly<Record<string, string>> = {};

const LEAST_MUTANTS = 60;

const here = new URL('./', import.meta.url);
const files = readdirSync(here).filter((name) => /^mutants-[a-z-]+\.ts$/.test(name));
const all: readonly Mutants[] = await Promise.all(
  files.map(async (name) => {
    const { MUTANTS }: { MUTANTS: Mutants } = await import(new URL(name, here).href);
    return MUTANTS;
  }),
);

interface Caught {
  readonly name: string;
  readonly bases: boolean;
  readonly profile: boolean;
  readonly invariants: boolean;
}

function brokenFrom({ valid }: Mutants, { name, of, change }: Mutant) {
  const start = JSON.stringify(valid[of]);
  const clone = JSON.parse(start);
  change(clone);
  const changed = JSON.stringify(clone);
  if (changed === start) throw new Error(`${name} changes nothing`);
  return JSON.parse(changed);
}

function judged(mutants: Mutants, mutant: Mutant): Caught {
  const profile = profileOf(mutants.profile);
  const resource = brokenFrom(mutants, mutant);
  const bases = judgeByJsonSchema(resource).length + judgeByMedplum(resource).length > 0;
  return {
    name: mutant.name,
    bases,
    profile: bases || judgeByMedplum(withoutInvariants(resource), bare(profile)).length > 0,
    invariants: judgeByFhirPath(resource, profile).length > 0,
  };
}
