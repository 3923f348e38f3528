/**
 * Error rates of the rules about trials, on the survey microdata: how often pounds charted as kilograms are
 * caught, how often a correct chart is stopped, and how many hands the scatter limit marks.
 * Run: npm run measure:rules [-- --panel adult-inpatient-us]
 */
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { scattersBeyond } from '../../src/interpret/check-trials.ts';
import { checkUnitPlausibility } from '../../src/interpret/check-units.ts';
import { exact } from '../../src/interpret/exact.ts';
import { HANDS, type Sex, type Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/reference-set.ts';
import { type ChartedUnit, KG_PER_LB } from '../../src/interpret/units.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { findMicrodata, readMicrodata, type SurveyPerson } from './microdata.ts';

export const AGE_GROUPS = [
  { name: '6-19', from: 6, to: 19 },
  { name: '20-59', from: 20, to: 59 },
  { name: '60-79', from: 60, to: 79 },
  { name: '80+', from: 80, to: 200 },
] as const;

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

/** People with three trials on every hand that was tested. */
function complete(people: readonly SurveyPerson[]): readonly SurveyPerson[] {
  return people.filter(({ trials }) => {
    const counts = HANDS.map((hand) => trials[hand].length).filter((count) => count > 0);
    return counts.length > 0 && counts.every((count) => count === 3);
  });
}

/** As a chart would hold them: the instrument's figure to one decimal, and the unit written beside it. */
function charted(person: SurveyPerson, instrument: 'kg' | 'lb', unit: ChartedUnit): readonly Trial[] {
  return HANDS.flatMap((hand) =>
    person.trials[hand].map((kilograms, index) => ({
      reference: `${person.sequence}-${hand}-${index}`,
      hand,
      reading: instrument === 'kg' ? String(kilograms) : (kilograms / Number(KG_PER_LB)).toFixed(1),
      unit,
      effective: '2014-01-01',
      testedOn: '2014-01-01',
      testedAtMinute: null,
      preliminary: false,
    })),
  ).filter((trial) => Number(trial.reading) > 0);
}

export function measureUnitRule(people: readonly SurveyPerson[], panel: Panel): readonly UnitRates[] {
  return AGE_GROUPS.flatMap(({ name, from, to }) =>
    (['female', 'male'] as const).map((sex) => {
      const group = complete(people).filter((p) => p.sex === sex && p.ageYears >= from && p.ageYears <= to);
      const share = (instrument: 'kg' | 'lb', unit: ChartedUnit) =>
        group.filter(({ ageYears, ...rest }) =>
          checkUnitPlausibility(charted({ ageYears, ...rest }, instrument, unit), { ageYears, sex }, panel),
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

const percent = (share: number) => `${(100 * share).toFixed(2)}%`.padStart(8);

function main(): void {
  const { values } = parseArgs({ options: { panel: { type: 'string', default: 'adult-inpatient-us' } } });
  const folder = findMicrodata();
  if (!folder) throw new Error('the survey microdata are not here (set SURVEY_DATA to their folder)');
  const people = readMicrodata(folder);
  const applied = loadLibrary(fileURLToPath(new URL('../../norms/', import.meta.url))).findPanel(
    values.panel,
  );
  if (!applied) throw new Error(`there is no panel ${values.panel}`);
  const { panel } = applied;
  const { unitPlausibility, scatter } = panel.rules;
  console.log(`Survey microdata 2011-2014, panel ${panel.ref.id} ${panel.ref.version}`);
  console.log(`\n${unitPlausibility.ref.id} ${unitPlausibility.ref.version}: share of people stopped`);
  console.log('age    sex     people  lb as kg  kg right  kg as lb  lb right');
  for (const row of measureUnitRule(people, panel)) {
    const shares = [
      row.poundsAsKilogramsCaught,
      row.correctKilogramsStopped,
      row.kilogramsAsPoundsCaught,
      row.correctPoundsStopped,
    ];
    console.log(
      `${row.group.padEnd(6)} ${row.sex.padEnd(7)} ${String(row.people).padStart(6)}  ${shares.map(percent).join('  ')}`,
    );
  }
  console.log(`\n${scatter.ref.id} ${scatter.ref.version}: adults marked, by limit`);
  for (const limit of ['7.5', '10', '12.5', '15', '20']) {
    const { hands, handsMarked, people: all, peopleMarked } = measureScatter(people, limit);
    const used = limit === scatter.maxCvPercent ? '  <- the rule' : '';
    console.log(
      `${limit.padStart(5)}%  ${percent(handsMarked / hands)} of ${hands} hands  ${percent(peopleMarked / all)} of ${all} people${used}`,
    );
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
