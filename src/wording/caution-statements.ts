/** Cautions as sentences: what does not stop an interpretation but changes how far it can be relied on. */
import type { Caution, CautionCode, ForceText } from '../interpret/finding.ts';
import { type HandFigure, PROTOCOL_PARTS, type ProtocolPart } from '../interpret/measurement.ts';
import { measureWord } from './chart-refusals.ts';
import { capital, dateText, forceText } from './statements.ts';
import { partWord, protocolWord } from './verdict-statements.ts';

/** For the code system and the documentation. */
export const CAUTION_MEANINGS: Readonly<Record<CautionCode, string>> = {
  TRIALS_FEWER: 'Fewer trials of a hand than the protocol asks for',
  TRIALS_MORE: 'More trials of a hand than the protocol asks for',
  HAND_NOT_TESTED: 'A hand has no usable trial',
  SUMMARY_UNVERIFIED: 'A hand is charted as already averaged or as its highest, without its trials',
  SUMMARY_DISAGREES: 'A charted mean or highest is not what the trials beside it give',
  TRIALS_SCATTER: 'The trials of a hand are inconsistent',
  FIRST_TRIAL_LOW: 'The first trial of a hand is far below the others',
  TRIALS_FALLING: 'The trials of a hand fall from first to last',
  UNIT_DOUBTFUL: 'The figure is possible in either unit, and the unit decides the result',
  CHANGE_LIKE_UNIT: 'The change since the last test is what a mistaken unit looks like',
  PROTOCOL_VARIES: 'The trials of one session were not done alike',
  CALIBRATION_OVERDUE: 'The calibration of the instrument is older than the rule allows',
  TIME_OF_DAY_DIFFERS: 'The time of day differs from that of the earlier test',
  MEASURES_CONFLICT: 'A measure is charted with different figures for the same day',
  TRIAL_PRELIMINARY: 'A trial is charted as preliminary',
  MASS_UNIT_READ_AS_FORCE: 'A unit of mass was charted and read as force',
};

/** What the sentence of a caution may be given besides; what is absent is left out. */
export interface CautionContext {
  /** The earlier figure of the hand as charted, where that may have been in another unit. */
  readonly before?: ForceText | undefined;
  /** Unit charted, for figures that stand in the finding without one. */
  readonly unit?: string | undefined;
}

const CAUTIONS: Readonly<Record<CautionCode, (caution: Caution, context: CautionContext) => string>> = {
  TRIALS_FEWER: ({ hand, facts }) =>
    `${capital(hand)} hand: ${facts.trials} of ${facts.perHand} trials, so its results are provisional.`,
  TRIALS_MORE: ({ hand, facts }) =>
    `${capital(hand)} hand: ${facts.trials} trials where the protocol has ${facts.perHand}; all were used, so its results are provisional.`,
  HAND_NOT_TESTED: ({ hand }) =>
    `${capital(hand)} hand: no usable trial. The highest of either hand is provisional.`,
  TRIALS_SCATTER: ({ hand, facts }) =>
    `${capital(hand)} hand: inconsistent trials (coefficient of variation ${facts.cvPercent}%, limit ${facts.maxCvPercent}%). ` +
    'Consider a rest and a repeat. The limit is common practice and weak (a limit of 7.5% misjudged 64% of men and 97% of women at full effort at least once: Ergonomics 1995;38:1819-1830); it says nothing about effort.',
  SUMMARY_UNVERIFIED: ({ hand, facts }) =>
    `${capital(hand)} hand: charted ${facts.charted === 'mean' ? 'as already averaged' : 'without its trials'} (${facts.charted} only): the trials behind it are not in the record, so their number and spread cannot be checked.`,
  SUMMARY_DISAGREES: ({ hand, facts }) =>
    `${capital(hand)} hand: a ${facts.kind} of ${facts.charted} ${facts.unit} is charted, and the trials give ${facts.computed} ${facts.unit}. The trials were used. Correct the record.`,
  UNIT_DOUBTFUL: ({ hand, facts }) =>
    facts.unit === 'kg'
      ? `${capital(hand)} hand: a ${facts.of ?? 'mean'} of ${facts.figure} kg is strong for this person, and ${facts.figure} lb would be reduced. Check the unit on the instrument.`
      : `${capital(hand)} hand: a ${facts.of ?? 'mean'} of ${facts.figure} ${facts.unit} is reduced, and ${facts.figure} ${facts.otherUnit} would not be out of range. Check the unit on the instrument before acting.`,
  FIRST_TRIAL_LOW: ({ hand, facts }, { unit }) =>
    `${capital(hand)} hand: the first trial (${withUnit(facts.first, unit)}) is more than ${facts.percent}% below the mean of the others (${withUnit(facts.others, unit)}); it may have been practice. It was used.`,
  TRIALS_FALLING: ({ hand, facts }, { unit }) =>
    `${capital(hand)} hand: the trials fall from ${withUnit(facts.first, unit)} to ${withUnit(facts.last, unit)}, more than ${facts.percent}%. Consider a longer rest between trials and a repeat.`,
  CHANGE_LIKE_UNIT: ({ hand, facts }, { before }) =>
    unitChangedSentence(hand, facts, before) ??
    `${capital(hand)} hand: a ${facts.of ?? 'mean'} of ${facts.figure} ${facts.unit} after ${facts.previous} ${facts.unit} last time is the change that pounds and kilograms read for each other make. Check the unit of both.`,
  PROTOCOL_VARIES: ({ facts }) =>
    `The trials were not done alike: ${partWord(facts.part as ProtocolPart)} charted as ${protocolWord(facts.charted ?? '')}.`,
  CALIBRATION_OVERDUE: ({ facts }) =>
    `The instrument was last calibrated on ${dateText(facts.calibratedOn ?? '')}, more than ${facts.maxDays} days before the test. Check it against known weights.`,
  TIME_OF_DAY_DIFFERS: ({ facts }) =>
    `Tested at ${facts.now}, the time before at ${facts.before}: another time of day can change the figure.`,
  MEASURES_CONFLICT: ({ facts }) =>
    `Different figures of ${measureWord(facts.measure ?? '')} are charted for the same day, and none of them was used. Correct the record.`,
  TRIAL_PRELIMINARY: ({ facts }) =>
    facts.of
      ? `${facts.count} of the ${facts.of} preliminary.`
      : `${facts.count} of the trials charted as preliminary.`,
  MASS_UNIT_READ_AS_FORCE: ({ facts }) =>
    `Charted in ${facts.unit}, a unit of mass; read as the force that the instrument shows, same number.`,
};

function withUnit(figure: string | undefined, unit: string | undefined): string {
  return unit ? `${figure} ${unit}` : `${figure}`;
}

/** Numbers this near to each other read as the same at a glance. */
const ALIKE = 0.15;

/** Where the earlier figure was charted in another unit; undefined where it was not. */
function unitChangedSentence(
  hand: Caution['hand'],
  { figure, unit, previous }: Caution['facts'],
  before: ForceText | undefined,
): string | undefined {
  if (!before || before.unit === unit) return undefined;
  const isAlike = Math.abs(Number(before.value) / Number(figure) - 1) <= ALIKE;
  const what = isAlike
    ? 'almost the same number under another unit'
    : 'the unit changed between the sessions, and the change is one that pounds and kilograms read for each other make';
  return `${capital(hand)} hand: ${forceText(before)} (${previous} ${unit}) last time, ${figure} ${unit} now: ${what}. Check the unit of both.`;
}

export function cautionSentence(caution: Caution, context: CautionContext = {}): string {
  return CAUTIONS[caution.code](caution, context);
}

/** In short, for a card: without the study that a limit is weak by. */
export function cautionInShort(caution: Caution, context: CautionContext = {}): string {
  const { code, hand, facts } = caution;
  return code === 'TRIALS_SCATTER'
    ? `${capital(hand)} hand: inconsistent trials (coefficient of variation ${facts.cvPercent}%, limit ${facts.maxCvPercent}%). Consider a rest and a repeat; it says nothing about effort.`
    : cautionSentence(caution, context);
}

/** What the chart does not say of how the trials were done; empty when it says all of it. */
export function notCharted(trials: readonly HandFigure[]): string {
  const missing = PROTOCOL_PARTS.filter((part) => trials.every(({ protocol }) => !protocol?.[part])).map(
    partWord,
  );
  if (trials.every(({ protocol }) => !protocol?.calibratedOn)) missing.push('calibration date');
  return missing.length > 0
    ? `Not charted with the trials, or not in a form that is read: ${missing.join(', ')}.`
    : '';
}
