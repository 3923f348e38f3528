/** The rule of cautions, cell by cell against the list that it was taken from (tests/outside/cautions-codes.json), and its value sets. */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { ValueSet } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import { CAUTION_DISPLAYS, GRIP_CAUTIONS, ICD10CM } from '../../src/fhir/caution-codes.ts';
import { SNOMED } from '../../src/fhir/codes.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { faultOf, normsWith } from './altered-norms.ts';
import { type Json, outside } from './outside.ts';
import { RULES } from './released-json.ts';

const PATH = 'rules/testing-cautions/1.0.0.json';
const LIST: readonly Json[] = outside('cautions-codes').cautions;
const RULE: Json = RULES.find(({ id }) => id === 'testing-cautions')?.file;
const { parameters } = RULE;
const cautions: readonly Json[] = parameters.cautions;
const leftOut: readonly Json[] = parameters.leftOut;
const root = new URL('../../', import.meta.url);

const SYSTEMS = { snomed: SNOMED, icd10cm: ICD10CM } as const;

/** Every code of an entry of the list, as `system code`. */
const codesOf = (entry: Json): readonly Json[] =>
  Object.entries(SYSTEMS).flatMap(([key, system]) => entry[key].map((code: Json) => ({ ...code, system })));

const nameOf = ({ system, code, display }: Json) => `${system} ${code} ${display}`;

describe('the list of cautions', () => {
  it('has 19 entries, and only codes that were verified', () => {
    expect(LIST).toHaveLength(19);
    expect(new Set(LIST.flatMap(codesOf).map(({ status }) => status))).toEqual(new Set(['verified']));
  });

  it.each(LIST.map((entry) => [entry.id as string, entry] as const))(
    '%s: every code with its display is read, or left out with a reason, and no other',
    (id, entry) => {
      const caution = cautions.find(({ source }) => source === id);
      const read = (caution?.codes ?? []) as readonly Json[];
      const left = leftOut.filter(({ source }) => source === id);
      expect([...read, ...left].map(nameOf).sort()).toEqual(codesOf(entry).map(nameOf).sort());
      for (const code of read) {
        const own = codesOf(entry).find((each) => nameOf(each) === nameOf(code));
        expect(code.seenIn).toBe(own?.source);
      }
      for (const { reason } of left) expect(reason.length).toBeGreaterThan(20);
      if (caution)
        expect(caution).toMatchObject({ action: entry.action, evidence: entry.evidence, note: entry.note });
    },
  );

  it('leaves out what would mislead, and what is an outcome and no caution', () => {
    const named = leftOut.filter(({ source }) => source !== 'outcome_diagnoses');
    expect(named.map(({ code }) => code)).toEqual(['Z98.890', 'I25.2', '38341003', 'I10']);
    expect(cautions.map(({ source }) => source)).not.toContain('outcome_diagnoses');
    expect(cautions.map(({ source }) => source).sort()).toEqual(
      LIST.map(({ id }) => id)
        .filter((id) => id !== 'outcome_diagnoses')
        .sort(),
    );
  });
});

describe('a code of the rule', () => {
  const codes = cautions.flatMap(({ codes: own, scope }) => own.map((code: Json) => ({ ...code, scope })));

  it('names a side where its display does, and nowhere else', () => {
    for (const { display, hand, dominance, code } of codes) {
      const side = /\b(right|left|bilateral)\b/.exec(display)?.[1];
      expect([code, hand]).toEqual([code, side === 'bilateral' ? 'both' : side]);
      const by = /\b(non-?dominant|dominant)\b/.exec(display)?.[1]?.replace('-', '');
      expect([code, dominance]).toEqual([code, by]);
    }
    expect(codes.filter(({ hand }) => hand)).toHaveLength(31);
  });

  it('of the brain does not lend its side to an arm', () => {
    const lesions = codes.filter(({ siteOfLesion }) => siteOfLesion).map(({ code }) => code);
    expect(lesions.sort()).toEqual(['230690007', '432504007', 'I63.9']);
  });

  it('that does not say enough asks, and says what it does not say', () => {
    for (const { weight, remark, code } of codes)
      if (weight === 'ask') expect([code, typeof remark]).toEqual([code, 'string']);
    expect(codes.filter(({ weight }) => weight === 'ask').map(({ code }) => code)).toEqual(
      expect.arrayContaining(['Z45.2', 'Z95.828', '22298006', 'M10.9', 'I89.0']),
    );
  });
});

describe('a caution of the rule', () => {
  it('has a window only where the list gives one: three months after surgery of the hand, at least 92 days', () => {
    const windows = cautions.filter(({ window }) => window !== null);
    expect(windows.map(({ id, window }) => [id, window.days])).toEqual([['recent-hand-surgery', 92]]);
    expect(LIST.find(({ id }) => id === windows[0]?.source)?.evidence).toContain('past 3 months (seen)');
  });

  it('that names the other arm says what is left where that one is not free', () => {
    for (const { id, scope, practice, practiceAlone } of cautions) {
      const namesOther = /\b(other|unaffected|without the access)\b/.test(practice);
      expect([id, practiceAlone !== null]).toEqual([id, namesOther]);
      if (namesOther) expect([scope, practiceAlone]).not.toContain(practice);
      expect(practiceAlone ?? '').not.toMatch(/\b(use|test) the other\b|\bunaffected\b/);
    }
  });

  it('of acute illness is asked about after a year: a choice that is named as one, with a doubt', () => {
    expect(parameters.longPast.days).toBe(365);
    expect(parameters.longPast.reason).toContain("This service's own choice");
    expect(RULE.doubts.join(' ')).toContain('nobody showed that a year is right');
    expect(cautions.filter(({ whenLongPast }) => whenLongPast).map(({ id }) => id)).toEqual([
      'recent-hand-fracture',
      'delirium-or-sedation',
      'recent-mi',
      'uncontrolled-hypertension',
      'recent-eye-or-abdominal-surgery',
    ]);
    expect(cautions.filter(({ whenNotDue }) => whenNotDue === 'silent').map(({ id }) => id)).toEqual([
      'absent-hand',
    ]);
  });

  it('that is listed as past says what to ask', () => {
    for (const { id, whenPast, window, askWhenPast } of cautions)
      expect([id, askWhenPast !== null]).toEqual([id, whenPast === 'list' || window !== null]);
  });

  it('is published only where the list says that it was seen', () => {
    const seen = cautions.filter(({ evidence }) => /\(seen\)/.test(evidence) && !/memory/.test(evidence));
    expect(cautions.filter(({ basis }) => basis === 'published').map(({ id }) => id)).toEqual(
      seen.map(({ id }) => id),
    );
  });

  it('has a code of its own that a site can map to', () => {
    expect(parameters.ownCodes).toBe(GRIP_CAUTIONS);
    expect(cautions.map(({ id }) => id)).toEqual(Object.keys(CAUTION_DISPLAYS));
  });

  it.each(cautions.map((caution) => [caution.id as string, caution] as const))(
    '%s: its value set holds the same codes, and has the digest that the rule names',
    (id, { valueSet, codes }) => {
      const bytes = readFileSync(new URL(`terminology/ValueSet-grip-testing-${id}.json`, root));
      const set = JSON.parse(bytes.toString('utf8')) as ValueSet;
      expect(createHash('sha256').update(bytes).digest('hex')).toBe(valueSet.sha256);
      expect([set.url, set.version]).toEqual([valueSet.url, valueSet.version]);
      const included = (set.compose?.include ?? []).flatMap(({ system, concept = [] }) =>
        concept.map((each) => nameOf({ system, ...each })),
      );
      const own = nameOf({
        system: GRIP_CAUTIONS,
        code: id,
        display: CAUTION_DISPLAYS[id as keyof typeof CAUTION_DISPLAYS],
      });
      expect(included.sort()).toEqual([...codes.map(nameOf), own].sort());
      expect(set.copyright).toMatch(/./);
    },
  );
});

describe('the rule in the library', () => {
  it('is found without a panel, by its version or as the newest, with digest and value sets', () => {
    const rule = loadLibrary(NORMS).findCautions();
    expect(rule?.ref).toMatchObject({ kind: 'rule', id: 'testing-cautions', version: '1.0.0' });
    expect(rule?.valueSets).toHaveLength(18);
    expect(loadLibrary(NORMS).findCautions('1.0.0')?.ref).toEqual(rule?.ref);
    expect(loadLibrary(NORMS).findCautions('9.9.9')).toBeUndefined();
  });

  it.each<[string, (changed: readonly Json[]) => void]>([
    ['one code in two cautions', ([first, second]) => first?.codes.push(second?.codes[0])],
    ['one id twice', ([first, second]) => Object.assign(first ?? {}, { id: second?.id })],
    ['a side of a person', (all) => Object.assign(all[7]?.codes[0], { hand: 'left' })],
  ])('does not load with %s', (_name, change) => {
    const folder = normsWith(PATH, ({ parameters: own }) => change(own.cautions));
    expect(faultOf(folder)).toContain('each id and code must be there once');
  });
});
