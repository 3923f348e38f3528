/** Findings as sentences: one wording for cards, narratives, notes and the demo. Plain text, no markup. */
import { exact, toDecimalText } from '../interpret/exact.ts';
import type {
  CentilePlace,
  FigureText,
  ProvisionalReason,
  Refusal,
  Summary,
  Verdict,
} from '../interpret/finding.ts';
import { isReduced } from '../interpret/limit.ts';
import type { Dominance, Hand, Sex, SummaryKind } from '../interpret/measurement.ts';
import type { LimitOperator } from '../interpret/reference-set.ts';
import { REFUSALS } from './refusals.ts';

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** `2026-11-24` -> `24 Nov 2026`, which no reader can take for another day. */
export function dateText(date: string): string {
  const [year, month, day] = date.split('-');
  return `${Number(day)} ${MONTHS[Number(month) - 1]} ${year}`;
}

/** A charted moment: the day, and the time where there is one, as charted. */
export function momentText(effective: string): string {
  const time = effective.slice(11, 16);
  return time ? `${dateText(effective.slice(0, 10))} ${time}` : dateText(effective);
}

/** One decimal, e.g. `62.3 lb`. */
export function forceText(force: FigureText): string {
  return `${oneDecimal(force.value)} ${force.unit}`;
}

/**
 * The figure that was compared, with the fewest decimals (one to three) that give the same outcome against the
 * limit: what is shown never contradicts what is said.
 */
export function comparedText(verdict: Verdict): string {
  const { compared, limit, outcome, divisor } = verdict;
  const value = exact(compared.value);
  for (const digits of divisor ? [2, 3] : [1, 2, 3]) {
    const shown = toDecimalText(value, digits);
    const reads = isReduced(exact(shown), exact(limit.value), limit.operator) ? 'reduced' : 'not-reduced';
    if (reads === outcome) return `${shown} ${compared.unit}`;
  }
  return `just ${outcome === 'reduced' ? 'below' : 'above'} ${limit.value} ${compared.unit}`;
}

export function oneDecimal(decimal: string): string {
  return toDecimalText(exact(decimal), 1);
}

export const SUMMARY_WORDS: Readonly<Record<SummaryKind, string>> = {
  'mean-per-hand': 'mean',
  'highest-per-hand': 'highest',
  'highest-of-either-hand': 'highest of either hand',
  'mean-of-both-hands': 'mean of the highest of both hands',
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

/** e.g. `men 70 to 74`, `women 75 and over`, `men 65 and over, BMI 24.1 to 26.0`: the row that was read. */
export function rowText(verdict: Verdict): string {
  const { hand, stratum } = verdict.row;
  return [
    whoText(verdict),
    hand ? `${hand === 'dominant' ? 'dominant' : 'other'} hand` : '',
    stratum ? stratumText(stratum) : '',
  ]
    .filter(Boolean)
    .join(', ');
}

function whoText({ sex, row: { ageMin, ageMax, betweenAges } }: Verdict): string {
  const minor = ageMax !== null && ageMax < 18;
  const who = sex === 'female' ? (minor ? 'girls' : 'women') : minor ? 'boys' : 'men';
  if (betweenAges) return `${who} ${ageMin}, between the figures for ${betweenAges.join(' and ')}`;
  if (ageMax === null) return ageMin === 0 ? who : `${who} ${ageMin} and over`;
  return ageMin === ageMax ? `${who} ${ageMin}` : `${who} ${ageMin} to ${ageMax}`;
}

function stratumText({ by, min, max }: NonNullable<Verdict['row']['stratum']>): string {
  const [name, unit] = by === 'bmi' ? ['BMI', ''] : ['height', ' cm'];
  if (min === null) return `${name} up to ${max}${unit}`;
  return max === null ? `${name} ${min}${unit} and over` : `${name} ${min} to ${max}${unit}`;
}

/** Where a limit came from, e.g. `mean 70.4, SD 14.5 lb`; empty for a printed cut-point. */
export function rowFigures({ row, limit }: Verdict): string {
  return row.mean && row.sd ? `mean ${row.mean}, SD ${row.sd} ${limit.unit}` : '';
}

/** e.g. `over body mass index 24.31 kg/m2`; empty where the force itself was compared. */
export function divisorText({ divisor }: Verdict): string {
  if (!divisor) return '';
  const what = divisor.of === 'bmi' ? 'body mass index' : 'height squared';
  const from = divisor.measures.map(
    ({ kind, value, measuredOn }) => `${kind} ${value}, ${dateText(measuredOn)}`,
  );
  return `over ${what} ${divisor.value} ${divisor.unit} (${from.join('; ')})`;
}

/** e.g. `z -0.60, 27th percentile`, or `between the 10th and 25th centile`; empty where there is neither. */
export function standingText(verdict: Verdict): string {
  const { zScore, percentile, centile, band } = verdict;
  const named = band ? `"${band}" by the source` : '';
  if (centile) return [centileText(centile), named].filter(Boolean).join(', ');
  if (zScore === null || percentile === null) return named;
  return `z ${zScore.toFixed(2).replace(/^-0\.00$/, '0.00')}, ${percentileText(percentile)}`;
}

/** The same without z-scores, for who reads at a bedside, e.g. `27th percentile`. */
export function placeText(verdict: Verdict): string {
  const { zScore, percentile } = verdict;
  return zScore === null || percentile === null ? standingText(verdict) : percentileText(percentile);
}

function centileText({ atLeast, below }: CentilePlace): string {
  if (atLeast === null) return `below the ${ordinal(below ?? 0)} centile`;
  if (below === null) return `at or above the ${ordinal(atLeast)} centile`;
  return `between the ${ordinal(atLeast)} and ${ordinal(below)} centile`;
}

function percentileText(percentile: number): string {
  if (percentile < 1) return 'below the 1st percentile';
  if (percentile > 99) return 'above the 99th percentile';
  return `${ordinal(Math.round(percentile))} percentile`;
}

function ordinal(whole: number): string {
  const teen = whole % 100 >= 11 && whole % 100 <= 13;
  return `${whole}${teen ? 'th' : (['th', 'st', 'nd', 'rd'][whole % 10] ?? 'th')}`;
}

const PROVISIONAL: Readonly<Record<ProvisionalReason, string>> = {
  TRIALS_FEWER: 'fewer trials than the protocol asks for',
  TRIALS_MORE: 'more trials than the protocol asks for',
  ONE_HAND_ONLY: 'one hand only',
  FIGURES_UNPROVEN: 'figures of the set seen in one copy only',
  SUMMARY_CHARTED: 'charted as one figure, without its trials',
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

/** For the handedness used; empty where the record does not say. */
export function dominanceText(dominant: Dominance | undefined): string {
  if (!dominant) return '';
  return dominant === 'both' ? 'uses both hands alike' : `${dominant}-handed`;
}

export function refusalSentence(refusal: Refusal): string {
  return REFUSALS[refusal.code].text(refusal.facts);
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
