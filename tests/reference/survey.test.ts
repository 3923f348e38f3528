/**
 * The survey table against the microdata it was derived from (CDC/NCHS, National Health and Nutrition
 * Examination Survey 2011-2012 and 2013-2014; public domain), recomputed by tools/survey.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { findMicrodata, readMicrodata, type SurveyPerson } from '../../tools/survey/microdata.ts';
import { SURVEY_VARIANTS, surveyTable } from '../../tools/survey/survey-table.ts';
import { NORMS } from '../interpret/build.ts';

const folder = findMicrodata();
const people: readonly SurveyPerson[] = folder ? readMicrodata(folder) : [];
if (!folder) console.warn('Skipped: the survey microdata are not here (set SURVEY_DATA to their folder).');

describe.skipIf(!folder)('the survey microdata', () => {
  it('hold 14,984 people with a reading, 9,994 of them aged 20 and over, as their description says', () => {
    const read = people.filter(({ trials }) => trials.right.length + trials.left.length > 0);
    expect(read).toHaveLength(14_984);
    expect(read.filter(({ ageYears }) => ageYears >= 20)).toHaveLength(9_994);
  });

  it('hold no reading above the bound at which one is refused', () => {
    const { parameters } = JSON.parse(readFileSync(join(NORMS, 'rules/reading-bounds/1.0.0.json'), 'utf8'));
    const highest = Math.max(...people.flatMap(({ trials }) => [...trials.right, ...trials.left]));
    expect(highest).toBe(85.8);
    expect(highest).toBeLessThan(Number(parameters.maxKg));
  });
});

describe
  .skipIf(!folder)
  .each([
    'nhanes-2011-2014-right-left-mean-of-3',
    'nhanes-2011-2014-right-left-best-of-3',
    'nhanes-2011-2014-best-either-hand',
  ])('the released survey table %s', (id) => {
  const { rows } = JSON.parse(readFileSync(join(NORMS, `tables/${id}/1.0.0.json`), 'utf8'));
  const recomputed = surveyTable(people, SURVEY_VARIANTS[id] ?? []);

  it.each(rows as Record<string, unknown>[])('$sex $hand $ageMin to $ageMax, to the last digit', (row) => {
    const { verification: _, ...figures } = row;
    const own = recomputed.find(
      ({ sex, hand, ageMin }) => sex === row.sex && hand === row.hand && ageMin === row.ageMin,
    );
    expect(own).toEqual(figures);
  });

  it('has no row more and none less', () => {
    expect(recomputed).toHaveLength(rows.length);
  });
});
