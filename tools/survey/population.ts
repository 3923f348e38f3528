/** What one panel says of the whole survey population: shares called reduced, and refusals by their code. */
import { SEXES, type Sex } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { SetRef } from '../../src/interpret/reference-set.ts';
import type { SurveyPerson } from './microdata.ts';
import type { Outcome } from './run-panel.ts';
import { AGE_GROUPS, isIn, type Share, shareOf } from './weighted.ts';

/** One set and one sex. */
export interface SetShares {
  readonly set: string;
  readonly version: string;
  readonly sex: Sex;
  /** People whom the set was read for: at least one verdict. */
  readonly people: number;
  /** By age group; `reduced` on at least one hand, where the set is read for each hand. */
  readonly groups: Readonly<Record<string, Share>>;
}

export interface Population {
  readonly panel: SetRef;
  readonly people: number;
  readonly sets: readonly SetShares[];
  /** `code` or `code set` -> people with at least one such refusal. */
  readonly refusals: Readonly<Record<string, number>>;
}

export function describePopulation(outcomes: readonly Outcome[], panel: Panel): Population {
  const judged = judgedBySet(outcomes);
  return {
    panel: panel.ref,
    people: outcomes.length,
    sets: panel.sets.flatMap(({ ref }) => SEXES.map((sex) => sharesOf(judged.get(ref.id) ?? [], ref, sex))),
    refusals: refusalsOf(outcomes),
  };
}

export interface Judged {
  readonly person: SurveyPerson;
  readonly weight: number;
  /** On at least one hand. */
  readonly reduced: boolean;
}

/** Set id -> whom the set was read for, and whether it called them reduced. */
export function judgedBySet(outcomes: readonly Outcome[]): ReadonlyMap<string, readonly Judged[]> {
  const bySet = new Map<string, Judged[]>();
  for (const { person, interpretation } of outcomes) {
    const reduced = new Map<string, boolean>();
    for (const result of interpretation.results)
      if (result.kind === 'verdict')
        reduced.set(result.set.id, result.outcome === 'reduced' || reduced.get(result.set.id) === true);
    for (const [id, either] of reduced) {
      const judged = bySet.get(id) ?? [];
      judged.push({ person, weight: person.weight, reduced: either });
      bySet.set(id, judged);
    }
  }
  return bySet;
}

function sharesOf(all: readonly Judged[], ref: SetRef, sex: Sex): SetShares {
  const judged = all.filter(({ person }) => person.sex === sex);
  const groups = AGE_GROUPS.flatMap(({ name, from, to }) => {
    const group = judged.filter(({ person }) => isIn(person, sex, from, to));
    return group.length === 0 ? [] : [[name, shareOf(group, ({ reduced }) => reduced)] as const];
  });
  return {
    set: ref.id,
    version: ref.version,
    sex,
    people: judged.length,
    groups: Object.fromEntries(groups),
  };
}

/** Sets that do not cover an age refuse every person outside it: those are counted together. */
function refusalsOf(outcomes: readonly Outcome[]): Population['refusals'] {
  const counts = new Map<string, number>();
  for (const { interpretation } of outcomes) {
    const codes = interpretation.results.flatMap((result) => {
      if (result.kind !== 'refusal') return [];
      const { code, set } = result;
      return [set && code !== 'AGE_OUTSIDE_SET' ? `${code} ${set.id}` : code];
    });
    for (const code of new Set(codes)) counts.set(code, (counts.get(code) ?? 0) + 1);
  }
  return Object.fromEntries([...counts].sort(([a], [b]) => a.localeCompare(b)));
}
