/**
 * Every mutant is caught. Who catches how many is printed: the judges of base resources, Medplum with the profile,
 * and all with the invariants of the profile.
 */
import { readdirSync } from 'node:fs';
import type { Observation } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import { type Found, PROFILE_IDS, profileOf } from './definitions.ts';
import { isOurs, judgeByFhirPath } from './judge-by-fhirpath.ts';
import { judgeByJsonSchema, judgeByMedplum } from './judges.ts';
import type { Mutant, Mutants } from './mutant.ts';

/** Mutants that no judge catches, `profile: name`, each with the reason. One that is caught after all fails. */
const EMPTY_LIST =
  'JSON of FHIR has no empty lists, but neither the schema nor Medplum says so, and FHIRPath sees none';
const MISSED: Readonly<Record<string, string>> = {
  'grip-hand-summary: R4: list of notes is empty': EMPTY_LIST,
  'grip-interpretation: R4: meta was last updated on 31 June':
    'the schema reads an instant by a pattern; the profile looks at the calendar for the time of the test only',
  'grip-interpretation: R4: list of interpretations is empty': EMPTY_LIST,
  'grip-trial: R4: narrative is not well formed': 'that is for a reader of XML, which none of them is',
  'grip-trial: R4: list of performers is empty': EMPTY_LIST,
};

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

function judged(mutants: Mutants, mutant: Mutant): Caught {
  const profile = profileOf(mutants.profile);
  const resource = brokenFrom(mutants, mutant);
  const byPaths = judgeByFhirPath(resource, profile);
  const byMedplum = judgeByMedplum(resource, profile);
  const others = (found: readonly Found[]) => found.filter((one) => keysOf([one]).length === 0);
  return {
    name: mutant.name,
    schema: judgeByJsonSchema(resource).length > 0,
    medplum: judgeByMedplum(resource).length > 0,
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

function rateLine(profile: string, caught: readonly Caught[]): string {
  const share = (test: (one: Caught) => boolean) => `${caught.filter(test).length}`;
  return (
    `${profile}, ${caught.length} mutants. Caught by the JSON schema ${share(({ schema }) => schema)}, ` +
    `by Medplum's base definitions ${share(({ medplum }) => medplum)}, by the standard's invariants in fhirpath.js ` +
    `${share(({ standard }) => standard)}, by any of the three ${share(byBases)}; ` +
    `with the profile in Medplum ${share(byProfile)}; with its invariants ${share(byAll)}.`
  );
}

const judgements = all.map((mutants) => ({
  mutants,
  caught: mutants.list.map((mutant) => judged(mutants, mutant)),
}));

describe.each(judgements.map((one) => [one.mutants.profile, one] as const))(
  '%s',
  (profile, { mutants, caught }) => {
    const allowed = Object.keys(MISSED).filter((key) => key.startsWith(`${profile}: `));
    const missed = caught.filter((one) => !byAll(one)).map(({ name }) => `${profile}: ${name}`);

    it(`has ${LEAST_MUTANTS} mutants or more, no two of one name or one content`, () => {
      expect(mutants.list.length).toBeGreaterThanOrEqual(LEAST_MUTANTS);
      expect(new Set(mutants.list.map(({ name }) => name)).size).toBe(mutants.list.length);
      const contents = mutants.list.map((mutant) => JSON.stringify(brokenFrom(mutants, mutant)));
      const twice = mutants.list.filter((_, index) => contents.indexOf(contents[index] ?? '') !== index);
      expect(twice.map(({ name }) => name)).toEqual([]);
    });

    it('catches every mutant, but for those that are named with a reason', () => {
      process.stdout.write(`${rateLine(profile, caught)}\n`);
      expect(missed).toEqual(allowed);
    });

    it('finds the same invariant broken first by two engines of FHIRPath', () => {
      // Medplum stops at the first; nor does it come to ours where one of the standard fails before.
      const unlike = caught.filter(
        ({ invariants: [first], medplumInvariants: [other], medplum }) => first !== other && !medplum,
      );
      expect(unlike).toEqual([]);
    });
  },
);

it('there are mutants of every profile, and each invariant of ours is broken by one', () => {
  const broken = new Set(judgements.flatMap(({ caught }) => caught.flatMap(({ invariants }) => invariants)));
  const ours = PROFILE_IDS.flatMap((id) =>
    (profileOf(id).snapshot?.element[0]?.constraint ?? []).flatMap(({ key }) => (isOurs(key) ? [key] : [])),
  );
  expect(all.map(({ profile }) => profile).sort()).toEqual([...PROFILE_IDS].sort());
  expect([...new Set(ours)].filter((key) => !broken.has(key))).toEqual([]);
});

it('names no miss that is none of these mutants', () => {
  const names = all.flatMap(({ profile, list }) => list.map(({ name }) => `${profile}: ${name}`));
  expect(Object.keys(MISSED).filter((name) => !names.includes(name))).toEqual([]);
});
