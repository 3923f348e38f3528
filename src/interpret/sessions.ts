/** Tells the sittings apart: figures close in time form one session. */
import type { ChartedSummary, HandFigure, Trial } from './measurement.ts';

/** Trials and charted summaries of one sitting; one of the two may be missing. */
export interface Sitting {
  readonly trials: readonly Trial[];
  readonly charted: readonly ChartedSummary[];
}

/**
 * Groups figures into sessions, oldest first. The trials make the sessions; a charted summary joins the session of
 * trials that it is within `maxGapMinutes` of, and never joins two together. Those that belong to none form sessions
 * of their own.
 */
export function groupIntoSittings(
  trials: readonly Trial[],
  charted: readonly ChartedSummary[],
  maxGapMinutes: number,
): readonly Sitting[] {
  const sessions = groupIntoSessions(trials, maxGapMinutes);
  const joined = new Map<readonly Trial[], ChartedSummary[]>(sessions.map((session) => [session, []]));
  const alone = charted.filter((summary) => {
    const session = sessionOf(summary, sessions, maxGapMinutes);
    if (session) joined.get(session)?.push(summary);
    return session === undefined;
  });
  return [
    ...[...joined].map(([session, own]) => ({ trials: session, charted: own })),
    ...groupIntoSessions(alone, maxGapMinutes).map((own) => ({ trials: [], charted: own })),
  ].sort((a, b) => byStart(figuresOf(a), figuresOf(b)));
}

/** Trials first: they say when the sitting began. */
export function figuresOf({ trials, charted }: Sitting): readonly HandFigure[] {
  return [...trials, ...charted];
}

/** The nearest in time; by date alone only where the date has one session and one of the two has no time. */
function sessionOf(
  { testedOn, testedAtMinute }: ChartedSummary,
  sessions: readonly (readonly Trial[])[],
  maxGapMinutes: number,
): readonly Trial[] | undefined {
  const distances = sessions.map((session) => {
    const minutes = session.flatMap(({ testedAtMinute: minute }) => (minute === null ? [] : [minute]));
    const apart = minutes.map((minute) => Math.abs(minute - (testedAtMinute ?? Number.NaN)));
    return { session, isTimed: minutes.length > 0, apart: Math.min(Number.POSITIVE_INFINITY, ...apart) };
  });
  const near = distances
    .filter(({ apart }) => apart <= maxGapMinutes)
    .toSorted((a, b) => a.apart - b.apart)[0];
  if (near) return near.session;
  const sameDate = distances.filter(({ session }) => session[0]?.testedOn === testedOn);
  const [only, ...others] = sameDate;
  return only && others.length === 0 && !(only.isTimed && testedAtMinute !== null) ? only.session : undefined;
}

/**
 * Groups figures into sessions, oldest first; they keep their order of time, then of their numbers, then the order
 * given. A timed one starts a new session when it is more than `maxGapMinutes` after the one before it.
 * Those charted with a date only join the one timed session of that date; where that date has none or
 * several, they form a session of their own.
 */
export function groupIntoSessions<T extends Trial>(
  figures: readonly T[],
  maxGapMinutes: number,
): readonly (readonly T[])[] {
  const inOrder = figures.toSorted(byNumber);
  const sessions = groupTimed(inOrder, maxGapMinutes);
  for (const [date, dateOnly] of groupByDate(inOrder.filter((each) => each.testedAtMinute === null))) {
    const sameDate = sessions.filter((session) => session[0]?.testedOn === date);
    const only = sameDate.length === 1 ? sameDate[0] : undefined;
    if (only) only.push(...dateOnly);
    else sessions.push(dateOnly);
  }
  return sessions.sort(byStart);
}

/** Those without a number come last. */
function byNumber({ number: a = Number.MAX_VALUE }: Trial, { number: b = Number.MAX_VALUE }: Trial): number {
  return a - b;
}

function groupTimed<T extends Trial>(figures: readonly T[], maxGapMinutes: number): T[][] {
  const timed = figures
    .flatMap((figure) => (figure.testedAtMinute === null ? [] : [{ figure, minute: figure.testedAtMinute }]))
    .sort((a, b) => a.minute - b.minute);
  const sessions: T[][] = [];
  let previousMinute = Number.NEGATIVE_INFINITY;
  for (const { figure, minute } of timed) {
    const current = sessions.at(-1);
    if (current && minute - previousMinute <= maxGapMinutes) current.push(figure);
    else sessions.push([figure]);
    previousMinute = minute;
  }
  return sessions;
}

function groupByDate<T extends Trial>(figures: readonly T[]): Map<string, T[]> {
  const byDate = new Map<string, T[]>();
  for (const figure of figures) byDate.set(figure.testedOn, [...(byDate.get(figure.testedOn) ?? []), figure]);
  return byDate;
}

/** Order of sessions in time; one charted with a date only counts from midnight UTC of that date. */
export function byStart(a: readonly HandFigure[], b: readonly HandFigure[]): number {
  return startMinute(a) - startMinute(b);
}

function startMinute([first]: readonly HandFigure[]): number {
  return first ? (first.testedAtMinute ?? Date.parse(first.testedOn) / 60_000) : 0;
}
