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

  it('a table is refused once, with the ages it covers and the next table that covers the person', () => {
    expect(refused(US, 15, T1985)).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '15', covers: '20 and over', next: SURVEY, nextVersion: '1.1.0' }],
    ]);
    expect(refused(ALL, 15, T1985)).toEqual(refused(US, 15, T1985));
  });

  it('cut-points name no next set, though other cut-points and tables cover the person', () => {
    const covered = read(ALL, { sex: 'female', ageYears: 55 }, threeEach('12'));
    for (const set of ['awgs-2025', T1985, SURVEY]) expect(verdictsOf(covered, set)).not.toEqual([]);
    for (const set of ['ewgsop2-2019', 'sdoc-2020', 'fnih-2014'])
      expect(refused(ALL, 55, set)).toEqual([['AGE_OUTSIDE_SET', { ageYears: '55', covers: '65 and over' }]]);
    expect(refused(US, 45, 'fnih-2014')).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '45', covers: '65 and over' }],
    ]);
  });

  it('a table names no cut-points: only another table comes next, whatever else covers the person', () => {
    const sets = ALL.sets.filter(({ ref }) => ref.id === T1985 || ref.kind === 'cut-points');
    const anyAge = sets.map((set) =>
      set.ref.kind === 'cut-points'
        ? { ...set, rows: set.rows.map((row) => ({ ...row, ageMin: 0, ageMax: null })) }
        : set,
    );
    const panel = { ...ALL, sets: anyAge };
    expect(
      verdictsOf(read(panel, { sex: 'female', ageYears: 15 }, threeEach('12')), 'fnih-2014'),
    ).toHaveLength(1);
    expect(refused(panel, 15, T1985)).toEqual([
      ['AGE_OUTSIDE_SET', { ageYears: '15', covers: '20 and over' }],
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
