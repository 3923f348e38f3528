/** A date of birth known in part only: two ages are possible, and nothing is chosen between them. */
import { describe, expect, it } from 'vitest';
import type { Subject } from '../../src/interpret/measurement.ts';
import { ALL, codesOf, panelNamed, read, refusalsOf, threeEach, US, verdictsOf } from './build.ts';

const T1985 = 'mathiowetz-1985-us-adults';
const DODDS = 'dodds-2014-great-britain';
const trials = threeEach('20');

const of = (person: Subject, set: string, panel = US) => {
  const answer = read(panel, person, trials);
  return { verdicts: verdictsOf(answer, set), refusals: refusalsOf(answer, set) };
};

describe('two possible ages', () => {
  const WOMAN = { sex: 'female' } as const;

  it('are both said of the answer, and neither is chosen', () => {
    const answer = read(US, { ...WOMAN, ageYears: 74, ageAtMost: 75 }, trials);
    expect(answer).toMatchObject({ ageYears: 74, ageAtMost: 75 });
    expect(read(US, { ...WOMAN, ageYears: 74 }, trials).ageAtMost).toBeUndefined();
  });

  it('give a verdict where both are in one row, the same as for either', () => {
    const { verdicts, refusals } = of({ ...WOMAN, ageYears: 72, ageAtMost: 73 }, T1985);
    expect(refusals).toEqual([]);
    expect(verdicts).toEqual(of({ ...WOMAN, ageYears: 72 }, T1985).verdicts);
    expect(verdicts).toHaveLength(2);
  });

  it('give no verdict where they are in different rows, but that of each', () => {
    const { verdicts, refusals } = of({ ...WOMAN, ageYears: 74, ageAtMost: 75 }, T1985);
    expect(verdicts).toEqual([]);
    expect(refusals.map(({ code, hand, facts }) => [code, hand, facts])).toEqual([
      ['AGE_UNCERTAIN', 'right', { ages: '74 or 75' }],
      ['AGE_UNCERTAIN', 'left', { ages: '74 or 75' }],
    ]);
    for (const [index, { columns }] of refusals.entries()) {
      const each = [74, 75].map((ageYears) => of({ ...WOMAN, ageYears }, T1985).verdicts[index]);
      expect(columns).toEqual(each);
      expect(columns.map(({ row }) => row.ageMin)).toEqual([70, 75]);
    }
  });

  it('show the one row that there is where the other age is not covered', () => {
    const { refusals } = of({ ...WOMAN, ageYears: 64, ageAtMost: 65 }, 'ewgsop2-2019');
    expect(refusals.map(({ code, columns }) => [code, columns.length])).toEqual([['AGE_UNCERTAIN', 1]]);
    expect(refusals[0]?.columns[0]).toMatchObject({ row: { ageMin: 65 }, limit: { value: '16' } });
  });

  it('are outside a set where neither is covered, and both are named', () => {
    const { refusals } = of({ ...WOMAN, ageYears: 18, ageAtMost: 19 }, T1985);
    expect(refusals).toMatchObject([
      { code: 'AGE_OUTSIDE_SET', facts: { ageYears: '18 or 19', covers: '20 and over' } },
    ]);
  });

  it('are uncertain in every year of a table of exact ages', () => {
    const { refusals } = of({ ...WOMAN, ageYears: 71, ageAtMost: 72 }, DODDS, ALL);
    expect(refusals.map(({ code }) => code)).toEqual(['AGE_UNCERTAIN']);
    // Tenth centile of women: 16 at 70 and 14 at 75 (Dodds 2014), so 15.6 at 71 and 15.2 at 72.
    expect(refusals[0]?.columns.map(({ limit }) => limit.value)).toEqual(['15.6', '15.2']);
  });

  it('that are the same age are one age', () => {
    const { verdicts, refusals } = of({ ...WOMAN, ageYears: 74, ageAtMost: 74 }, T1985);
    expect(refusals).toEqual([]);
    expect(verdicts).toHaveLength(2);
  });
});

describe('two possible ages of a person whose sex is not usable', () => {
  it('give SEX_NOT_USABLE with a column for each possible row', () => {
    const { refusals } = of({ sex: null, ageYears: 74, ageAtMost: 75 }, T1985);
    expect(refusals.map(({ code, facts }) => [code, facts])).toEqual(
      Array(2).fill(['SEX_NOT_USABLE', { ages: '74 or 75' }]),
    );
    for (const { columns } of refusals)
      expect(columns.map(({ sex, row }) => [sex, row.ageMin])).toEqual([
        ['female', 70],
        ['female', 75],
        ['male', 70],
        ['male', 75],
      ]);
  });

  it('give a column for each sex where the ages share a row, and none of the facts is about the age', () => {
    const oneRow = of({ sex: null, ageYears: 72, ageAtMost: 73 }, T1985).refusals;
    expect(oneRow.map(({ columns }) => columns.map(({ sex }) => sex))).toEqual(
      Array(2).fill(['female', 'male']),
    );
    expect(of({ sex: null, ageYears: 72 }, T1985).refusals[0]?.facts).toEqual({});
  });
});

describe('where no possible row has a known figure', () => {
  // Dodds 2014: ages 5 and 10 are printed in the paper and not known here, for either sex.
  const child = { sex: null, ageYears: 7 } as const;
  // Without its guard of the unit, which would stop a child with these forces.
  const panel = { ...panelNamed('older-adult-europe'), unitGuards: undefined };

  it('a child whose sex is known is told that the figure is not known', () => {
    const { refusals } = of({ ...child, sex: 'female' }, DODDS, panel);
    expect(refusals.map(({ code }) => code)).toEqual(['FIGURE_UNKNOWN']);
  });

  it('the sex not usable: the figure is not known either way, and the age is not at fault', () => {
    expect(of(child, DODDS, panel).refusals.map(({ code }) => code)).toEqual(['FIGURE_UNKNOWN']);
  });

  it('the age uncertain: the figure is not known either way, and the age is not at fault', () => {
    const uncertain = { sex: 'female', ageYears: 7, ageAtMost: 8 } as const;
    expect(of(uncertain, DODDS, panel).refusals.map(({ code }) => code)).toEqual(['FIGURE_UNKNOWN']);
  });
});

describe('every set of the panel of all published sets', () => {
  it('says nothing about an age outside it where one of two possible ages is covered', () => {
    const answer = read(ALL, { sex: 'male', ageYears: 49, ageAtMost: 50 }, trials);
    expect(refusalsOf(answer, 'awgs-2025').map(({ code }) => code)).toEqual(['AGE_UNCERTAIN']);
    expect(codesOf(answer)).toContain('HANDEDNESS_UNKNOWN');
  });
});
