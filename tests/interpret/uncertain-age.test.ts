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

  it('show the one row that there is where the other age is not covered, and name that age', () => {
    const { refusals } = of({ ...WOMAN, ageYears: 64, ageAtMost: 65 }, 'ewgsop2-2019');
    expect(refusals.map(({ code, columns, facts }) => [code, columns.length, facts])).toEqual([
      ['AGE_UNCERTAIN', 1, { ages: '64 or 65', notCovered: '64' }],
    ]);
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

describe('possibilities that no column stands for', () => {
  const facts = (person: Subject, set: string, panel = ALL) =>
    of(person, set, panel).refusals.map(({ code, columns, facts: own }) => [
      code,
      columns.map(({ sex, row }) => `${sex} ${row.ageMin}`),
      own,
    ]);

  it('are ages that the set does not cover, whether the sex is known or not', () => {
    expect(facts({ sex: 'male', ageYears: 64, ageAtMost: 65 }, 'ewgsop2-2019')).toEqual([
      ['AGE_UNCERTAIN', ['male 65'], { ages: '64 or 65', notCovered: '64' }],
    ]);
    expect(facts({ sex: null, ageYears: 64, ageAtMost: 65 }, 'ewgsop2-2019')).toEqual([
      ['SEX_NOT_USABLE', ['female 65', 'male 65'], { ages: '64 or 65', notCovered: '64' }],
    ]);
  });

  it('are not ages that it covers', () => {
    expect(facts({ sex: 'male', ageYears: 64, ageAtMost: 65 }, 'awgs-2025')).toEqual([
      ['AGE_UNCERTAIN', ['male 50', 'male 65'], { ages: '64 or 65' }],
    ]);
  });

  it('are a highest age too', () => {
    const set = ALL.sets.find(({ ref }) => ref.id === 'awgs-2025');
    if (!set) throw new Error('no AWGS 2025');
    const closed = { ...ALL, sets: [{ ...set, rows: set.rows.filter(({ ageMax }) => ageMax !== null) }] };
    expect(facts({ sex: 'male', ageYears: 64, ageAtMost: 65 }, 'awgs-2025', closed)).toEqual([
      ['AGE_UNCERTAIN', ['male 50'], { ages: '64 or 65', notCovered: '65' }],
    ]);
  });

  it('are men or women whose figure is not known at a covered age, or who have no row', () => {
    const set = ALL.sets.find(({ ref }) => ref.id === 'awgs-2025');
    if (!set) throw new Error('no AWGS 2025');
    const person = { sex: null, ageYears: 72 } as const;
    const without = (sex: 'male' | 'female', isRow: boolean) => ({
      ...ALL,
      sets: [
        {
          ...set,
          rows: set.rows.flatMap((row) => (row.sex !== sex ? [row] : isRow ? [{ ...row, limit: null }] : [])),
        },
      ],
    });
    for (const isRow of [true, false]) {
      expect(facts(person, 'awgs-2025', without('male', isRow))).toEqual([
        ['SEX_NOT_USABLE', ['female 65'], { unknown: 'men' }],
      ]);
      expect(facts(person, 'awgs-2025', without('female', isRow))).toEqual([
        ['SEX_NOT_USABLE', ['male 65'], { unknown: 'women' }],
      ]);
      // An age outside the set is not counted against the sex.
      expect(facts({ ...person, ageYears: 49, ageAtMost: 50 }, 'awgs-2025', without('male', isRow))).toEqual([
        ['SEX_NOT_USABLE', ['female 50'], { ages: '49 or 50', notCovered: '49', unknown: 'men' }],
      ]);
    }
    expect(facts(person, 'awgs-2025')).toEqual([['SEX_NOT_USABLE', ['female 65', 'male 65'], {}]]);
  });

  it('are said of the one sex that is known, where its figure is known at one of two ages only', () => {
    const set = ALL.sets.find(({ ref }) => ref.id === 'awgs-2025');
    if (!set) throw new Error('no AWGS 2025');
    const rows = set.rows.map((row) => (row.ageMin === 50 ? { ...row, limit: null } : row));
    const panel = { ...ALL, sets: [{ ...set, rows }] };
    const ages = { ageYears: 64, ageAtMost: 65 };
    expect(facts({ sex: 'female', ...ages }, 'awgs-2025', panel)).toEqual([
      ['AGE_UNCERTAIN', ['female 65'], { ages: '64 or 65', unknown: 'women' }],
    ]);
    expect(facts({ sex: null, ...ages }, 'awgs-2025', panel)).toEqual([
      ['SEX_NOT_USABLE', ['female 65', 'male 65'], { ages: '64 or 65', unknown: 'women and men' }],
    ]);
  });
});

describe('a table named for a person of two possible ages', () => {
  const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';
  const next = (ageYears: number, ageAtMost: number, panel = US) => {
    // Weak enough that no norm of a child stops the session.
    const answer = read(panel, { sex: 'male', ageYears, ageAtMost }, threeEach('6'));
    return refusalsOf(answer, T1985).map(({ code, facts }) => [code, facts.next]);
  };
  const named = (id: string | undefined) => [['AGE_OUTSIDE_SET', id]];

  it('covers both: the survey is read from 6', () => {
    expect(next(6, 7)).toEqual(named(SURVEY));
    expect(next(18, 19)).toEqual(named(SURVEY));
    expect(next(5, 6)).toEqual(named(undefined));
    expect(next(4, 5)).toEqual(named(undefined));
  });

  it('is the first that does: one that covers a single age is passed over', () => {
    const early = US.sets.flatMap((set) =>
      set.ref.id === SURVEY
        ? [
            {
              ...set,
              ref: { ...set.ref, id: 'to-twelve' },
              rows: set.rows.filter(({ ageMax }) => ageMax !== null && ageMax <= 12),
            },
          ]
        : [],
    );
    const panel = { ...US, sets: [...early, ...US.sets] };
    const top = Math.max(...(early[0]?.rows.map(({ ageMax }) => ageMax ?? 0) ?? []));
    expect(next(top - 1, top, panel)).toEqual(named('to-twelve'));
    expect(next(top, top + 1, panel)).toEqual(named(SURVEY));
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
