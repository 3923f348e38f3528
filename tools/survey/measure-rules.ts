/**
 * Error rates of the rules about trials, on the survey microdata: how often pounds charted as kilograms are
 * caught, how often a correct chart is stopped, of everybody and of the weak, alone and with a previous measurement,
 * and how many hands the limits of scatter and of the order of the trials mark.
 * Run: npm run measure:rules [-- --panel adult-inpatient-us]
 */
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { scattersBeyond } from '../../src/interpret/check-trials.ts';
import { checkUnitPlausibility } from '../../src/interpret/check-units.ts';
import { exact } from '../../src/interpret/exact.ts';
import { HANDS, type Sex } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { findMicrodata, readMicrodata, type SurveyPerson } from './microdata.ts';
import { measurePattern } from './pattern-rates.ts';
import {
  AGE_GROUPS,
  charted,
  complete,
  type PreviousRates,
  previousByGroup,
  subjectOf,
  weakByGroup,
} from './unit-rates.ts';

export interface UnitRates {
  readonly group: string;
  readonly sex: Sex;
  readonly people: number;
  /** Share of people stopped when their pounds are charted as kilograms. */
  readonly poundsAsKilogramsCaught: number;
  /** Share of people stopped though charted correctly in kilograms. */
  readonly correctKilogramsStopped: number;
  /** Share of people stopped when their kilograms are charted as pounds. */
  readonly kilogramsAsPoundsCaught: number;
  /** Share of people stopped though charted correctly in pounds. */
  readonly correctPoundsStopped: number;
}

export interface ScatterRates {
  readonly hands: number;
  readonly handsMarked: number;
  readonly people: number;
  readonly peopleMarked: number;
}

export function measureUnitRule(people: readonly SurveyPerson[], panel: Panel): readonly UnitRates[] {
  return AGE_GROUPS.flatMap(({ name, from, to }) =>
    (['female', 'male'] as const).map((sex) => {
      const group = complete(people).filter((p) => p.sex === sex && p.ageYears >= from && p.ageYears <= to);
      const share = (instrument: 'kg' | 'lb', unit: ChartedUnit) =>
        group.filter((person) =>
          checkUnitPlausibility(charted(person, instrument, unit), subjectOf(person), panel),
        ).length / group.length;
      return {
        group: name,
        sex,
        people: group.length,
        poundsAsKilogramsCaught: share('lb', 'kg'),
        correctKilogramsStopped: share('kg', 'kg'),
        kilogramsAsPoundsCaught: share('kg', '[lb_av]'),
        correctPoundsStopped: share('lb', '[lb_av]'),
      };
    }),
  );
}

/** Adults only: the rule is read for them. */
export function measureScatter(people: readonly SurveyPerson[], maxCvPercent: string): ScatterRates {
  const adults = people.filter(({ ageYears }) => ageYears >= 20);
  const marks = adults.flatMap(({ trials }) => {
    const hands = HANDS.map((hand) => trials[hand]).filter(
      (readings) => readings.length === 3 && readings.every((reading) => reading > 0),
    );
    return hands.length > 0
      ? [
          hands.map((readings) =>
            scattersBeyond(
              readings.map((r) => exact(String(r))),
              maxCvPercent,
            ),
          ),
        ]
      : [];
  });
  return {
    hands: marks.flat().length,
    handsMarked: marks.flat().filter(Boolean).length,
    people: marks.length,
    peopleMarked: marks.filter((hands) => hands.includes(true)).length,
  };
}

const percent = (share: number) => (Number.isNaN(share) ? '-' : `${(100 * share).toFixed(2)}%`).padStart(8);

function rowText(group: string, sex: string, people: number, shares: readonly number[]): string {
  return `${group.padEnd(6)} ${sex.padEnd(7)} ${String(people).padStart(6)}  ${shares.map(percent).join('  ')}`;
}

function writeUnitRule(people: readonly SurveyPerson[], panel: Panel): readonly string[] {
  const { ref } = panel.rules.unitPlausibility;
  return [
    `\n${ref.id} ${ref.version}: share of people stopped`,
    'age    sex     people  lb as kg  kg right  kg as lb  lb right',
    ...measureUnitRule(people, panel).map((row) =>
      rowText(row.group, row.sex, row.people, [
        row.poundsAsKilogramsCaught,
        row.correctKilogramsStopped,
        row.kilogramsAsPoundsCaught,
        row.correctPoundsStopped,
      ]),
    ),
  ];
}

function writeScatter(people: readonly SurveyPerson[], { rules: { scatter } }: Panel): readonly string[] {
  return [
    `\n${scatter.ref.id} ${scatter.ref.version}: adults marked, by limit`,
    ...['7.5', '10', '12.5', '15', '20'].map((limit) => {
      const { hands, handsMarked, people: all, peopleMarked } = measureScatter(people, limit);
      const used = limit === scatter.maxCvPercent ? '  <- the rule' : '';
      return `${limit.padStart(5)}%  ${percent(handsMarked / hands)} of ${hands} hands  ${percent(peopleMarked / all)} of ${all} people${used}`;
    }),
  ];
}

const PREVIOUS_HEADER = [
  '                      lb as kg, stopped     kg right, stopped     kg as lb, cautioned   kg right, cautioned',
  'age    sex     people   alone  with prev.   alone  with prev.   alone  with prev.   with prev.',
];

function previousText(row: PreviousRates): string {
  return rowText(row.group, row.sex, row.people, [
    row.swapStopped,
    row.swapStoppedWithPrevious,
    row.rightStopped,
    row.rightStoppedWithPrevious,
    row.otherSwapCautioned,
    row.otherSwapCautionedWithPrevious,
    row.rightCautionedWithPrevious,
  ]);
}

/** @param truth the panel whose 1985 table and EWGSOP2 say who is weak */
function writePrevious(people: readonly SurveyPerson[], panel: Panel, truth: Panel): readonly string[] {
  const { previousFactor } = panel.rules.unitPlausibility;
  const factor = previousFactor ? `${previousFactor.from} to ${previousFactor.to}` : 'none';
  return [
    `\nWith a previous measurement, factor ${factor}: a SIMULATION.`,
    'No open microdata have two sessions of a person: trial 1 stands for the session before and the mean of all',
    'three for now. That understates how much people vary from day to day, so real false alarms will be more.',
    ...PREVIOUS_HEADER,
    ...previousByGroup(people, panel).map(previousText),
    '\nThe same of people who are weak: reduced by the 1985 table or EWGSOP2 when charted right',
    ...PREVIOUS_HEADER,
    ...weakByGroup(people, panel, truth).map(previousText),
  ];
}

function writePattern(people: readonly SurveyPerson[], panel: Panel): readonly string[] {
  const { trialPattern } = panel.rules;
  if (!trialPattern) return [];
  const { ref, firstBelowPercent } = trialPattern;
  return [
    `\n${ref.id} ${ref.version}: hands of adults marked, by limit`,
    '            FIRST_TRIAL_LOW  TRIALS_FALLING',
    ...['10', '15', '20', '25', '30'].map((limit) => {
      const { hands, firstLow, falling } = measurePattern(people, panel, limit);
      const used = limit === firstBelowPercent ? '  <- the rule' : '';
      return `${limit.padStart(5)}%      ${percent(firstLow / hands)}        ${percent(falling / hands)} of ${hands} hands${used}`;
    }),
  ];
}

function main(): void {
  const { values } = parseArgs({ options: { panel: { type: 'string', default: 'adult-inpatient-us' } } });
  const folder = findMicrodata();
  if (!folder) throw new Error('the survey microdata are not here (set SURVEY_DATA to their folder)');
  const people = readMicrodata(folder);
  const library = loadLibrary(fileURLToPath(new URL('../../norms/', import.meta.url)));
  const panelNamed = (id: string): Panel => {
    const found = library.findPanel(id)?.panel;
    if (!found) throw new Error(`there is no panel ${id}`);
    return found;
  };
  const panel = panelNamed(values.panel);
  const lines = [
    `Survey microdata 2011-2014, panel ${panel.ref.id} ${panel.ref.version}`,
    ...writeUnitRule(people, panel),
    ...writeScatter(people, panel),
    ...writePrevious(people, panel, panelNamed('adult-inpatient-us')),
    ...writePattern(people, panel),
  ];
  console.log(lines.join('\n'));
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
