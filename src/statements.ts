/** Findings as sentences: one wording for cards, narratives, notes and the demo. Plain text, no markup. */
import { REFUSALS } from './errors.ts';
import { exact, toDecimalText } from './interpret/exact.ts';
import type {
  Caution,
  CautionCode,
  Change,
  ForceText,
  Interpretation,
  ProvisionalReason,
  Refusal,
  Summary,
  Verdict,
} from './interpret/finding.ts';
import type { Hand, SummaryKind } from './interpret/measurement.ts';
import type { LimitOperator } from './interpret/reference-set.ts';
import type { AppliedPanel } from './reference/library.ts';

/** Said on every card and in every narrative: what the output is not. */
export const INTENDED_USE =
  'One item of a nutrition assessment, for the licensed clinician who makes it; it supports judgement and local policy and diagnoses nothing. ' +
  'Under the 2012 consensus on adult malnutrition reduced grip counts for the severe grade only, and only beside other characteristics; low strength alone is not sarcopenia.';

/** The same in one line, for each Observation that may stand alone in a record. */
export const INTENDED_USE_SHORT =
  'One item of a nutrition assessment; supports the licensed clinician and local policy; diagnoses nothing.';

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** `2026-11-24` -> `24 Nov 2026`, which no reader can take for another day. */
export function dateText(date: string): string {
  const [year, month, day] = date.split('-');
  return `${Number(day)} ${MONTHS[Number(month) - 1]} ${year}`;
}

/** One decimal, e.g. `62.3 lb`. */
export function forceText(force: ForceText): string {
  return `${oneDecimal(force.value)} ${force.unit}`;
}

/** As `forceText`, but with all its places where one decimal would look equal to a limit it does not equal. */
export function comparedText(verdict: Verdict): string {
  const { compared, limit } = verdict;
  const short = oneDecimal(compared.value);
  const looksEqual = Number(short) === Number(limit.value) && Number(compared.value) !== Number(limit.value);
  return `${looksEqual ? compared.value : short} ${compared.unit}`;
}

function oneDecimal(decimal: string): string {
  return toDecimalText(exact(decimal), 1);
}

const SUMMARY_WORDS: Readonly<Record<SummaryKind, string>> = {
  'mean-per-hand': 'mean',
  'highest-per-hand': 'highest',
  'highest-of-either-hand': 'highest of either hand',
};

/** e.g. `right hand, mean` or `highest of either hand`. */
export function summaryText(kind: SummaryKind, hand: Hand | null): string {
  return hand ? `${hand} hand, ${SUMMARY_WORDS[kind]}` : SUMMARY_WORDS[kind];
}

/** e.g. `at or below 41.4 lb`, `below 27 kg`: the range that counts as reduced. */
export function limitText(limit: Verdict['limit']): string {
  const words: Readonly<Record<LimitOperator, string>> = { '<': 'below', '<=': 'at or below' };
  return `${words[limit.operator]} ${limit.value} ${limit.unit}`;
}

export function outcomeText(verdict: Verdict): string {
  const word = verdict.outcome === 'reduced' ? 'reduced' : 'not reduced';
  return verdict.provisional.length > 0 ? `${word}, provisional` : word;
}

/** e.g. `men 70 to 74`, `women 75 and over`: the row that was read. */
export function rowText(verdict: Verdict): string {
  const { ageMin, ageMax } = verdict.row;
  const minor = ageMax !== null && ageMax < 18;
  const who = verdict.sex === 'female' ? (minor ? 'girls' : 'women') : minor ? 'boys' : 'men';
  if (ageMax === null) return ageMin === 0 ? who : `${who} ${ageMin} and over`;
  return ageMin === ageMax ? `${who} ${ageMin}` : `${who} ${ageMin} to ${ageMax}`;
}

/** Where a limit came from, e.g. `mean 70.4, SD 14.5 lb`; empty for a printed cut-point. */
export function rowFigures({ row, limit }: Verdict): string {
  return row.mean && row.sd ? `mean ${row.mean}, SD ${row.sd} ${limit.unit}` : '';
}

/** e.g. `z -0.6, 27th percentile`; empty where there is no z-score. */
export function standingText(verdict: Verdict): string {
  if (verdict.zScore === null || verdict.percentile === null) return '';
  return `z ${verdict.zScore.toFixed(1)}, ${percentileText(verdict.percentile)}`;
}

function percentileText(percentile: number): string {
  if (percentile < 1) return 'below the 1st percentile';
  if (percentile > 99) return 'above the 99th percentile';
  const whole = Math.round(percentile);
  const teen = whole % 100 >= 11 && whole % 100 <= 13;
  const suffix = teen ? 'th' : (['th', 'st', 'nd', 'rd'][whole % 10] ?? 'th');
  return `${whole}${suffix} percentile`;
}

const PROVISIONAL: Readonly<Record<ProvisionalReason, string>> = {
  TRIALS_FEWER: 'fewer trials than the protocol asks for',
  TRIALS_MORE: 'more trials than the protocol asks for',
  ONE_HAND_ONLY: 'one hand only',
};

/** e.g. `Provisional: one hand only.`; empty when the result stands. */
export function provisionalText(reasons: readonly ProvisionalReason[]): string {
  return reasons.length > 0 ? `Provisional: ${reasons.map((reason) => PROVISIONAL[reason]).join('; ')}.` : '';
}

/** One set for one hand as a full sentence, for the narrative of its Observation. */
export function verdictSentence(verdict: Verdict, panel: AppliedPanel): string {
  const about = panel.describe(verdict.set);
  const standing = standingText(verdict);
  const meaning = about.meaning
    ? ` ${about.meaning[verdict.outcome === 'reduced' ? 'reduced' : 'notReduced']}`
    : '';
  return [
    `${about.shortTitle} (${rowText(verdict)}): ${summaryText(verdict.summary, verdict.hand)} ${comparedText(verdict)};`,
    `reduced is ${limitText(verdict.limit)}: ${outcomeText(verdict)}${standing ? ` (${standing})` : ''}.`,
    meaning ? `By this set:${meaning}.` : '',
    provisionalText(verdict.provisional),
  ]
    .filter(Boolean)
    .join(' ');
}

export function refusalSentence(refusal: Refusal): string {
  return REFUSALS[refusal.code].text(refusal.facts);
}

/** For the code system and the documentation. */
export const CAUTION_MEANINGS: Readonly<Record<CautionCode, string>> = {
  TRIALS_FEWER: 'Fewer trials of a hand than the protocol asks for',
  TRIALS_MORE: 'More trials of a hand than the protocol asks for',
  HAND_NOT_TESTED: 'A hand has no usable trial',
  TRIALS_SCATTER: 'The trials of a hand are inconsistent',
  TRIAL_PRELIMINARY: 'A trial is charted as preliminary',
  MASS_UNIT_READ_AS_FORCE: 'A unit of mass was charted and read as force',
};

const CAUTIONS: Readonly<Record<CautionCode, (caution: Caution) => string>> = {
  TRIALS_FEWER: ({ hand, facts }) =>
    `${capital(hand)} hand: ${facts.trials} of ${facts.perHand} trials, so its results are provisional.`,
  TRIALS_MORE: ({ hand, facts }) =>
    `${capital(hand)} hand: ${facts.trials} trials where the protocol has ${facts.perHand}; all were used, so its results are provisional.`,
  HAND_NOT_TESTED: ({ hand }) =>
    `${capital(hand)} hand: no usable trial. The highest of either hand is provisional.`,
  TRIALS_SCATTER: ({ hand, facts }) =>
    `${capital(hand)} hand: inconsistent trials (coefficient of variation ${facts.cvPercent}%, limit ${facts.maxCvPercent}%). ` +
    'Consider a rest and a repeat. The limit is common practice and weak; it says nothing about effort.',
  TRIAL_PRELIMINARY: ({ facts }) => `${facts.count} of the trials charted as preliminary.`,
  MASS_UNIT_READ_AS_FORCE: ({ facts }) =>
    `Charted in ${facts.unit}, a unit of mass; read as the force that the instrument shows, same number.`,
};

export function cautionSentence(caution: Caution): string {
  return CAUTIONS[caution.code](caution);
}

export function changeSentence(change: Change): string {
  const { hand, since, from, to, difference, percent } = change;
  const sign = difference.value.startsWith('-') || Number(difference.value) === 0 ? '' : '+';
  return `${capital(hand)} hand since ${dateText(since)}: mean ${forceText(from)} to ${forceText(to)} (${sign}${oneDecimal(difference.value.replace('+', ''))} ${difference.unit}, ${percent}%). Whether that exceeds measurement error is not judged here.`;
}

function capital(word: string | null): string {
  return word ? word.charAt(0).toUpperCase() + word.slice(1) : '';
}

/** What the sets say together, each by its short title, in the panel's order. */
export interface Tally {
  /** A set counts here when it is reduced for any hand; with the hand named where the other is not. */
  readonly reduced: readonly string[];
  readonly notReduced: readonly string[];
  /** Sets with both columns shown, sex not being usable. */
  readonly open: readonly string[];
  /** Some set calls one hand reduced and the other not. */
  readonly handsDiffer: boolean;
}

export function tally(interpretation: Interpretation, panel: AppliedPanel): Tally {
  const reduced: string[] = [];
  const notReduced: string[] = [];
  const open: string[] = [];
  let handsDiffer = false;
  for (const { ref } of panel.panel.sets) {
    const { shortTitle } = panel.describe(ref);
    const results = interpretation.results.filter(
      ({ set }) => set?.id === ref.id && set.version === ref.version,
    );
    const verdicts = results.filter((result) => result.kind === 'verdict');
    const low = verdicts.filter(({ outcome }) => outcome === 'reduced');
    if (results.some((result) => result.kind === 'refusal' && result.columns.length > 0))
      open.push(shortTitle);
    else if (low.length === verdicts.length && low.length > 0) reduced.push(shortTitle);
    else if (low.length > 0) {
      handsDiffer = true;
      reduced.push(`${shortTitle} (${low.map(({ hand }) => hand).join(', ')} hand)`);
    } else if (verdicts.length > 0) notReduced.push(shortTitle);
  }
  return { reduced, notReduced, open, handsDiffer };
}

/** The refusal that stopped the whole session, if one did. */
export function stopOf(interpretation: Interpretation): Refusal | undefined {
  return interpretation.results.find(
    (result): result is Refusal => result.kind === 'refusal' && result.set === null && result.trial === null,
  );
}

/** A sentence for the chart: trials, figures, what each set says, what it is not. */
export function chartSentence(interpretation: Interpretation, panel: AppliedPanel): string {
  const { testedOn, ageYears, summaries } = interpretation;
  const stop = stopOf(interpretation);
  const when = `Grip strength ${dateText(testedOn)}${ageYears === null ? '' : `, age ${ageYears}`}`;
  if (stop) return `${when}: ${lowerFirst(refusalSentence(stop))}`;
  if (summaries.length === 0) return `${when}: not interpreted; no trial of it could be used.`;
  const figures = summaries.filter(({ kind }) => kind !== 'highest-per-hand').map(figureText);
  const { reduced, notReduced, open } = tally(interpretation, panel);
  const said = [
    reduced.length > 0 ? `Reduced by ${reduced.join(', ')}.` : '',
    notReduced.length > 0 ? `Not reduced by ${notReduced.join(', ')}.` : '',
    open.length > 0 ? `Read for both sexes, to be chosen: ${open.join(', ')}.` : '',
  ].filter(Boolean);
  return `${when}: ${figures.join(', ')}. ${said.join(' ') || 'No reference set of this panel applies.'} One item of the assessment; not a diagnosis.`;
}

function figureText({ kind, hand, charted, kilograms, trials }: Summary): string {
  const both = charted.unit === 'kg' ? forceText(charted) : `${forceText(charted)} (${forceText(kilograms)})`;
  const count = trials.length === 1 ? '1 trial' : `${trials.length} trials`;
  return hand ? `${hand} mean ${both} of ${count}` : `${SUMMARY_WORDS[kind]} ${both}`;
}

function lowerFirst(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1);
}

/** One plain sentence for the patient; empty when nothing was interpreted. */
export function patientSentence(interpretation: Interpretation): string {
  const best = interpretation.summaries.find(({ kind }) => kind === 'highest-of-either-hand');
  if (!best || stopOf(interpretation)) return '';
  return `Your strongest squeeze was ${forceText(best.charted)}; grip is one of several things your dietitian looks at together with you.`;
}
