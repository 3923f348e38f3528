/** Who catches a mutant: the judges of base resources, Medplum with the profile, and all with the invariants of the profile. */
import { readdirSync } from 'node:fs';
import type { Observation } from 'fhir/r4.js';
import { type Found, profileOf } from './definitions.ts';
import { judgeByFhirPath } from './judge-by-fhirpath.ts';
import { judgeByJsonSchema, judgeByMedplum } from './judges.ts';
import type { Mutant, Mutants } from './mutant.ts';

/** What a batch must have of each profile. */
export const LEAST_MUTANTS = 60;

export interface Judgement {
  readonly mutants: Mutants;
  readonly caught: readonly Caught[];
}

/** All batches of a folder, judged: the files `mutants-<profile>.ts` in it. */
export async function judgeBatch(folder: URL): Promise<readonly Judgement[]> {
  const files = readdirSync(folder).filter((name) => /^mutants-[a-z-]+\.ts$/.test(name));
  return Promise.all(
    files.map(async (name) => {
      const { MUTANTS: mutants }: { MUTANTS: Mutants } = await import(new URL(name, folder).href);
      return { mutants, caught: mutants.list.map((mutant) => judged(mutants, mutant)) };
    }),
  );
}

export interface Caught {
  readonly name: string;
  readonly schema: boolean;
  readonly medplum: boolean;
  /** fhirpath.js by the invariants of the standard. */
  readonly standard: boolean;
  /** Medplum by the profile, but for its invariants. */
  readonly profile: boolean;
  /** Keys of our invariants that fail, by fhirpath.js and by Medplum. */
  readonly invariants: readonly string[];
  readonly medplumInvariants: readonly string[];
}

function brokenFrom({ valid }: Mutants, { name, of, change }: Mutant): Observation {
  const start = JSON.stringify(valid[of]);
  const clone: Observation = JSON.parse(start);
  change(clone);
  const changed = JSON.stringify(clone);
  if (changed === start) throw new Error(`${name} changes nothing`);
  return JSON.parse(changed);
}

/** Of our invariants that are named in it. */
const keysOf = (found: readonly Found[]): readonly string[] => [
  ...new Set(found.flatMap(({ rule }) => /\bgrip-\d+/.exec(rule) ?? [])),
];

/** A judge that breaks down has given no verdict: that is no catch. */
function foundBy(judge: () => readonly Found[]): readonly Found[] {
  try {
    return judge();
  } catch {
    return [];
  }
}

function judged(mutants: Mutants, mutant: Mutant): Caught {
  const profile = profileOf(mutants.profile);
  const resource = brokenFrom(mutants, mutant);
  const byPaths = foundBy(() => judgeByFhirPath(resource, profile));
  const byMedplum = foundBy(() => judgeByMedplum(resource, profile));
  const others = (found: readonly Found[]) => found.filter((one) => keysOf([one]).length === 0);
  return {
    name: mutant.name,
    schema: foundBy(() => judgeByJsonSchema(resource)).length > 0,
    medplum: foundBy(() => judgeByMedplum(resource)).length > 0,
    standard: others(byPaths).length > 0,
    profile: others(byMedplum).length > 0,
    invariants: keysOf(byPaths),
    medplumInvariants: keysOf(byMedplum),
  };
}

const byBases = ({ schema, medplum, standard }: Caught) => schema || medplum || standard;
const byProfile = (caught: Caught) => byBases(caught) || caught.profile;
const byAll = (caught: Caught) =>
  byProfile(caught) || caught.invariants.length > 0 || caught.medplumInvariants.length > 0;

export function rateLine(profile: string, caught: readonly Caught[]): string {
  const share = (test: (one: Caught) => boolean) => `${caught.filter(test).length}`;
  return (
    `${profile}, ${caught.length} mutants. Caught by the JSON schema ${share(({ schema }) => schema)}, ` +
    `by Medplum's base definitions ${share(({ medplum }) => medplum)}, by the standard's invariants in fhirpath.js ` +
    `${share(({ standard }) => standard)}, by any of the three ${share(byBases)}; ` +
    `with the profile in Medplum ${share(byProfile)}; with its invariants ${share(byAll)}.`
  );
}

/** `profile: name` of each that nothing catches. */
export const missedOf = ({ mutants: { profile }, caught }: Judgement): readonly string[] =>
  caught.filter((one) => !byAll(one)).map(({ name }) => `${profile}: ${name}`);

export const namesOf = (batch: readonly Judgement[]): readonly string[] =>
  batch.flatMap(({ mutants: { profile, list } }) => list.map(({ name }) => `${profile}: ${name}`));

/** Mutants whose content another one before them has. */
export function twiceIn(mutants: Mutants): readonly string[] {
  const contents = mutants.list.map((mutant) => JSON.stringify(brokenFrom(mutants, mutant)));
  return mutants.list
    .filter((_, index) => contents.indexOf(contents[index] ?? '') !== index)
    .map(({ name }) => name);
}
