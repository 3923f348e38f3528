/**
 * Error rates of the unit rule beyond the plain ones: among people who are weak, and with a previous measurement.
 * There is no open microdata of repeated sessions: the first trial of each hand stands in for the session before,
 * which differs from the mean of all three far less than two days do.
 */
import { changeDoubts, checkUnitPlausibility, unitDoubts } from '../../src/interpret/check-units.ts';
import type { EarlierSession } from '../../src/interpret/history.ts';
import { judgePanel } from '../../src/interpret/judge.ts';
import { HANDS, SEXES, type Sex, type Subject, type Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import { type ChartedUnit, KG_PER_LB } from '../../src/interpret/units.ts';
import type { SurveyPerson } from './microdata.ts';
import { isIn } from './weighted.ts';

export const AGE_GROUPS = [
  { name: '6-19', from: 6, to: 19 },
  { name: '20-59', from: 20, to: 59 },
  { name: '60-79', from: 60, to: 79 },
  { name: '80+', from: 80, to: 200 },
] as const;

/** People with three trials on every hand that was tested. */
export function complete(people: readonly SurveyPerson[]): readonly SurveyPerson[] {
  return people.filter(({ trials }) => {
    const counts = HANDS.map((hand) => trials[hand].length).filter((count) => count > 0);
    return counts.length > 0 && counts.every((count) => count === 3);
  });
}

/** As a chart would hold them: the instrument's figure to one decimal, and the unit written beside it. */
export function charted(person: SurveyPerson, instrument: 'kg' | 'lb', unit: ChartedUnit): readonly Trial[] {
  return HANDS.flatMap((hand, place) =>
    person.trials[hand].map((kilograms, index) => ({
      reference: `${person.sequence}-${hand}-${index}`,
      hand,
      reading: instrument === 'kg' ? String(kilograms) : (kilograms / Number(KG_PER_LB)).toFixed(1),
      unit,
      effective: momentOf(2 * index + place),
      testedOn: '2014-01-01',
      testedAtMinute: 2 * index + place,
      preliminary: false,
    })),
  ).filter((trial) => Number(trial.reading) > 0);
}

/** So many minutes after ten: the hands in turn, a minute apart. */
export const momentOf = (minute: number) => `2014-01-01T10:0${minute}:00Z`;

/** The first trial of each hand, as if it were the session before. */
export function asPrevious(
  trials: readonly Trial[],
  subject: Subject,
  panel: Panel,
): readonly EarlierSession[] {
  const first = HANDS.flatMap((hand) => trials.find((trial) => trial.hand === hand) ?? []);
  const summaries = summarise(first, panel.rules);
  return [{ testedOn: '2013-12-01', effective: '2013-12-01', subject, summaries, unitDoubtful: false }];
}

/** Tables by dominance are read where the person named one hand. */
export function subjectOf({ ageYears, sex, dominant }: SurveyPerson): Subject {
  return { ageYears, sex, dominant: dominant ?? undefined };
}

/** Reduced by the 1985 table or by EWGSOP2 when charted as it was measured, whatever the unit rule says. */
export function isWeak(person: SurveyPerson, panel: Panel): boolean {
  const results = judgePanel(panel, summarise(charted(person, 'kg', 'kg'), panel.rules), subjectOf(person));
  return results.some(
    (result) =>
      result.kind === 'verdict' &&
      result.outcome === 'reduced' &&
      (result.set.id === 'mathiowetz-1985-us-adults' || result.set.id === 'ewgsop2-2019'),
  );
}

/** Shares of one group, each from 0 to 1; NaN for nobody. */
export interface PreviousRates {
  readonly group: string;
  readonly sex: Sex | 'both';
  readonly people: number;
  /** Pounds charted as kilograms: stopped, without and with the previous measurement. */
  readonly swapStopped: number;
  readonly swapStoppedWithPrevious: number;
  /** Kilograms charted as kilograms: stopped though right. */
  readonly rightStopped: number;
  readonly rightStoppedWithPrevious: number;
  /** Kilograms charted as pounds: never stopped; cautioned, without and with the previous measurement. */
  readonly otherSwapCautioned: number;
  readonly otherSwapCautionedWithPrevious: number;
  /** Kilograms charted as kilograms: cautioned that the change looks like a unit. */
  readonly rightCautionedWithPrevious: number;
}

export function ratesWithPrevious(
  group: string,
  sex: PreviousRates['sex'],
  people: readonly SurveyPerson[],
  panel: Panel,
): PreviousRates {
  const share = (
    now: readonly ['kg' | 'lb', ChartedUnit],
    holds: (trials: readonly Trial[], subject: Subject, history: readonly EarlierSession[]) => boolean,
  ) =>
    people.filter((person) => {
      const subject = subjectOf(person);
      const history = asPrevious(charted(person, 'kg', 'kg'), subject, panel);
      return holds(charted(person, ...now), subject, history);
    }).length / people.length;
  const stopped = (trials: readonly Trial[], subject: Subject, history: readonly EarlierSession[] = []) =>
    checkUnitPlausibility(trials, subject, panel, history) !== undefined;
  const doubted = (trials: readonly Trial[], subject: Subject) =>
    unitDoubts(trials, subject, panel).length > 0;
  const changed = (trials: readonly Trial[], history: readonly EarlierSession[]) =>
    changeDoubts(trials, panel, history).length > 0;
  return {
    group,
    sex,
    people: people.length,
    swapStopped: share(['lb', 'kg'], (trials, subject) => stopped(trials, subject)),
    swapStoppedWithPrevious: share(['lb', 'kg'], stopped),
    rightStopped: share(['kg', 'kg'], (trials, subject) => stopped(trials, subject)),
    rightStoppedWithPrevious: share(['kg', 'kg'], stopped),
    otherSwapCautioned: share(['kg', '[lb_av]'], doubted),
    otherSwapCautionedWithPrevious: share(
      ['kg', '[lb_av]'],
      (trials, subject, history) => doubted(trials, subject) || changed(trials, history),
    ),
    rightCautionedWithPrevious: share(['kg', 'kg'], (trials, _subject, history) => changed(trials, history)),
  };
}

/** Everybody by age and sex. */
export function previousByGroup(people: readonly SurveyPerson[], panel: Panel): readonly PreviousRates[] {
  return AGE_GROUPS.flatMap(({ name, from, to }) =>
    SEXES.map((sex) =>
      ratesWithPrevious(
        name,
        sex,
        complete(people).filter((person) => isIn(person, sex, from, to)),
        panel,
      ),
    ),
  );
}

/** The weak among the adults by age and sex, and all of them together. */
export function weakByGroup(
  people: readonly SurveyPerson[],
  panel: Panel,
  truth: Panel,
): readonly PreviousRates[] {
  const weak = complete(people).filter((person) => person.ageYears >= 20 && isWeak(person, truth));
  const groups = AGE_GROUPS.filter(({ from }) => from >= 20).flatMap(({ name, from, to }) =>
    SEXES.map((sex) =>
      ratesWithPrevious(
        name,
        sex,
        weak.filter((person) => isIn(person, sex, from, to)),
        panel,
      ),
    ),
  );
  return [...groups, ratesWithPrevious('20+', 'both', weak, panel)];
}
