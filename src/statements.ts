/** Findings as sentences: one wording for cards, narratives, notes and the demo. Plain text, no markup. */
import { REFUSALS } from './errors.ts';
import { exact, toDecimalText } from './interpret/exact.ts';
import type {
  Caution,
  CautionCode,
  Change,
  ForceText,
  ProvisionalReason,
  Refusal,
  Summary,
  Verdict,
} from './interpret/finding.ts';
import { isReduced } from './interpret/judge.ts';
import type { Hand, Sex, SummaryKind } from './interpret/measurement.ts';
import type { LimitOperator } from './interpret/reference-set.ts';
import type { AppliedPanel } from './reference/library.ts';

/** Said on every card: what the output is not. The adult consensus is not spoken of below 18. */
export function intendedUse(ageYears: number | null): string {
  const use =
    'One item of a nutrition assessment, for the licensed clinician who makes it; it supports judgement and local policy and diagnoses nothing.';
  if (ageYears !== null && ageYears < 18)
    return `${use} The consensus on adult malnutrition does not apply below 18.`;
  return `${use} Under the 2012 Academy/ASPEN consensus on adult malnutrition reduced grip counts for the severe grade only, and only beside other characteristics; low strength alone is not sarcopenia.`;
}

/** Said beside every result: what the service could not know. */
export const NOT_READ =
  'Not read by the service: conditions, procedures, devices, posture, handle position and instrument. Weigh pain, surgery, dialysis access, stroke and nerve or muscle disease of the tested arm.';

/** The same in one line, for each Observation that may stand alone in a record. */
export const INTENDED_USE_SHORT =
  'One item of a nutrition assessment; supports the licensed clinician and local policy; diagnoses nothing.';

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** `2026-11-24` -> `24 Nov 2026`, which no reader can take for another day. */
export function dateText(date: string): string {
  const [year, month, day] = date.split('-');
  return `${Number(day)} ${MONTHS[Number(month) - 1]} ${year}`;
}

/** A charted moment: the day, and the time where there is one, as charted. */
function momentText(effective: string): string {
  const time = effective.slice(11, 16);
  return time ? `${dateText(effective.slice(0, 10))} ${time}` : dateText(effective);
}

/** One decimal, e.g. `62.3 lb`. */
export function forceText(force: ForceText): string {
  return `${oneDecimal(force.value)} ${force.unit}`;
}

/**
 * The figure that was compared, with the fewest decimals (one to three) that give the same outcome against the
 * limit: what is shown never contradicts what is said.
 */
export function comparedText(verdict: Verdict): string {
  const { compared, limit, outcome } = verdict;
  const value = exact(compared.value);
  for (const digits of [1, 2, 3]) {
    const shown = toDecimalText(value, digits);
    const reads = isReduced(exact(shown), exact(limit.value), limit.operator) ? 'reduced' : 'not-reduced';
    if (reads === outcome) return `${shown} ${compared.unit}`;
  }
  return `just ${outcome === 'reduced' ? 'below' : 'above'} ${limit.value} ${compared.unit}`;
}

function oneDecimal(decimal: string): string {
  return toDecimalText(exact(decimal), 1);
}

export const SUMMARY_WORDS: Readonly<Record<SummaryKind, string>> = {
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
  return `z ${verdict.zScore.toFixed(2).replace(/^-0\.00$/, '0.00')}, ${percentileText(verdict.percentile)}`;
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

const SEX_SOURCES: Readonly<Record<string, string>> = {
  'sex-parameter-for-clinical-use': 'the sex parameter for clinical use',
  'us-core-individual-sex': 'the US Core individual sex extension',
  'us-core-sex': 'the US Core sex extension',
  'us-core-birthsex': 'the US Core birth sex extension',
  'administrative-gender': 'Patient.gender',
};

/** e.g. `male, from Patient.gender`; for an unusable sex, why it is not usable. */
export function sexText({ sex, source }: { readonly sex: Sex | null; readonly source: string }): string {
  const from = SEX_SOURCES[source];
  if (sex) return `${sex}, from ${from ?? source}`;
  if (source === 'sex-parameter-for-clinical-use')
    return `sex not usable: ${from} gives no one sex for the tests`;
  if (from) return `sex not usable: ${from} says neither male nor female`;
  return source === 'sources-disagree'
    ? 'sex not usable: its sources in the record disagree'
    : 'sex not recorded';
}

/** One set for one hand as a full sentence, for the narrative of its Observation. */
export function verdictSentence(verdict: Verdict, panel: AppliedPanel): string {
  const about = panel.describe(verdict.set);
  const standing = standingText(verdict);
  const meaning = about.meaning
    ? ` ${about.meaning[verdict.outcome === 'reduced' ? 'reduced' : 'notReduced']}`
    : '';
  return [
    `${about.shortTitle}${about.superseded ? ' (superseded)' : ''} (${rowText(verdict)}): ${summaryText(verdict.summary, verdict.hand)} ${comparedText(verdict)};`,
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
  UNIT_DOUBTFUL: 'The figure is possible in either unit, and the unit decides the result',
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
  UNIT_DOUBTFUL: ({ hand, facts }) =>
    facts.unit === 'kg'
      ? `${capital(hand)} hand: a mean of ${facts.figure} kg is strong for this person, and ${facts.figure} lb would be reduced. Check the unit on the instrument.`
      : `${capital(hand)} hand: a mean of ${facts.figure} lb is reduced, and ${facts.figure} kg would not be out of range. Check the unit on the instrument before acting.`,
  TRIAL_PRELIMINARY: ({ facts }) => `${facts.count} of the trials charted as preliminary.`,
  MASS_UNIT_READ_AS_FORCE: ({ facts }) =>
    `Charted in ${facts.unit}, a unit of mass; read as the force that the instrument shows, same number.`,
};

export function cautionSentence(caution: Caution): string {
  return CAUTIONS[caution.code](caution);
}

export function changeSentence(change: Change): string {
  const { hand, since, from, to, difference, percent, provisional } = change;
  const sign = difference.value.startsWith('-') || Number(difference.value) === 0 ? '' : '+';
  return `${capital(hand)} hand since ${momentText(since)}: mean ${forceText(from)} to ${forceText(to)} (${sign}${oneDecimal(difference.value.replace('+', ''))} ${difference.unit}, ${percent}%).${provisional.length > 0 ? ` ${provisionalText(provisional)}` : ''} Whether that exceeds measurement error is not judged here.`;
}

/** A figure as charted, with kilograms beside it where that is another unit: `64.0 lb (29.0 kg)`. */
export function withKilograms({ charted, kilograms }: Pick<Summary, 'charted' | 'kilograms'>): string {
  return charted.unit === 'kg' ? forceText(charted) : `${forceText(charted)} (${forceText(kilograms)})`;
}

/** With a small first letter, to go on in a sentence. */
export function lowerFirst(sentence: string): string {
  return sentence.charAt(0).toLowerCase() + sentence.slice(1);
}

/** With a capital first letter; empty for null. */
export function capital(word: string | null): string {
  return word ? word.charAt(0).toUpperCase() + word.slice(1) : '';
}
