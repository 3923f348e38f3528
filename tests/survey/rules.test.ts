/** Error rates of the rules about trials, as `npm run measure:rules` prints them: what must hold of them. */
import { describe, expect, it } from 'vitest';
import { findMicrodata, readMicrodata } from '../../tools/survey/microdata.ts';
import { measurePattern } from '../../tools/survey/pattern-rates.ts';
import { weakByGroup } from '../../tools/survey/unit-rates.ts';
import { US } from '../interpret/build.ts';

const folder = findMicrodata();
if (!folder) console.warn('Skipped: the survey microdata are not here (set SURVEY_DATA to their folder).');
const people = folder ? readMicrodata(folder) : [];

describe.skipIf(!folder)('people who are weak', () => {
  const rows = weakByGroup(people, US, US);
  const all = rows.find(({ group }) => group === '20+');

  it('are never stopped for their unit when it is charted right, with or without a previous measurement', () => {
    for (const row of rows) {
      expect(row.rightStopped, `${row.group} ${row.sex}`).toBe(0);
      expect(row.rightStoppedWithPrevious, `${row.group} ${row.sex}`).toBe(0);
    }
    expect(all?.people).toBeGreaterThan(500);
  });

  it('have a swap of units caught far more often where there is a previous measurement', () => {
    for (const row of rows) expect(row.swapStoppedWithPrevious).toBeGreaterThanOrEqual(row.swapStopped);
    expect(all?.swapStopped).toBeLessThan(0.7);
    expect(all?.swapStoppedWithPrevious).toBeGreaterThan(0.8);
  });
});

describe.skipIf(!folder)('the order of the trials', () => {
  it('marks fewer hands the wider its limits are, and few by those of the rule', () => {
    const rates = ['10', '15', '20', '25', '30'].map((limit) => measurePattern(people, US, limit));
    for (const [index, { firstLow, falling }] of rates.entries()) {
      const wider = rates[index + 1];
      if (!wider) continue;
      expect(wider.firstLow).toBeLessThan(firstLow);
      expect(wider.falling).toBeLessThan(falling);
    }
    const rule = rates[2];
    expect(((rule?.firstLow ?? 0) + (rule?.falling ?? 0)) / (rule?.hands ?? 1)).toBeLessThan(0.06);
    expect(US.rules.trialPattern?.firstBelowPercent).toBe('20');
  });
});
