/** What must hold of every panel, for any person and any sittings. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/audit/canonical-json.ts';
import type { Refusal, Verdict } from '../../src/interpret/finding.ts';
import { interpret } from '../../src/interpret/interpret.ts';
import { judgePanel } from '../../src/interpret/judge.ts';
import type { Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import { summarise } from '../../src/interpret/summarise.ts';
import { recordedFindings } from '../../src/recorded-findings.ts';
import { anyInput, anySubject, anyTrials } from './any-person.ts';
import { deepFreeze, isVerdict, PANELS, panelNamed, US } from './build.ts';

const EVERY: ReadonlyMap<string, Panel> = new Map(
  [...PANELS, panelNamed('adult-inpatient-us', '1.0.0'), panelNamed('all-published', '1.0.0')].map(
    (panel) => [`${panel.ref.id} ${panel.ref.version}`, panel],
  ),
);
const panels = fc.constantFrom(...EVERY.keys());
const panelOf = (name: string) => EVERY.get(name) ?? US;

/** Every verdict, those shown for a choice included, by all that tells it apart. */
function keyed(results: readonly (Verdict | Refusal)[]): Map<string, Verdict> {
  const verdicts = results.flatMap((result) => (isVerdict(result) ? [result] : result.columns));
  const named = verdicts.map(
    (verdict) => [`${verdict.set.id} ${verdict.sex} ${verdict.hand} ${verdict.row.ageMin}`, verdict] as const,
  );
  expect(new Set(named.map(([name]) => name)).size).toBe(verdicts.length);
  return new Map(named);
}

describe('more force, in kilograms, pounds or newtons', () => {
  const raises = fc.array(fc.integer({ min: 0, max: 300 }), { minLength: 7, maxLength: 7 });

  it('never makes an outcome worse, nor a z-score or a place among centiles lower', () => {
    fc.assert(
      fc.property(panels, anySubject, anyTrials, raises, (name, subject, trialsOn, raise) => {
        const panel = panelOf(name);
        const wanted = new Set(panel.sets.map(({ summary }) => summary));
        const judge = (trials: readonly Trial[]) =>
          keyed(judgePanel(panel, summarise(trials, panel.rules, wanted), subject));
        const weaker = judge(trialsOn('2026-03-10'));
        const stronger = judge(trialsOn('2026-03-10', raise));
        expect([...stronger.keys()]).toEqual([...weaker.keys()]);
        for (const [key, verdict] of stronger) {
          const before = weaker.get(key);
          if (verdict.outcome === 'reduced') expect(before?.outcome, key).toBe('reduced');
          expect(verdict.zScore ?? 0, key).toBeGreaterThanOrEqual(before?.zScore ?? 0);
          expect(verdict.centile?.atLeast ?? 0, key).toBeGreaterThanOrEqual(before?.centile?.atLeast ?? 0);
          expect(verdict.limit, key).toEqual(before?.limit);
        }
      }),
      { numRuns: 400 },
    );
  });
});

describe('any record', () => {
  it('is answered the same twice, from input that is frozen and stays as it was', () => {
    fc.assert(
      fc.property(panels, anyInput, (name, input) => {
        const panel = panelOf(name);
        const before = canonicalJson(input);
        const frozen = deepFreeze(input);
        const first = interpret(frozen, deepFreeze(panel));
        expect(interpret(structuredClone(frozen), panel)).toEqual(first);
        expect(canonicalJson(frozen)).toBe(before);
      }),
      { numRuns: 200 },
    );
  });

  it('is answered the same from the record of it, where what is undefined is left out', () => {
    fc.assert(
      fc.property(panels, anyInput, (name, input) => {
        const panel = panelOf(name);
        const again = interpret(JSON.parse(canonicalJson(input)), panel);
        const first = interpret(input, panel);
        expect(canonicalJson(recordedFindings(again))).toBe(canonicalJson(recordedFindings(first)));
      }),
      { numRuns: 200 },
    );
  });

  it('has an answer that is plain data: the same after a round trip through JSON', () => {
    fc.assert(
      fc.property(panels, anyInput, (name, input) => {
        const panel = panelOf(name);
        const answer = interpret(input, panel);
        expect(JSON.parse(JSON.stringify(answer))).toEqual(answer);
        expect(JSON.parse(canonicalJson(answer))).toEqual(answer);
      }),
      { numRuns: 200 },
    );
  });

  it('has an answer of each set, or the reason why the whole session has none', () => {
    fc.assert(
      fc.property(panels, anyInput, (name, input) => {
        const panel = panelOf(name);
        for (const { results, trials } of interpret(input, panel)) {
          const stopped =
            trials.length === 0 ||
            results.some(
              ({ kind, set, ...own }) => kind === 'refusal' && !set && 'trial' in own && own.trial === null,
            );
          const answered = [...new Set(results.flatMap(({ set }) => set?.id ?? []))];
          expect(answered).toEqual(stopped ? [] : panel.sets.map(({ ref }) => ref.id));
        }
      }),
      { numRuns: 300 },
    );
  });

  it('shows columns only where the sex or the age is open, and then each once', () => {
    fc.assert(
      fc.property(panels, anyInput, (name, input) => {
        const panel = panelOf(name);
        for (const { sex, ageAtMost, results } of interpret(input, panel))
          for (const result of results) {
            if (isVerdict(result)) continue;
            const open = result.code === 'SEX_NOT_USABLE' || result.code === 'AGE_UNCERTAIN';
            expect(result.columns.length > 0).toBe(open);
            if (result.code === 'SEX_NOT_USABLE') expect(sex).toBeNull();
            if (result.code === 'AGE_UNCERTAIN')
              expect([sex === null, ageAtMost === undefined]).toEqual([false, false]);
            const rows = result.columns.map(({ sex: own, row }) => `${own} ${row.ageMin}`);
            expect(new Set(rows).size).toBe(rows.length);
          }
      }),
      { numRuns: 300 },
    );
  });
});
