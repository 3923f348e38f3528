/**
 * The survey tables against the microdata they were derived from (CDC/NCHS, National Health and Nutrition
 * Examination Survey 2011-2012 and 2013-2014; public domain), recomputed by tools/survey.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import {
  countStatuses,
  findMicrodata,
  readMicrodata,
  type SurveyPerson,
} from '../../tools/survey/microdata.ts';
import { SURVEY_VARIANTS, surveyTable } from '../../tools/survey/survey-table.ts';
import { NORMS } from '../interpret/build.ts';

const folder = findMicrodata();
const people: readonly SurveyPerson[] = folder ? readMicrodata(folder) : [];
if (!folder) console.warn('Skipped: the survey microdata are not here (set SURVEY_DATA to their folder).');

const ALL_TRIALS = ({ trials }: SurveyPerson) => [...trials.right, ...trials.left];

describe.skipIf(!folder)('the survey microdata', () => {
  it('hold 14,984 people with a reading, 9,994 of them aged 20 and over, as their description says', () => {
    const read = people.filter((person) => ALL_TRIALS(person).length > 0);
    expect(read).toHaveLength(14_984);
    expect(read.filter(({ ageYears }) => ageYears >= 20)).toHaveLength(9_994);
  });

  it('hold no reading above the bound at which one is refused', () => {
    const { parameters } = JSON.parse(readFileSync(join(NORMS, 'rules/reading-bounds/1.0.0.json'), 'utf8'));
    const highest = Math.max(...people.flatMap(ALL_TRIALS));
    expect(highest).toBe(85.8);
    expect(highest).toBeLessThan(Number(parameters.maxKg));
  });

  // Codebooks MGX_G (December 2014) and MGX_H (June 2016), MGDEXSTS: 1 both hands, 2 one hand, 3 not done.
  it.each([
    ['G', { 1: 7_064, 2: 113, 3: 644 }, 7_821],
    ['H', { 1: 7_677, 2: 130, 3: 484 }, 8_291],
  ] as const)('hold the rows and statuses of the codebook, cycle %s', (cycle, statuses, rows) => {
    const counts = countStatuses(folder ?? '', cycle);
    expect(counts).toEqual(statuses);
    expect(Object.values(counts).reduce((sum, count) => sum + count, 0)).toBe(rows);
  });

  it("give the survey's own combined grip again, 14,741 times of 14,741", () => {
    const given = people.filter(({ combinedKg }) => combinedKg !== null);
    const equal = given.filter(({ trials, combinedKg }) => {
      const own = Math.max(...trials.right) + Math.max(...trials.left);
      return own.toFixed(1) === combinedKg?.toFixed(1);
    });
    expect([equal.length, given.length]).toEqual([14_741, 14_741]);
  });
});

/** Every released version of every table that is derived from the microdata. */
const RELEASED = readdirSync(join(NORMS, 'tables'))
  .filter((id) => id.startsWith('nhanes-'))
  .flatMap((id) => readdirSync(join(NORMS, 'tables', id)).map((file) => [id, file] as const));

it('has a way to recompute each of the seven tables that are released, and no other', () => {
  expect(Object.keys(SURVEY_VARIANTS).sort()).toEqual([...new Set(RELEASED.map(([id]) => id))].sort());
  expect(Object.keys(SURVEY_VARIANTS)).toHaveLength(7);
});

describe.skipIf(!folder).each(RELEASED)('the released survey table %s %s', (id, file) => {
  const { rows } = JSON.parse(readFileSync(join(NORMS, 'tables', id, file), 'utf8'));
  const recomputed = surveyTable(people, SURVEY_VARIANTS[id] ?? []);

  it.each(rows as Record<string, unknown>[])('$sex $hand $ageMin to $ageMax, to the last digit', (row) => {
    const { verification, ...figures } = row;
    const own = recomputed.find(
      ({ sex, hand, ageMin }) => sex === row.sex && hand === row.hand && ageMin === row.ageMin,
    );
    expect(own).toEqual(figures);
    expect(verification).toBe('derived-from-microdata');
  });

  it('has no row more and none less', () => {
    expect(recomputed).toHaveLength(rows.length);
  });
});
