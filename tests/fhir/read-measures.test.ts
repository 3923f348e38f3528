/** Height, weight, body mass index, gait speed and chair rises of the record (STANDARDS FT1 to FT4, FU1). */
import { createRequire } from 'node:module';
import fc from 'fast-check';
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_LOINC, LOINC, MEASURE_CODES } from '../../src/fhir/codes.ts';
import type { ObservationResource } from '../../src/fhir/forms.ts';
import { READINGS, readMeasure } from '../../src/fhir/read-measure.ts';
import { MEASURE_UNITS, type MeasureKind } from '../../src/interpret/measurement.ts';
import { broken, coded, DOORS, FHIR_DOOR, PATIENT, parametersOf, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { fixedText } from '../interpret/fixed-point.ts';
import { HEART_RATE, HEIGHT, measureOf, recordDoors, WEIGHT } from '../measure-fixtures.ts';
import { codesOf, issuesOf, openForTests, refusalsOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

/** The UCUM library of the US National Library of Medicine: an independent set of factors. */
const { UcumLhcUtils } = createRequire(import.meta.url)('@lhncbc/ucum-lhc') as {
  UcumLhcUtils: {
    getInstance(): {
      convertUnitTo(from: string, value: number, to: string): { status: string; toVal: number };
    };
  };
};

const KINDS = Object.keys(MEASURE_UNITS) as MeasureKind[];
const UNITS = KINDS.flatMap((kind) =>
  Object.entries(READINGS[kind].units).map(([unit, factor]) => [kind, unit, factor] as const),
);

const ASOF = { date: '2026-11-25', minute: null };
/** As the core holds it, or what it was refused for. */
function read(kind: MeasureKind, value: number, unit: string): string {
  const observation = measureOf(kind, value, unit) as ObservationResource;
  const answer = readMeasure(observation, 'o', 'r', ASOF);
  if (answer && 'charted' in answer) return answer.value;
  return answer?.kind === 'refusal' ? `${answer.facts.why}` : 'not read';
}

describe('a conversion', () => {
  it.each(UNITS)('of %s from %s takes the factor %s of the UCUM library', (kind, unit, factor) => {
    const known = UcumLhcUtils.getInstance().convertUnitTo(unit, 1, MEASURE_UNITS[kind]);
    expect(known.status).toBe('succeeded');
    // Both sides are floats here: a few roundings of 1.1e-16 each.
    expect(Math.abs(Number(factor) / known.toVal - 1)).toBeLessThan(1e-12);
  });

  it.each([
    ['height', 68, '[in_i]', '172.72'],
    ['height', 1.7272, 'm', '172.72'],
    ['height', 180, 'cm', '180'],
    ['height', 62.25, '[in_i]', '158.115'],
    ['weight', 154.3, '[lb_av]', '69.989302691'],
    ['weight', 70500, 'g', '70.5'],
    ['weight', 100, 'kg', '100'],
    ['bmi', 24.13, 'kg/m2', '24.13'],
    ['gait-speed', 82.5, 'cm/s', '0.825'],
    ['gait-speed', 0.8, 'm/s', '0.8'],
    ['five-chair-rises', 15, 's', '15'],
  ] as const)('of a %s of %d %s is %s, with all its digits', (kind, value, unit, text) => {
    expect(read(kind, value, unit)).toBe(text);
  });

  it('agrees with whole-number multiplication', () => {
    const trimmed = (text: string) => text.replace(/\.?0+$/, '');
    fc.assert(
      fc.property(fc.integer({ min: 230, max: 980 }), (tenths) => {
        const value = Number(fixedText(BigInt(tenths), 1));
        expect(read('height', value, '[in_i]')).toBe(trimmed(fixedText(BigInt(tenths) * 254n, 3)));
        expect(read('weight', value, '[lb_av]')).toBe(trimmed(fixedText(BigInt(tenths) * 45359237n, 9)));
      }),
    );
  });
});

describe('the bounds of what is possible', () => {
  it.each([
    ['height', 'cm', 50, 250, 0.1],
    ['weight', 'kg', 10, 400, 0.1],
    ['bmi', 'kg/m2', 8, 100, 0.1],
    ['gait-speed', 'm/s', 0.05, 3, 0.01],
    ['five-chair-rises', 's', 2, 120, 0.1],
  ] as const)('of %s in %s are from %d to %d, each included', (kind, unit, from, to, step) => {
    expect([read(kind, from, unit), read(kind, to, unit)]).toEqual([String(from), String(to)]);
    expect(read(kind, from - step, unit)).toBe('range');
    expect(read(kind, to + step, unit)).toBe('range');
  });

  it('hold after the conversion: 1.8 cm and 180 m are no heights', () => {
    expect([read('height', 1.8, 'cm'), read('height', 180, 'm'), read('height', 1.8, 'm')]).toEqual([
      'range',
      'range',
      '180',
    ]);
    expect([read('weight', 0, 'kg'), read('weight', -70, 'kg'), read('weight', 1e-300, 'kg')]).toEqual(
      Array(3).fill('range'),
    );
  });
});

const absent = coded(['http://terminology.hl7.org/CodeSystem/data-absent-reason', 'not-performed']);

/** What is broken, the Observation, the kind it is refused as, why, and the element at fault. */
const BROKEN: readonly (readonly [string, Observation, string, string, string])[] = [
  ['status entered-in-error', broken(WEIGHT, 'status', 'entered-in-error'), 'weight', 'status', 'status'],
  ['status registered', broken(HEIGHT, 'status', 'registered'), 'height', 'status', 'status'],
  [
    'implicitRules',
    broken(WEIGHT, 'implicitRules', 'https://rules.example/1'),
    'weight',
    'modifier',
    'implicitRules',
  ],
  [
    'a modifierExtension',
    broken(WEIGHT, 'modifierExtension', [{ url: 'https://rules.example/not' }]),
    'weight',
    'modifier',
    'modifierExtension',
  ],
  [
    'a focus on somebody else',
    broken(WEIGHT, 'focus', [{ reference: 'Patient/x' }]),
    'weight',
    'modifier',
    'focus',
  ],
  ['no subject', broken(WEIGHT, 'subject', undefined), 'weight', 'subject', 'subject'],
  ['no date', broken(WEIGHT, 'effectiveDateTime', undefined), 'weight', 'time', 'effectiveDateTime'],
  [
    'a date without the day',
    broken(WEIGHT, 'effectiveDateTime', '2026-11'),
    'weight',
    'time',
    'effectiveDateTime',
  ],
  [
    'a date to come',
    broken(WEIGHT, 'effectiveDateTime', '2027-01-01'),
    'weight',
    'future',
    'effectiveDateTime',
  ],
  ['no value', broken(WEIGHT, 'valueQuantity', undefined), 'weight', 'value', 'valueQuantity.value'],
  [
    'a reason for absence',
    broken(broken(WEIGHT, 'valueQuantity', undefined), 'dataAbsentReason', absent),
    'weight',
    'value',
    'dataAbsentReason',
  ],
  [
    'a reason for absence beside a value (obs-6)',
    broken(WEIGHT, 'dataAbsentReason', absent),
    'weight',
    'value',
    'dataAbsentReason',
  ],
  [
    'a comparator',
    broken(WEIGHT, 'valueQuantity.comparator', '>'),
    'weight',
    'value',
    'valueQuantity.comparator',
  ],
  [
    'a unit in words only',
    broken(WEIGHT, 'valueQuantity', { value: 70.5, unit: 'kg' }),
    'weight',
    'unit',
    'valueQuantity.system',
  ],
  [
    'the system of UCUM without a code',
    broken(WEIGHT, 'valueQuantity.code', undefined),
    'weight',
    'unit',
    'valueQuantity.code',
  ],
  [
    'a unit of another quantity',
    broken(WEIGHT, 'valueQuantity.code', 'cm'),
    'weight',
    'unit',
    'valueQuantity.code',
  ],
  [
    'a force for a weight',
    broken(WEIGHT, 'valueQuantity.code', 'kgf'),
    'weight',
    'unit',
    'valueQuantity.code',
  ],
  [
    'a unit code named like an object member',
    broken(WEIGHT, 'valueQuantity.code', 'toString'),
    'weight',
    'unit',
    'valueQuantity.code',
  ],
  [
    'a value that nobody has',
    broken(WEIGHT, 'valueQuantity.value', 401),
    'weight',
    'range',
    'valueQuantity.value',
  ],
  [
    'a gait speed of a sprinter',
    measureOf('gait-speed', 9.5, 'm/s'),
    'gait-speed',
    'range',
    'valueQuantity.value',
  ],
  [
    'the codes of two measures',
    broken(WEIGHT, 'code', { coding: [MEASURE_CODES.height, MEASURE_CODES.weight] }),
    'height',
    'code',
    'code',
  ],
  [
    'the code of a measure and of a grip trial',
    broken(WEIGHT, 'code', { coding: [{ system: LOINC, code: GRIP_LOINC.right }, MEASURE_CODES.weight] }),
    'weight',
    'code',
    'code',
  ],
];

describe.each(recordDoors(DOORS.map(([, door]) => door)))('the %s', (_name, door) => {
  it('reads each kind into the session near it, with what was charted', async () => {
    const record = [
      measureOf('height', 68, '[in_i]'),
      measureOf('weight', 154.3, '[lb_av]'),
      measureOf('bmi', 23.5, 'kg/m2'),
      measureOf('gait-speed', 82.5, 'cm/s'),
      broken(measureOf('five-chair-rises', 13.25, 's'), 'meta', { versionId: '2' }),
    ];
    expect((await service.post(door.path, door.bodyOf(record))).status).toBe(200);
    const { content } = service.last();
    expect(content.refusals).toEqual([]);
    const [session] = content.input.sessions as readonly {
      measures?: { kind: string }[];
    }[];
    const byKind = new Map((session?.measures ?? []).map((measure) => [measure.kind, measure]));
    const moment = { measuredOn: '2026-11-08', measuredAt: '2026-11-08T09:00:00Z' };
    expect(KINDS.map((kind) => byKind.get(kind))).toEqual([
      { kind: 'height', value: '172.72', charted: '68 [in_i]', reference: 'Observation/height', ...moment },
      {
        kind: 'weight',
        value: '69.989302691',
        charted: '154.3 [lb_av]',
        reference: 'Observation/weight',
        ...moment,
      },
      { kind: 'bmi', value: '23.5', charted: '23.5 kg/m2', reference: 'Observation/bmi', ...moment },
      {
        kind: 'gait-speed',
        value: '0.825',
        charted: '82.5 cm/s',
        reference: 'Observation/gait-speed',
        ...moment,
      },
      {
        kind: 'five-chair-rises',
        value: '13.25',
        charted: '13.25 s',
        reference: 'Observation/five-chair-rises/_history/2',
        ...moment,
      },
    ]);
  });

  it.each(BROKEN)('refuses a measure with %s', async (_what, observation, measure, why, element) => {
    const reply = await service.post(door.path, door.bodyOf([observation]));
    expect(reply.status, reply.text).toBe(200);
    const record = service.last();
    expect(refusalsOf(record).filter(({ set }) => set === null)).toMatchObject([
      {
        code: 'MEASURE_NOT_USABLE',
        trial: `Observation/${observation.id}`,
        expression: `${door.observation(0)}.${element}`,
        facts: { measure, why },
      },
    ]);
    expect(record.content.input.sessions[0]?.trials, 'the trials are read').toHaveLength(6);
    expect(record.content.input.sessions[0]).not.toHaveProperty('measures');
    if ('resourceType' in reply.body) {
      const issue = issuesOf(reply).find(
        ({ details }) => details?.coding?.[0]?.code === 'MEASURE_NOT_USABLE',
      );
      const path = element.replace('valueQuantity', 'value').replace(/^effective[A-Z]\w*/, 'effective');
      expect(issue).toMatchObject({ expression: [`${door.observation(0)}.${path}`] });
      expect(issue?.details?.text).not.toContain('undefined');
    }
  });

  it('stops at a measure of another patient', async () => {
    const before = service.store.head().seq;
    const stranger = broken(WEIGHT, 'subject.reference', 'Patient/invented-2');
    const reply = await service.post(door.path, door.bodyOf([stranger]));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${door.observation(0)}.subject.reference`]);
    expect(service.store.head().seq).toBe(before);
  });

  it.each(['70.5', true, [70.5], null])('takes no value of %j for a number', async (value) => {
    const reply = await service.post(door.path, door.bodyOf([broken(WEIGHT, 'valueQuantity.value', value)]));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${door.observation(0)}.value.value`]);
  });

  it('uses no copy of a measure that comes in two versions, and counts a repeated one once', async () => {
    const heavier = broken(WEIGHT, 'valueQuantity.value', 80);
    await service.post(door.path, door.bodyOf([WEIGHT, heavier]));
    expect(service.last().content.refusals.map(({ code }) => code)).toEqual(
      Array(2).fill('OBSERVATION_CONFLICT'),
    );
    expect(service.last().content.input.sessions[0]).not.toHaveProperty('measures');
    await service.post(door.path, door.bodyOf([WEIGHT, structuredClone(WEIGHT)]));
    expect(service.last().content.refusals).toMatchObject([
      { code: 'DUPLICATE_OBSERVATION', trial: 'Observation/weight', expression: door.observation(1) },
    ]);
    expect(service.last().content.input.sessions[0]).toMatchObject({ measures: [{ value: '70.5' }] });
  });

  it('still passes over what is neither grip nor a measure', async () => {
    await service.post(door.path, door.bodyOf([HEART_RATE]));
    expect(service.last().content.refusals).toMatchObject([
      { code: 'CODE_NOT_GRIP', trial: 'Observation/heart-rate' },
    ]);
  });

  it('repeats no free text of a measure', async () => {
    const canary = 'canary-5d21';
    const said = {
      ...WEIGHT,
      code: { ...WEIGHT.code, text: canary },
      note: [{ text: canary }],
      valueQuantity: { ...WEIGHT.valueQuantity, unit: canary, code: canary },
    };
    const reply = await service.post(door.path, door.bodyOf([said]));
    expect(reply.status).toBe(200);
    for (const text of [reply.text, service.last().record]) expect(text).not.toContain(canary);
  });
});

describe('a measure', () => {
  it.each(['preliminary', 'amended', 'corrected'])('of status %s is used', async (status) => {
    await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, broken(WEIGHT, 'status', status)]);
    expect(service.last().content.input.sessions[0]).toMatchObject({ measures: [{ kind: 'weight' }] });
  });

  it('charted by an instant or a period has the date of its start', async () => {
    const timeless = broken(WEIGHT, 'effectiveDateTime', undefined);
    for (const observation of [
      broken(timeless, 'effectiveInstant', '2026-11-08T09:00:00.000Z'),
      broken(timeless, 'effectivePeriod', { start: '2026-11-08', end: '2026-11-09' }),
    ]) {
      await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, observation]);
      expect(service.last().content.input.sessions[0]).toMatchObject({
        measures: [{ measuredOn: '2026-11-08' }],
      });
    }
  });

  it('is no session by itself', async () => {
    await service.call(FHIR_DOOR, PATIENT, [WEIGHT, HEIGHT]);
    expect(service.last().content.findings).toEqual([]);
    expect(service.last().content.refusals).toEqual([]);
  });

  it('after asOf is to come', async () => {
    const asOf = { name: 'asOf', valueDate: '2026-11-07' };
    await service.post(FHIR_DOOR.path, parametersOf(PATIENT, [WEIGHT], [asOf]));
    expect(service.last().content.refusals).toMatchObject([{ facts: { measure: 'weight', why: 'future' } }]);
  });

  it('counts among the Observations that a request may hold', async () => {
    const weights = Array.from({ length: 301 }, (_unused, index) => broken(WEIGHT, 'id', `w${index}`));
    const reply = await service.call(FHIR_DOOR, PATIENT, weights);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
  });
});

describe('an Observation among the trials and again among the earlier ones', () => {
  it('with other content is used from neither', async () => {
    const prior = { name: 'prior', resource: broken(TRIAL, 'valueQuantity.value', 20) };
    await service.post(FHIR_DOOR.path, parametersOf(PATIENT, SIX_TRIALS, [prior]));
    expect(service.last().content.refusals).toMatchObject([
      { code: 'OBSERVATION_CONFLICT', expression: 'Parameters.parameter[1].resource' },
      { code: 'OBSERVATION_CONFLICT', expression: 'Parameters.parameter[7].resource' },
    ]);
    expect(service.last().content.input.sessions[0]?.trials).toHaveLength(5);
  });
});
