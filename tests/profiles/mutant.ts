/**
 * A valid instance broken in one way. Mutants are written from profiles/README.md and the valid instances, without
 * looking at what the judges catch. A file `mutants-<profile>.ts` beside this one exports `MUTANTS`, made with
 * `mutantsOf`; breaks that TypeScript allows are plain assignments, others go through `put`, `drop` and `add`:
 *
 *     { name: 'T2: status registered', of: 'least', change: (trial) => { trial.status = 'registered'; } },
 *     { name: 'T10: handle position 6', of: 'whole', change: put('component.0.valueInteger', 6) },
 */
import type { Observation } from 'fhir/r4.js';
import type { ProfileId } from './definitions.ts';

export interface Mutant<Name extends string = string> {
  /** The break, after the rule that it breaks. No two alike. */
  readonly name: string;
  /** Which valid instance it starts from. */
  readonly of: Name;
  /** Breaks the clone in one way. */
  readonly change: (clone: Observation) => void;
}

export interface Mutants {
  readonly profile: ProfileId;
  readonly valid: Readonly<Record<string, Observation>>;
  readonly list: readonly Mutant[];
}

export function mutantsOf<Name extends string>(
  profile: ProfileId,
  valid: Readonly<Record<Name, Observation>>,
  list: readonly Mutant<Name>[],
): Mutants {
  return { profile, valid, list };
}

/** Sets the member at a dotted path to anything at all; members on the way are made. `code.coding.0.code` */
export function put(path: string, value: unknown): (clone: object) => void {
  return (clone) => {
    const { parent, last } = reach(clone, path);
    parent[last] = value;
  };
}

/** Takes the member at a dotted path away; of a list, the item. The member has to be there. */
export function drop(path: string): (clone: object) => void {
  return (clone) => {
    const { parent, last } = reach(clone, path);
    if (!(last in parent)) throw new Error(`there is no ${path} to drop`);
    if (Array.isArray(parent)) parent.splice(Number(last), 1);
    else delete parent[last];
  };
}

/** Adds an item at the end of the list at a dotted path; the list is made where there is none. */
export function add(path: string, item: unknown): (clone: object) => void {
  return (clone) => {
    const { parent, last } = reach(clone, path);
    parent[last] ??= [];
    (parent[last] as unknown[]).push(item);
  };
}

/** Several of the above as one break: what has to be taken away for another thing to stand in its place. */
export function inTurn(...changes: ((clone: object) => void)[]): (clone: object) => void {
  return (clone) => {
    for (const change of changes) change(clone);
  };
}

function reach(clone: object, path: string): { parent: Record<string, unknown>; last: string } {
  const steps = path.split('.');
  const last = steps.pop() ?? '';
  let parent = clone as Record<string, unknown>;
  for (const step of steps) {
    parent[step] ??= {};
    parent = parent[step] as Record<string, unknown>;
  }
  return { parent, last };
}
