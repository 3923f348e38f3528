/** The summary of a card: the most telling sentence that fits. */
import type { Change, Interpretation, Refusal } from '../interpret/finding.ts';
import { REFUSALS } from '../wording/refusals.ts';
import {
  openFor,
  ownBaselineHands,
  provisionalReasons,
  stopOf,
  type Tally,
} from '../wording/session-statements.ts';
import { capital, dateText, lowerFirst, oneDecimal, refusalSentence } from '../wording/statements.ts';

/** CDS Hooks 2.0.1: fewer than 140 characters. UTF-16 units, of which there are never fewer than code points. */
export const SUMMARY_LIMIT = 140;

/** Cautions that put the unit, and so every result, in doubt. */
export const UNIT_CAUTIONS: ReadonlySet<string> = new Set(['UNIT_DOUBTFUL', 'CHANGE_LIKE_UNIT']);

/**
 * The most telling sentence that fits.
 * @param unread day of newer trials that could not be used, `YYYY-MM-DD`
 */
export function summaryOf(interpretation: Interpretation, said: Tally, unread?: string): string {
  const newer = unread ? `Newer grip trials (${dateText(unread)}) could not be used. ` : '';
  const start = `${newer}Grip strength ${dateText(interpretation.testedOn)}:`;
  const stop = stopOf(interpretation);
  const options = stop
    ? [refusalSentence(stop), stopShort(stop), `not interpreted: ${lowerFirst(REFUSALS[stop.code].meaning)}.`]
    : interpretation.summaries.length === 0
      ? ['not interpreted; no trial of it could be used.']
      : outcomeOptions(said, marksOf(interpretation), OPEN_FOR[openFor(interpretation)]);
  const decline = stop ? '' : declineText(interpretation);
  // A loss is more telling than the names of the sets.
  const withDecline = decline === '' ? [] : options.map((option) => `${option}${decline}`);
  const fitting = [...withDecline, ...options]
    .map((option) => `${start} ${lowerFirst(option)}`)
    .find((text) => text.length < SUMMARY_LIMIT);
  return fitting ?? `${start} see the detail.`;
}

/**
 * The greatest loss since the last time, where it goes beyond every published size that the panel names and nothing
 * speaks against the comparison; undefined where there is none.
 */
export function declineOf({ changes, cautions }: Interpretation): Change | undefined {
  if (cautions.some(({ code }) => UNIT_CAUTIONS.has(code))) return undefined;
  const declines = changes.filter(
    ({ against, difference, yardsticks = [], provisional, mismatches = [] }) =>
      against === undefined &&
      difference.value.startsWith('-') &&
      yardsticks.length > 0 &&
      yardsticks.every(({ reached }) => reached) &&
      provisional.length + mismatches.length === 0,
  );
  return declines.sort((a, b) => Number(a.difference.value) - Number(b.difference.value))[0];
}

/** e.g. ` Right hand down 7.0 kg since 19 Oct 2026.`; empty where there is no such loss. */
function declineText(interpretation: Interpretation): string {
  const decline = declineOf(interpretation);
  if (!decline) return '';
  const { hand, difference, since } = decline;
  const size = `${oneDecimal(difference.value.replace('-', ''))} ${difference.unit}`;
  return ` ${capital(hand)} hand down ${size} since ${dateText(since.slice(0, 10))}.`;
}

function stopShort(stop: Refusal): string {
  const { figure, unit, otherUnit, previous } = stop.facts;
  if (stop.code === 'UNIT_IMPLAUSIBLE' && previous)
    return `not interpreted. Check the unit: ${figure} ${unit} after ${previous} ${unit} last time.`;
  if (stop.code === 'UNIT_IMPLAUSIBLE')
    return otherUnit
      ? `not interpreted. Check the unit: ${figure} ${unit} is implausible, ${figure} ${otherUnit} would be ordinary.`
      : `not interpreted. Check the reading: ${figure} ${unit} is implausible for this person.`;
  if (stop.code === 'UNITS_MIXED')
    return `not interpreted. Trials are charted in different units (${stop.facts.units}).`;
  return refusalSentence(stop);
}

/** What a reader must know before the figures: said in the summary itself. */
function marksOf(interpretation: Interpretation): string {
  // Kilograms that look strong are the dangerous side: as pounds the person would be weak.
  const doubtful = interpretation.cautions.some(
    ({ code, facts }) => UNIT_CAUTIONS.has(code) && facts.unit === 'kg',
  );
  const provisional = provisionalReasons(interpretation).length > 0;
  const own = ownBaselineHands(interpretation);
  const ownText = own.length > 0 ? ` ${capital(own.join(' and '))} hand: own baseline.` : '';
  return `${provisional ? ' Provisional.' : ''}${doubtful ? ' Check the unit.' : ''}${ownText}`;
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
