/** What a discharge card says of the stay that ends: measured in it or not, the change in it, and what to hand over. */
import type { AskedStay } from '../evaluate.ts';
import type { Evaluation } from '../evaluation.ts';
import type { Change, Interpretation } from '../interpret/finding.ts';
import { interpret, type SessionInput } from '../interpret/interpret.ts';
import { nextSentence } from '../wording/change-statements.ts';
import { dateText, forceText, oneDecimal, provisionalText } from '../wording/statements.ts';
import { unreadDays } from './card-unread.ts';
import type { HookFacts } from './hook-facts.ts';

/** Sessions charted within the stay, oldest first; undefined where its start is not known. */
export function sessionsOfStay(
  { input }: Evaluation,
  { start, end }: AskedStay,
): readonly SessionInput[] | undefined {
  const within = { start, end };
  return start === null ? undefined : input.sessions.filter(({ testedOn }) => isWithin(testedOn, within));
}

/** By the day as charted; part of a date (2026-11) sorts before every day in it. */
function isWithin(day: string, { start, end }: Pick<AskedStay, 'start' | 'end'>): boolean {
  const [from, to] = [(start ?? '').slice(0, 10), end?.slice(0, 10)];
  return day >= from && (to === undefined || day.slice(0, to.length) <= to);
}

/** Something was charted in the stay and could not be read. */
function hasUnread(evaluation: Evaluation, stay: AskedStay): boolean {
  return unreadDays(evaluation).some((day) => isWithin(day, stay));
}

/** Whether nothing was measured in the stay: then a card has little to say. What could not be read was measured. */
export function isBeforeStay(evaluation: Evaluation, { stay }: HookFacts): boolean {
  return stay !== undefined && sessionsOfStay(evaluation, stay)?.length === 0 && !hasUnread(evaluation, stay);
}

/** Nothing for other hooks. */
export function stayLines(
  evaluation: Evaluation,
  interpretation: Interpretation,
  { stay }: HookFacts,
): readonly string[] {
  if (stay === undefined) return [];
  const sessions = sessionsOfStay(evaluation, stay);
  const next = handOver(evaluation, interpretation);
  if (sessions === undefined)
    return [
      `${UNKNOWN_START[stay.why ?? 'no-start']} Which measurements belong to this stay is not known.${next}`,
    ];
  const since = `this stay (since ${dayText(stay.start ?? '')})`;
  const [first] = sessions;
  const last = sessions.at(-1);
  if (!first || !last)
    return [
      `${hasUnread(evaluation, stay) ? 'Charted, but not in a form that could be read,' : 'Not measured'} during ${since}.${next}`,
    ];
  if (first === last) return [`Measured once during ${since}, on ${dateText(last.testedOn)}.${next}`];
  return [
    `Measured ${sessions.length} times during ${since}, first on ${dateText(first.testedOn)}, last on ${dateText(last.testedOn)}${changeText(evaluation, first, last)}.${next}`,
  ];
}

const UNKNOWN_START = {
  'not-sent': 'The Encounter of this stay was not sent.',
  'no-start': 'The Encounter of this stay has no start.',
  'not-usable': 'The Encounter of this stay is charted as entered in error.',
} as const;

/** A start may lack its day. */
function dayText(start: string): string {
  return start.length < 10 ? start : dateText(start.slice(0, 10));
}

/** When the next is due, in words that can be handed over; empty where the panel has no such rule. */
export function handOver({ at }: Evaluation, { nextFrom }: Interpretation): string {
  const next = nextSentence(nextFrom, at);
  return next === '' ? '' : ` To hand over: ${next.charAt(0).toLowerCase()}${next.slice(1)}`;
}

/** Of each hand, from the first session of the stay to its last, in the unit charted. */
function changeText({ input, panel }: Evaluation, first: SessionInput, last: SessionInput): string {
  const both = {
    ...input,
    sessions: [
      { ...first, prior: true },
      { ...last, prior: false },
    ],
  };
  const changes = interpret(both, panel.panel).at(-1)?.changes ?? [];
  const said = changes.filter(({ against }) => against === undefined).map(handText);
  return said.length > 0 ? `: ${said.join('; ')}` : '; the two cannot be compared';
}

function handText({ hand, from, to, difference, provisional, mismatches }: Change): string {
  const sign = difference.value.startsWith('-') || Number(difference.value) === 0 ? '' : '+';
  const size = `${sign}${oneDecimal(difference.value.replace('+', ''))} ${difference.unit}`;
  const notes = [
    provisionalText(provisional).replace(/^P/, 'p').replace(/\.$/, ''),
    (mismatches ?? []).length > 0 ? 'not measured alike' : '',
  ].filter(Boolean);
  return `${hand} hand mean ${forceText(from)} to ${forceText(to)} (${[size, ...notes].join('; ')})`;
}
