/** The summary of a card: the most telling sentence that fits. */
import type { Change, Interpretation, Refusal } from '../interpret/finding.ts';
import { declineOf } from '../wording/change-statements.ts';
import { REFUSALS } from '../wording/refusals.ts';
import {
  openFor,
  ownBaselineHands,
  provisionalReasons,
  stopOf,
  type Tally,
  unitsInDoubt,
} from '../wording/session-statements.ts';
import { capital, dateText, lowerFirst, oneDecimal, refusalSentence } from '../wording/statements.ts';

/** CDS Hooks 2.0.1: fewer than 140 characters. UTF-16 units, of which there are never fewer than code points. */
export const SUMMARY_LIMIT = 140;

/**
 * The most telling sentence that fits.
 * @param unread day of newer trials that could not be used, `YYYY-MM-DD`
 * @param loss beyond every published size: since the last time, or over a longer time that a hook asks about
 */
export function summaryOf(
  interpretation: Interpretation,
  said: Tally,
  unread?: string,
  loss: Change | undefined = declineOf(interpretation),
): string {
  const newer = unread ? `Newer grip trials (${dateText(unread)}) could not be used. ` : '';
  const start = `${newer}Grip strength ${dateText(interpretation.testedOn)}:`;
  const stop = stopOf(interpretation);
  const options = stop
    ? [refusalSentence(stop), stopShort(stop), `not interpreted: ${lowerFirst(REFUSALS[stop.code].meaning)}.`]
    : interpretation.summaries.length === 0
      ? ['not interpreted; no trial of it could be used.']
      : withUnitFirst(
          unitsInDoubt(interpretation),
          outcomeOptions(said, marksOf(interpretation), OPEN_FOR[openFor(interpretation)]),
        );
  const decline = stop ? '' : declineText(loss);
  // A loss is more telling than the names of the sets.
  const withDecline = decline === '' ? [] : options.map((option) => `${option}${decline}`);
  const fitting = [...withDecline, ...options]
    .map((option) => `${start} ${lowerFirst(option)}`)
    .find((text) => text.length < SUMMARY_LIMIT);
  return fitting ?? `${start} see the detail.`;
}

/** e.g. ` Right hand down 7.0 kg since 19 Oct 2026.`; empty where there is no such loss. */
function declineText(decline: Change | undefined): string {
  if (!decline) return '';
  const { hand, difference, since } = decline;
  const size = `${oneDecimal(difference.value.replace('-', ''))} ${difference.unit}`;
  return ` ${capital(hand)} hand down ${size} since ${dateText(since.slice(0, 10))}.`;
}

function stopShort(stop: Refusal): string {
  const { figure, unit, otherUnit, previous, before, readings } = stop.facts;
  if (readings) return `not interpreted. Check the readings: ${readings}.`;
  if (stop.code === 'UNIT_IMPLAUSIBLE' && previous)
    return `not interpreted. Check the unit: ${figure} ${unit} after ${before ?? `${previous} ${unit}`} last time.`;
  if (stop.code === 'UNIT_IMPLAUSIBLE')
    return otherUnit
      ? `not interpreted. Check the unit: ${figure} ${unit} is implausible, ${figure} ${otherUnit} would be ordinary.`
      : `not interpreted. Check the reading: ${figure} ${unit} is implausible for this person.`;
  if (stop.code === 'UNITS_MIXED')
    return `not interpreted. Trials are charted in different units (${stop.facts.units}).`;
  return refusalSentence(stop);
}

/** In either unit every result is in doubt: kilograms that look strong may be weak pounds, weak pounds may be kilograms. */
function withUnitFirst(units: string, options: readonly string[]): readonly string[] {
  if (units === '') return options;
  const first = `check the unit (${units}) first.`;
  return [...options.map((option) => `${first} As charted, ${lowerFirst(option)}`), first];
}

/** What a reader must know before the figures: said in the summary itself. */
function marksOf(interpretation: Interpretation): string {
  const provisional = provisionalReasons(interpretation).length > 0;
  const own = ownBaselineHands(interpretation);
  const ownText = own.length > 0 ? ` ${capital(own.join(' and '))} hand: own baseline.` : '';
  return `${provisional ? ' Provisional.' : ''}${ownText}`;
}

/** Why results are open, and how those are called that do not depend on it. */
const OPEN_FOR = {
  sex: { why: 'sex not usable in the record', either: 'for either sex' },
  age: { why: 'date of birth known in part only', either: 'at either age' },
} as const;

/** Longest first. @param why some results are open */
function outcomeOptions(
  { reduced, notReduced, open, handsDiffer }: Tally,
  mark: string,
  { why, either }: (typeof OPEN_FOR)['sex' | 'age'],
): readonly string[] {
  const by = reduced.length > 0 ? [`reduced by ${list(reduced)}`, `reduced by ${sets(reduced.length)}`] : [];
  const marked = (texts: readonly string[]) => texts.map((text) => `${text}.${mark}`);
  if (open.length > 0) {
    const start = `${why}, and the result of ${list(open)} depends on it`;
    const short = `${why}, and ${sets(open.length)} of the panel depend on it`;
    return marked([...by.map((text) => `${start}; ${text} ${either}`), start, short]);
  }
  if (reduced.length + notReduced.length === 0)
    return ['no reference set of this panel applies to this person.'];
  if (reduced.length === 0)
    return marked([`not reduced by ${list(notReduced)}`, `not reduced by ${sets(notReduced.length)}`]);
  if (notReduced.length === 0) return marked(by);
  const start = handsDiffer ? 'the hands differ' : 'reference sets disagree';
  return marked([
    `${start}: ${by[0]}; not by ${list(notReduced)}`,
    ...(handsDiffer
      ? []
      : [`${start}: ${by[0]}; not by ${notReduced.length} other${notReduced.length === 1 ? '' : 's'}`]),
    `${start}: ${by[0]}`,
    `${start}: ${by[1]}, not by ${notReduced.length}`,
  ]);
}

function sets(count: number): string {
  return count === 1 ? 'the one reference set applied' : `${count} reference sets`;
}

function list(titles: readonly string[]): string {
  return titles.length < 2 ? titles.join('') : `${titles.slice(0, -1).join(', ')} and ${titles.at(-1)}`;
}
