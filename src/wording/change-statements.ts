/** Change between sessions as sentences: the difference, and what published sizes of change say of it. */
import type { Change, YardstickResult } from '../interpret/finding.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { capital, dateText, forceText, momentText, oneDecimal, provisionalText } from './statements.ts';
import { partWord, protocolWord } from './verdict-statements.ts';

export function changeSentence(change: Change, panel: AppliedPanel): string {
  const { hand, since, against, from, to, difference, percent, provisional } = change;
  const sign = difference.value.startsWith('-') || Number(difference.value) === 0 ? '' : '+';
  const percentage = percent === '' ? '' : `, ${percent}%`;
  const size = `${sign}${oneDecimal(difference.value.replace('+', ''))} ${difference.unit}${percentage}`;
  return [
    `${capital(hand)} hand since ${against === 'first' ? 'the first comparable session, ' : ''}${momentText(since)}: mean ${forceText(from)} to ${forceText(to)} (${size}).`,
    provisionalText(provisional),
    notAlike(change),
    yardstickSentence(change, panel),
  ]
    .filter(Boolean)
    .join(' ');
}

function notAlike({ mismatches = [] }: Change): string {
  const parts = mismatches.map(
    ({ part, charted, built }) => `${partWord(part)} ${protocolWord(charted)}, then ${protocolWord(built)}`,
  );
  return parts.length > 0 ? `Not measured alike: ${parts.join('; ')}.` : '';
}

function yardstickSentence({ yardsticks }: Change, panel: AppliedPanel): string {
  if (!yardsticks) return 'Whether that exceeds measurement error is not judged here.';
  if (yardsticks.length === 0) return 'No published size of change is known here for this hand at this age.';
  const said = yardsticks.map((result) => reachedText(result, panel)).join('; ');
  return `${capital(said)}.`;
}

function reachedText({ id, reached }: YardstickResult, panel: AppliedPanel): string {
  const { kind, limit } = panel.yardstick(id);
  const size = sizeText(limit);
  if (kind === 'measurement-error') return `${reached ? 'beyond' : 'within'} measurement error (${size})`;
  return `${reached ? 'at least' : 'less than'} the smallest important change (${size})`;
}

function sizeText({ value, unit }: { readonly value: string; readonly unit: string }): string {
  return unit === '%' ? `${value}%` : `${value} ${unit}`;
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
    return `${sizeText(limit)} in ${population.split(/[;(]/, 1)[0]?.trim()}`;
  });
  return said.length > 0 ? [`These sizes were found elsewhere: ${said.join('; ')}.`] : [];
}

/** When to measure again by the panel's rule; empty where it has none. @param at moment of the answer */
export function nextSentence(nextFrom: string | undefined, at: string): string {
  if (!nextFrom) return '';
  const tense = nextFrom < at.slice(0, 10) ? 'was' : 'is';
  return `By the rule of this panel the next measurement ${tense} suggested from ${dateText(nextFrom)}.`;
}
