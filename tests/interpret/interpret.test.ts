import { describe, expect, it } from 'vitest';
import { type AgeAtTest, interpret, toSessions } from '../../src/interpret/interpret.ts';
import type { Trial } from '../../src/interpret/measurement.ts';
import {
  ALL,
  codesOf,
  deepFreeze,
  isVerdict,
  read,
  sessionOf,
  sitting,
  threeEach,
  trial,
  trialsOf,
  US,
} from './build.ts';

const MAN_72 = { sex: 'male', ageYears: 72 } as const;

describe('one session', () => {
  it('is answered hand by hand for norms, then once for each set of cut-points, in the panel’s order', () => {
    const answer = read(US, MAN_72, threeEach('30'));
    expect(answer.results.filter(isVerdict).map(({ set, hand }) => `${set.id} ${hand}`)).toEqual([
      'mathiowetz-1985-us-adults right',
      'mathiowetz-1985-us-adults left',
      'nhanes-2011-2014-right-left-mean-of-3 right',
      'nhanes-2011-2014-right-left-mean-of-3 left',
      'ewgsop2-2019 null',
      'sdoc-2020 null',
      'fnih-2014 null',
    ]);
    expect(answer).toMatchObject({
      testedOn: '2026-03-10',
      ageYears: 72,
      sex: 'male',
      cautions: [],
      changes: [],
    });
    expect(answer.trials).toHaveLength(6);
  });

  it('answers for the tested hand alone, and says that the other was not tested', () => {
    const answer = read(US, MAN_72, trialsOf('left', ['30', '31', '32']));
    expect(answer.results.filter(isVerdict).map(({ hand }) => hand)).toEqual([
      'left',
      'left',
      null,
      null,
      null,
    ]);
    expect(answer.cautions).toEqual([{ code: 'HAND_NOT_TESTED', hand: 'right', facts: {} }]);
  });

  it('leaves a refused reading out of the summaries and answers for the rest', () => {
    const good = trialsOf('right', ['30', '31', '32']);
    const zero = trial({ hand: 'right', reading: '0' });
    const answer = read(US, MAN_72, [...good, zero]);
    expect(answer.results[0]).toMatchObject({ code: 'VALUE_NOT_POSITIVE', trial: zero.reference });
    expect(answer.summaries[0]).toMatchObject({
      charted: { value: '31.000' },
      trials: good.map(({ reference }) => reference),
      provisional: [],
    });
    expect(answer.trials).toEqual(good.map(({ reference }) => reference));
    expect(answer.results.filter(isVerdict)).toHaveLength(5);
  });

  it('says only why each reading was refused when all were', () => {
    const answer = read(US, MAN_72, trialsOf('right', ['0', '-3', '140']));
    expect(codesOf(answer)).toEqual(['VALUE_NOT_POSITIVE', 'VALUE_NOT_POSITIVE', 'VALUE_OVER_BOUND']);
    expect(answer).toMatchObject({ summaries: [], cautions: [], changes: [] });
    expect(answer.results).toHaveLength(3);
  });

  it('never lets scatter change a verdict: it is a caution beside it', () => {
    const answer = read(US, MAN_72, trialsOf('right', ['20', '30', '40']));
    expect(answer.cautions.map(({ code }) => code)).toContain('TRIALS_SCATTER');
    const even = read(US, MAN_72, trialsOf('right', ['30', '30', '30']));
    const perHand = (a: typeof answer) => a.results.filter(isVerdict).filter(({ hand }) => hand === 'right');
    expect(perHand(answer)).toEqual(perHand(even));
  });

  it('says first that the unit is in doubt, before every other caution, and judges all the same', () => {
    // Man of 72, survey, right hand: 45 kg is above 36.61 + 7.30 = 43.91, and 45 lb is below 22.01 kg.
    const trials = trialsOf('right', ['45', '45'], { unit: 'kg', preliminary: true });
    const answer = read(US, MAN_72, trials);
    expect(answer.cautions.map(({ code, hand }) => [code, hand])).toEqual([
      ['UNIT_DOUBTFUL', 'right'],
      ['TRIALS_FEWER', 'right'],
      ['HAND_NOT_TESTED', 'left'],
      ['TRIAL_PRELIMINARY', null],
      ['MASS_UNIT_READ_AS_FORCE', null],
    ]);
    expect(answer.cautions[0]?.facts).toEqual({ figure: '45.0', unit: 'kg', otherUnit: 'lb' });
    const asForce = read(US, MAN_72, trialsOf('right', ['45', '45', '45']));
    expect(answer.results.map((result) => isVerdict(result) && result.outcome)).toEqual(
      asForce.results.map((result) => isVerdict(result) && result.outcome),
    );
    expect(answer.results).toHaveLength(5);
  });

  it('leaves a refused reading out of the mean that the unit is doubted by', () => {
    const codes = (...readings: string[]) =>
      read(US, MAN_72, trialsOf('right', readings)).cautions.map(({ code }) => code);
    expect(codes('45', '45', '45', '0')).toContain('UNIT_DOUBTFUL');
    expect(codes('45', '45', '30')).not.toContain('UNIT_DOUBTFUL');
  });
});

describe('a session is stopped', () => {
  it.each(['BIRTH_DATE_MISSING', 'BIRTH_DATE_PARTIAL', 'BIRTH_AFTER_TEST', 'SUBJECT_DECEASED'] as const)(
    'without an age (%s), with its summaries and nothing else',
    (refusal) => {
      const session = sessionOf(threeEach('30', { unit: 'kg' }), 0, { age: { refusal } });
      const [answer] = interpret({ sex: 'male', sessions: [session] }, US);
      expect(answer).toMatchObject({ ageYears: null, cautions: [], changes: [] });
      expect(answer && codesOf(answer)).toEqual([refusal]);
      expect(answer?.results).toHaveLength(1);
      expect(answer?.summaries).toHaveLength(5);
    },
  );

  it('by mixed units, without summaries: one of the readings is probably misread', () => {
    const trials = [
      ...trialsOf('right', ['30', '31'], { unit: 'kg' }),
      ...trialsOf('left', ['66'], { unit: '[lb_av]' }),
    ];
    const answer = read(US, MAN_72, trials);
    expect(answer).toMatchObject({ summaries: [], cautions: [], changes: [] });
    expect(codesOf(answer)).toEqual(['UNITS_MIXED']);
    expect(answer.results).toHaveLength(1);
  });

  it('by an implausible unit, with its summaries as charted', () => {
    const answer = read(US, MAN_72, threeEach('90', { unit: 'kg' }));
    expect(codesOf(answer)).toEqual(['UNIT_IMPLAUSIBLE']);
    expect(answer.results).toHaveLength(1);
    expect(answer.summaries[0]).toMatchObject({ charted: { value: '90.000', unit: 'kg' } });
    expect(answer.cautions).toEqual([]);
  });

  it('beside the reasons why single readings were refused', () => {
    const answer = read(US, MAN_72, [
      ...threeEach('90', { unit: 'kg' }),
      trial({ reading: '0', unit: 'kg' }),
    ]);
    expect(codesOf(answer)).toEqual(['VALUE_NOT_POSITIVE', 'UNIT_IMPLAUSIBLE']);
  });
});

describe('earlier sessions', () => {
  const at = (testedOn: string) => `${testedOn}T09:30:00-05:00`;
  const on = (testedOn: string, reading: string, parts: Partial<Trial> = {}) =>
    threeEach(reading, { testedOn, effective: at(testedOn), ...parts });
  const run = (...sessions: Parameters<typeof interpret>[0]['sessions']) =>
    interpret({ sex: 'male', sessions }, US);

  it('are not interpreted when they are prior, and serve for the change', () => {
    const answers = run(
      sessionOf(on('2026-01-05', '27'), 72, { prior: true }),
      sessionOf(on('2026-03-10', '30'), 72),
    );
    expect(answers.map(({ testedOn }) => testedOn)).toEqual(['2026-03-10']);
    expect(answers[0]?.changes).toMatchObject([
      { hand: 'right', since: at('2026-01-05'), difference: { value: '+3.000', unit: 'kg' } },
      { hand: 'left', since: at('2026-01-05') },
    ]);
  });

  it('are named by the moment of their first trial, as charted: two of one day stay two', () => {
    const moment = (time: string, minute: number) =>
      [0, 5].map((more) => ({
        effective: `2026-03-10T${time}:0${more}Z`,
        testedAtMinute: minute + more,
      }));
    const sitting = (reading: string, [first, second]: Partial<Trial>[]) => [
      trial({ reading, ...first }),
      trial({ reading, ...second }),
    ];
    const answers = run(
      sessionOf(sitting('27', moment('08:00', 29_553_120)), 72, { prior: true }),
      sessionOf(sitting('28', moment('11:00', 29_553_300)), 72),
      sessionOf(sitting('30', moment('14:00', 29_553_480)), 72),
    );
    expect(answers.map(({ changes }) => changes.map(({ since }) => since))).toEqual([
      ['2026-03-10T08:00:00Z'],
      ['2026-03-10T11:00:00Z'],
    ]);
    const [onlyADate] = run(sessionOf(threeEach('27'), 72, { prior: true }), sessionOf(threeEach('30'), 72));
    expect(onlyADate?.changes.map(({ since }) => since)).toEqual(['2026-03-10', '2026-03-10']);
  });

  it('are each interpreted when they are not prior, each compared with the one before it', () => {
    const answers = run(
      sessionOf(on('2026-01-05', '27'), 72),
      sessionOf(on('2026-02-05', '28'), 72),
      sessionOf(on('2026-03-10', '30'), 72),
    );
    expect(answers.map(({ changes }) => changes[0]?.since)).toEqual([
      undefined,
      at('2026-01-05'),
      at('2026-02-05'),
    ]);
  });

  it.each<[string, Partial<Trial>, string, AgeAtTest]>([
    ['of an implausible unit', { unit: 'kg' }, '90', { ageYears: 72 }],
    ['without an age', {}, '28', { refusal: 'BIRTH_DATE_MISSING' }],
    ['with no usable reading', {}, '0', { ageYears: 72 }],
  ])('%s are passed over: the change is measured from the one before', (_why, parts, reading, age) => {
    const answers = run(
      sessionOf(on('2026-01-05', '27'), 72, { prior: true }),
      sessionOf(on('2026-02-05', reading, parts), 72, { age, prior: true }),
      sessionOf(on('2026-03-10', '30'), 72),
    );
    expect(answers[0]?.changes.map(({ since }) => since)).toEqual([at('2026-01-05'), at('2026-01-05')]);
  });

  it('are none of the answer when every session is prior', () => {
    expect(run(sessionOf(on('2026-01-05', '27'), 72, { prior: true }))).toEqual([]);
    expect(run()).toEqual([]);
  });
});

describe('splitting trials into sessions', () => {
  it('asks for the age on the day of each session, and never joins prior trials with current ones', () => {
    const old = trial({ reference: 'old', testedOn: '2026-01-05' });
    const sameDay = trial({ reference: 'same day', testedAtMinute: 29_553_000 });
    const current = [29_553_001, 29_553_002].map((testedAtMinute) => trial({ testedAtMinute }));
    const sessions = toSessions(sitting(current), sitting([sameDay, old]), US, (date) =>
      date < '2026-02-01' ? { ageYears: 71 } : { ageYears: 72 },
    );
    expect(sessions).toEqual([
      { testedOn: '2026-01-05', age: { ageYears: 71 }, prior: true, trials: [old] },
      { testedOn: '2026-03-10', age: { ageYears: 72 }, prior: true, trials: [sameDay] },
      { testedOn: '2026-03-10', age: { ageYears: 72 }, prior: false, trials: current },
    ]);
  });

  it('orders by the moment, not by the date that another time zone charts', () => {
    const evening = trial({ testedOn: '2026-03-10', testedAtMinute: 29_553_900 });
    const morningElsewhere = trial({ testedOn: '2026-03-11', testedAtMinute: 29_553_500 });
    const sessions = toSessions(sitting([evening, morningElsewhere]), sitting([]), US, () => ({
      ageYears: 72,
    }));
    expect(sessions.map(({ testedOn }) => testedOn)).toEqual(['2026-03-11', '2026-03-10']);
  });

  it('uses the gap of the panel’s own rule', () => {
    const gap = US.rules.session.maxGapMinutes;
    const times = [0, gap, 2 * gap + 1].map((minute) => trial({ testedAtMinute: minute }));
    const sessions = toSessions(sitting(times), sitting([]), US, () => ({ ageYears: 72 }));
    expect(sessions.map(({ trials }) => trials.length)).toEqual([2, 1]);
  });
});

describe('the answer', () => {
  const input = () => ({
    sex: null,
    sessions: [
      sessionOf(threeEach('27', { testedOn: '2026-01-05', reference: 'a' }), 72, { prior: true }),
      sessionOf([...threeEach('30', { reference: 'b' }), trial({ reading: '0', reference: 'c' })], 72),
      sessionOf(threeEach('66', { unit: '[lb_av]', reference: 'd' }), 15),
    ],
  });

  it('is the same each time, and leaves a frozen input and panel as they were', () => {
    const before = JSON.stringify(input());
    const frozen = deepFreeze(input());
    const panel = deepFreeze(structuredClone({ ...ALL }));
    const first = interpret(frozen, panel);
    expect(interpret(frozen, panel)).toEqual(first);
    expect(interpret(input(), ALL)).toEqual(first);
    expect(JSON.stringify(frozen)).toBe(before);
  });

  it('is plain data: the same after a round trip through JSON, parts that do not apply aside', () => {
    const answer = interpret(input(), ALL);
    expect(JSON.parse(JSON.stringify(answer))).toEqual(answer);
  });
});
