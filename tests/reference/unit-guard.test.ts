/** Every panel has a table to check the unit by: pounds charted as kilograms would pass unseen without one. */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { faultOf, type Json, normsWith } from './altered-norms.ts';

const ASIA = 'panels/older-adult-asia/1.0.0.json';
const CHILD = 'panels/child-us/1.0.0.json';
const NONE = 'has no table of means of one hand to check the unit by: name one under unitGuards';

const TWO_SD = { id: 'two-sd-below-mean', version: '1.0.0' };
const tableNamed = (id: string, version = '1.0.0', rule = TWO_SD) => ({
  set: { kind: 'table', id, version },
  rule,
});

/** Of children, proven by one copy: a panel takes it on purpose. */
const UNPROVEN = {
  ...tableNamed('mathiowetz-1986-us-children'),
  summaryWhenUnstated: { kind: 'mean-per-hand', reason: 'x' },
  acceptUnproven: { reason: 'x' },
};

describe('a panel is refused', () => {
  it.each<[string, string, (file: Json) => void]>([
    ['whose sets have no such table', ASIA, (file) => delete file.unitGuards],
    ['with an empty list of them', ASIA, (file) => Object.assign(file, { unitGuards: [] })],
    ['with a table of the best trials alone', CHILD, ({ entries }) => entries.splice(0, 2)],
    [
      'with cut-points alone',
      ASIA,
      (file) => Object.assign(file, { entries: file.entries.slice(1), unitGuards: [] }),
    ],
    [
      'with a table of one hand whose figures are unproven',
      ASIA,
      (file) => Object.assign(file, { entries: [UNPROVEN], unitGuards: [] }),
    ],
    [
      'with a table of one hand that is read by its centiles',
      CHILD,
      (file) => {
        const tenth = { id: 'below-10th-centile', version: '1.0.0' };
        file.entries = [tableNamed('nhanes-2011-2014-right-left-mean-of-3', '1.1.0', tenth)];
      },
    ],
  ])('%s', (_what, path, change) => {
    const fault = faultOf(normsWith(path, change));
    expect(fault).toContain(`norms/${path}`);
    expect(fault).toContain(NONE);
  });

  it('with a guard that is no table of one hand, or whose figures are unproven', () => {
    const guardedBy = (id: string) =>
      faultOf(
        normsWith(ASIA, (file) => {
          file.unitGuards = [{ table: { id, version: '1.0.0' }, rule: TWO_SD }];
        }),
      );
    expect(guardedBy('nhanes-2011-2014-mean-of-both-hands')).toContain('it cannot guard the unit');
    expect(guardedBy('nobody')).toBe(`norms/${ASIA} names nobody 1.0.0, which is not in norms/`);
    expect(guardedBy('bohannon-2017-us-children')).toMatch(/states no summary|may not drive a result/);
  });
});

describe('a panel is not refused', () => {
  it('with one proven table of one hand among its sets, or under unitGuards', () => {
    const among = normsWith(CHILD, ({ entries }) => entries.splice(1, 2));
    expect(loadLibrary(among).panelIds).toContain('child-us');
    const under = normsWith(ASIA, ({ entries }) => entries.splice(0, 1));
    expect(loadLibrary(under).panelIds).toContain('older-adult-asia');
  });
});
