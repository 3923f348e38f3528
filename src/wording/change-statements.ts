/** Change between sessions as sentences: the difference, and what published sizes of change say of it. */
import { exact, toDecimalText } from '../interpret/exact.ts';
import type { Change, ForceText, Interpretation, YardstickResult } from '../interpret/finding.ts';
import { convertForce, type ForceUnit } from '../interpret/units.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { UNIT_CAUTIONS } from './session-statements.ts';
import { capital, dateText, forceText, momentText, oneDecimal, provisionalText } from './statements.ts';
import { partWord, protocolWord } from './verdict-statements.ts';

/** @param before the earlier figure as charted, where that may have been in another unit */
export function changeSentence(change: Change, panel: AppliedPanel, before?: ForceText): string {
  const { hand, since, against, from, to, difference, percent, provisional } = change;
  const sign = difference.value.startsWith('-') || Number(difference.value) === 0 ? '' : '+';
  const percentage = percent === '' ? '' : `, ${percent}%`;
  const size = `${sign}${oneDecimal(difference.value.replace('+', ''))} ${difference.unit}${percentage}`;
  return [
    `${capital(hand)} hand since ${against === 'first' ? 'the first comparable session, ' : ''}${momentText(since)}: mean ${beforeText(from, before)} to ${forceText(to)} (${size}).`,
    unitChangedText(to, before),
    provisionalText(provisional),
    notAlike(change),
    yardstickSentence(change, panel),
  ]
    .filter(Boolean)
    .join(' ');
}

/** As charted first; in brackets in the unit charted now, where that is another. */
export function beforeText(converted: ForceText, before: ForceText | undefined): string {
  return before && before.unit !== converted.unit
    ? `${forceText(before)} (${forceText(converted)})`
    : forceText(converted);
}

function unitChangedText({ unit }: ForceText, before: ForceText | undefined): string {
  return before && before.unit !== unit
    ? `The unit changed between the sessions: ${before.unit} then, ${unit} now.`
    : '';
}

/**
 * The greatest loss since the last time, where it goes beyond every published size that the panel names and nothing
 * speaks against the comparison; undefined where there is none.
 */
export function declineOf({
  changes,
  cautions,
}: Pick<Interpretation, 'changes' | 'cautions'>): Change | undefined {
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

function notAlike({ mismatches = [] }: Change): string {
  const parts = mismatches.map(
    ({ part, charted, built }) => `${partWord(part)} ${protocolWord(charted)}, then ${protocolWord(built)}`,
  );
  return parts.length > 0 ? `Not measured alike: ${parts.join('; ')}.` : '';
}

function yardstickSentence({ yardsticks, to }: Change, panel: AppliedPanel): string {
  if (!yardsticks) return 'Whether that exceeds measurement error is not judged here.';
  if (yardsticks.length === 0) return 'No published size of change is known here for this hand at this age.';
  const said = yardsticks.map((result) => reachedText(result, panel, to.unit)).join('; ');
  return `${capital(said)}.`;
}

function reachedText({ id, reached }: YardstickResult, panel: AppliedPanel, charted: ForceUnit): string {
  const { kind, limit } = panel.yardstick(id);
  const size = sizeText(limit, charted);
  if (kind === 'measurement-error') return `${reached ? 'beyond' : 'within'} measurement error (${size})`;
  return `${reached ? 'at least' : 'less than'} the smallest important change (${size})`;
}

type Size = { readonly value: string; readonly unit: string };

/** @param charted unit of the chart, in which a size of kilograms is given first, e.g. `7.7 lb = 3.5 kg` */
function sizeText({ value, unit }: Size, charted: ForceUnit = 'kg'): string {
  if (unit === '%') return `${value}%`;
  if (unit !== 'kg' || charted === 'kg') return `${value} ${unit}`;
  return `${toDecimalText(convertForce(exact(value), 'kg', charted), 1)} ${charted} = ${value} kg`;
}

/** In whom each size was found that the changes are put beside, each once. */
export function yardstickNotes(changes: readonly Change[], panel: AppliedPanel): readonly string[] {
  const ids = new Set(changes.flatMap(({ yardsticks = [] }) => yardsticks.map(({ id }) => id)));
  return [...ids].map((id) => {
    const { kind, limit, population, source } = panel.yardstick(id);
    const what = kind === 'measurement-error' ? 'Measurement error' : 'Smallest important change';
    return `${what} of ${sizeText(limit)}: ${population}. ${source}.`;
  });
}

/** The same in one line, without their sources, for a card; empty where there is none. */
export function yardstickPeople(changes: readonly Change[], panel: AppliedPanel): readonly string[] {
  const ids = new Set(changes.flatMap(({ yardsticks = [] }) => yardsticks.map(({ id }) => id)));
  const said = [...ids].map((id) => {
    const { limit, population } = panel.yardstick(id);
    // Who they were; how the size was arrived at stands on the page of the evaluation.
    return `${sizeText(limit, changes[0]?.to.unit)} in ${population.split(/[;(]/, 1)[0]?.trim()}`;
  });
  return said.length > 0 ? [`These sizes were found elsewhere: ${said.join('; ')}.`] : [];
}

/** When to measure again by the panel's rule; empty where it has none. @param at moment of the answer */
export function nextSentence(nextFrom: string | undefined, at: string): string {
  if (!nextFrom) return '';
  const tense = nextFrom < at.slice(0, 10) ? 'was' : 'is';
  return `By the rule of this panel the next measurement ${tense} suggested from ${dateText(nextFrom)}.`;
}
