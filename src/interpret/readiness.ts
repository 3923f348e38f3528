/**
 * May this person be tested, and which arm? Records that were read -> what speaks against which arm, what concerns the
 * person, when grip was last measured and whether the next measurement is due. It forbids nothing.
 */
import { daysFromTo, latestDayOf } from './age.ts';
import { sideOf } from './caution-side.ts';
import { type Dominance, HANDS, type Hand } from './measurement.ts';
import { nextFrom } from './next-measurement.ts';
import type { TrialRules } from './panel.ts';
import { standingOf } from './readiness-standing.ts';
import type {
  CautionCode,
  CautionRead,
  CautionWeight,
  Place,
  ReadinessFinding,
  TestingCaution,
  TestingCautions,
} from './testing-caution.ts';

export interface GripSession {
  /** `YYYY-MM-DD`. */
  readonly testedOn: string;
  readonly hands: readonly Hand[];
}

/** Everything that one assessment depends on besides the rule and the panel: enough to redo it. */
export interface ReadinessInput {
  /** `YYYY-MM-DD`. */
  readonly today: string;
  readonly cautions: readonly CautionRead[];
  /** Absent when the record does not say. */
  readonly dominant?: Dominance | undefined;
  /** Oldest first; null: grip measurements could not be had or read. */
  readonly sessions: readonly GripSession[] | null;
  /** Completed years today, the most that the date of birth allows; absent when it is not known. */
  readonly ageYears?: number | undefined;
}

export interface Readiness {
  /** Most weight first, then in the order of the rule, then newest. */
  readonly findings: readonly ReadinessFinding[];
  readonly last: (GripSession & { readonly daysAgo: number }) | null;
  /** Null: never measured, not known, or the panel has no such rule. */
  readonly next: { readonly from: string; readonly isDue: boolean } | null;
  /** A first measurement, or the next one, is due. */
  readonly isDue: boolean;
}

export function assessReadiness(
  input: ReadinessInput,
  { cautions, longPast }: TestingCautions,
  rules: TrialRules,
): Readiness {
  const findings = cautions.flatMap((caution) =>
    input.cautions
      .filter((read) => read.caution === caution.id)
      .flatMap((read) => findingsOf(read, caution, input, longPast.days)),
  );
  const { last, next } = lastAndNext(input, rules);
  return {
    findings: grouped(findings).sort(byWeightThenRule(cautions.map(({ id }) => id))),
    last,
    next,
    isDue: input.sessions !== null && (last === null || next?.isDue === true),
  };
}

function lastAndNext(
  { sessions, today }: ReadinessInput,
  rules: TrialRules,
): Pick<Readiness, 'last' | 'next'> {
  const latest = sessions?.at(-1);
  if (!latest) return { last: null, next: null };
  const sameDay = sessions?.filter(({ testedOn }) => testedOn === latest.testedOn) ?? [];
  const hands = HANDS.filter((hand) => sameDay.some((session) => session.hands.includes(hand)));
  const from = nextFrom(latest.testedOn, rules);
  return {
    last: { testedOn: latest.testedOn, hands, daysAgo: daysFromTo(latest.testedOn, today) ?? 0 },
    next: from ? { from, isDue: today >= from } : null,
  };
}

/** None for a record that no longer counts; one for each arm that it is about. */
function findingsOf(
  read: CautionRead,
  caution: TestingCaution,
  { today, dominant }: ReadinessInput,
  longPast: number,
): readonly ReadinessFinding[] {
  if (read.state === 'past' && caution.whenPast === 'leave-out') return [];
  const codes = caution.codes.filter((each) => read.codes.some((own) => isSame(own, each)));
  const told = mostTelling(read, codes, caution);
  const shared = {
    caution: caution.id,
    ...standingOf(read, today, { caution, weight: told.weight, longPast }),
    reference: read.reference,
    others: [],
    code: told.code,
    date: read.date,
    dateOf: read.dateOf,
    ...(read.valueUnread ? { valueUnread: true as const } : {}),
  };
  if (caution.scope === 'person') return [{ ...shared, place: 'person' }];
  const { hands, ...side } = sideOf(read, codes, dominant);
  const places: readonly Place[] = hands.length > 0 ? hands : ['side-unknown'];
  return places.map((place) => ({ ...shared, place, ...side }));
}

const isSame = (a: { system: string; code: string }, b: { system: string; code: string }) =>
  a.system === b.system && a.code === b.code;

const WEIGHTS: readonly CautionWeight[] = ['against', 'care', 'ask'];

/** Of several codes of one record the one with the most weight; one that a site maps has that of the caution. */
function mostTelling(
  read: CautionRead,
  codes: readonly CautionCode[],
  caution: TestingCaution,
): Pick<ReadinessFinding, 'weight' | 'code'> {
  const weighed = read.codes.map((code) => ({
    code,
    weight: codes.find((each) => isSame(each, code))?.weight ?? caution.weight,
  }));
  const [first] = weighed.sort((a, b) => WEIGHTS.indexOf(a.weight) - WEIGHTS.indexOf(b.weight));
  return first ?? { code: null, weight: caution.weight };
}

/** The same caution by the same code at the same place is one line: the newest record, with the others named. */
function grouped(findings: readonly ReadinessFinding[]): ReadinessFinding[] {
  const groups = new Map<string, ReadinessFinding[]>();
  for (const finding of findings) {
    const { caution, place, state, weight, code } = finding;
    const key = [caution, place, state, weight, code?.system, code?.code, code?.local].join(' ');
    groups.set(key, [...(groups.get(key) ?? []), finding]);
  }
  return [...groups.values()].flatMap((group) => {
    const [newest, ...older] = group.sort(byDate);
    return newest ? [{ ...newest, others: older.map(({ reference }) => reference) }] : [];
  });
}

/** @param order of the cautions in the rule */
function byWeightThenRule(order: readonly string[]): (a: ReadinessFinding, b: ReadinessFinding) => number {
  return (a, b) =>
    WEIGHTS.indexOf(a.weight) - WEIGHTS.indexOf(b.weight) ||
    order.indexOf(a.caution) - order.indexOf(b.caution) ||
    byDate(a, b);
}

/** Newest first, those without a date last, then by reference: the order of a request says nothing. */
function byDate(a: ReadinessFinding, b: ReadinessFinding): number {
  const [one, other] = [latestDayOf(a.date ?? '') ?? '', latestDayOf(b.date ?? '') ?? ''];
  if (one !== other) return one < other ? 1 : -1;
  return a.reference < b.reference ? -1 : a.reference > b.reference ? 1 : 0;
}
