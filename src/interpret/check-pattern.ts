/** The order of the trials, and the protocol around them: cautions, never a judgement of the person. */
import { compare, type Exact, exact, mean, multiply, subtract, toDecimalText, wholeNumber } from './exact.ts';
import type { Caution } from './finding.ts';
import type { EarlierSession } from './history.ts';
import { forceOf, type Hand, type HandFigure, PROTOCOL_PARTS, type Trial } from './measurement.ts';
import type { TrialRules } from './panel.ts';

/** Fewer trials show no order. */
const FEWEST_FOR_A_PATTERN = 3;

/** A first trial far below the others, or a steady fall; only where the times of the trials give their order. */
export function patternCautions(hand: Hand, trials: readonly Trial[], rules: TrialRules): readonly Caution[] {
  const rule = rules.trialPattern;
  const inOrder = rule && orderedTrials(trials);
  if (!inOrder || inOrder.length < FEWEST_FOR_A_PATTERN) return [];
  const forces = inOrder.map(forceOf);
  const [first, ...others] = forces;
  const last = others.at(-1);
  if (!first || !last) return [];
  const cautions: Caution[] = [];
  if (compare(first, lessPercent(mean(others), rule.firstBelowPercent)) < 0) {
    const facts = { first: toDecimalText(first, 1), others: toDecimalText(mean(others), 1) };
    cautions.push({ code: 'FIRST_TRIAL_LOW', hand, facts: { ...facts, percent: rule.firstBelowPercent } });
  }
  const steady = forces.every((force, index) => {
    const before = forces[index - 1];
    return !before || compare(force, before) < 0;
  });
  if (steady && compare(last, lessPercent(first, rule.fallPercent)) < 0) {
    const facts = { first: toDecimalText(first, 1), last: toDecimalText(last, 1) };
    cautions.push({ code: 'TRIALS_FALLING', hand, facts: { ...facts, percent: rule.fallPercent } });
  }
  return cautions;
}

/**
 * By the moment as charted; where each has a number of its own, within one minute or day by the number, else to the
 * second. Undefined where that does not tell, or where some have a time and some do not.
 */
function orderedTrials(trials: readonly Trial[]): readonly Trial[] | undefined {
  const isTimed = trials.every(({ testedAtMinute }) => testedAtMinute !== null);
  const numbers = new Set(trials.flatMap(({ number }) => number ?? []));
  if (
    numbers.size === trials.length &&
    (isTimed || trials.every(({ testedAtMinute }) => testedAtMinute === null))
  )
    return trials.toSorted(
      (a, b) => (a.testedAtMinute ?? 0) - (b.testedAtMinute ?? 0) || (a.number ?? 0) - (b.number ?? 0),
    );
  const moments = new Map(trials.map((trial) => [Date.parse(trial.effective), trial] as const));
  if (!isTimed || moments.size < trials.length || moments.has(Number.NaN)) return undefined;
  return [...moments].sort(([a], [b]) => a - b).map(([, trial]) => trial);
}

function lessPercent(value: Exact, percent: string): Exact {
  const left = subtract(wholeNumber(1), multiply(exact(percent), exact('0.01')));
  return multiply(value, left);
}

/** Parts that vary among the trials, a calibration that is overdue, another time of day than before. */
export function protocolCautions(
  trials: readonly HandFigure[],
  history: readonly EarlierSession[],
  rules: TrialRules,
): readonly Caution[] {
  return [...varying(trials), ...overdue(trials, rules), ...otherTimeOfDay(trials, history, rules)];
}

function varying(trials: readonly HandFigure[]): readonly Caution[] {
  return PROTOCOL_PARTS.flatMap((part): readonly Caution[] => {
    const charted = [...new Set(trials.flatMap(({ protocol }) => protocol?.[part] ?? []))];
    if (charted.length < 2) return [];
    return [{ code: 'PROTOCOL_VARIES', hand: null, facts: { part, charted: charted.join(', ') } }];
  });
}

const DAY = 86_400_000;

function overdue(trials: readonly HandFigure[], { calibration }: TrialRules): readonly Caution[] {
  if (!calibration) return [];
  const late = trials.find(({ testedOn, protocol }) => {
    const since = protocol?.calibratedOn;
    return since !== undefined && daysBetween(since, testedOn) > calibration.maxDays;
  });
  const calibratedOn = late?.protocol?.calibratedOn;
  if (!calibratedOn) return [];
  const facts = { calibratedOn, maxDays: String(calibration.maxDays) };
  return [{ code: 'CALIBRATION_OVERDUE', hand: null, facts }];
}

function daysBetween(from: string, to: string): number {
  return (Date.parse(to) - Date.parse(from)) / DAY;
}

/** By the clock of the chart: `2026-11-16T14:05:00Z` is 14:05 wherever that is. */
function otherTimeOfDay(
  trials: readonly HandFigure[],
  history: readonly EarlierSession[],
  { timeOfDay }: TrialRules,
): readonly Caution[] {
  const [now, then] = [trials[0]?.effective ?? '', history.at(-1)?.effective ?? ''];
  // Clock times of different offsets from UTC (another place, summer time) do not compare.
  if (!timeOfDay || now.length <= 10 || then.length <= 10 || offsetOf(now) !== offsetOf(then)) return [];
  const apart = Math.abs(minuteOfDay(now) - minuteOfDay(then));
  if (Math.min(apart, 1440 - apart) <= timeOfDay.maxMinutes) return [];
  const facts = { now: now.slice(11, 16), before: then.slice(11, 16) };
  return [{ code: 'TIME_OF_DAY_DIFFERS', hand: null, facts }];
}

/** `Z` or `-05:00`, as charted. */
function offsetOf(moment: string): string {
  return /(?:Z|[+-]\d\d:\d\d)$/.exec(moment)?.[0] ?? '';
}

function minuteOfDay(moment: string): number {
  return Number(moment.slice(11, 13)) * 60 + Number(moment.slice(14, 16));
}
