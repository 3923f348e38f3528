/**
 * The whole survey through the interpretation, read once: every verdict against a second reading of the
 * transcriptions, and the outside checks of `npm run measure:population`.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { measurePopulation } from '../../tools/survey/measure-population.ts';
import { findMicrodata, readMicrodata, type SurveyPerson } from '../../tools/survey/microdata.ts';
import { holds, LADDER, summariseOwn } from '../../tools/survey/outside-checks.ts';
import {
  BRAZIL_2019,
  CANADA_2010,
  DODDS_2014,
  GERMANY_2023,
  KOREA_2017,
  KOREA_2019,
  type Pair,
  PERNA_2016,
} from '../../tools/survey/published.ts';
import { type Outcome, runPanel } from '../../tools/survey/run-panel.ts';
import { NORMS } from '../interpret/build.ts';
import { type Json, outside } from '../reference/outside.ts';
import { STATED_PANELS } from '../reference/stated-panels.ts';
import { secondReader } from './second-reader.ts';

const folder = findMicrodata();
if (!folder) console.warn('Skipped: the survey microdata are not here (set SURVEY_DATA to their folder).');

describe('the published figures', () => {
  const { entries, dodds2014 } = outside('abstract-anchors');
  const figures = (start: string): Json =>
    entries.find(({ citation }: Json) => citation.startsWith(start)).figures;
  const pair = ({ male, female }: Json): Pair => [Number(male), Number(female)];

  it('are those of the transcription', () => {
    const korea = figures('Handgrip Strength in the Korean Population').peak35to39MeanSdKg;
    expect(PERNA_2016.sumLb).toEqual(pair(figures('Perna').combinedBothHandsMeanLbAge30to39));
    expect(GERMANY_2023.lowKg).toEqual(pair(figures('Huemer').lowCutKgPeakMeanMinus2_5SD));
    const { age20to39, age6to79 } = figures('Statistics Canada').sumOfBothHandsMeanKg;
    expect([CANADA_2010.sumKg20to39, CANADA_2010.sumKg6to79]).toEqual([pair(age20to39), pair(age6to79)]);
    expect(KOREA_2017.meanKg).toEqual(pair(figures('Yoo').meanKg));
    expect(KOREA_2019.meanKg35to39).toEqual(pair({ male: korea.male[0], female: korea.female[0] }));
    expect(BRAZIL_2019.meanKg30to39).toEqual(pair(figures('Amaral').peak30to39Kg));
    expect(DODDS_2014.weakAt80).toEqual(pair(dodds2014.weakGripPrevalenceAge80));
    const { male, female } = dodds2014.peak;
    expect(DODDS_2014.peakMeanKg).toEqual(pair({ male: male.meanKg, female: female.meanKg }));
  });
});

describe.skipIf(!folder)('the whole survey, panel all-published', () => {
  const library = loadLibrary(NORMS);
  const panel = library.findPanel('all-published')?.panel;
  if (!panel) throw new Error('no panel');
  let people: readonly SurveyPerson[];
  let outcomes: readonly Outcome[];
  let measured: ReturnType<typeof measurePopulation>;

  beforeAll(() => {
    people = readMicrodata(folder ?? '');
    outcomes = runPanel(people, panel);
    measured = measurePopulation(people, outcomes, panel, library);
  }, 120_000);

  it('reads everybody who has a reading', () => {
    expect(measured.population.people).toBe(14_984);
    expect(measured.population.sets).toHaveLength(2 * panel.sets.length);
  });

  it.each(
    (STATED_PANELS[`all-published ${panel.ref.version}`] ?? []).map((entry) => [entry.id, entry] as const),
  )('%s gives everybody the outcome that a second reading gives', (id, entry) => {
    const read = secondReader(entry);
    let compared = 0;
    for (const { person, interpretation } of outcomes) {
      if (
        interpretation.results.some(
          (result) => result.kind === 'refusal' && result.code === 'UNIT_IMPLAUSIBLE',
        )
      )
        continue;
      const own = interpretation.results.flatMap((result) =>
        result.kind === 'verdict' && result.set.id === id ? [`${result.hand ?? '-'} ${result.outcome}`] : [],
      );
      const second = read(person);
      compared += second.length;
      if (own.join() !== second.join()) expect(own, `${id}: person ${person.sequence}`).toEqual(second);
    }
    expect(compared).toBeGreaterThan(900);
  });

  it('is refused only as it must be: the age, a measure, a hand or a figure is missing, or the unit is doubted', () => {
    const { refusals } = measured.population;
    expect([...new Set(Object.keys(refusals).map((code) => code.split(' ')[0]))].sort()).toEqual([
      'AGE_OUTSIDE_SET',
      'FIGURE_UNKNOWN',
      'HANDEDNESS_UNKNOWN',
      'HAND_NOT_MEASURED',
      'MEASURE_MISSING',
      'MEASURE_OUTSIDE_SET',
      'UNIT_IMPLAUSIBLE',
      'VALUE_NOT_POSITIVE',
    ]);
    expect((refusals.UNIT_IMPLAUSIBLE ?? 0) / outcomes.length).toBeLessThan(0.02);
  });

  it('meets every published figure that has a tolerance', () => {
    const bound = measured.checks.filter(({ tolerance }) => tolerance !== null);
    expect(bound).toHaveLength(4);
    expect(bound.filter((check) => !holds(check))).toEqual([]);
  });

  it('has nobody below a lower limit who is not below a higher one', () => {
    expect(LADDER).toHaveLength(5);
    expect(measured.outOfOrder).toEqual([]);
  });

  it('has the share two SD below the mean of its own tables that a bell curve has, or nearly', () => {
    const own = summariseOwn(measured.ownRows);
    for (const { name, share } of own.pooled) {
      expect(share, name).toBeGreaterThan(0.005);
      expect(share, name).toBeLessThan(0.04);
    }
    // A band has a few hundred people: one standard error of 2.3% is near one percent point.
    expect(own.lowest).toBeGreaterThan(0.001);
    expect(own.highest).toBeLessThan(0.06);
    expect(own.usual / own.rows).toBeGreaterThan(0.9);
  });

  it('has a tenth below the 10th centile of its own tables, to the weight of one figure', () => {
    expect(summariseOwn(measured.ownRows).tenthBeyondOneFigure).toBe(0);
  });
});
