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
  return sessions.sort((a, b) => startOf(a).localeCompare(startOf(b)));
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

/** Sort key: date, then minute; a date-only session sorts before the timed ones of its date. */
function startOf(session: readonly Trial[]): string {
  const first = session[0];
  if (!first) return '';
  return `${first.testedOn} ${String(first.testedAtMinute ?? 0).padStart(12, '0')}`;
}
