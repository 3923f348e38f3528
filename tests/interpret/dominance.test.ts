/** Sets with a column for the dominant hand: which hand it is must be known, and is never guessed. */
import { describe, expect, it } from 'vitest';
import type { Dominance, Subject } from '../../src/interpret/measurement.ts';
import { ALL, measure, panelNamed, read, refusalsOf, trialsOf, verdictsOf } from './build.ts';

const SURVEY_DOMINANT = 'nhanes-2011-2014-dominant-mean-of-3';
const FRIED = 'fried-2001';
const right = trialsOf('right', ['30', '30', '30']);
const left = trialsOf('left', ['20', '20', '20']);
const MAN: Subject = {
  sex: 'male',
  ageYears: 72,
  measures: [measure('bmi', '23.5')],
};

const of = (set: string, dominant: Dominance | undefined, trials = [...right, ...left]) => {
  const answer = read(ALL, { ...MAN, dominant }, trials);
  return { verdicts: verdictsOf(answer, set), refusals: refusalsOf(answer, set) };
};

describe('a table by dominance', () => {
  it.each([undefined, 'both'] as const)(
    'is read for nobody where the dominant hand is %s, and says so once',
    (dominant) => {
      const { verdicts, refusals } = of(SURVEY_DOMINANT, dominant);
      expect(verdicts).toEqual([]);
      expect(refusals.map(({ code, hand, facts }) => [code, hand, facts])).toEqual([
        ['HANDEDNESS_UNKNOWN', null, { dominant: dominant ?? '' }],
      ]);
    },
  );

  // Men of 70 to 74 (2011-2014 survey): dominant 36.62 (7.42) kg, the other hand 35.29 (6.79) kg.
  it.each([
    ['right', 'dominant', '36.62', 'nondominant', '35.29'],
    ['left', 'nondominant', '35.29', 'dominant', '36.62'],
  ] as const)(
    'gives each hand its own column (dominant: %s)',
    (dominant, ofRight, meanRight, ofLeft, meanLeft) => {
      const { verdicts, refusals } = of(SURVEY_DOMINANT, dominant);
      expect(refusals).toEqual([]);
      expect(verdicts.map(({ hand, row }) => [hand, row.hand, row.mean])).toEqual([
        ['right', ofRight, meanRight],
        ['left', ofLeft, meanLeft],
      ]);
    },
  );

  it('answers for the tested hand alone', () => {
    expect(of(SURVEY_DOMINANT, 'left', right).verdicts.map(({ row }) => row.hand)).toEqual(['nondominant']);
    expect(of(SURVEY_DOMINANT, 'right', right).verdicts.map(({ row }) => row.hand)).toEqual(['dominant']);
  });

  it('asks for the age before it asks for the hand', () => {
    const answer = read(ALL, { sex: 'male', ageYears: 4 }, right);
    expect(refusalsOf(answer, SURVEY_DOMINANT).map(({ code }) => code)).toEqual(['AGE_OUTSIDE_SET']);
  });

  it('shows the columns of both sexes, each of the right hand', () => {
    const answer = read(ALL, { ...MAN, sex: null, dominant: 'left' }, left);
    const [refusal] = refusalsOf(answer, SURVEY_DOMINANT);
    expect(refusal?.columns.map(({ sex, hand, row }) => [sex, hand, row.hand])).toEqual([
      ['female', 'left', 'dominant'],
      ['male', 'left', 'dominant'],
    ]);
  });
});

describe('cut-points for the dominant hand alone', () => {
  it('judge that hand and say nothing of the other', () => {
    for (const [dominant, outcome] of [
      ['right', 'not-reduced'],
      ['left', 'reduced'],
    ] as const) {
      const { verdicts, refusals } = of(FRIED, dominant);
      expect(refusals).toEqual([]);
      expect(verdicts.map(({ hand, outcome: found }) => [hand, found])).toEqual([[dominant, outcome]]);
    }
  });

  it('say that it was not measured where only the other hand has a trial', () => {
    const { verdicts, refusals } = of(FRIED, 'left', right);
    expect(verdicts).toEqual([]);
    expect(refusals.map(({ code, hand, facts }) => [code, hand, facts])).toEqual([
      ['HAND_NOT_MEASURED', null, { needs: 'the dominant hand' }],
    ]);
  });

  it('need to know which hand it is, though only one was tested', () => {
    for (const dominant of [undefined, 'both'] as const)
      expect(of(FRIED, dominant, right).refusals.map(({ code }) => code)).toEqual(['HANDEDNESS_UNKNOWN']);
  });
});

describe('a set of right and left hands', () => {
  it('is read alike whatever hand is dominant, and its rows name none', () => {
    const panel = panelNamed('adult-inpatient-us');
    const verdicts = (dominant: Dominance | undefined) =>
      read(panel, { ...MAN, dominant }, [...right, ...left]).results;
    const unknown = verdicts(undefined);
    for (const dominant of ['right', 'left', 'both'] as const) expect(verdicts(dominant)).toEqual(unknown);
    expect(unknown.every((result) => result.kind === 'verdict' && result.row.hand === undefined)).toBe(true);
  });
});
