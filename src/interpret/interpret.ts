/**
 * The whole argument on one page: readings checked, units checked, summaries, reference sets, cautions, change.
 * Pure: plain values in, plain findings out. Same input and panel, same answer to the digit.
 */
import { changesSince } from './change.ts';
import { cautionsFor, checkMixedUnits, checkReading, checkUnitPlausibility } from './check-trials.ts';
import { type Interpretation, type Refusal, type RefusalCode, refuse } from './finding.ts';
import { judgePanel } from './judge.ts';
import type { Sex, Trial } from './measurement.ts';
import type { Panel } from './reference-set.ts';
import { groupIntoSessions } from './sessions.ts';
import { type ExactSummary, summarise, writeSummary } from './summarise.ts';

/** Age in completed years on the day of one session, or why there is none. */
export type AgeAtTest =
  | { readonly ageYears: number }
  | {
      readonly refusal: Extract<
        RefusalCode,
        'BIRTH_DATE_MISSING' | 'BIRTH_DATE_PARTIAL' | 'BIRTH_AFTER_TEST' | 'SUBJECT_DECEASED'
      >;
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
 * Splits trials into sessions for `interpret`. A session is prior when all its trials are.
 * `ageOn` gives the age on a calendar date, `YYYY-MM-DD`.
 */
export function toSessions(
  trials: readonly Trial[],
  prior: ReadonlySet<string>,
  panel: Panel,
  ageOn: (date: string) => AgeAtTest,
): readonly SessionInput[] {
  return groupIntoSessions(trials, panel.rules.session.maxGapMinutes).map((session) => {
    const testedOn = session[0]?.testedOn ?? '';
    return {
      testedOn,
      age: ageOn(testedOn),
      prior: session.every((trial) => prior.has(trial.reference)),
      trials: session,
    };
  });
}

/** One interpretation for each session that is not prior, oldest first. */
export function interpret(input: InterpretInput, panel: Panel): readonly Interpretation[] {
  const interpretations: Interpretation[] = [];
  let earlier: { testedOn: string; summaries: readonly ExactSummary[] } | undefined;
  for (const session of input.sessions) {
    const { interpretation, comparable } = interpretSession(session, input.sex, panel, earlier);
    if (!session.prior) interpretations.push(interpretation);
    if (comparable.length > 0) earlier = { testedOn: session.testedOn, summaries: comparable };
  }
  return interpretations;
}

function interpretSession(
  session: SessionInput,
  sex: Sex | null,
  panel: Panel,
  earlier: { testedOn: string; summaries: readonly ExactSummary[] } | undefined,
): { interpretation: Interpretation; comparable: readonly ExactSummary[] } {
  const checked = session.trials.map((trial) => ({ trial, refusal: checkReading(trial, panel.rules) }));
  const refused = checked.flatMap(({ refusal }) => (refusal ? [refusal] : []));
  const trials = checked.flatMap(({ trial, refusal }) => (refusal ? [] : [trial]));
  const ageYears = 'ageYears' in session.age ? session.age.ageYears : null;
  const about = {
    testedOn: session.testedOn,
    ageYears,
    sex,
    trials: session.trials.map((trial) => trial.reference),
  };

  const mixed = checkMixedUnits(trials);
  const summaries = mixed ? [] : summarise(trials, panel.rules);
  const stop = mixed ?? stopFor(session.age, trials, sex, panel);
  if (stop) {
    const stopped = {
      ...about,
      summaries: summaries.map(writeSummary),
      results: [...refused, stop],
      cautions: [],
      changes: [],
    };
    return { interpretation: stopped, comparable: [] };
  }
  const interpretation: Interpretation = {
    ...about,
    summaries: summaries.map(writeSummary),
    results: [...refused, ...(ageYears === null ? [] : judgePanel(panel, summaries, { ageYears, sex }))],
    cautions: trials.length > 0 ? cautionsFor(trials, panel.rules) : [],
    changes: earlier ? changesSince(earlier, summaries) : [],
  };
  return { interpretation, comparable: summaries };
}

/** Why a session is not interpreted at all, though its summaries can be shown. */
function stopFor(
  age: AgeAtTest,
  trials: readonly Trial[],
  sex: Sex | null,
  panel: Panel,
): Refusal | undefined {
  if ('refusal' in age) return refuse(age.refusal);
  return checkUnitPlausibility(trials, { ageYears: age.ageYears, sex }, panel);
}
