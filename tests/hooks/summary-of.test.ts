/** STANDARDS C1: whatever the sets are called and however they divide, the summary stays below 140 characters. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { summaryOf } from '../../src/hooks/card-summary.ts';
import { type Interpretation, type RefusalCode, refuse } from '../../src/interpret/finding.ts';
import { REFUSALS } from '../../src/wording/refusals.ts';
import type { Tally } from '../../src/wording/session-statements.ts';

const SOME: Interpretation = {
  testedOn: '2026-11-16',
  effective: '2026-11-16',
  ageYears: 72,
  sex: 'male',
  trials: ['Observation/1'],
  summaries: [
    {
      kind: 'highest-of-either-hand',
      hand: null,
      charted: { value: '30.000', unit: 'kg' },
      kilograms: { value: '30.000', unit: 'kg' },
      trials: ['Observation/1'],
      provisional: [],
    },
  ],
  results: [],
  cautions: [],
  changes: [],
};
const NOTHING: Tally = { reduced: [], notReduced: [], open: [], handsDiffer: false };

const titles = fc.array(fc.string({ unit: 'grapheme', maxLength: 60 }), { maxLength: 30 });
const tallies: fc.Arbitrary<Tally> = fc.record({
  reduced: titles,
  notReduced: titles,
  open: fc.oneof(fc.constant([]), titles),
  handsDiffer: fc.boolean(),
});
const codes = Object.keys(REFUSALS) as RefusalCode[];
/** Every fact that a wording asks for. */
const FACTS = [
  ...['reading', 'figure', 'unit', 'otherUnit', 'units', 'maxKg', 'comparator', 'reason', 'status'],
  ...['element', 'testedOn', 'asOf', 'ageYears', 'covers', 'next'],
];
const facts = fc.record(
  Object.fromEntries(FACTS.map((name) => [name, fc.string({ maxLength: 300 })])) as Record<
    string,
    fc.Arbitrary<string>
  >,
);

describe('the summary of a card', () => {
  it('is below 140 characters for any titles and any tally', () => {
    fc.assert(
      fc.property(tallies, fc.integer({ min: 0, max: 99_999 }), (said, day) => {
        const testedOn = new Date(day * 86_400_000).toISOString().slice(0, 10);
        const summary = summaryOf({ ...SOME, testedOn }, said);
        expect(summary.length).toBeLessThan(140);
        expect([...summary].length, 'in code points').toBeLessThan(140);
        expect(summary.startsWith('Grip strength ')).toBe(true);
      }),
      { numRuns: 1_000 },
    );
  });

  it('is below 140 characters for any refusal of a session and any facts', () => {
    fc.assert(
      fc.property(fc.constantFrom(...codes), facts, (code, said) => {
        const stopped = { ...SOME, results: [refuse(code, { facts: said })] };
        const summary = summaryOf(stopped, NOTHING);
        expect(summary.length).toBeLessThan(140);
        expect(summary).not.toContain('undefined');
      }),
      { numRuns: 1_000 },
    );
  });

  it('names the sets while they fit, then counts them', () => {
    const title = (length: number) => ['x'.repeat(length)];
    // "Grip strength 16 Nov 2026: not reduced by " and the stop take 43 characters.
    const at = (length: number) => summaryOf(SOME, { ...NOTHING, notReduced: title(length) });
    expect(at(96)).toHaveLength(139);
    expect(at(97)).toBe('Grip strength 16 Nov 2026: not reduced by the one reference set applied.');
  });

  it.each([
    [{ reduced: ['A'], notReduced: ['B', 'C'] }, 'reference sets disagree: reduced by A; not by B and C.'],
    [{ reduced: ['A', 'B', 'C'] }, 'reduced by A, B and C.'],
    [
      { reduced: ['A (right hand)'], notReduced: ['A (left hand)', 'B'], handsDiffer: true },
      'the hands differ: reduced by A (right hand); not by A (left hand) and B.',
    ],
    [
      { reduced: ['A (right hand)'], notReduced: [`${'x'.repeat(80)} (left hand)`], handsDiffer: true },
      'the hands differ: reduced by A (right hand).',
    ],
    [
      { reduced: ['x'.repeat(90), 'A'], notReduced: ['B'], handsDiffer: true },
      'the hands differ: reduced by 2 reference sets, not by 1.',
    ],
    [
      { reduced: ['A'], notReduced: ['x'.repeat(80), 'B'] },
      'reference sets disagree: reduced by A; not by 2 others.',
    ],
    [
      { reduced: ['A'], notReduced: ['x'.repeat(90)] },
      'reference sets disagree: reduced by A; not by 1 other.',
    ],
    [{ notReduced: ['A', 'B'] }, 'not reduced by A and B.'],
    [{ open: ['A', 'B'] }, 'sex not usable in the record, and the result of A and B depends on it.'],
    [
      { open: ['A'], reduced: ['B'], notReduced: ['C'] },
      'sex not usable in the record, and the result of A depends on it; reduced by B for either sex.',
    ],
    [
      { open: ['A'], reduced: ['x'.repeat(40), 'B'] },
      'sex not usable in the record, and the result of A depends on it; reduced by 2 reference sets for either sex.',
    ],
    [
      { open: ['x'.repeat(40)], reduced: ['B', 'C'] },
      `sex not usable in the record, and the result of ${'x'.repeat(40)} depends on it.`,
    ],
    [
      { open: ['x'.repeat(80), 'A'] },
      'sex not usable in the record, and 2 reference sets of the panel depend on it.',
    ],
  ] as [Partial<Tally>, string][])('of %j says: %s', (said, text) => {
    expect(summaryOf(SOME, { ...NOTHING, ...said })).toBe(`Grip strength 16 Nov 2026: ${text}`);
  });

  it('says the reason of a session that was stopped', () => {
    const stopped = { ...SOME, results: [refuse('BIRTH_DATE_MISSING')] };
    expect(summaryOf(stopped, NOTHING)).toBe(
      'Grip strength 16 Nov 2026: not interpreted: the date of birth is missing, so age at the test is unknown.',
    );
  });
});
