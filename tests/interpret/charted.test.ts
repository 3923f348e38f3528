/** Means and highests that were charted themselves, with the trials and without them. */
import { describe, expect, it } from 'vitest';
import { interpret, toSessions } from '../../src/interpret/interpret.ts';
import type { ChartedSummary, Trial } from '../../src/interpret/measurement.ts';
import { groupIntoSittings } from '../../src/interpret/sessions.ts';
import {
  ALL,
  codesOf,
  isVerdict,
  refusalsOf,
  sessionOf,
  threeEach,
  trial,
  trialsOf,
  US,
  verdictsOf,
} from './build.ts';

let serial = 0;

/** A mean of the right hand: 31 kg of force, date only. */
function charted(parts: Partial<ChartedSummary> = {}): ChartedSummary {
  serial += 1;
  return {
    ...trial(),
    reference: `Observation/charted-${serial}`,
    kind: 'mean-per-hand',
    reading: '31',
    ...parts,
  };
}

const both = (reading: string, kind: ChartedSummary['kind'] = 'mean-per-hand') =>
  (['right', 'left'] as const).map((hand) => charted({ hand, reading, kind }));

function read(trials: readonly Trial[], summaries: readonly ChartedSummary[], panel = US) {
  const session = { ...sessionOf(trials, 72), charted: summaries };
  const [only] = interpret({ sex: 'male', sessions: [session] }, panel);
  if (!only) throw new Error('no interpretation');
  return only;
}

const cautionsOf = (found: ReturnType<typeof read>) =>
  found.cautions.map(({ code, hand }) => `${code} ${hand ?? '-'}`);
const figuresOf = (found: ReturnType<typeof read>) =>
  found.summaries.map(({ kind, hand, charted: { value } }) => `${kind} ${hand ?? '-'} ${value}`);

describe('a charted mean without its trials', () => {
  it('stands for the hand, provisionally, and nothing is said of the number or spread of its trials', () => {
    const found = read([], both('31.3'));
    expect(figuresOf(found)).toEqual(['mean-per-hand right 31.300', 'mean-per-hand left 31.300']);
    expect(found.summaries.map(({ provisional }) => provisional)).toEqual([
      ['SUMMARY_CHARTED'],
      ['SUMMARY_CHARTED'],
    ]);
    expect(cautionsOf(found)).toEqual(['SUMMARY_UNVERIFIED right', 'SUMMARY_UNVERIFIED left']);
    expect(
      verdictsOf(found, 'nhanes-2011-2014-right-left-mean-of-3').map(({ provisional }) => provisional),
    ).toEqual([['SUMMARY_CHARTED'], ['SUMMARY_CHARTED']]);
  });

  it('names the Observation that charted it', () => {
    const [right, left] = both('31.3');
    const found = read([], [right, left] as ChartedSummary[]);
    expect(found.trials).toEqual([right?.reference, left?.reference]);
    expect(found.summaries.map(({ trials }) => trials)).toEqual([[right?.reference], [left?.reference]]);
  });

  it('is never read as the highest: sets of it are refused, and not called not measured', () => {
    const found = read([], both('31.3'));
    expect(refusalsOf(found, 'ewgsop2-2019')).toMatchObject([
      {
        code: 'SUMMARY_NOT_CHARTED',
        hand: null,
        facts: { needs: 'the highest of either hand', charted: 'mean' },
      },
    ]);
    expect(verdictsOf(found, 'ewgsop2-2019')).toEqual([]);
  });

  it('keeps the highest of the person unknown where the other hand has trials', () => {
    const found = read(trialsOf('right', ['30', '31', '32']), [charted({ hand: 'left', reading: '29' })]);
    expect(figuresOf(found)).toEqual([
      'mean-per-hand right 31.000',
      'highest-per-hand right 32.000',
      'mean-per-hand left 29.000',
    ]);
    expect(cautionsOf(found)).toEqual(['SUMMARY_UNVERIFIED left']);
    expect(refusalsOf(found, 'ewgsop2-2019').map(({ code }) => code)).toEqual(['SUMMARY_NOT_CHARTED']);
  });

  it('is held against the physical bound, zero and the plausibility of its unit', () => {
    expect(codesOf(read([], [charted({ reading: '0' })]))).toEqual(['VALUE_NOT_POSITIVE']);
    expect(codesOf(read([], [charted({ reading: '101' })]))).toEqual(['VALUE_OVER_BOUND']);
    expect(codesOf(read([], both('84')))).toEqual(['UNIT_IMPLAUSIBLE']);
    const mixed = [charted(), charted({ hand: 'left', unit: '[lb_av]', reading: '62' })];
    expect(codesOf(read([], mixed))).toEqual(['UNITS_MIXED']);
  });

  it('is cautioned about when the unit decides the result', () => {
    const found = read([], [charted({ unit: '[lbf_av]', reading: '30' })]);
    expect(found.cautions.find(({ code }) => code === 'UNIT_DOUBTFUL')).toMatchObject({
      facts: { figure: '30.0', unit: 'lb', otherUnit: 'kg' },
    });
  });
});

describe('a charted highest without its trials', () => {
  it('is read by the sets of the highest, and refused by those of the mean', () => {
    const found = read([], both('33', 'highest-per-hand'));
    expect(figuresOf(found)).toEqual([
      'highest-per-hand right 33.000',
      'highest-per-hand left 33.000',
      'highest-of-either-hand - 33.000',
    ]);
    expect(verdictsOf(found, 'ewgsop2-2019')).toMatchObject([
      { outcome: 'not-reduced', provisional: ['SUMMARY_CHARTED'] },
    ]);
    const means = refusalsOf(found, 'nhanes-2011-2014-right-left-mean-of-3');
    expect(means.map(({ code, hand }) => `${code} ${hand}`)).toEqual([
      'SUMMARY_NOT_CHARTED right',
      'SUMMARY_NOT_CHARTED left',
    ]);
  });

  it('says in its doubt of the unit that it is a highest', () => {
    const found = read([], [charted({ kind: 'highest-per-hand', unit: '[lbf_av]', reading: '30' })]);
    expect(found.cautions.find(({ code }) => code === 'UNIT_DOUBTFUL')?.facts.of).toBe('highest');
  });

  it('beside a charted mean gives every set what it is read from', () => {
    const found = read([], [...both('31'), ...both('33', 'highest-per-hand')]);
    expect(codesOf(found)).toEqual([]);
    expect(found.results.filter(isVerdict).length).toBe(found.results.length);
  });
});

describe('charted figures beside the trials of their hand', () => {
  // 31.333... and 28.25
  const trials = [...trialsOf('right', ['31', '32', '31']), ...trialsOf('left', ['28', '28.5', '28.25'])];

  it.each(['31', '31.3', '31.33', '31.333'])(
    'are verified in silence when equal as charted (%s)',
    (reading) => {
      const found = read(trials, [charted({ reading })]);
      expect(cautionsOf(found)).toEqual([]);
      expect(found.trials).toEqual(trials.map(({ reference }) => reference));
    },
  );

  it.each(['28.2', '28.3'])('may have a half rounded either way (%s for 28.25)', (reading) => {
    expect(cautionsOf(read(trials, [charted({ hand: 'left', reading })]))).toEqual([]);
  });

  it.each(['32', '31.4', '31.334'])(
    'that differ are said, with both figures, and the trials are used (%s)',
    (reading) => {
      const found = read(trials, [charted({ reading })]);
      expect(found.cautions).toMatchObject([
        { code: 'SUMMARY_DISAGREES', hand: 'right', facts: { kind: 'mean', charted: reading, unit: 'kg' } },
      ]);
      expect(figuresOf(found)[0]).toBe('mean-per-hand right 31.333');
      expect(found.summaries.flatMap(({ provisional }) => provisional)).toEqual([]);
    },
  );

  it('are compared across units', () => {
    // 31.333... kg is 69.078 lb.
    expect(cautionsOf(read(trials, [charted({ reading: '69.1', unit: '[lbf_av]' })]))).toEqual([]);
    const [caution] = read(trials, [charted({ reading: '69.3', unit: '[lbf_av]' })]).cautions;
    expect(caution?.facts).toMatchObject({ charted: '69.3', computed: '69.1', unit: 'lb' });
  });

  it('of the highest are compared with the highest', () => {
    const at = (reading: string) => read(trials, [charted({ kind: 'highest-per-hand', reading })]);
    expect(cautionsOf(at('32'))).toEqual([]);
    expect(cautionsOf(at('31'))).toEqual(['SUMMARY_DISAGREES right']);
  });
});

describe('charted figures that contradict each other', () => {
  it('are all refused where no trial decides', () => {
    const found = read(
      [],
      [charted({ reading: '31' }), charted({ reading: '33' }), charted({ hand: 'left' })],
    );
    expect(found.results.filter((result) => !isVerdict(result) && result.trial !== null)).toMatchObject([
      { code: 'SUMMARY_CONFLICT', hand: 'right' },
      { code: 'SUMMARY_CONFLICT', hand: 'right' },
    ]);
    expect(figuresOf(found)).toEqual(['mean-per-hand left 31.000']);
  });

  it('are those where the mean is above the highest', () => {
    const found = read(
      [],
      [charted({ reading: '34' }), charted({ reading: '33', kind: 'highest-per-hand' })],
    );
    expect(codesOf(found)).toEqual(['SUMMARY_CONFLICT', 'SUMMARY_CONFLICT']);
    const equal = read(
      [],
      [charted({ reading: '33' }), charted({ reading: '33', kind: 'highest-per-hand' })],
    );
    expect(codesOf(equal)).toEqual([]);
  });

  it('are not those of which one is the other rounded: the one with more decimals counts', () => {
    const found = read([], [charted({ reading: '31.3' }), charted({ reading: '31.333' })]);
    expect(figuresOf(found)).toEqual(['mean-per-hand right 31.333']);
  });

  it('is no failure of arithmetic for the smallest and largest numbers that JSON has', () => {
    for (const reading of ['5e-324', '1e-300', '1.7976931348623157e+308'])
      expect(() => read(threeEach('30'), [charted({ reading }), charted({ reading: '31' })])).not.toThrow();
    for (const reading of ['5e-324', '1e-300'])
      expect(() => read([], [charted({ reading }), charted({ reading: '31' })])).not.toThrow();
  });
});

describe('the change since the last time', () => {
  const then = { testedOn: '2026-01-10', effective: '2026-01-10' };
  const sessions = (first: object, last: object) => [
    { ...sessionOf([], 72), testedOn: '2026-01-10', ...first },
    { ...sessionOf([], 72), ...last },
  ];
  const last = (parts: ReturnType<typeof sessions>, panel = US) =>
    interpret({ sex: 'male', sessions: parts }, panel).at(-1);

  it('is worked out from charted means, and provisional', () => {
    const found = last(
      sessions({ charted: [charted({ ...then, reading: '28' })] }, { charted: [charted()] }),
    );
    expect(found?.changes).toMatchObject([
      { hand: 'right', from: { value: '28.000' }, to: { value: '31.000' }, provisional: ['SUMMARY_CHARTED'] },
    ]);
  });

  it('puts the unit in doubt by a charted mean, as by trials', () => {
    const first = { trials: trialsOf('right', ['15', '15', '15'], then) };
    const found = last(sessions(first, { charted: [charted({ reading: '33' })] }));
    expect(found?.cautions.map(({ code }) => code)).toContain('CHANGE_LIKE_UNIT');
  });

  it('is never from a mean to a highest', () => {
    const first = { charted: [charted({ ...then, reading: '15' })] };
    const found = last(sessions(first, { charted: [charted({ kind: 'highest-per-hand', reading: '33' })] }));
    expect(found?.changes).toEqual([]);
    expect(found?.cautions.map(({ code }) => code)).not.toContain('CHANGE_LIKE_UNIT');
  });
});

describe('the session of a charted figure', () => {
  const timed = (minute: number) => {
    const effective = new Date(Date.parse('2026-03-10T14:00:00Z') + minute * 60_000).toISOString();
    return { effective, testedAtMinute: Date.parse(effective) / 60_000 };
  };
  const sittings = (trials: readonly Trial[], figures: readonly ChartedSummary[]) =>
    groupIntoSittings(trials, figures, 60).map((sitting) => [sitting.trials.length, sitting.charted.length]);

  it('is that of the trials near it, the nearest of two, and never makes one of two', () => {
    const trials = [trial(timed(0)), trial(timed(100))];
    expect(sittings(trials, [charted(timed(45))])).toEqual([
      [1, 1],
      [1, 0],
    ]);
    expect(sittings(trials, [charted(timed(55))])).toEqual([
      [1, 0],
      [1, 1],
    ]);
  });

  it('is one of its own when it is far from every trial', () => {
    expect(sittings([trial(timed(0))], [charted(timed(61))])).toEqual([
      [1, 0],
      [0, 1],
    ]);
  });

  it('is the one of its day where either has no time', () => {
    expect(sittings([trial(timed(0))], [charted()])).toEqual([[1, 1]]);
    expect(sittings([trial()], [charted(timed(0))])).toEqual([[1, 1]]);
    expect(sittings([trial(timed(0)), trial(timed(100))], [charted()])).toEqual([
      [0, 1],
      [1, 0],
      [1, 0],
    ]);
  });

  it('of current figures is never that of prior ones', () => {
    const prior = { trials: [trial()], charted: [] };
    const found = toSessions({ trials: [], charted: [charted()] }, prior, ALL, () => ({ ageYears: 72 }));
    expect(
      found.map((session) => [session.prior, session.trials.length, session.charted?.length ?? 0]),
    ).toEqual([
      [true, 1, 0],
      [false, 0, 1],
    ]);
  });
});

describe('the numbers of trials', () => {
  const fall = (parts: (index: number) => Partial<Trial>) =>
    ['20', '30', '25'].map((reading, index) => trial({ reading, ...parts(index) }));
  const codes = (trials: readonly Trial[]) =>
    read(trials, []).cautions.flatMap(({ code }) => (/FALLING|FIRST/.test(code) ? [code] : []));
  // 30, 25, 20 in the order of their numbers.
  const NUMBERS = [3, 1, 2];

  it('order trials that are charted with a date only', () => {
    expect(codes(fall(() => ({})))).toEqual([]);
    expect(codes(fall((index) => ({ number: NUMBERS[index] })))).toEqual(['TRIALS_FALLING']);
  });

  it('order trials of one minute', () => {
    const effective = '2026-03-10T14:00:00Z';
    const minute = { effective, testedAtMinute: Date.parse(effective) / 60_000 };
    expect(codes(fall(() => minute))).toEqual([]);
    expect(codes(fall((index) => ({ ...minute, number: NUMBERS[index] })))).toEqual(['TRIALS_FALLING']);
  });

  it('do not order trials that the minutes order otherwise', () => {
    const at = (index: number) => {
      const effective = `2026-03-10T14:0${index}:00Z`;
      return { effective, testedAtMinute: Date.parse(effective) / 60_000, number: NUMBERS[index] };
    };
    // 20, 30, 25: no fall, and the first is 27% below the mean of the others.
    expect(codes(fall(at))).toEqual(['FIRST_TRIAL_LOW']);
  });

  it('tell nothing when two are the same', () => {
    expect(codes(fall((index) => ({ number: [2, 1, 1][index] })))).toEqual([]);
  });
});
