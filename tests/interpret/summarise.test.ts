import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Trial } from '../../src/interpret/measurement.ts';
import { summarise, writeSummary } from '../../src/interpret/summarise.ts';
import { trialsOf, US } from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

const rules = US.rules;

function written(trials: readonly Trial[]) {
  return summarise(trials, rules).map(writeSummary);
}

describe('summaries', () => {
  it('are the mean and the highest of each hand, and the highest of either hand', () => {
    const right = trialsOf('right', ['62', '61.5', '63.5'], { unit: '[lbf_av]' });
    const left = trialsOf('left', ['55', '58', '57'], { unit: '[lbf_av]' });
    const summaries = written([...right, ...left]);
    expect(summaries.map(({ kind, hand, charted }) => [kind, hand, charted.value, charted.unit])).toEqual([
      ['mean-per-hand', 'right', '62.333', 'lb'],
      ['highest-per-hand', 'right', '63.500', 'lb'],
      ['mean-per-hand', 'left', '56.667', 'lb'],
      ['highest-per-hand', 'left', '58.000', 'lb'],
      ['highest-of-either-hand', null, '63.500', 'lb'],
    ]);
    expect(summaries.every(({ provisional }) => provisional.length === 0)).toBe(true);
  });

  it('name the trials they were computed from', () => {
    const right = trialsOf('right', ['30', '31', '32']);
    const left = trialsOf('left', ['28', '29', '30']);
    const references = (trials: readonly Trial[]) => trials.map(({ reference }) => reference);
    const byHand = written([...left, ...right]).map(({ hand, trials }) => [hand, trials]);
    expect(byHand).toContainEqual(['right', references(right)]);
    expect(byHand).toContainEqual(['left', references(left)]);
    expect(byHand).toContainEqual([null, references([...left, ...right])]);
  });

  it('give the same force in kilograms, rounded only for reading', () => {
    const summaries = written(trialsOf('right', ['41.4', '41.4', '41.4'], { unit: '[lb_av]' }));
    expect(summaries[0]).toMatchObject({
      charted: { value: '41.400', unit: 'lb' },
      kilograms: { value: '18.779', unit: 'kg' },
    });
    const newtons = written(trialsOf('right', ['264.77955', '264.77955', '264.77955'], { unit: 'N' }));
    expect(newtons[0]?.kilograms).toEqual({ value: '27.000', unit: 'kg' });
  });

  it('are none when there are no trials', () => {
    expect(summarise([], rules)).toEqual([]);
  });

  it('agree with sums of whole tenths', () => {
    const readings = fc.array(tenths(1, 1000), { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(readings, (list) => {
        const [mean, highest] = summarise(
          trialsOf(
            'left',
            list.map(({ text }) => text),
          ),
          rules,
        );
        const total = list.reduce((sum, { count }) => sum + count, 0);
        expect(mean && mean.value.num * BigInt(10 * list.length)).toBe(
          BigInt(total) * (mean?.value.den ?? 0n),
        );
        const top = Math.max(...list.map(({ count }) => count));
        expect(highest && writeSummary(highest).charted.value).toBe(fixedText(BigInt(top) * 100n, 3));
      }),
    );
  });
});

describe('a summary is provisional', () => {
  const reasons = (right: number, left: number) => {
    const trials = [
      ...trialsOf('right', Array(right).fill('30')),
      ...trialsOf('left', Array(left).fill('30')),
    ];
    return Object.fromEntries(
      written(trials)
        .filter(({ kind }) => kind !== 'highest-per-hand')
        .map(({ hand, provisional }) => [hand ?? 'either', provisional]),
    );
  };

  it('for a hand with fewer than three trials, and so for the highest of either hand', () => {
    expect(reasons(2, 3)).toEqual({ right: ['TRIALS_FEWER'], left: [], either: ['TRIALS_FEWER'] });
  });

  it('for a hand with more than three trials', () => {
    expect(reasons(3, 4)).toEqual({ right: [], left: ['TRIALS_MORE'], either: ['TRIALS_MORE'] });
  });

  it('for both reasons at once, each said once', () => {
    expect(reasons(2, 4).either).toEqual(['TRIALS_FEWER', 'TRIALS_MORE']);
    expect(reasons(1, 2).either).toEqual(['TRIALS_FEWER']);
  });

  it('for the highest of either hand when only one hand was tested', () => {
    expect(reasons(3, 0)).toEqual({ right: [], either: ['ONE_HAND_ONLY'] });
    expect(reasons(0, 1)).toEqual({ left: ['TRIALS_FEWER'], either: ['TRIALS_FEWER', 'ONE_HAND_ONLY'] });
  });
});
