/** Panels that were released before stay what they were: same findings, to the digit, and no member more. */
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/audit/canonical-json.ts';
import type { Interpretation } from '../../src/interpret/finding.ts';
import { type InterpretInput, interpret } from '../../src/interpret/interpret.ts';
import { HANDS, type Sex } from '../../src/interpret/measurement.ts';
import type { SetRef } from '../../src/interpret/reference-set.ts';
import type { ChartedUnit } from '../../src/interpret/units.ts';
import { recordedFindings } from '../../src/recorded-findings.ts';
import { isVerdict, panelNamed, sessionOf, trial } from './build.ts';
import { fixedText } from './fixed-point.ts';

interface Recorded {
  readonly panel: SetRef;
  readonly input: InterpretInput;
  readonly findings: unknown;
}

const file = new URL('../outside/findings-of-0.1.0.json', import.meta.url);
const { records } = JSON.parse(readFileSync(file, 'utf8')) as { readonly records: readonly Recorded[] };

describe('what version 0.1.0 recorded of its eight invented patients', () => {
  it('is eight evaluations with the first version of the US panel', () => {
    const panel = panelNamed('adult-inpatient-us', '1.0.0').ref;
    expect(records.map((recorded) => recorded.panel)).toEqual(Array(8).fill(panel));
  });

  it.each(records.map((recorded, index) => ({ ...recorded, number: index + 1 })))(
    'is found again exactly with the same panel (record $number)',
    ({ panel, input, findings }) => {
      const found = recordedFindings(interpret(input, panelNamed(panel.id, panel.version)));
      expect(canonicalJson(found)).toBe(canonicalJson(findings));
      expect(JSON.parse(canonicalJson(found))).toEqual(findings);
    },
  );
});

const readings = fc.array(fc.tuple(fc.constantFrom(...HANDS), fc.integer({ min: 1, max: 900 })), {
  minLength: 1,
  maxLength: 8,
});
const given = fc.record({
  sex: fc.constantFrom<Sex | null>('female', 'male', null),
  unit: fc.constantFrom<ChartedUnit>('kg', 'kgf', '[lb_av]', 'N'),
  ageYears: fc.integer({ min: 4, max: 100 }),
  sessions: fc.array(readings, { minLength: 1, maxLength: 3 }),
});

/** Members that have a value, at any depth of a finding that `recorded` has too. */
function membersOf(interpretation: Interpretation): ReadonlySet<string> {
  const { results, changes } = interpretation;
  const verdicts = results.flatMap((result) => (isVerdict(result) ? [result] : result.columns));
  const named = (what: string, value: object) =>
    Object.entries(value).flatMap(([name, member]) => (member === undefined ? [] : [`${what}.${name}`]));
  return new Set([
    ...named('interpretation', interpretation),
    ...verdicts.flatMap((verdict) => [...named('verdict', verdict), ...named('row', verdict.row)]),
    ...changes.flatMap((change) => named('change', change)),
  ]);
}

describe('the first version of each panel, on what version 0.1.0 could read', () => {
  it.each(['adult-inpatient-us', 'all-published'])('answers with no new member (%s)', (id) => {
    const panel = panelNamed(id, '1.0.0');
    const known = new Set(
      records.flatMap(({ findings }) =>
        (findings as Interpretation[]).flatMap((each) => [...membersOf(each)]),
      ),
    );
    fc.assert(
      fc.property(given, ({ sex, unit, ageYears, sessions }) => {
        const dated = sessions.map((list, index) => {
          const on = { testedOn: `2026-0${index + 1}-10`, effective: `2026-0${index + 1}-10` };
          const trials = list.map(([hand, tenths]) =>
            trial({ hand, unit, reading: fixedText(BigInt(tenths), 1), ...on }),
          );
          return sessionOf(trials, ageYears);
        });
        for (const found of interpret({ sex, sessions: dated }, panel))
          for (const member of membersOf(found)) expect(known).toContain(member);
      }),
    );
  });

  it('says nothing of what its rules do not name, though the record charts it', () => {
    const panel = panelNamed('adult-inpatient-us', '1.0.0');
    const sitting = (reading: string, day: string, time: string) =>
      sessionOf(
        ['', '', ''].map((_, index) =>
          trial({
            reading,
            testedOn: day,
            effective: `${day}T${time}:0${index}Z`,
            testedAtMinute: Date.parse(`${day}T${time}:0${index}Z`) / 60_000,
            protocol: { posture: 'standing', calibratedOn: '2020-01-01' },
          }),
        ),
        72,
      );
    const sessions = [sitting('15', '2026-01-05', '08'), sitting('34', '2026-03-10', '20')];
    const [, now] = interpret({ sex: 'male', dominant: 'right', sessions }, panel);
    expect(now?.cautions.map(({ code }) => code)).toEqual(['HAND_NOT_TESTED']);
    expect(now?.nextFrom).toBeUndefined();
    expect(now?.changes).toHaveLength(1);
    expect(now?.changes[0]?.yardsticks).toBeUndefined();
    const verdicts = now?.results.filter(isVerdict) ?? [];
    expect(verdicts).toHaveLength(5);
    for (const { mismatches, companions, course } of verdicts)
      expect([mismatches, companions, course]).toEqual([undefined, undefined, undefined]);
  });
});
