/**
 * The whole argument on one page: readings checked, units checked, summaries, reference sets, cautions, change.
 * Pure: plain values in, plain findings out. Same input and panel, same answer to the digit.
 */
import { changesSince } from './change.ts';
import { usableFigures } from './charted.ts';
import { cautionsFor, checkReading } from './check-trials.ts';
import { changeDoubts, checkMixedUnits, checkUnitPlausibility, unitDoubts } from './check-units.ts';
import { courseOf } from './course.ts';
import {
  type Caution,
  type Interpretation,
  type Refusal,
  type RefusalCode,
  refuse,
  type Verdict,
} from './finding.ts';
import type { EarlierSession } from './history.ts';
import { judgePanel } from './judge.ts';
import type {
  ChartedSummary,
  Dominance,
  HandFigure,
  Measure,
  MeasureKind,
  Sex,
  Subject,
  Trial,
} from './measurement.ts';
import { measuresNear } from './measures-near.ts';
import { nextFrom } from './next-measurement.ts';
import type { Panel } from './panel.ts';
import { byStart, figuresOf, groupIntoSittings, type Sitting } from './sessions.ts';
import { type ExactSummary, summarise, writeSummary } from './summarise.ts';

/** Age in completed years on the day of one session, or why there is none. */
export type AgeAtTest =
  | {
      readonly ageYears: number;
      /** The other possible age, where the date of birth is known in part only. */
      readonly ageAtMost?: number | undefined;
    }
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
  /** Means and highests that were charted themselves; absent when there are none. */
  readonly charted?: readonly ChartedSummary[] | undefined;
  /** Measures near enough to the test to be used with it, at most one of each kind; absent when there are none. */
  readonly measures?: readonly Measure[] | undefined;
  /** Kinds of which the nearest day has several figures that differ: none of them is used. */
  readonly conflicting?: readonly MeasureKind[] | undefined;
}

/** Everything one evaluation depends on besides the panel: enough to replay it. */
export interface InterpretInput {
  readonly sex: Sex | null;
  /** Absent when the record does not say. */
  readonly dominant?: Dominance | undefined;
  /** Oldest first. */
  readonly sessions: readonly SessionInput[];
}

/**
 * Splits figures into sessions for `interpret`, oldest first. Prior ones never join a session of current ones.
 * `ageOn` gives the age on a calendar date, `YYYY-MM-DD`; `every` are all measures of the record.
 */
export function toSessions(
  current: Sitting,
  prior: Sitting,
  panel: Panel,
  ageOn: (date: string) => AgeAtTest,
  every: readonly Measure[] = [],
): readonly SessionInput[] {
  const { maxGapMinutes } = panel.rules.session;
  const sittingsOf = ({ trials, charted }: Sitting) => groupIntoSittings(trials, charted, maxGapMinutes);
  const earlier = new Set(sittingsOf(prior));
  const all = [...earlier, ...sittingsOf(current)].sort((a, b) => byStart(figuresOf(a), figuresOf(b)));
  return all.map((sitting) => {
    const { trials, charted } = sitting;
    const testedOn = figuresOf(sitting)[0]?.testedOn ?? '';
    const age = ageOn(testedOn);
    const near = measuresNear(testedOn, 'ageYears' in age ? age.ageYears : null, every, panel.rules);
    const own = charted.length > 0 ? { charted } : {};
    return { testedOn, age, prior: earlier.has(sitting), trials, ...own, ...near };
  });
}

/** One interpretation for each session that is not prior, oldest first. */
export function interpret(input: InterpretInput, panel: Panel): readonly Interpretation[] {
  const interpretations: Interpretation[] = [];
  const history: EarlierSession[] = [];
  for (const session of input.sessions) {
    const checked = checkSession(session, input, panel, history);
    if (!session.prior) interpretations.push(interpretSession(session, checked, panel, history));
    const { stop, summaries, subject } = checked;
    const { testedOn } = session;
    const effective = firstMoment(session);
    const unitDoubtful = checked.doubts.length > 0;
    if (!stop && subject) history.push({ testedOn, effective, subject, summaries, unitDoubtful });
  }
  return interpretations;
}

/** A session before any reference set is read. */
interface CheckedSession {
  /** Null where the age at the test is not known. */
  readonly subject: Subject | null;
  readonly sex: Sex | null;
  /** Those that are used. */
  readonly figures: readonly HandFigure[];
  readonly refused: readonly Refusal[];
  readonly summaries: readonly ExactSummary[];
  readonly stop: Refusal | undefined;
  /** Cautions about the unit. */
  readonly doubts: readonly Caution[];
  /** Cautions about charted summaries beside the trials. */
  readonly disagreements: readonly Caution[];
}

function checkSession(
  session: SessionInput,
  { sex, dominant }: InterpretInput,
  panel: Panel,
  history: readonly EarlierSession[],
): CheckedSession {
  const { age, measures, charted = [] } = session;
  const refusals = new Map<HandFigure, Refusal | undefined>(
    [...session.trials, ...charted].map((figure) => [figure, checkReading(figure, panel.rules)]),
  );
  const isFit = (figure: HandFigure) => refusals.get(figure) === undefined;
  const { figures, refused, cautions } = usableFigures(session.trials.filter(isFit), charted.filter(isFit));
  const mixed = checkMixedUnits(figures);
  const wanted = new Set(panel.sets.map(({ summary }) => summary));
  const summaries = mixed ? [] : summarise(figures, panel.rules, wanted);
  const subject =
    'ageYears' in age ? { ageYears: age.ageYears, ageAtMost: age.ageAtMost, sex, dominant, measures } : null;
  const stop =
    mixed ??
    ('refusal' in age ? refuse(age.refusal, { facts: age.facts ?? {} }) : undefined) ??
    (subject ? checkUnitPlausibility(figures, subject, panel, history) : undefined);
  const doubts =
    stop || !subject
      ? []
      : [...unitDoubts(figures, subject, panel), ...changeDoubts(figures, panel, history)];
  return {
    subject,
    sex,
    figures,
    refused: [...[...refusals.values()].filter((refusal) => refusal !== undefined), ...refused],
    summaries,
    stop,
    doubts,
    disagreements: cautions,
  };
}

function interpretSession(
  session: SessionInput,
  { subject, sex, figures, refused, summaries, stop, doubts, disagreements }: CheckedSession,
  panel: Panel,
  history: readonly EarlierSession[],
): Interpretation {
  const { testedOn, conflicting = [] } = session;
  const about = {
    testedOn,
    effective: firstMoment(session),
    ageYears: subject?.ageYears ?? null,
    ageAtMost: subject?.ageAtMost,
    sex,
    dominant: subject?.dominant,
    trials: figures.map(({ reference }) => reference),
    summaries: summaries.map(writeSummary),
  };
  if (stop || subject === null || figures.length === 0) {
    return { ...about, results: stop ? [...refused, stop] : refused, cautions: [], changes: [] };
  }
  const results = judgePanel(panel, summaries, subject).map((result) =>
    result.kind === 'verdict' && doubts.length === 0 ? withCourse(result, testedOn, panel, history) : result,
  );
  return {
    ...about,
    results: [...refused, ...results],
    cautions: [
      ...doubts,
      ...cautionsFor(figures, panel.rules, history),
      ...disagreements,
      ...conflicting.map((measure) => ({
        code: 'MEASURES_CONFLICT' as const,
        hand: null,
        facts: { measure },
      })),
    ],
    changes: changesSince(history, summaries, subject, panel.rules),
    nextFrom: nextFrom(testedOn, panel.rules),
  };
}

/** Of the first trial, else of what was charted in its place. */
function firstMoment({ trials, charted = [], testedOn }: SessionInput): string {
  return (trials[0] ?? charted[0])?.effective ?? testedOn;
}

function withCourse(
  verdict: Verdict,
  testedOn: string,
  panel: Panel,
  history: readonly EarlierSession[],
): Verdict {
  const set = panel.sets.find(({ ref }) => ref === verdict.set);
  const course = set && courseOf(set, verdict, testedOn, history);
  return course ? { ...verdict, course } : verdict;
}
