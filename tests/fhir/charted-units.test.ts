/** STANDARDS FU1: the units accepted, and one force charted in each of them. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FHIR_DOOR, PATIENT, sitting } from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

/** 1 lb = 0.45359237 kg and 1 kg = 9.80665 N, exactly; the products are written out in full. */
const SAME_FORCE: readonly (readonly [string, Readonly<Record<string, number>>])[] = [
  ['64 lb', { kg: 29.02991168, kgf: 29.02991168, '[lb_av]': 64, '[lbf_av]': 64, N: 284.686183376672 }],
  // 75.3 - 2 x 21.5 lb: at the limit of the 1985 table for the right hand of men of 70 to 74. In N the
  // product has more digits than a JSON number holds.
  ['32.3 lb', { kg: 14.651033551, kgf: 14.651033551, '[lb_av]': 32.3, '[lbf_av]': 32.3 }],
  // 27 kg: at the limit of the 2019 European consensus, which does not count as reduced.
  ['27 kg', { kg: 27, kgf: 27, N: 264.77955 }],
];

describe.each(SAME_FORCE)('%s', (force, charted) => {
  it('gives the same verdicts in every unit it can be written in', async () => {
    const read = [];
    for (const [unit, value] of Object.entries(charted)) {
      const trials = sitting([value, value, value], [], { unit });
      expect((await service.call(FHIR_DOOR, PATIENT, trials)).status).toBe(200);
      const verdicts = verdictsOf(service.last());
      expect(verdicts).toHaveLength(5);
      // A z-score is a float: it may differ in its last places.
      read.push(
        verdicts.map(({ set, limit, compared, outcome, zScore }) => ({
          ...{ set, limit, compared, outcome },
          z: zScore?.toFixed(9),
        })),
      );
    }
    for (const verdicts of read) expect(verdicts).toEqual(read[0]);
    const outcomes = read[0]?.map(({ outcome }) => outcome);
    if (force === '32.3 lb') expect(outcomes?.[0], 'at or below the limit').toBe('reduced');
    if (force === '27 kg') expect(outcomes?.[2], 'below the limit only').toBe('not-reduced');
  });
});

describe('a unit of mass', () => {
  it.each([
    ['kg', 30],
    ['[lb_av]', 66],
  ])('%s is read as force, and each Observation says so', async (unit, value) => {
    const reply = await service.call(FHIR_DOOR, PATIENT, sitting([value], [value], { unit }));
    const said = `Charted in ${unit}, a unit of mass; read as the force that the instrument shows, same number.`;
    expect(issuesOf(reply).map(({ details }) => details?.text)).toContain(said);
    for (const own of observationsOf(reply)) expect(own.note?.map(({ text }) => text)).toContain(said);
  });

  it.each([
    ['kgf', 30],
    ['[lbf_av]', 66],
    ['N', 300],
  ])('%s is a force already: nothing is said', async (unit, value) => {
    const reply = await service.call(FHIR_DOOR, PATIENT, sitting([value], [value], { unit }));
    expect(codesOf(reply)).not.toContain('MASS_UNIT_READ_AS_FORCE');
    expect(reply.text).not.toContain('unit of mass');
  });
});

describe('units within one session', () => {
  it('that are the same scale under two codes are read together', async () => {
    const trials = [
      ...sitting([30, 31], [], { unit: 'kg' }),
      ...sitting([32], [], { unit: 'kgf', id: 'more' }),
    ];
    await service.call(FHIR_DOOR, PATIENT, trials);
    expect(verdictsOf(service.last())).not.toEqual([]);
  });

  it('that differ stop the session: one of them is probably misread', async () => {
    const trials = [
      ...sitting([30, 31], [], { unit: 'kg' }),
      ...sitting([66], [], { unit: '[lb_av]', id: 'more' }),
    ];
    const reply = await service.call(FHIR_DOOR, PATIENT, trials);
    expect(codesOf(reply)).toContain('UNITS_MIXED');
    expect(observationsOf(reply)).toEqual([]);
  });
});
