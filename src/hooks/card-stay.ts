/** What a discharge card says of the stay that ends: measured in it or not, the change in it, and what to hand over. */
import type { AskedStay } from '../evaluate.ts';
import type { Evaluation } from '../evaluation.ts';
import type { Change, Interpretation } from '../interpret/finding.ts';
import { interpret, type SessionInput } from '../interpret/interpret.ts';
import { changeSentence, declineOf, nextSentence } from '../wording/change-statements.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { stopOf } from '../wording/session-statements.ts';
import { dateText, momentText, withKilograms } from '../wording/statements.ts';
import { hasUndated, unreadDays } from './card-unread.ts';
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
  const isEmpty = stay !== undefined && sessionsOfStay(evaluation, stay)?.length === 0;
  return isEmpty && !hasUnread(evaluation, stay) && !hasUndated(evaluation);
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
  if (!first || !last) return [`${withoutSession(evaluation, stay)} during ${since}.${next}`];
  if (first === last) return [`Measured once during ${since}, on ${dateText(last.testedOn)}.${next}`];
  const over = overStay(evaluation, first, last);
  return [
    `Measured ${sessions.length} times during ${since}, first on ${dateText(first.testedOn)}, last on ${dateText(last.testedOn)}${comparedText(over)}.${next}`,
    ...changesText(evaluation, over),
    ...usableText(evaluation, sessions, over),
  ];
}

function withoutSession(evaluation: Evaluation, stay: AskedStay): string {
  if (hasUnread(evaluation, stay)) return 'Charted, but not in a form that could be read,';
  return hasUndated(evaluation)
    ? 'A trial is charted without its day, so it is not known whether grip was measured'
    : 'Not measured';
}

const UNKNOWN_START = {
  'not-sent': 'The Encounter of this stay could not be had.',
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

/** The last session of the stay read against its first: what changed over the whole of it. */
interface OverStay {
  readonly input: Evaluation['input'];
  readonly last: Interpretation | undefined;
  readonly changes: readonly Change[];
}

function overStay({ input, panel }: Evaluation, first: SessionInput, last: SessionInput): OverStay {
  const sessions = [
    { ...first, prior: true },
    { ...last, prior: false },
  ];
  const both = { ...input, sessions };
  const read = interpret(both, panel.panel).at(-1);
  const changes = (read?.changes ?? []).filter(({ against }) => against === undefined);
  return { input: both, last: read, changes };
}

/** Of each hand over the whole stay; empty for other hooks and where the session shown is not the last of several in it. */
export function stayChanges(
  evaluation: Evaluation,
  { effective }: Pick<Interpretation, 'effective'>,
  { stay }: HookFacts,
): readonly Change[] {
  const sessions = (stay && sessionsOfStay(evaluation, stay)) ?? [];
  const [first] = sessions;
  const last = sessions.at(-1);
  if (!first || !last || first === last) return [];
  const over = overStay(evaluation, first, last);
  return over.last?.effective === effective ? over.changes : [];
}

/** The greatest loss over the whole stay, where it goes beyond every published size: steps within error can add up to it. */
export function stayDecline(
  evaluation: Evaluation,
  interpretation: Interpretation,
  facts: HookFacts,
): Change | undefined {
  const changes = stayChanges(evaluation, interpretation, facts);
  return declineOf({ changes, cautions: interpretation.cautions });
}

function comparedText({ changes }: OverStay): string {
  return changes.length > 0 ? '' : '; the two cannot be compared';
}

function changesText({ panel }: Evaluation, { input, last, changes }: OverStay): readonly string[] {
  if (!last) return [];
  const earlier = earlierFigures({ input, panel }, last);
  return changes.map((change) =>
    changeSentence(change, panel, earlier(change.hand, change.since)).replace(
      // The line above it gives the day.
      ` since ${momentText(change.since)}:`,
      ':',
    ),
  );
}

/** Where the last session of the stay was stopped: the last figures of the stay that can be handed over. */
function usableText(
  { input, panel }: Evaluation,
  sessions: readonly SessionInput[],
  { last }: OverStay,
): readonly string[] {
  if (!last || !stopOf(last)) return [];
  const read = interpret(
    { ...input, sessions: sessions.map((each) => ({ ...each, prior: false })) },
    panel.panel,
  );
  const usable = read.findLast((each) => !stopOf(each) && each.summaries.some(isMean));
  if (!usable) return [];
  const figures = usable.summaries
    .filter(isMean)
    .map((summary) => `${summary.hand} hand mean ${withKilograms(summary)}`);
  return [`Last figures of this stay that can be used, ${dateText(usable.testedOn)}: ${figures.join('; ')}.`];
}

function isMean({ kind }: Interpretation['summaries'][number]): boolean {
  return kind === 'mean-per-hand';
}
