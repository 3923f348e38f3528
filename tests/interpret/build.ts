/** Builders for the tests of the interpretation core: trials, sessions, the released panels. */
import { fileURLToPath } from 'node:url';
import type { Interpretation, Refusal, Verdict } from '../../src/interpret/finding.ts';
import { interpret, type SessionInput } from '../../src/interpret/interpret.ts';
import type { Hand, Measure, MeasureKind, Subject, Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { ReadySet } from '../../src/interpret/reference-set.ts';
import type { Sitting } from '../../src/interpret/sessions.ts';
import { loadLibrary } from '../../src/reference/library.ts';

export const NORMS = fileURLToPath(new URL('../../norms/', import.meta.url));

const library = loadLibrary(NORMS);

/** The newest version, or the one named. */
export function panelNamed(id: string, version?: string): Panel {
  const found = library.findPanel(id, version);
  if (!found) throw new Error(`no panel ${id} ${version ?? ''}`);
  return found.panel;
}

/** Every panel at its newest version. */
export const PANELS: readonly Panel[] = library.panelIds.map((id) => panelNamed(id));

export const US = panelNamed('adult-inpatient-us');
export const ALL = panelNamed('all-published');

let serial = 0;

/** One valid trial: right hand, 30 kg of force, date only. */
export function trial(parts: Partial<Trial> = {}): Trial {
  serial += 1;
  return {
    reference: `Observation/${serial}`,
    hand: 'right',
    reading: '30',
    unit: 'kgf',
    effective: '2026-03-10',
    testedOn: '2026-03-10',
    testedAtMinute: null,
    preliminary: false,
    ...parts,
  };
}

/** One trial for each reading of one hand. */
export function trialsOf(hand: Hand, readings: readonly string[], parts: Partial<Trial> = {}): Trial[] {
  return readings.map((reading) => trial({ hand, reading, ...parts }));
}

/** Trials without a charted summary beside them. */
export function sitting(trials: readonly Trial[]): Sitting {
  return { trials, charted: [] };
}

/** Three equal readings on each hand: nothing to be cautious about. */
export function threeEach(reading: string, parts: Partial<Trial> = {}): Trial[] {
  const readings = [reading, reading, reading];
  return [...trialsOf('right', readings, parts), ...trialsOf('left', readings, parts)];
}

export function sessionOf(
  trials: readonly Trial[],
  ageYears: number,
  parts: Partial<SessionInput> = {},
): SessionInput {
  return { testedOn: trials[0]?.testedOn ?? '2026-03-10', age: { ageYears }, prior: false, trials, ...parts };
}

/** A measure other than grip, taken on the day that `trial` is done. */
export function measure(kind: MeasureKind, value: string, parts: Partial<Measure> = {}): Measure {
  const reference = `Observation/${kind}`;
  return { kind, value, charted: value, reference, measuredOn: '2026-03-10', ...parts };
}

/** A set as a panel applies it, by default the panel of all published sets. */
export function setNamed(id: string, panel: Panel = ALL): ReadySet {
  const found = panel.sets.find(({ ref }) => ref.id === id);
  if (!found) throw new Error(`no set ${id}`);
  return found;
}

/** The interpretation of one sitting. */
export function read(panel: Panel, person: Subject, trials: readonly Trial[]): Interpretation {
  const { sex, dominant, measures, ...age } = person;
  const [only] = interpret({ sex, dominant, sessions: [{ ...sessionOf(trials, 0), age, measures }] }, panel);
  if (!only) throw new Error('no interpretation');
  return only;
}

export function isVerdict(result: Verdict | Refusal): result is Verdict {
  return result.kind === 'verdict';
}

/** Verdicts of one set, in the order answered. */
export function verdictsOf(interpretation: Interpretation, setId: string): readonly Verdict[] {
  return interpretation.results.filter(isVerdict).filter((verdict) => verdict.set.id === setId);
}

/** Refusals of one set, in the order answered. */
export function refusalsOf(interpretation: Interpretation, setId: string): readonly Refusal[] {
  return interpretation.results
    .filter((result) => result.kind === 'refusal')
    .filter((refusal) => refusal.set?.id === setId);
}

export function codesOf(interpretation: Interpretation): readonly string[] {
  return interpretation.results.flatMap((result) => (result.kind === 'refusal' ? [result.code] : []));
}

/** Freezes a value and everything in it: any write then throws. */
export function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const part of Object.values(value)) deepFreeze(part);
  }
  return value;
}
