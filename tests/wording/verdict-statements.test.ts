/** One set in sentences: rows by hand, height and BMI, centiles, companions, course, protocol. */
import { describe, expect, it } from 'vitest';
import type { Course, Verdict } from '../../src/interpret/finding.ts';
import { divisorText, rowText, standingText } from '../../src/wording/statements.ts';
import {
  companionSentences,
  courseSentences,
  mismatchSentence,
  supersededText,
  verdictSentence,
} from '../../src/wording/verdict-statements.ts';
import { describedPanel, refOf, VERDICT } from '../verdict-for-tests.ts';

const all = describedPanel('all-published');
const measure = { kind: 'bmi', value: '25.3', measuredOn: '2026-11-10', reference: 'Observation/b' } as const;
const verdict = (parts: Partial<Verdict>): Verdict => ({ ...VERDICT, ...parts });
const row = (parts: Partial<Verdict['row']>) => verdict({ row: { ...VERDICT.row, ...parts } });

describe('the row of a verdict', () => {
  it('names the hand where the row is for the dominant or the other one', () => {
    expect(rowText(row({ hand: 'dominant' }))).toBe('men 70 to 74, dominant hand');
    expect(rowText(row({ hand: 'nondominant' }))).toBe('men 70 to 74, other hand');
  });

  it.each([
    [{ by: 'bmi', min: '24.1', max: '26.0' } as const, 'men 70 to 74, BMI 24.1 to 26.0'],
    [{ by: 'bmi', min: null, max: '24.0' } as const, 'men 70 to 74, BMI up to 24.0'],
    [{ by: 'height', min: '185', max: null } as const, 'men 70 to 74, height 185 cm and over'],
  ])('names the stratum %j', (stratum, text) => {
    expect(rowText(row({ stratum: { ...stratum, measure } }))).toBe(text);
  });

  it('says between which exact ages it lies', () => {
    expect(rowText(row({ ageMin: 72, ageMax: 72, betweenAges: [70, 75] }))).toBe(
      'men 72, between the figures for 70 and 75',
    );
  });
});

describe('the standing of a verdict', () => {
  const none = { zScore: null, percentile: null };

  it.each([
    [{ atLeast: 10, below: 25 }, 'between the 10th and 25th centile'],
    [{ atLeast: null, below: 5 }, 'below the 5th centile'],
    [{ atLeast: 95, below: null }, 'at or above the 95th centile'],
  ])('of %j is "%s"', (centile, text) => {
    expect(standingText(verdict({ ...none, centile }))).toBe(text);
  });

  it("quotes the source's own name of a range", () => {
    const centile = { atLeast: 20, below: 30 };
    expect(standingText(verdict({ ...none, centile, band: 'somewhat low' }))).toBe(
      'between the 20th and 30th centile, "somewhat low" by the source',
    );
  });
});

describe('a figure that the source calls intermediate', () => {
  it('is called so, in the words of the source', () => {
    const between = verdict({ zScore: null, percentile: null, band: 'intermediate' });
    expect(standingText(between)).toBe('"intermediate" by the source');
  });
});

describe('a force over a measure', () => {
  const over = verdict({
    ...{ compared: { value: '0.998', unit: 'kg/(kg/m2)' }, outcome: 'reduced', set: refOf('fnih-2014-bmi') },
    ...{ limit: { value: '1', unit: 'kg/(kg/m2)', operator: '<' }, hand: null, zScore: null },
    summary: 'highest-of-either-hand',
    divisor: { of: 'bmi', value: '25.26', unit: 'kg/m2', measures: [measure] },
  });

  it('names what it was divided by, and from which record of which day', () => {
    expect(divisorText(over)).toBe('over body mass index 25.26 kg/m2 (bmi 25.3, 10 Nov 2026)');
    expect(divisorText(VERDICT)).toBe('');
  });

  it('never shows a ratio that contradicts what is said of it', () => {
    // 0.998 with two decimals would be 1.00, which is not below 1
    expect(verdictSentence(over, all)).toContain('0.998 kg/(kg/m2); reduced is below 1 kg/(kg/m2): reduced.');
  });
});

describe('what a set asks for besides grip', () => {
  const about = all.describe(refOf('sdoc-2020'));
  const gait = { ...measure, kind: 'gait-speed', name: 'gait speed' } as const;

  it('is answered from the record, with its day, on either side of the limit', () => {
    const slow = verdict({ companions: [{ ...gait, value: '0.72', met: true }] });
    expect(companionSentences(slow, about)).toEqual([
      'Gait speed 0.72 m/s on 10 Nov 2026: below 0.8 m/s (required beside weak grip).',
    ]);
    const quick = verdict({ companions: [{ ...gait, value: '0.8', met: false }] });
    expect(companionSentences(quick, about)).toEqual([
      'Gait speed 0.8 m/s on 10 Nov 2026: not below 0.8 m/s (required beside weak grip).',
    ]);
  });

  it('is named as missing where the record could hold it, and as not evaluated where it could not', () => {
    expect(companionSentences(VERDICT, about)).toEqual([
      'Not in the record near the test: gait speed, below 0.8 m/s (required beside weak grip).',
    ]);
    expect(companionSentences(VERDICT, all.describe(refOf('ewgsop2-2019')))).toEqual([
      'Not in the record near the test: gait speed, at or below 0.8 m/s (grades severity); five chair rises, more than 15 s (alternative test of low strength).',
      'Not evaluated here: muscle quantity or quality, low (confirms).',
    ]);
  });
});

describe('how long a person has been reduced', () => {
  const course = (parts: Partial<Course>) =>
    courseSentences(
      verdict({
        course: {
          ...{ reducedSince: '2026-03-03', lastNotReduced: null, kind: 'chronic', chronicFromMonths: 6 },
          ...parts,
        },
      }),
    );

  it('is said in the words of the set, and always with "if confirmed"', () => {
    expect(course({})).toEqual([
      'Reduced by it at each session read since 3 Mar 2026, 6 months or more: chronic in its words (the months are from memory, unverified), if confirmed.',
    ]);
    expect(course({ kind: 'acute', lastNotReduced: '2026-09-01' })).toEqual([
      'Not reduced by it on 1 Sep 2026, less than 6 months ago: acute in its words (the months are from memory, unverified), if confirmed.',
    ]);
    expect(course({ kind: 'undetermined' })).toEqual([
      'Whether it has been reduced for 6 months, acute or chronic in its words (the months are from memory, unverified), is not shown by the sessions sent.',
    ]);
    expect(courseSentences(VERDICT)).toEqual([]);
  });
});

describe('a departure from how a set was built', () => {
  it('carries its published size and source, and says that nothing is corrected', () => {
    const sentence = mismatchSentence({ part: 'posture', charted: 'standing', built: 'seated' }, all);
    expect(sentence).toMatch(/^posture standing where the set had seated: standing gave 1\.2 kg more/);
    expect(sentence).toMatch(/Nothing is corrected for it\.$/);
    const reverse = mismatchSentence({ part: 'posture', charted: 'seated', built: 'standing' }, all);
    expect(reverse).toContain('standing gave 1.2 kg more');
  });

  it('says so where no size is known', () => {
    expect(mismatchSentence({ part: 'handle', charted: '5', built: '2' }, all)).toBe(
      'handle position 5 where the set had 2: no published size is known here. Nothing is corrected for it.',
    );
  });
});

describe('a superseded set', () => {
  it('says what superseded it', () => {
    const about = { ...all.describe(refOf('ewgsop2-2019')), superseded: true };
    expect(supersededText({ ...about, supersededBy: 'EWGSOP2 2019' })).toBe(' (superseded by EWGSOP2 2019)');
    expect(supersededText({ ...about, supersededBy: null })).toBe(' (superseded)');
    expect(supersededText({ ...about, superseded: false })).toBe('');
  });
});
