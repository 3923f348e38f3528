/**
 * Every mutant is caught. Who catches how many is printed: the judges of base resources, Medplum with the profile,
 * and all with the invariants of the profile.
 */
import { describe, expect, it } from 'vitest';
import { judgeBatch, LEAST_MUTANTS, missedOf, namesOf, rateLine, twiceIn } from './catching.ts';
import { PROFILE_IDS, profileOf } from './definitions.ts';
import { isOurs } from './judge-by-fhirpath.ts';

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

const judgements = await judgeBatch(new URL('./', import.meta.url));

describe.each(judgements.map((one) => [one.mutants.profile, one] as const))('%s', (profile, judgement) => {
  const { mutants, caught } = judgement;
  const allowed = Object.keys(MISSED).filter((key) => key.startsWith(`${profile}: `));

  it(`has ${LEAST_MUTANTS} mutants or more, no two of one name or one content`, () => {
    expect(mutants.list.length).toBeGreaterThanOrEqual(LEAST_MUTANTS);
    expect(new Set(mutants.list.map(({ name }) => name)).size).toBe(mutants.list.length);
    expect(twiceIn(mutants)).toEqual([]);
  });

  it('catches every mutant, but for those that are named with a reason', () => {
    process.stdout.write(`${rateLine(profile, caught)}\n`);
    expect(missedOf(judgement)).toEqual(allowed);
  });

  it('finds the same invariant broken first by two engines of FHIRPath', () => {
    // Medplum stops at the first; nor does it come to ours where one of the standard fails before.
    const unlike = caught.filter(
      ({ invariants: [first], medplumInvariants: [other], medplum }) => first !== other && !medplum,
    );
    expect(unlike).toEqual([]);
  });
});

it('there are mutants of every profile, and each invariant of ours is broken by one', () => {
  const broken = new Set(judgements.flatMap(({ caught }) => caught.flatMap(({ invariants }) => invariants)));
  const ours = PROFILE_IDS.flatMap((id) =>
    (profileOf(id).snapshot?.element[0]?.constraint ?? []).flatMap(({ key }) => (isOurs(key) ? [key] : [])),
  );
  expect(judgements.map(({ mutants }) => mutants.profile).sort()).toEqual([...PROFILE_IDS].sort());
  expect([...new Set(ours)].filter((key) => !broken.has(key))).toEqual([]);
});

it('names no miss that is none of these mutants', () => {
  const names = namesOf(judgements);
  expect(Object.keys(MISSED).filter((name) => !names.includes(name))).toEqual([]);
});
