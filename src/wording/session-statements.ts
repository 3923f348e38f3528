/** What one session comes to, in sentences: the sets together, what stopped it, the patient's sentence. */
import type { Interpretation, Outcome, ProvisionalReason, Refusal, Verdict } from '../interpret/finding.ts';
import type { Hand } from '../interpret/measurement.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { dateText, forceText, oneDecimal } from './statements.ts';

/** What the sets say together, each by its short title, in the panel's order. */
export interface Tally {
  /** With the hand named where the set answers for one hand only, or the hands differ. */
  readonly reduced: readonly string[];
  readonly notReduced: readonly string[];
  /** Sets that depend on the sex or the age, which is not known: reduced in one column and not in another. */
  readonly open: readonly string[];
  /** Some set calls one hand reduced and the other not. */
  readonly handsDiffer: boolean;
}

export function tally(interpretation: Interpretation, panel: AppliedPanel): Tally {
  const sets = panel.panel.sets.flatMap(({ ref }) => {
    const own = interpretation.results.filter(({ set }) => set?.id === ref.id && set.version === ref.version);
    const said = own.flatMap((result) => saidOf(result));
    return said.length > 0 ? [{ title: panel.describe(ref).shortTitle, said }] : [];
  });
  const isOpen = ({ said }: SetSays) => said.some(({ outcome }) => outcome === 'open');
  const read = sets.filter((each) => !isOpen(each));
  const handsDiffer = read.some(differs);
  const named = (wanted: Outcome) => read.flatMap((each) => titleFor(wanted, each, handsDiffer));
  return {
    reduced: named('reduced'),
    notReduced: named('not-reduced'),
    open: sets.filter(isOpen).map(({ title }) => title),
    handsDiffer,
  };
}

interface SetSays {
  readonly title: string;
  readonly said: readonly { readonly hand: Hand | null; readonly outcome: Outcome | 'open' }[];
}

function differs({ said }: SetSays): boolean {
  return new Set(said.map(({ outcome }) => outcome)).size > 1;
}

/** The hands are named where it matters which: one only, or where some set tells them apart. */
function titleFor(wanted: Outcome, set: SetSays, handsDiffer: boolean): readonly string[] {
  const { title, said } = set;
  const hands = said.filter(({ outcome }) => outcome === wanted).map(({ hand }) => hand);
  if (hands.length === 0) return [];
  if (differs(set) || (said.length === 1 && said[0]?.hand)) return [`${title} (${hands.join(', ')} hand)`];
  return [handsDiffer && hands.length > 1 ? `${title} (both hands)` : title];
}

/** What one result says of its hand; `open` where the two columns differ; nothing for a set not applied. */
function saidOf(result: Verdict | Refusal): readonly { hand: Hand | null; outcome: Outcome | 'open' }[] {
  const { hand } = result;
  if (result.kind === 'verdict') return [{ hand, outcome: result.outcome }];
  const [first, ...others] = result.columns.map(({ outcome }) => outcome);
  if (!first) return [];
  if (result.facts.unknown || result.facts.notCovered) return [{ hand, outcome: 'open' }];
  return [{ hand, outcome: others.every((outcome) => outcome === first) ? first : 'open' }];
}

/** The refusal that stopped the whole session, if one did. */
export function stopOf(interpretation: Interpretation): Refusal | undefined {
  return interpretation.results.find(
    (result): result is Refusal => result.kind === 'refusal' && result.set === null && result.trial === null,
  );
}

/** e.g. `72`, or `71 or 72` where the date of birth is known in part only. */
export function ageText({ ageYears, ageAtMost }: Pick<Interpretation, 'ageYears' | 'ageAtMost'>): string {
  return ageAtMost === undefined || ageAtMost === ageYears ? String(ageYears) : `${ageYears} or ${ageAtMost}`;
}

/** What open results depend on: the age only where the sex is known. */
export function openFor({ results }: Interpretation): 'sex' | 'age' {
  const isAge = results.some((result) => result.kind === 'refusal' && result.code === 'AGE_UNCERTAIN');
  return isAge ? 'age' : 'sex';
}

/** Hands that are compared with their own earlier figures only. */
export function ownBaselineHands({ results }: Interpretation): readonly Hand[] {
  const hands = results.flatMap((result) =>
    result.kind === 'refusal' && result.code === 'OWN_BASELINE' && result.hand ? [result.hand] : [],
  );
  return [...new Set(hands)];
}

/** Every reason for which some result is provisional, once. */
export function provisionalReasons({ results }: Interpretation): readonly ProvisionalReason[] {
  return [
    ...new Set(results.flatMap((result) => verdictsIn(result).flatMap(({ provisional }) => provisional))),
  ];
}

/** The verdict itself, or those of both columns where the sex is not usable. */
export function verdictsIn(result: Verdict | Refusal): readonly Verdict[] {
  return result.kind === 'verdict' ? [result] : result.columns;
}

/** Cautions that put the unit, and so every result, in doubt. */
export const UNIT_CAUTIONS: ReadonlySet<string> = new Set(['UNIT_DOUBTFUL', 'CHANGE_LIKE_UNIT']);

/** The units between which there is doubt, the charted one first, e.g. `lb or kg`; empty where there is none. */
export function unitsInDoubt({ cautions }: Pick<Interpretation, 'cautions'>): string {
  const facts = cautions.find(({ code }) => UNIT_CAUTIONS.has(code))?.facts;
  return facts ? `${facts.unit} or ${facts.otherUnit}` : '';
}

/**
 * One plain sentence for the patient, for a reader of 12; empty when nothing was interpreted, and while the unit, and so
 * the number, is in doubt.
 */
export function patientSentence(interpretation: Interpretation): string {
  const best = interpretation.summaries.find(({ kind }) => kind === 'highest-of-either-hand');
  if (!best || stopOf(interpretation) || unitsInDoubt(interpretation)) return '';
  const { value, unit } = best.charted;
  const force = `${oneDecimal(value).replace(/\.0$/, '')} ${unit}`;
  const shown = unit === 'N' ? `${force} (${forceText(best.kilograms)})` : force;
  return `On ${dateText(interpretation.testedOn)} your strongest squeeze was ${shown}, and it is one of the things your dietitian looks at with you.`;
}
