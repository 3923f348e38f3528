/** The part of judge.ts that refuses: sex not usable, age outside a set. */
import { describe, expect, it } from 'vitest';
import { HANDS, type Sex } from '../../src/interpret/measurement.ts';
import { ALL, codesOf, read, refusalsOf, threeEach, US, verdictsOf } from './build.ts';

const T1985 = 'mathiowetz-1985-us-adults';
const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';

describe('when the sex is not usable', () => {
  it('each set refuses and shows both columns, each as it would answer for that sex', () => {
    const trials = threeEach('20');
    const answer = read(US, { sex: null, ageYears: 72 }, trials);
    expect(codesOf(answer)).toEqual(Array(7).fill('SEX_NOT_USABLE'));
    for (const set of US.sets) {
      const refusals = refusalsOf(answer, set.ref.id);
      expect(refusals.map(({ hand }) => hand)).toEqual(set.ref.kind === 'table' ? [...HANDS] : [null]);
      for (const { hand, columns } of refusals) {
        const one = (sex: Sex) =>
          verdictsOf(read(US, { sex, ageYears: 72 }, trials), set.ref.id).find((own) => own.hand === hand);
        expect(columns).toEqual([one('female'), one('male')]);
      }
    }
  });

  it('nothing is defaulted: the answer names no sex', () => {
    expect(read(US, { sex: null, ageYears: 72 }, threeEach('20')).sex).toBeNull();
  });
});

describe('when the age is outside a set', () => {
  const refused = (panel: typeof US, ageYears: number, set: string) =>
    refusalsOf(read(panel, { sex: 'female', ageYears }, threeEach('12')), set).map(({ code, facts }) => [
      code,
      facts,
    ]);

  it('the set is refused once, with the ages it covers and the next set of its kind that covers the person', () => {
    expect(refused(US, 15, T1985)).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '15', covers: '20 and over', next: SURVEY, nextVersion: '1.0.0' }],
    ]);
    expect(refused(ALL, 55, 'ewgsop2-2019')).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '55', covers: '65 and over', next: 'awgs-2025', nextVersion: '1.0.0' }],
    ]);
  });

  it('the next set is of another kind when none of its kind covers the person', () => {
    expect(refused(US, 45, 'fnih-2014')).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '45', covers: '65 and over', next: T1985, nextVersion: '1.0.0' }],
    ]);
  });

  it('no next set is named when none covers the person', () => {
    expect(refused(US, 5, SURVEY)).toEqual([['AGE_OUTSIDE_SET', { ageYears: '5', covers: '6 and over' }]]);
    expect(verdictsOf(read(US, { sex: 'female', ageYears: 5 }, threeEach('12')), SURVEY)).toEqual([]);
  });

  it('a set with a highest age says so', () => {
    const set = ALL.sets.find(({ ref }) => ref.id === 'awgs-2025');
    if (!set) throw new Error('no AWGS 2025');
    const closed = { ...ALL, sets: [{ ...set, rows: set.rows.filter(({ ageMax }) => ageMax !== null) }] };
    expect(refused(closed, 70, 'awgs-2025')).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '70', covers: '50 to 64' }],
    ]);
  });

  it('the last band stays open and the first band includes its first year', () => {
    const covered = (ageYears: number) =>
      verdictsOf(read(US, { sex: 'male', ageYears }, threeEach('20')), T1985).map(({ row }) => row.ageMin);
    expect(covered(20)).toEqual([20, 20]);
    expect(covered(74)).toEqual([70, 70]);
    expect(covered(75)).toEqual([75, 75]);
    expect(covered(110)).toEqual([75, 75]);
  });
});
