import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { changesSince } from '../../src/interpret/change.ts';
import type { EarlierSession } from '../../src/interpret/history.ts';
import type { Trial } from '../../src/interpret/measurement.ts';
import { type ExactSummary, summarise } from '../../src/interpret/summarise.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { panelNamed, trialsOf } from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

/** Without a rule of change: the yardsticks and the first comparable session are in yardsticks.test.ts. */
const US = panelNamed('adult-inpatient-us', '1.0.0');
const SUBJECT = { sex: 'male', ageYears: 72 } as const;

function session(effective: string, summaries: readonly ExactSummary[]): EarlierSession {
  return { testedOn: effective.slice(0, 10), effective, subject: SUBJECT, summaries, unitDoubtful: false };
}

function since(earlier: readonly EarlierSession[], now: readonly ExactSummary[]) {
  return changesSince(earlier, now, SUBJECT, US.rules);
}

function changes(before: readonly Trial[], now: readonly Trial[]) {
  return since([session('2026-01-05', summarise(before, US.rules))], summarise(now, US.rules));
}

describe('change since an earlier session', () => {
  it('is since the moment charted, with its time and its zone as they were written', () => {
    const moment = '2026-01-05T07:45:00+01:00';
    const earlier = session(moment, summarise(trialsOf('right', ['30']), US.rules));
    const [change] = since([earlier], summarise(trialsOf('right', ['33']), US.rules));
    expect(change?.since).toBe(moment);
  });

  it('is the difference of the means of each hand measured both times', () => {
    const before = [...trialsOf('right', ['30', '30', '30']), ...trialsOf('left', ['25', '26', '27'])];
    const now = [...trialsOf('right', ['33', '33', '33']), ...trialsOf('left', ['24', '25', '26'])];
    expect(changes(before, now)).toEqual([
      {
        hand: 'right',
        since: '2026-01-05',
        from: { value: '30.000', unit: 'kg' },
        to: { value: '33.000', unit: 'kg' },
        difference: { value: '+3.000', unit: 'kg' },
        percent: '+10.0',
        provisional: [],
      },
      {
        hand: 'left',
        since: '2026-01-05',
        from: { value: '26.000', unit: 'kg' },
        to: { value: '25.000', unit: 'kg' },
        difference: { value: '-1.000', unit: 'kg' },
        percent: '-3.8',
        provisional: [],
      },
    ]);
  });

  it('has no sign when nothing changed', () => {
    const [change] = changes(trialsOf('right', ['30', '31', '32']), trialsOf('right', ['31', '31', '31']));
    expect(change).toMatchObject({ difference: { value: '0.000' }, percent: '0.0' });
  });

  it('says once why either mean stands only provisionally, of both sessions and of that hand alone', () => {
    const before = [...trialsOf('right', ['30', '30']), ...trialsOf('left', ['30', '30', '30'])];
    const reasons = (now: readonly Trial[]) =>
      changes(before, now).map(({ hand, provisional }) => [hand, provisional]);
    const three = trialsOf('left', ['30', '30', '30']);
    expect(reasons([...trialsOf('right', ['30']), ...three])).toEqual([
      ['right', ['TRIALS_FEWER']],
      ['left', []],
    ]);
    expect(reasons([...trialsOf('right', ['30', '30', '30', '30']), ...three])).toEqual([
      ['right', ['TRIALS_FEWER', 'TRIALS_MORE']],
      ['left', []],
    ]);
  });

  it('is said for no hand that was measured only once', () => {
    expect(changes(trialsOf('right', ['30']), trialsOf('left', ['30']))).toEqual([]);
    expect(changes([], trialsOf('left', ['30']))).toEqual([]);
  });

  it('compares means with means, in whatever order the earlier summaries come', () => {
    const summaries = summarise(trialsOf('right', ['20', '30', '40']), US.rules).toReversed();
    const now = summarise(trialsOf('right', ['31', '31', '31']), US.rules);
    const found = since([session('2026-01-05', summaries)], now);
    expect(found.map(({ from, difference }) => [from.value, difference.value])).toEqual([
      ['30.000', '+1.000'],
    ]);
  });

  it('is given in the unit charted now when the earlier unit was another', () => {
    const [change] = changes(
      trialsOf('right', ['100', '100', '100'], { unit: '[lb_av]' }),
      trialsOf('right', ['50', '50', '50'], { unit: 'kg' }),
    );
    expect(change).toEqual({
      hand: 'right',
      since: '2026-01-05',
      from: { value: '45.359', unit: 'kg' },
      to: { value: '50.000', unit: 'kg' },
      difference: { value: '+4.641', unit: 'kg' },
      percent: '+10.2',
      provisional: [],
    });
  });

  it('is zero for the same force charted in another unit', () => {
    const [change] = changes(
      trialsOf('left', ['27', '27', '27'], { unit: 'kgf' }),
      trialsOf('left', ['264.77955', '264.77955', '264.77955'], { unit: 'N' }),
    );
    expect(change).toMatchObject({ difference: { value: '0.000', unit: 'N' }, percent: '0.0' });
  });

  it('is since the last time that hand was tested, when the session between tested the other hand only', () => {
    const first = summarise([...trialsOf('right', ['30']), ...trialsOf('left', ['20'])], US.rules);
    const second = summarise(trialsOf('right', ['31']), US.rules);
    const earlier = [session('2026-01-05', first), session('2026-02-05', second)];
    const now = summarise([...trialsOf('right', ['33']), ...trialsOf('left', ['25'])], US.rules);
    expect(since(earlier, now).map(({ hand, since, difference }) => [hand, since, difference.value])).toEqual(
      [
        ['right', '2026-02-05', '+2.000'],
        ['left', '2026-01-05', '+5.000'],
      ],
    );
  });

  it('has no sign when it rounds to nothing', () => {
    const [gain] = changes(trialsOf('right', ['30']), trialsOf('right', ['30.0001']));
    const [loss] = changes(trialsOf('right', ['30']), trialsOf('right', ['29.9999']));
    for (const change of [gain, loss]) {
      expect(change).toMatchObject({ difference: { value: '0.000' }, percent: '0.0' });
    }
  });

  it('has no percentage of an earlier mean below a tenth of the unit charted now', () => {
    const percent = (before: readonly Trial[], now: readonly Trial[]) => changes(before, now)[0]?.percent;
    const kg = (reading: string) => trialsOf('right', [reading]);
    const inUnit = (reading: string, unit: ChartedUnit) => trialsOf('right', [reading], { unit });
    expect(percent(kg('0.1'), kg('0.2'))).toBe('+100.0');
    expect(percent(kg('0.09999999'), kg('0.2'))).toBe('');
    expect(percent(kg('0.001'), kg('30'))).toBe('');
    // 0.045359237 kg is a tenth of a pound exactly.
    expect(percent(kg('0.045359237'), inUnit('0.2', '[lb_av]'))).toBe('+100.0');
    expect(percent(kg('0.045359236'), inUnit('0.2', '[lb_av]'))).toBe('');
    expect(percent(inUnit('0.2', '[lb_av]'), kg('0.2'))).toBe('');
    expect(percent(inUnit('0.3', '[lb_av]'), kg('0.2'))).toBe('+47.0');
  });

  it('is told in its unit where it has no percentage', () => {
    const [change] = changes(trialsOf('right', ['0.05']), trialsOf('right', ['30']));
    expect(change).toMatchObject({ from: { value: '0.050' }, difference: { value: '+29.950', unit: 'kg' } });
  });

  it('agrees with whole-number arithmetic in tenths', () => {
    fc.assert(
      fc.property(tenths(1, 1000), tenths(1, 1000), (before, now) => {
        const [change] = changes(trialsOf('right', [before.text]), trialsOf('right', [now.text]));
        const difference = now.count - before.count;
        const sign = difference > 0 ? '+' : '';
        expect(change?.difference.value).toBe(`${sign}${fixedText(BigInt(difference) * 100n, 3)}`);
        // Percent by floats: one decimal is shown, so half of the last place and a trace of float error.
        expect(Math.abs(Number(change?.percent) - (100 * difference) / before.count)).toBeLessThan(
          0.05 + 1e-9,
        );
      }),
    );
  });
});
