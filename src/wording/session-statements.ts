/** What one session comes to, in sentences: the sets together, the chart's sentence, the patient's. */
import type {
  Caution,
  Interpretation,
  Outcome,
  ProvisionalReason,
  Refusal,
  Summary,
  Verdict,
} from '../interpret/finding.ts';
import type { Hand } from '../interpret/measurement.ts';
import type { AppliedPanel } from '../reference/library.ts';
import {
  capital,
  dateText,
  forceText,
  lowerFirst,
  provisionalText,
  refusalSentence,
  SUMMARY_WORDS,
  withKilograms,
} from './statements.ts';

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
  const all = {
    reduced: [] as string[],
    notReduced: [] as string[],
    open: [] as string[],
    handsDiffer: false,
  };
  for (const { ref } of panel.panel.sets) {
    const { shortTitle } = panel.describe(ref);
    const own = interpretation.results.filter(({ set }) => set?.id === ref.id && set.version === ref.version);
    const said = own.flatMap((result) => saidOf(result));
    if (said.length === 0) continue;
    if (said.some(({ outcome }) => outcome === 'open')) {
      all.open.push(shortTitle);
      continue;
    }
    const outcomes = new Set(said.map(({ outcome }) => outcome));
    const oneHand = said.length === 1 && said[0]?.hand;
    if (outcomes.size > 1) all.handsDiffer = true;
    for (const outcome of outcomes) {
      const hands = said.filter((each) => each.outcome === outcome).map(({ hand }) => hand);
      const named = outcomes.size > 1 || oneHand ? `${shortTitle} (${hands.join(', ')} hand)` : shortTitle;
      (outcome === 'reduced' ? all.reduced : all.notReduced).push(named);
    }
  }
  return all;
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

/** A sentence for the chart: trials, figures, what each set says, what it is not. */
export function chartSentence(interpretation: Interpretation, panel: AppliedPanel): string {
  const { testedOn, ageYears, summaries } = interpretation;
  const stop = stopOf(interpretation);
  const when = `Grip strength ${dateText(testedOn)}${ageYears === null ? '' : `, age ${ageText(interpretation)}`}`;
  if (stop) return `${when}: ${lowerFirst(refusalSentence(stop))}`;
  if (summaries.length === 0) return `${when}: not interpreted; no trial of it could be used.`;
  const hasMean = (hand: Hand | null) =>
    summaries.some(({ kind, hand: own }) => kind === 'mean-per-hand' && own === hand);
  const figures = summaries
    .filter(({ kind, hand }) => kind !== 'highest-per-hand' || !hasMean(hand))
    .map(figureText);
  const { reduced, notReduced, open } = tally(interpretation, panel);
  const said = [
    reduced.length > 0 ? `Reduced by ${reduced.join(', ')}.` : '',
    notReduced.length > 0 ? `Not reduced by ${notReduced.join(', ')}.` : '',
    open.length > 0 ? `Depends on ${DEPENDS_ON[openFor(interpretation)]}: ${open.join(', ')}.` : '',
  ].filter(Boolean);
  const results = said.join(' ') || 'No reference set of this panel applies.';
  const notes = [
    provisionalText(provisionalReasons(interpretation)),
    ...interpretation.cautions.flatMap(chartNote),
    ...ownBaselineHands(interpretation).map(
      (hand) => `${capital(hand)} hand: norms do not fit, own baseline.`,
    ),
  ];
  return [
    `${when}: ${figures.join(', ')}.`,
    results,
    ...notes,
    'One item of the assessment; not a diagnosis.',
  ]
    .filter(Boolean)
    .join(' ');
}

/** What open results depend on: the age only where the sex is known. */
export function openFor({ results }: Interpretation): 'sex' | 'age' {
  const isAge = results.some((result) => result.kind === 'refusal' && result.code === 'AGE_UNCERTAIN');
  return isAge ? 'age' : 'sex';
}

const DEPENDS_ON = {
  sex: 'the sex read, not usable in the record',
  age: 'the age, known in part only',
} as const;

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

/** Cautions that the chart must carry, in few words. */
function chartNote({ code, hand, facts }: Caution): readonly string[] {
  if (code === 'TRIALS_SCATTER')
    return [`${capital(hand)}-hand trials inconsistent (CV ${facts.cvPercent}%).`];
  if (code === 'SUMMARY_DISAGREES')
    return [
      `${capital(hand)}-hand ${facts.kind} charted as ${facts.charted} ${facts.unit}, which the trials do not give.`,
    ];
  if (code === 'TRIAL_PRELIMINARY') return ['Some trials not yet verified.'];
  if (code === 'UNIT_DOUBTFUL' || code === 'CHANGE_LIKE_UNIT')
    return [`Unit to be checked (${hand} hand, ${facts.unit} or ${facts.otherUnit}).`];
  return [];
}

function figureText(summary: Summary): string {
  const { kind, hand, trials, provisional } = summary;
  const both = withKilograms(summary);
  if (!hand) return `${SUMMARY_WORDS[kind]} ${both}`;
  const count = trials.length === 1 ? '1 trial' : `${trials.length} trials`;
  const from = provisional.includes('SUMMARY_CHARTED') ? 'as charted' : `of ${count}`;
  return `${hand} ${SUMMARY_WORDS[kind]} ${both} ${from}`;
}

/** One plain sentence for the patient, for a reader of 12; empty when nothing was interpreted. */
export function patientSentence(interpretation: Interpretation): string {
  const best = interpretation.summaries.find(({ kind }) => kind === 'highest-of-either-hand');
  if (!best || stopOf(interpretation)) return '';
  return `Your strongest squeeze was ${forceText(best.charted)}, and it is one of the things your dietitian looks at with you.`;
}
