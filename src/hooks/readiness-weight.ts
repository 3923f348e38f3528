/** What of an assessment counts now, which arm is free, and whether it rests on the whole chart. */
import type { Assessment } from '../assessment.ts';
import { HANDS, type Hand } from '../interpret/measurement.ts';
import type { Place, ReadinessFinding, TestingCaution } from '../interpret/testing-caution.ts';
import { codeOf } from '../wording/readiness-short.ts';

/** Neither past nor planned. */
export function isCurrent({ state }: ReadinessFinding): boolean {
  return state !== 'past' && state !== 'planned';
}

/** Not what only asks for care or for a look. */
export function againstNow({ readiness }: Assessment): readonly ReadinessFinding[] {
  return readiness.findings.filter((finding) => finding.weight === 'against' && isCurrent(finding));
}

export function cautionOf({ rule }: Assessment, { caution }: ReadinessFinding): TestingCaution | undefined {
  return rule.cautions.find(({ id }) => id === caution);
}

/** What is said though no test is due: not what whoever sees the person knows. */
export function warnsUnasked(assessment: Assessment): boolean {
  return againstNow(assessment).some((finding) => cautionOf(assessment, finding)?.whenNotDue === 'warn');
}

export function isHand(place: Place): place is Hand {
  return place === 'right' || place === 'left';
}

/** Something speaks against each arm. */
export function areBothCautioned(assessment: Assessment): boolean {
  return HANDS.every((hand) => againstNow(assessment).some(({ place }) => place === hand));
}

export function areBothAbsent(assessment: Assessment): boolean {
  const absent = againstNow(assessment).filter(({ caution }) => caution === 'absent-hand');
  return HANDS.every((hand) => absent.some(({ place }) => place === hand));
}

/** For a caution at one place: something speaks against the other arm, or it has the same caution. */
export function isOtherTaken(assessment: Assessment, caution: string, place: Place): boolean {
  if (!isHand(place)) return areBothCautioned(assessment);
  const other = assessment.readiness.findings.filter(
    (finding) => isHand(finding.place) && finding.place !== place && isCurrent(finding),
  );
  return other.some((finding) => finding.weight === 'against' || finding.caution === caution);
}

/** The arms that records of the same caution name now. */
export function armsNamed({ readiness }: Assessment, caution: string): readonly Hand[] {
  const named = readiness.findings.filter(
    (finding) => finding.caution === caution && isCurrent(finding) && finding.state !== 'maybe-done',
  );
  return HANDS.filter((hand) => named.some(({ place }) => place === hand));
}

/** Dialysis as such, beside a record that says in which arm the access is: there is nothing to ask. */
export function isAnswered(assessment: Assessment, finding: ReadinessFinding): boolean {
  const caution = cautionOf(assessment, finding);
  if (finding.place !== 'side-unknown' || !caution) return false;
  return codeOf(finding, caution)?.askUnsided !== undefined && armsNamed(assessment, caution.id).length > 0;
}

/** Keys without which "nothing found" says little. */
export const CHART_KEYS: readonly string[] = ['conditions', 'procedures'];
/** Where access and lines may be charted besides. */
const ACCESS_KEYS: readonly string[] = ['devices', 'lines'];
/** All of what "nothing found" speaks of. */
export const RECORD_KEYS: readonly string[] = [...CHART_KEYS, ...ACCESS_KEYS];

export function isChartMissing({ gaps }: Assessment): boolean {
  return CHART_KEYS.every((key) => gaps.missing.includes(key));
}

/** Everything that was asked for was there, and could be read. */
export function isWholeChart({ gaps }: Assessment): boolean {
  const inPart = RECORD_KEYS.some((key) => gaps.missing.includes(key) || gaps.more.includes(key));
  return !inPart && gaps.unusable.length === 0;
}

/** Younger than every row of the panel's sets: a measurement could be compared with nothing. */
export function isBelowSets({ input, panel }: Assessment): boolean {
  const lowest = Math.min(...panel.panel.sets.flatMap(({ rows }) => rows.map(({ ageMin }) => ageMin)));
  return input.ageYears !== undefined && input.ageYears < lowest;
}
