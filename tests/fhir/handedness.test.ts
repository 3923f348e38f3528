/** Which hand a person writes with, as charted. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { HANDEDNESS_SNOMED, SNOMED } from '../../src/fhir/codes.ts';
import { broken, coded, DOORS, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { AMBIDEXTROUS, handedness, LEFT_HANDED, RIGHT_HANDED, recordDoors } from '../measure-fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

const dominant = () => (service.last().content.input as { dominant?: string }).dominant;

describe.each(recordDoors(DOORS.map(([, door]) => door)))('the %s', (_name, door) => {
  it.each([
    [RIGHT_HANDED, 'right'],
    [LEFT_HANDED, 'left'],
    [AMBIDEXTROUS, 'both'],
  ])('reads SNOMED CT %s as %s', async (code, hand) => {
    expect((await service.post(door.path, door.bodyOf([handedness(code)]))).status).toBe(200);
    expect(dominant()).toBe(hand);
    expect(service.last().content.refusals).toEqual([]);
  });

  it('takes the latest one, in whatever order they come', async () => {
    const charted = [
      handedness(LEFT_HANDED, '2024-06-01'),
      handedness(RIGHT_HANDED, '2026-01-31'),
      handedness(LEFT_HANDED, '2025-12-31'),
    ];
    for (const record of [charted, charted.toReversed()]) {
      await service.post(door.path, door.bodyOf(record));
      expect(dominant()).toBe('right');
    }
  });

  it('takes none where the latest day has two', async () => {
    const charted = [
      handedness(RIGHT_HANDED, '2026-01-31'),
      handedness(LEFT_HANDED, '2026-01-31'),
      handedness(RIGHT_HANDED, '2024-06-01'),
    ];
    await service.post(door.path, door.bodyOf(charted));
    expect(dominant()).toBeUndefined();
  });

  it.each([
    ['of a value that is not known', handedness(HANDEDNESS_SNOMED), 'value', 'valueCodeableConcept'],
    ['of a value named like an object member', handedness('toString'), 'value', 'valueCodeableConcept'],
    [
      'of two values',
      broken(
        handedness(RIGHT_HANDED),
        'valueCodeableConcept',
        coded([SNOMED, RIGHT_HANDED], [SNOMED, LEFT_HANDED]),
      ),
      'value',
      'valueCodeableConcept',
    ],
    [
      'in another code system',
      broken(
        handedness(RIGHT_HANDED),
        'valueCodeableConcept',
        coded(['https://codes.example', RIGHT_HANDED]),
      ),
      'value',
      'valueCodeableConcept',
    ],
    [
      'in words',
      broken(handedness(RIGHT_HANDED), 'valueCodeableConcept', { text: 'right' }),
      'value',
      'valueCodeableConcept',
    ],
    [
      'with a reason for absence',
      broken(handedness(RIGHT_HANDED), 'dataAbsentReason', coded([SNOMED, '1'])),
      'value',
      'dataAbsentReason',
    ],
    ['entered in error', broken(handedness(RIGHT_HANDED), 'status', 'entered-in-error'), 'status', 'status'],
    ['without the day', handedness(RIGHT_HANDED, '2026-01'), 'time', 'effectiveDateTime'],
    ['charted for a day to come', handedness(RIGHT_HANDED, '2027-01-01'), 'future', 'effectiveDateTime'],
    ['of nobody', broken(handedness(RIGHT_HANDED), 'subject', undefined), 'subject', 'subject'],
    [
      'with a modifier',
      broken(handedness(RIGHT_HANDED), 'modifierExtension', [{ url: 'https://rules.example' }]),
      'modifier',
      'modifierExtension',
    ],
  ])('takes none %s, and says why', async (_what, observation, why, element) => {
    const usable = handedness(LEFT_HANDED, '2020-02-29');
    await service.post(door.path, door.bodyOf([observation]));
    expect(dominant()).toBeUndefined();
    expect(service.last().content.refusals).toMatchObject([
      {
        code: 'MEASURE_NOT_USABLE',
        expression: `${door.observation(0)}.${element}`,
        facts: { measure: 'handedness', why },
      },
    ]);
    await service.post(door.path, door.bodyOf([observation, usable]));
    expect(dominant(), 'an earlier usable one counts').toBe('left');
  });
});

describe('handedness', () => {
  it('that is not charted is not in the input', async () => {
    await service.call(FHIR_DOOR, PATIENT, SIX_TRIALS);
    expect(service.last().content.input).not.toHaveProperty('dominant');
  });

  it('is what an interpretation says it was read with', async () => {
    await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, handedness(LEFT_HANDED)]);
    expect(service.last().content.findings).toMatchObject([{ dominant: 'left' }]);
  });
});
