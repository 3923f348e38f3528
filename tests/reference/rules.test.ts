/** The parameters of every released rule, stated by hand (stated-rules.ts) or transcribed (tests/outside). */
import { isDeepStrictEqual } from 'node:util';
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { digitsChanged } from './mutants.ts';
import { type Json, outside } from './outside.ts';
import { RULES } from './released-json.ts';
import { COMPARED_ELSEWHERE, STATED_RULES } from './stated-rules.ts';

const nameOf = ({ id, version }: { id: string; version: string }) => `${id} ${version}`;
const ruleNamed = (name: string): Json => RULES.find((rule) => nameOf(rule) === name)?.file;

const CHANGE = outside('reliability-change');
const PROTOCOLS = outside('protocols');

/** The published sizes of change, as transcribed; ages and wording are this service's. */
function expectedYardsticks(): Json[] {
  const [nursing, , source, healthy] = CHANGE.MDC;
  const [important] = CHANGE.MCID;
  const { dom, nondom } = nursing.MDC95_kg;
  const larger = Number(dom) > Number(nondom) ? dom : nondom;
  const error = { kind: 'measurement-error', ageMin: 65, ageMax: null };
  return [
    { id: 'mdc95-dominant', hand: 'dominant', limit: { value: dom, unit: 'kg' }, ...error },
    { id: 'mdc95-nondominant', hand: 'nondominant', limit: { value: nondom, unit: 'kg' }, ...error },
    { id: 'mdc95-unknown', hand: 'unknown', limit: { value: larger, unit: 'kg' }, ...error },
    {
      id: 'healthy-20-percent',
      hand: 'any',
      limit: { value: /about (\d+)%/.exec(healthy.rule)?.[1], unit: '%' },
      kind: 'measurement-error',
      ageMin: 18,
      ageMax: 64,
    },
    {
      id: 'smallest-important',
      hand: 'any',
      limit: { value: important.value_kg[0], unit: 'kg' },
      kind: 'smallest-important',
      ageMin: 18,
      ageMax: null,
    },
  ].map((each) => ({
    ...each,
    verification: source.citation.includes('primary_seen') ? 'primary-seen' : '',
  }));
}

const withoutWords = ({ population: _, source: _source, ...figures }: Json) => figures;

describe('every released rule', () => {
  it('is stated here, and no other', () => {
    expect([...Object.keys(STATED_RULES), ...COMPARED_ELSEWHERE].sort()).toEqual(RULES.map(nameOf).sort());
  });

  it.each(Object.entries(STATED_RULES))('%s says what is stated', (name, { form, basis, parameters }) => {
    const file = ruleNamed(name);
    expect({ form: file.form, basis: file.basis, parameters: file.parameters }).toEqual({
      form,
      basis,
      parameters,
    });
  });

  it('cites what it calls published, and owns up to the rest', () => {
    for (const { file } of RULES) {
      if (file.basis === 'published') expect(file.citations.length, file.id).toBeGreaterThan(0);
      else expect(file.doubts.length, file.id).toBeGreaterThan(0);
    }
  });

  it('reaches the newest panels as it was released', () => {
    const library = loadLibrary(NORMS);
    for (const id of library.panelIds) {
      const { rules } = library.findPanel(id)?.panel ?? {};
      for (const { ref, ...parameters } of Object.values(rules ?? {}))
        expect(parameters, `${id} ${ref.id}`).toEqual(ruleNamed(nameOf(ref)).parameters);
    }
  });
});

describe('the sizes of change', () => {
  const { basis, parameters } = ruleNamed('change-limits 1.0.0');

  it('are those of the transcription', () => {
    expect(basis).toBe('published');
    expect(parameters.yardsticks.map(withoutWords)).toEqual(expectedYardsticks());
  });

  it('print the published ranges that they say they come from', () => {
    const { male, female } = CHANGE.MDC[3].MDC_pct;
    const said = parameters.yardsticks.map(({ population, source }: Json) => `${population}; ${source}`);
    expect(said[3]).toContain(`${male.join(' to ')}% in men, ${female.join(' to ')}% in women`);
    expect(said[4]).toContain(CHANGE.MCID[0].value_kg.join(' to '));
    expect(ruleNamed('change-limits 1.0.0').doubts.join(' ')).toContain(
      `${CHANGE.MDC[1].MDC95_kg.dom} and ${CHANGE.MDC[1].MDC95_kg.nondom} kg`,
    );
  });
});

describe('the sizes of departures from a protocol', () => {
  const { effects } = ruleNamed('protocol-effects 1.0.0').parameters;
  const [standing, elbow, bed, handle] = PROTOCOLS.deviation_effects;
  const [instruments] = PROTOCOLS.instruments;
  const [stood, sat] = standing.effect_kg;
  const [most, least] = [handle.effect_kg.sitting, handle.effect_kg.standing];

  it.each([
    [
      0,
      'posture',
      ['standing', 'seated'],
      [(Number(stood) - Number(sat)).toFixed(1), stood, sat, standing.n],
    ],
    // Not transcribed: the abstract as seen at springermedicine.com, 44 inpatients, no significant difference.
    [1, 'posture', ['recumbent', 'seated'], ['did not differ', '44', 'doi:10.1007/s41999-019-00226-9']],
    [2, 'arm', ['elbow-supported', 'elbow-90-unsupported'], ['2 to 3', elbow.n]],
    [3, 'handle', ['2', '3'], [`${least} to ${most}`, handle.n]],
    [4, 'instrument', [null, null], [instruments.fact.match(/\d[\d.]*-\d+%/)?.[0].replace('-', ' to ')]],
  ])('%i: %s %j with the figures of the transcription', (index, part, between, figures) => {
    const effect = effects[index];
    expect([effect.part, effect.between]).toEqual([part, between]);
    for (const figure of figures) expect(`${effect.effect}; ${effect.source}`).toContain(figure);
    expect(effect.verification).toBe(index === 0 ? 'secondary-seen' : 'primary-seen');
  });

  it('do not take bed and armchair for lying and sitting: how they lay is not stated', () => {
    const doubts: string[] = ruleNamed('protocol-effects 1.0.0').doubts;
    const said = doubts.find((doubt) => doubt.includes('bed and armchair'));
    const [difference = '', within = ''] = bed.effect.match(/\d+\.\d+/g) ?? [];
    for (const figure of [difference, within, bed.n, 'how they lay in bed is not stated'])
      expect(said).toContain(figure);
    expect(effects.map(({ effect }: Json) => effect).join(' ')).not.toContain(difference);
  });

  it('name no author from memory', () => {
    expect(elbow.citation).toContain('(authors memory)');
    expect(`${effects[2].source}`).toBe('55 people, Clin Nutr 2005;24(2):224-228, abstract');
    for (const { source } of effects) expect(source).not.toContain('Hillman');
  });

  it('are five', () => {
    expect(effects).toHaveLength(5);
    expect(elbow.meaning).toContain('2-3 kg');
  });
});

describe('a rule with one parameter changed', () => {
  /** Every value inside a parameter, changed one at a time. */
  function mutants(value: Json): readonly Json[] {
    if (Array.isArray(value))
      return [
        ...value.flatMap((each, index) => mutants(each).map((changed) => value.with(index, changed))),
        value.slice(1),
      ].filter((each) => !isDeepStrictEqual(each, value));
    if (typeof value === 'object' && value !== null)
      return Object.entries(value).flatMap(([key, each]) =>
        mutants(each).map((changed) => ({ ...value, [key]: changed })),
      );
    if (typeof value === 'number') return [value + 1, value - 1];
    if (value === null) return ['1'];
    if (/^\d/.test(value)) return digitsChanged(value);
    return value === '<' ? ['<='] : value === '<=' ? ['<'] : [`${value}x`];
  }

  it.each(Object.entries(STATED_RULES))('%s is noticed', (name, { parameters }) => {
    const changed = mutants(ruleNamed(name).parameters);
    expect(changed.length).toBeGreaterThan(1);
    for (const mutant of changed) expect(isDeepStrictEqual(mutant, parameters)).toBe(false);
  });

  it('a size of change is noticed', () => {
    const figures = ruleNamed('change-limits 1.0.0').parameters.yardsticks.map(withoutWords);
    for (const mutant of mutants(figures))
      expect(isDeepStrictEqual(mutant, expectedYardsticks())).toBe(false);
  });
});
