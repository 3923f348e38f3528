/** Figures of both hands together, and hands that norms do not fit. */
import { describe, expect, it } from 'vitest';
import type { Interpretation, Verdict } from '../../src/interpret/finding.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import type { Subject, Trial } from '../../src/interpret/measurement.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import {
  ALL,
  isVerdict,
  measure,
  panelNamed,
  read,
  refusalsOf,
  sessionOf,
  trialsOf,
  US,
  verdictsOf,
} from './build.ts';

const BOTH = 'nhanes-2011-2014-mean-of-both-hands';
const T1985 = 'mathiowetz-1985-us-adults';
const MAN: Subject = { sex: 'male', ageYears: 72 };
const right = trialsOf('right', ['30', '31', '33']);
const left = trialsOf('left', ['20', '26', '25']);
const summaryOf = (answer: Interpretation, kind: string) =>
  answer.summaries.find((summary) => summary.kind === kind && summary.hand === null);

describe('the mean of both hands', () => {
  it('is the mean of the highest of each: 33 and 26 kg make 29.5 kg', () => {
    const answer = read(ALL, MAN, [...right, ...left]);
    expect(summaryOf(answer, 'mean-of-both-hands')).toMatchObject({
      charted: { value: '29.500', unit: 'kg' },
      provisional: [],
    });
    // Men of 70 to 74 (2011-2014 survey): 37.56 less 2 SD of 6.85 is 23.86 kg.
    expect(verdictsOf(answer, BOTH)).toMatchObject([
      { hand: null, compared: { value: '29.500' }, limit: { value: '23.86' }, outcome: 'not-reduced' },
    ]);
  });

  it('needs both hands: nothing stands for the one that was not tested', () => {
    for (const one of [right, left]) {
      const answer = read(ALL, MAN, one);
      expect(summaryOf(answer, 'mean-of-both-hands')).toBeUndefined();
      expect(verdictsOf(answer, BOTH)).toEqual([]);
      expect(refusalsOf(answer, BOTH).map(({ code, hand, facts }) => [code, hand, facts])).toEqual([
        ['HAND_NOT_MEASURED', null, { needs: 'both hands' }],
      ]);
    }
  });

  it('is provisional with either hand', () => {
    const answer = read(ALL, MAN, [...right, ...left.slice(1)]);
    expect(summaryOf(answer, 'mean-of-both-hands')?.provisional).toEqual(['TRIALS_FEWER']);
    expect(verdictsOf(answer, BOTH).map(({ provisional }) => provisional)).toEqual([['TRIALS_FEWER']]);
  });

  it('is worked out only where a set of the panel asks for it', () => {
    expect(read(US, MAN, [...right, ...left]).summaries).toHaveLength(5);
    expect(read(ALL, MAN, [...right, ...left]).summaries).toHaveLength(6);
    expect(summarise([...right, ...left], US.rules)).toHaveLength(5);
  });

  it('of two hands a third of a kilogram apart is exact', () => {
    const thirds = [...trialsOf('right', ['30.1']), ...trialsOf('left', ['30.2'])];
    expect(summaryOf(read(ALL, MAN, thirds), 'mean-of-both-hands')?.charted.value).toBe('30.150');
  });
});

const own = (trials: readonly Trial[]) => trials.map((each) => ({ ...each, ownBaseline: true as const }));

describe('a hand that is its own norm', () => {
  const answer = read(US, MAN, [...own(right), ...left]);

  it('is judged by no set, and each set of one hand says so', () => {
    for (const set of US.sets.filter(({ summary }) => summary === 'mean-per-hand')) {
      expect(refusalsOf(answer, set.ref.id).map(({ code, hand }) => [code, hand])).toEqual([
        ['OWN_BASELINE', 'right'],
      ]);
      expect(verdictsOf(answer, set.ref.id).map(({ hand }) => hand)).toEqual(['left']);
    }
  });

  it('is left out of the figures of the person, which then rest on the other hand alone', () => {
    expect(summaryOf(answer, 'highest-of-either-hand')).toMatchObject({
      charted: { value: '26.000' },
      trials: left.map(({ reference }) => reference),
      provisional: ['ONE_HAND_ONLY'],
    });
    const person = answer.results.filter(isVerdict).filter(({ hand }) => hand === null);
    expect(person.map(({ set, compared, provisional }) => [set.id, compared.value, provisional])).toEqual([
      ['ewgsop2-2019', '26.000', ['ONE_HAND_ONLY']],
      ['sdoc-2020', '26.000', ['ONE_HAND_ONLY']],
      ['fnih-2014', '26.000', ['ONE_HAND_ONLY']],
    ]);
  });

  it('is still summarised, as charted', () => {
    const means = answer.summaries.filter(({ kind }) => kind === 'mean-per-hand');
    expect(means.map(({ hand, charted }) => [hand, charted.value])).toEqual([
      ['right', '31.333'],
      ['left', '23.667'],
    ]);
  });

  it('is so by one trial that is charted so', () => {
    const [first, ...others] = right;
    const one = read(US, MAN, [...own(first ? [first] : []), ...others, ...left]);
    expect(one.results.map((result) => (isVerdict(result) ? result.outcome : result.code))).toEqual(
      answer.results.map((result) => (isVerdict(result) ? result.outcome : result.code)),
    );
  });

  it('leaves a figure of both hands without one, and that is the reason given', () => {
    for (const trials of [[...own(right), ...left], [...right, ...own(left)], own([...right, ...left])]) {
      const all = read(ALL, MAN, trials);
      expect(verdictsOf(all, BOTH)).toEqual([]);
      expect(refusalsOf(all, BOTH).map(({ code, hand, facts }) => [code, hand, facts])).toEqual([
        ['OWN_BASELINE', null, {}],
      ]);
    }
  });

  it('leaves nothing to judge the person by where both hands are, or it alone was tested', () => {
    for (const trials of [own([...right, ...left]), own(right)]) {
      const none = read(US, MAN, trials);
      expect(none.results.filter(isVerdict)).toEqual([]);
      for (const set of ['ewgsop2-2019', 'sdoc-2020', 'fnih-2014'])
        expect(refusalsOf(none, set).map(({ code, hand }) => [code, hand])).toEqual([['OWN_BASELINE', null]]);
    }
    const both = read(US, MAN, own([...right, ...left]));
    expect(refusalsOf(both, T1985).map(({ hand }) => hand)).toEqual(['right', 'left']);
    expect(summaryOf(both, 'highest-of-either-hand')).toMatchObject({
      charted: { value: '33.000' },
      provisional: [],
    });
  });

  it('is told its change all the same', () => {
    const before = own(
      trialsOf('right', ['25', '25', '25'], { testedOn: '2026-01-05', effective: '2026-01-05' }),
    );
    const sessions = [sessionOf(before, 72), sessionOf([...own(right), ...left], 72)];
    const [, now] = interpret({ sex: 'male', sessions }, US);
    expect(now?.changes.map(({ hand, difference }) => [hand, difference.value])).toEqual([
      ['right', '+6.333'],
    ]);
  });

  it('has no size of change laid beside its change, as the other hand has', () => {
    const then = { testedOn: '2026-01-05', effective: '2026-01-05' };
    const before = [
      ...own(trialsOf('right', ['25', '25', '25'], then)),
      ...trialsOf('left', ['20', '20', '20'], then),
    ];
    const yardsticks = (panel: typeof US, hand: readonly Trial[] = own(right)) => {
      const sessions = [sessionOf(before, 72), sessionOf([...hand, ...left], 72)];
      const [, now] = interpret({ sex: 'male', sessions }, panel);
      return now?.changes.map((change) => [change.hand, change.yardsticks?.map(({ id }) => id)]);
    };
    expect(yardsticks(US)).toEqual([
      ['right', []],
      ['left', ['mdc95-unknown', 'smallest-important']],
    ]);
    // Nor where it was so only the time before.
    expect(yardsticks(US, right)?.[0]).toEqual(['right', []]);
    // Without the rule of change there is no such list for either.
    expect(yardsticks(panelNamed('adult-inpatient-us', '1.0.0'))).toEqual([
      ['right', undefined],
      ['left', undefined],
    ]);
  });

  it('gives no course of reduced sessions from the days when it stood for the person', () => {
    const weak = trialsOf('right', ['20', '20', '20'], { testedOn: '2025-06-01', effective: '2025-06-01' });
    const sessions = [sessionOf(own(weak), 72), sessionOf(left, 72)];
    const [, now] = interpret({ sex: 'male', sessions }, US);
    const [verdict] = now ? verdictsOf(now, 'ewgsop2-2019') : [];
    expect(verdict).toMatchObject({ outcome: 'reduced' } satisfies Partial<Verdict>);
    expect(verdict?.course).toBeUndefined();
  });
});

describe('the unit of a hand that is its own norm', () => {
  const three = (hand: 'right' | 'left', reading: string, parts: Partial<Trial> = {}) =>
    trialsOf(hand, [reading, reading, reading], { unit: 'kg', ...parts });
  const codes = (trials: readonly Trial[]) => {
    const answer = read(US, MAN, trials);
    const stops = answer.results.flatMap((result) => (isVerdict(result) ? [] : [result.code]));
    return {
      held: stops.includes('UNIT_IMPLAUSIBLE'),
      doubted: answer.cautions.filter(({ code }) => code === 'UNIT_DOUBTFUL').map(({ hand }) => hand),
    };
  };

  it('is not held by norms: 90 "kg" of a man of 72', () => {
    expect(codes(three('right', '90')).held).toBe(true);
    expect(codes(own(three('right', '90')))).toEqual({ held: false, doubted: [] });
    // By one trial that is charted so, and by one reading beyond every norm.
    const [first, ...others] = three('right', '90');
    expect(codes([...own(first ? [first] : []), ...others]).held).toBe(false);
    expect(codes(own(trialsOf('right', ['30', '30', '90'], { unit: 'kg' }))).held).toBe(false);
  });

  it('is not doubted by norms: 45 kg, 30 lb, 30 N', () => {
    for (const [reading, unit] of [
      ['45', 'kg'],
      ['30', '[lb_av]'],
      ['30', 'N'],
    ] as const) {
      expect(codes(three('right', reading, { unit })).doubted).toEqual(['right']);
      expect(codes(own(three('right', reading, { unit })))).toEqual({ held: false, doubted: [] });
    }
  });

  it('is none of the other hand’s: that is held and doubted as before', () => {
    expect(codes([...own(three('right', '30')), ...three('left', '90')]).held).toBe(true);
    expect(codes([...own(three('right', '45')), ...three('left', '45')]).doubted).toEqual(['left']);
  });

  it('is doubted by its own earlier figure, and not held by it however strong it is', () => {
    const then = { testedOn: '2026-01-05', effective: '2026-01-05' };
    const now = (before: string, after: string, mark: (trials: readonly Trial[]) => readonly Trial[]) => {
      const sessions = [
        sessionOf(mark(three('right', before, then)), 72),
        sessionOf(mark(three('right', after)), 72),
      ];
      const answer = interpret({ sex: 'male', sessions }, US).at(-1);
      const held = answer?.results.some((result) => !isVerdict(result) && result.code === 'UNIT_IMPLAUSIBLE');
      const facts = answer?.cautions.find(({ code }) => code === 'CHANGE_LIKE_UNIT')?.facts;
      return [held, facts?.previous];
    };
    expect(now('20', '44', own)).toEqual([false, '20.0']);
    expect(now('20', '44', (trials) => trials)).toEqual([true, undefined]);
    expect(now('44', '20', own)).toEqual([false, '44.0']);
    expect(now('25', '44', own)).toEqual([false, undefined]);
  });
});

describe('a set for the dominant hand alone', () => {
  const fried = (dominant: 'right' | 'left', trials: readonly Trial[]) =>
    read(
      panelNamed('older-adult-europe'),
      { ...MAN, dominant, measures: [measure('bmi', '23.5')] },
      trials,
    ).results.filter(({ set }) => set?.id === 'fried-2001');

  it('is not read for a dominant hand that is its own norm', () => {
    expect(fried('right', [...own(right), ...left])).toMatchObject([{ code: 'OWN_BASELINE', hand: 'right' }]);
  });

  it('says nothing of the other hand, though that is its own norm', () => {
    expect(fried('left', [...own(right), ...left])).toMatchObject([{ kind: 'verdict', hand: 'left' }]);
  });

  it('says that the dominant hand was not measured where only the other, its own norm, was', () => {
    expect(fried('left', own(right))).toMatchObject([{ code: 'HAND_NOT_MEASURED', hand: null }]);
  });
});

describe('figures that rest on one copy', () => {
  it('make each verdict provisional where the panel took them on purpose, after the reasons of the trials', () => {
    const answer = read(ALL, MAN, right.slice(1));
    const reasons = (id: string) => verdictsOf(answer, id).map(({ provisional }) => provisional);
    expect(reasons('massy-westropp-2011-australia')).toEqual([['TRIALS_FEWER', 'FIGURES_UNPROVEN']]);
    expect(reasons('steiber-2016-germany')).toEqual([['TRIALS_FEWER', 'ONE_HAND_ONLY', 'FIGURES_UNPROVEN']]);
    expect(reasons(T1985)).toEqual([['TRIALS_FEWER']]);
  });

  it('are so row by row: the men of Great Britain rest on two copies, the women on one', () => {
    const europe = panelNamed('older-adult-europe');
    const reasons = (sex: 'male' | 'female') =>
      verdictsOf(read(europe, { sex, ageYears: 70 }, [...right, ...left]), 'dodds-2014-great-britain').map(
        ({ provisional }) => provisional,
      );
    expect(reasons('male')).toEqual([[]]);
    expect(reasons('female')).toEqual([['FIGURES_UNPROVEN']]);
  });

  it('hold no session and doubt no unit: 90 kg beside the Australian table alone', () => {
    const sets = ALL.sets.filter(({ ref }) => ref.id === 'massy-westropp-2011-australia');
    const [set] = sets;
    const high = trialsOf('right', ['90', '90', '90'], { unit: 'kg' });
    const [verdict] = verdictsOf(read({ ...ALL, sets }, MAN, high), 'massy-westropp-2011-australia');
    expect(verdict?.zScore).toBeGreaterThan(3);
    const proven = set ? [{ ...set, rows: set.rows.map(({ unproven: _, ...row }) => row) }] : [];
    expect(read({ ...ALL, sets: proven }, MAN, high).results).toMatchObject([{ code: 'UNIT_IMPLAUSIBLE' }]);
  });

  it('make no change provisional, which rests on the trials alone', () => {
    const before = trialsOf('right', ['25', '25', '25'], { testedOn: '2026-01-05', effective: '2026-01-05' });
    const [, now] = interpret({ sex: 'male', sessions: [sessionOf(before, 72), sessionOf(right, 72)] }, ALL);
    expect(now?.changes.map(({ provisional }) => provisional)).toEqual([[]]);
  });
});
