/**
 * The whole argument on one page: readings checked, units checked, summaries, reference sets, cautions, change.
 * Pure: plain values in, plain findings out. Same input and panel, same answer to the digit.
 */
import { changesSince, type LastMeans, withMeans } from './change.ts';
import { cautionsFor, checkReading } from './check-trials.ts';
import { checkMixedUnits, checkUnitPlausibility, unitDoubts } from './check-units.ts';
import { type Interpretation, type Refusal, type RefusalCode, refuse } from './finding.ts';
import { judgePanel } from './judge.ts';
import type { Sex, Trial } from './measurement.ts';
import type { Panel } from './reference-set.ts';
import { byStart, groupIntoSessions } from './sessions.ts';
import { type ExactSummary, summarise, writeSummary } from './summarise.ts';

/** Age in completed years on the day of one session, or why there is none. */
export type AgeAtTest =
  | { readonly ageYears: number }
  | {
      readonly refusal: Extract<
        RefusalCode,
        | 'BIRTH_DATE_MISSING'
        | 'BIRTH_DATE_PARTIAL'
        | 'BIRTH_AFTER_TEST'
        | 'SUBJECT_DECEASED'
        | 'AGE_IMPLAUSIBLE'
      >;
      readonly facts?: Readonly<Record<string, string>>;
    };

/** One session as it goes in. `prior`: serves only as the earlier measurement; it is not interpreted. */
export interface SessionInput {
  readonly testedOn: string;
  readonly age: AgeAtTest;
  readonly prior: boolean;
  readonly trials: readonly Trial[];
}

/** Everything one evaluation depends on besides the panel: enough to replay it. */
export interface InterpretInput {
  readonly sex: Sex | null;
  /** Oldest first. */
  readonly sessions: readonly SessionInput[];
}

/**
 * Splits trials into sessions for `interpret`, oldest first. Prior trials never join a session of current ones.
 * `ageOn` gives the age on a calendar date, `YYYY-MM-DD`.
 */
export function toSessions(
  current: readonly Trial[],
  prior: readonly Trial[],
  panel: Panel,
  ageOn: (date: string) => AgeAtTest,
): readonly SessionInput[] {
  const { maxGapMinutes } = panel.rules.session;
  const earlier = new Set(groupIntoSessions(prior, maxGapMinutes));
  return [...earlier, ...groupIntoSessions(current, maxGapMinutes)].sort(byStart).map((trials) => {
    const testedOn = trials[0]?.testedOn ?? '';
    return { testedOn, age: ageOn(testedOn), prior: earlier.has(trials), trials };
  });
}

/** One interpretation for each session that is not prior, oldest first. */
export function interpret(input: InterpretInput, panel: Panel): readonly Interpretation[] {
  const interpretations: Interpretation[] = [];
  let last: LastMeans = new Map();
  for (const session of input.sessions) {
    const checked = checkSession(session, input.sex, panel);
    if (!session.prior) interpretations.push(interpretSession(session, checked, input.sex, panel, last));
    if (!checked.stop)
      last = withMeans(last, session.trials[0]?.effective ?? session.testedOn, checked.summaries);
  }
  return interpretations;
}

/** A session before any reference set is read. */
interface CheckedSession {
  readonly trials: readonly Trial[];
  readonly refused: readonly Refusal[];
  readonly summaries: readonly ExactSummary[];
  readonly stop: Refusal | undefined;
}

function checkSession(session: SessionInput, sex: Sex | null, panel: Panel): CheckedSession {
  const readings = session.trials.map((trial) => ({ trial, refusal: checkReading(trial, panel.rules) }));
  const refused = readings.flatMap(({ refusal }) => (refusal ? [refusal] : []));
  const trials = readings.flatMap(({ trial, refusal }) => (refusal ? [] : [trial]));
  const mixed = checkMixedUnits(trials);
  const summaries = mixed ? [] : summarise(trials, panel.rules);
  return { trials, refused, summaries, stop: mixed ?? stopFor(session.age, trials, sex, panel) };
}

function interpretSession(
  { age, testedOn, trials: charted }: SessionInput,
  { trials, refused, summaries, stop }: CheckedSession,
  sex: Sex | null,
  panel: Panel,
  last: LastMeans,
): Interpretation {
  const ageYears = 'ageYears' in age ? age.ageYears : null;
  const about = {
    testedOn,
    effective: charted[0]?.effective ?? testedOn,
    ageYears,
    sex,
    trials: trials.map((trial) => trial.reference),
    summaries: summaries.map(writeSummary),
  };
  if (stop || ageYears === null || trials.length === 0) {
    return { ...about, results: stop ? [...refused, stop] : refused, cautions: [], changes: [] };
  }
  const subject = { ageYears, sex };
  return {
    ...about,
    results: [...refused, ...judgePanel(panel, summaries, subject)],
    cautions: [...unitDoubts(trials, subject, panel), ...cautionsFor(trials, panel.rules)],
    changes: changesSince(last, summaries),
  };
}

/** Why a session is not interpreted at all, though its summaries can be shown. */
function stopFor(
  age: AgeAtTest,
  trials: readonly Trial[],
  sex: Sex | null,
  panel: Panel,
): Refusal | undefined {
  if ('refusal' in age) return refuse(age.refusal, { facts: age.facts ?? {} });
  return checkUnitPlausibility(trials, { ageYears: age.ageYears, sex }, panel);
}
