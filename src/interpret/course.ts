/** How long a person has been reduced by a set that tells acute from chronic, as far as earlier sessions show. */
import { type CalendarDate, compareDates, readCalendarDate } from './age.ts';
import type { Course, Outcome, Verdict } from './finding.ts';
import type { EarlierSession } from './history.ts';
import { judgeSet } from './judge.ts';
import type { ReadySet } from './reference-set.ts';

/**
 * Chronic: reduced at every session read for at least `chronicFromMonths`. Acute: not reduced within that time before
 * now. Anything else is undetermined. Sessions whose unit is in doubt do not count. Undefined for sets that do not
 * say, results that are not reduced, and people who were not measured before.
 */
export function courseOf(
  set: ReadySet,
  verdict: Verdict,
  testedOn: string,
  history: readonly EarlierSession[],
): Course | undefined {
  const { chronicFromMonths } = set;
  if (chronicFromMonths === undefined || verdict.outcome !== 'reduced') return undefined;
  const earlier = history.flatMap((session) => {
    if (session.unitDoubtful) return [];
    const outcome = outcomeThen(set, verdict, session);
    return outcome ? [{ testedOn: session.testedOn, outcome }] : [];
  });
  if (earlier.length === 0) return undefined;
  const lastWell = earlier.findLastIndex(({ outcome }) => outcome === 'not-reduced');
  const reducedSince = earlier[lastWell + 1]?.testedOn ?? testedOn;
  const lastNotReduced = earlier[lastWell]?.testedOn ?? null;
  const isLong = reaches(reducedSince, chronicFromMonths, testedOn);
  const isRecent = lastNotReduced !== null && !reaches(lastNotReduced, chronicFromMonths, testedOn);
  const kind = isLong ? 'chronic' : isRecent ? 'acute' : 'undetermined';
  return { reducedSince, lastNotReduced, kind, chronicFromMonths };
}

/** By the same set, for the same hand or person, with the age of that day. */
function outcomeThen(set: ReadySet, now: Verdict, session: EarlierSession): Outcome | undefined {
  const then = judgeSet(set, session.summaries, session.subject).find(({ hand }) => hand === now.hand);
  return then?.kind === 'verdict' ? then.outcome : undefined;
}

/** Whether `months` have passed from one calendar date to another; on a day that the month lacks, a day later. */
function reaches(from: string, months: number, to: string): boolean {
  const [start, end] = [readCalendarDate(from), readCalendarDate(to)];
  if (!start || !end) return false;
  const due: CalendarDate = {
    year: start.year + Math.floor((start.month - 1 + months) / 12),
    month: ((start.month - 1 + months) % 12) + 1,
    day: start.day,
  };
  return compareDates(end, due) >= 0;
}
