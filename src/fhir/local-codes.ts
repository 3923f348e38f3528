/** Local codes -> the codes that this service reads, by a site's ConceptMap. Nothing is read by a name or a display. */
import type { Hand } from '../interpret/measurement.ts';
import { GRIP_CAUTIONS } from './caution-codes.ts';
import type { CodeableConcept, ObservationResource } from './forms.ts';
import type { Fault } from './read-observation.ts';

/** Names the ConceptMap so that nobody can doubt which. */
export interface LocalCodesRef {
  readonly url: string;
  readonly version: string;
  /** SHA-256 of the file, lower-case hexadecimal. */
  readonly sha256: string;
}

/** What one local code means. */
export interface LocalCode {
  readonly system: string;
  readonly code: string;
  readonly target: { readonly system: string; readonly code: string };
  /** The side, where the target does not say it. */
  readonly hand?: Hand | undefined;
  readonly trialNumber?: number | undefined;
}

export interface Translated {
  /** With the codes of the map beside the local ones. */
  readonly observation: ObservationResource;
  /** The local codes that were read. */
  readonly read: readonly LocalCode[];
  /** Where a local code and another of the same concept contradict each other. */
  readonly fault?: Fault | undefined;
}

export interface LocalCodes {
  readonly ref: LocalCodesRef;
  /** In the order of the map. */
  readonly all: readonly LocalCode[];
  translate(observation: ObservationResource): Translated;
  /** Whether it has a code of a system that the map reads, and none that it knows. */
  isUnknown(code: CodeableConcept): boolean;
  /** The local codes of one concept, of figures and of cautions. */
  within(code: CodeableConcept): readonly LocalCode[];
}

export function localCodesOf(ref: LocalCodesRef, codes: readonly LocalCode[]): LocalCodes {
  const known = new Map(codes.map((each) => [keyOf(each.system, each.code), each]));
  const within = ({ coding = [] }: CodeableConcept) =>
    coding.flatMap(({ system, code }) => known.get(keyOf(system ?? '', code ?? '')) ?? []);
  // A system that is mapped to cautions only, SNOMED CT for instance, is not the site's own.
  const systems = new Set(codes.filter((each) => !isOfCaution(each)).map(({ system }) => system));
  const ofFigures: LocalCodes['within'] = (code) => within(code).filter((each) => !isOfCaution(each));
  return {
    ref,
    all: codes,
    within,
    isUnknown: (code) =>
      within(code).length === 0 && (code.coding ?? []).some(({ system }) => systems.has(system ?? '')),
    translate: (observation) => translate(observation, ofFigures),
  };
}

/** Whether it means a caution before a test. */
export function isOfCaution({ target }: LocalCode): boolean {
  return target.system === GRIP_CAUTIONS;
}

function keyOf(system: string, code: string): string {
  return `${system}|${code}`;
}

/** For figures: the code of the Observation and of each component; other elements keep their codes. */
function translate(observation: ObservationResource, within: LocalCodes['within']): Translated {
  const { component = [] } = observation;
  const own = within(observation.code);
  const ofComponents = component.map(({ code }) => within(code));
  const read = [own, ...ofComponents].flat();
  if (read.length === 0) return { observation, read };
  const faulty = [own, ...ofComponents].findIndex((found, index) => {
    const concept = index === 0 ? observation.code : component[index - 1]?.code;
    return concept !== undefined && contradicts(concept, found);
  });
  const element = faulty === 0 ? 'code' : `component[${faulty - 1}].code`;
  return {
    observation: {
      ...observation,
      code: withTargets(observation.code, own),
      ...(component.length > 0
        ? {
            component: component.map((each, index) => ({
              ...each,
              code: withTargets(each.code, ofComponents[index] ?? []),
            })),
          }
        : {}),
    },
    read,
    ...(faulty < 0 ? {} : { fault: { code: 'CODE_CONTRADICTION', element } as const }),
  };
}

/** Another code of the target's own system says something else. */
function contradicts({ coding = [] }: CodeableConcept, found: readonly LocalCode[]): boolean {
  const said = [...coding, ...found.map(({ target }) => target)];
  return found.some(({ target }) =>
    said.some(({ system, code }) => system === target.system && code !== target.code),
  );
}

function withTargets(concept: CodeableConcept, found: readonly LocalCode[]): CodeableConcept {
  if (found.length === 0) return concept;
  return { ...concept, coding: [...(concept.coding ?? []), ...found.map(({ target }) => ({ ...target }))] };
}
