/** FI4 and FS2: a reference set that cannot be read gives no value, a coded reason, and words. */
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken, FHIR_DOOR, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
/** A person of 72 whose sex is not recorded. */
let bothColumns: readonly Observation[];

beforeAll(async () => {
  service = await openForTests();
  bothColumns = observationsOf(
    await service.call(FHIR_DOOR, broken(PATIENT, 'gender', 'unknown'), SIX_TRIALS),
  );
});
afterAll(() => service.close());

const isVerdict = (own: Observation) => own.valueCodeableConcept !== undefined;

describe('a set that cannot be read', () => {
  it('FI4: for want of a sex gives no value, the reason, and both columns as components', () => {
    const own = bothColumns.find(({ code }) => code.text === 'Grip strength against EWGSOP2 2019');
    expect(own?.valueCodeableConcept ?? own?.valueQuantity).toBeUndefined();
    expect(own?.dataAbsentReason?.coding?.[0]?.code).toBe('unknown');
    expect(own?.interpretation).toBeUndefined();
    expect(own?.component).toMatchObject([
      {
        code: { coding: [{ code: 'column-female' }] },
        valueCodeableConcept: { coding: [{ code: 'not-reduced' }] },
      },
      {
        code: { coding: [{ code: 'column-male' }] },
        valueCodeableConcept: { coding: [{ code: 'not-reduced' }] },
      },
    ]);
    expect(own?.component?.[1]?.valueCodeableConcept?.text).toContain('below 27 kg: not reduced');
    expect(bothColumns.filter(isVerdict)).toEqual([]);
  });

  it('FI4: for the age gives no value, not-applicable, and a note with the ages covered', async () => {
    const young = broken(PATIENT, 'birthDate', '2011-02-21');
    const own = observationsOf(await service.call(FHIR_DOOR, young, sitting([26, 27, 26.5], [24, 24.5, 25])));
    const outside = own.filter(({ dataAbsentReason }) => dataAbsentReason);
    expect(outside.map(({ code }) => code.text)).toEqual([
      'Grip strength against US adults 1985',
      'Grip strength against EWGSOP2 2019',
      'Grip strength against SDOC 2020',
      'Grip strength against FNIH 2014',
    ]);
    expect(outside[0]?.dataAbsentReason?.coding?.[0]?.code).toBe('not-applicable');
    expect(outside[0]?.note?.[0]?.text).toBe(
      'US adults 1985: Not applied at age 15: it is read for 20 and over. For this age see nhanes-2011-2014-right-left-mean-of-3.',
    );
    // A cut-point never points to another set: only a table stands in for a table.
    const consensus = 'Not applied at age 15: it is read for 65 and over.';
    expect(outside.slice(1).map(({ note }) => note?.[0]?.text)).toEqual([
      `EWGSOP2 2019: ${consensus}`,
      `SDOC 2020: ${consensus}`,
      `FNIH 2014: ${consensus}`,
    ]);
    for (const { dataAbsentReason } of outside.slice(1)) expect(dataAbsentReason?.text).toBe(consensus);
    expect(own.filter(isVerdict)).toHaveLength(2);
  });
});
