/** Values that a lenient parser would turn into a reading: each is refused at the door, and nothing is recorded. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DOORS, PATIENT, TRIAL } from '../fixtures.ts';
import { issuesOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.store.head().seq).toBe(0);
  await service.close();
});

const NOT_NUMBERS = [
  'null',
  'true',
  'false',
  '"31.5"',
  '[31.5]',
  '{}',
  '{"value":31.5}',
  '1e999',
  '-1e999',
  '""',
];
const NOT_JSON = ['NaN', 'Infinity', '-Infinity', '31,5', '31.', '.5', '+31.5', '031.5', '0x1F', '31_5', ''];

describe.each(DOORS)('the %s', (_name, door) => {
  const withReading = (raw: string): string =>
    JSON.stringify(door.bodyOf(PATIENT, [TRIAL])).replace('"value":31.5', `"value":${raw}`);

  it.each(NOT_NUMBERS)('refuses a reading of %s and names the element', async (raw) => {
    const reply = await service.post(door.path, withReading(raw));
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)).toMatchObject([
      {
        severity: 'error',
        code: 'structure',
        details: { coding: [{ code: 'BODY_INVALID' }] },
        expression: [`${door.observation(0)}.value.value`],
      },
    ]);
    expect(service.store.head().seq).toBe(0);
  });

  it.each(NOT_JSON)('refuses the text %j where a reading should be: it is not JSON', async (raw) => {
    const reply = await service.post(door.path, withReading(raw));
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)).toMatchObject([{ details: { coding: [{ code: 'BODY_NOT_JSON' }] } }]);
    expect(service.store.head().seq).toBe(0);
  });

  it.each(['null', '"kgf"', '[]', '31.5'])('refuses %s as the whole valueQuantity', async (raw) => {
    const body = JSON.stringify(door.bodyOf(PATIENT, [TRIAL])).replace(
      /"valueQuantity":\{[^}]*\}/,
      `"valueQuantity":${raw}`,
    );
    const reply = await service.post(door.path, body);
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${door.observation(0)}.value`]);
    expect(service.store.head().seq).toBe(0);
  });

  it('refuses a comparator that FHIR does not know', async () => {
    const body = JSON.stringify(door.bodyOf(PATIENT, [TRIAL])).replace(
      '"value":31.5',
      '"value":31.5,"comparator":"~"',
    );
    const reply = await service.post(door.path, body);
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${door.observation(0)}.value.comparator`]);
  });
});
