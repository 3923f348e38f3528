/** Tells the sittings apart: trials close in time form one session. */
import type { Trial } from './measurement.ts';

/**
 * Groups trials into sessions, oldest first; trials keep their order of time, then the order given.
 * A timed trial starts a new session when it is more than `maxGapMinutes` after the one before it.
 * Trials charted with a date only join the one timed session of that date; where that date has none or
 * several, they form a session of their own.
 */
export function groupIntoSessions(
  trials: readonly Trial[],
  maxGapMinutes: number,
): readonly (readonly Trial[])[] {
  const sessions = groupTimed(trials, maxGapMinutes);
  for (const [date, dateOnly] of groupByDate(trials.filter((trial) => trial.testedAtMinute === null))) {
    const sameDate = sessions.filter((session) => session[0]?.testedOn === date);
    const only = sameDate.length === 1 ? sameDate[0] : undefined;
    if (only) only.push(...dateOnly);
    else sessions.push(dateOnly);
  }
  return sessions.sort(byStart);
}

function groupTimed(trials: readonly Trial[], maxGapMinutes: number): Trial[][] {
  const timed = trials
    .flatMap((trial) => (trial.testedAtMinute === null ? [] : [{ trial, minute: trial.testedAtMinute }]))
    .sort((a, b) => a.minute - b.minute);
  const sessions: Trial[][] = [];
  let previousMinute = Number.NEGATIVE_INFINITY;
  for (const { trial, minute } of timed) {
    const current = sessions.at(-1);
    if (current && minute - previousMinute <= maxGapMinutes) current.push(trial);
    else sessions.push([trial]);
    previousMinute = minute;
  }
  return sessions;
}

function groupByDate(trials: readonly Trial[]): Map<string, Trial[]> {
  const byDate = new Map<string, Trial[]>();
  for (const trial of trials) byDate.set(trial.testedOn, [...(byDate.get(trial.testedOn) ?? []), trial]);
  return byDate;
}

/** Order of sessions in time; one charted with a date only counts from midnight UTC of that date. */
export function byStart(a: readonly Trial[], b: readonly Trial[]): number {
  return startMinute(a) - startMinute(b);
}

function startMinute([first]: readonly Trial[]): number {
  return first ? (first.testedAtMinute ?? Date.parse(first.testedOn) / 60_000) : 0;
}
