/** What the codes of an Observation or of one component say of grip: which hand, and whether trial, mean or highest. */
import type { ChartedSummary, Hand } from '../interpret/measurement.ts';
import {
  GRIP_CODES,
  GRIP_LOINC,
  GRIP_SNOMED,
  type GripCode,
  LOINC,
  OBSERVATION_STATISTICS,
  SIDE_OF_SNOMED,
  SNOMED,
} from './codes.ts';
import type { CodeableConcept } from './forms.ts';
import type { LocalCodes } from './local-codes.ts';
import { codesOf, type Fault, meaningsOf } from './read-observation.ts';

export type FigureKind = 'trial' | ChartedSummary['kind'];

/** What one `code` says; several hands or kinds contradict each other. */
export interface GripMeaning {
  readonly hands: readonly Hand[];
  /** None where it says grip strength and no more. */
  readonly kinds: readonly FigureKind[];
  /** Numbers of the trial, of local codes. */
  readonly numbers: readonly number[];
}

const KIND_OF_CODE: Readonly<Record<string, FigureKind>> = {
  'grip-trial': 'trial',
  'mean-per-hand': 'mean-per-hand',
  'highest-per-hand': 'highest-per-hand',
} satisfies Partial<Record<GripCode, FigureKind>>;

/** Undefined when it is not about grip strength as measured. */
export function gripMeaning(
  code: CodeableConcept,
  localCodes: LocalCodes | undefined,
): GripMeaning | undefined {
  const loinc = codesOf(code, LOINC);
  const ofLoinc = (['right', 'left'] as const).filter((hand) => loinc.includes(GRIP_LOINC[hand]));
  const kinds = meaningsOf(codesOf(code, GRIP_CODES), KIND_OF_CODE);
  const isGrip = ofLoinc.length + kinds.length > 0 || codesOf(code, SNOMED).includes(GRIP_SNOMED);
  if (!isGrip) return undefined;
  const local = localCodes?.within(code) ?? [];
  return {
    hands: [...new Set([...ofLoinc, ...local.flatMap(({ hand }) => hand ?? [])])],
    kinds,
    numbers: [...new Set(local.flatMap(({ trialNumber }) => trialNumber ?? []))],
  };
}

/** Codes that this service writes for what it concluded; they come back with the chart. */
const OWN_RESULTS: readonly GripCode[] = [
  'strength-against-norm',
  'strength-against-cut-point',
  'highest-of-either-hand',
  'mean-of-both-hands',
];

export function isOwnResult(code: CodeableConcept): boolean {
  return codesOf(code, GRIP_CODES).some((each) => OWN_RESULTS.some((own) => own === each));
}

export function sidesOf(bodySite: CodeableConcept | undefined): readonly Hand[] {
  return meaningsOf(codesOf(bodySite, SNOMED), SIDE_OF_SNOMED);
}

const KIND_OF_STATISTIC: Readonly<Record<string, FigureKind>> = {
  average: 'mean-per-hand',
  maximum: 'highest-per-hand',
};

/** What a method says the value is; a Fault for a statistic that is not read. */
export function kindsOfMethod(method: CodeableConcept | undefined): readonly FigureKind[] | Fault {
  const statistics = codesOf(method, OBSERVATION_STATISTICS);
  if (statistics.some((code) => !Object.hasOwn(KIND_OF_STATISTIC, code)))
    return { code: 'STATISTIC_NOT_READ', element: 'method' };
  return meaningsOf(statistics, KIND_OF_STATISTIC);
}

/** The one kind said; a trial where nothing is said. */
export function kindOf(
  { kinds, numbers }: GripMeaning,
  ofMethod: readonly FigureKind[],
  element: string,
): FigureKind | Fault {
  const [kind = 'trial', ...others] = new Set([...kinds, ...ofMethod]);
  const contradicts = others.length > 0 || numbers.length > 1 || (kind !== 'trial' && numbers.length > 0);
  return contradicts ? { code: 'CODE_CONTRADICTION', element } : kind;
}
