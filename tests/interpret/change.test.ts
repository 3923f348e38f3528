import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { changesSince } from '../../src/interpret/change.ts';
import type { Trial } from '../../src/interpret/measurement.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import { trialsOf, US } from './build.ts';
import { fixedText, tenths } from './fixed-point.ts';

function changes(before: readonly Trial[], now: readonly Trial[]) {
  const earlier = { testedOn: '2026-01-05', summaries: summarise(before, US.rules) };
  return changesSince(earlier, summarise(now, US.rules));
}

describe('change since an earlier session', () => {
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
      },
      {
        hand: 'left',
        since: '2026-01-05',
        from: { value: '26.000', unit: 'kg' },
        to: { value: '25.000', unit: 'kg' },
        difference: { value: '-1.000', unit: 'kg' },
        percent: '-3.8',
      },
    ]);
  });

  it('has no sign when nothing changed', () => {
    const [change] = changes(trialsOf('right', ['30', '31', '32']), trialsOf('right', ['31', '31', '31']));
    expect(change).toMatchObject({ difference: { value: '0.000' }, percent: '0.0' });
  });

  it('is said for no hand that was measured only once', () => {
    expect(changes(trialsOf('right', ['30']), trialsOf('left', ['30']))).toEqual([]);
    expect(changes([], trialsOf('left', ['30']))).toEqual([]);
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
    });
  });

  it('is zero for the same force charted in another unit', () => {
    const [change] = changes(
      trialsOf('left', ['27', '27', '27'], { unit: 'kgf' }),
      trialsOf('left', ['264.77955', '264.77955', '264.77955'], { unit: 'N' }),
    );
    expect(change).toMatchObject({ difference: { value: '0.000', unit: 'N' }, percent: '0.0' });
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
