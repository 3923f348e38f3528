/** What a trial may carry and still be read, through both doors; the side it is read for. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_SNOMED, LOINC, SNOMED } from '../../src/fhir/codes.ts';
import { broken, coded, DOORS, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { openForTests, refusalsOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const SEVENTH = broken(TRIAL, 'id', 'trial-7');
const SNOMED_GRIP = broken(SEVENTH, 'code', coded([SNOMED, GRIP_SNOMED]));

describe.each(DOORS)('the %s accepts a trial with', (_name, door) => {
  it.each([
    ['a reading at the bound of 100 kg', broken(SEVENTH, 'valueQuantity.value', 100)],
    ['status amended', broken(SEVENTH, 'status', 'amended')],
    ['status corrected', broken(SEVENTH, 'status', 'corrected')],
    ['status preliminary', broken(SEVENTH, 'status', 'preliminary')],
    [
      'SNOMED CT and the structure of the right hand',
      broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, '78791008'])),
    ],
    [
      'SNOMED CT and the structure of the left hand',
      broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, '85151006'])),
    ],
    ['SNOMED CT and the qualifier right', broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, '24028007']))],
    ['SNOMED CT and the qualifier left', broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, '7771000']))],
    ['a body site that agrees with the code', broken(SEVENTH, 'bodySite', coded([SNOMED, '78791008']))],
    [
      'a local code beside the LOINC one',
      broken(SEVENTH, 'code', coded(['https://codes.example', 'grip'], [LOINC, '83174-3'])),
    ],
    ['an empty list of modifier extensions', broken(SEVENTH, 'modifierExtension', [])],
    [
      'an extension that is not known here',
      broken(SEVENTH, 'extension', [{ url: 'https://ext.example', valueBoolean: true }]),
    ],
    ['a leap second', broken(SEVENTH, 'effectiveDateTime', '2026-11-16T14:05:60Z')],
    [
      'an extension with an escaped character outside the basic plane',
      broken(SEVENTH, 'extension', [{ url: 'https://ext.example', valueString: '\ud83d\ude00' }]),
    ],
    [
      'an effectiveInstant',
      broken(broken(SEVENTH, 'effectiveDateTime', undefined), 'effectiveInstant', '2026-11-16T14:05:00.123Z'),
    ],
  ])('%s', async (_what, trial) => {
    const reply = await service.call(door, PATIENT, [...SIX_TRIALS, trial]);
    expect(reply.status).toBe(200);
    const record = service.last();
    expect(refusalsOf(record).filter(({ trial: refused }) => refused !== null)).toEqual([]);
    expect(record.content.input.sessions[0]?.trials).toHaveLength(7);
  });

  it('reads the side from the body site', async () => {
    for (const [site, hand] of [
      ['24028007', 'right'],
      ['7771000', 'left'],
    ]) {
      const trial = broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, site ?? '']));
      await service.call(door, PATIENT, [trial]);
      expect(service.last().content.input.sessions[0]?.trials).toMatchObject([{ hand }]);
    }
  });
});
