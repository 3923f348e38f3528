/** Any JSON anywhere in a valid call: an answer or a refusal, never a failure, and the log stays whole. */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DOORS, type Door, HOOK_DOOR, PATIENT, parametersOf, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import { spliced, splices } from '../splices.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const BODIES: readonly (readonly [string, Door['path'], object])[] = [
  ...DOORS.map(([name, door]) => [name, door.path, door.bodyOf(PATIENT, SIX_TRIALS)] as const),
  [
    'FHIR operation with Parameters',
    '/fhir/Observation/$interpret-grip',
    parametersOf(PATIENT, SIX_TRIALS, [{ name: 'asOf', valueDate: '2026-11-20' }]),
  ],
];

describe.each(BODIES)('the %s', (_name, path, valid) => {
  it('never fails, whatever is spliced into a valid call', async () => {
    await fc.assert(
      fc.asyncProperty(splices, async (changes) => {
        const before = service.store.head().seq;
        const body = JSON.stringify(spliced(valid, changes));
        const reply = await service.post(path, body);
        expect(reply.status, reply.text).toBeLessThan(500);
        const recorded = service.store.head().seq - before;
        expect(recorded).toBe(reply.status === 200 ? 1 : 0);
        if (reply.status !== 200) expect(reply.body.resourceType).toBe('OperationOutcome');
      }),
      { numRuns: 300 },
    );
  }, 60_000);
});

describe('the record of all these calls', () => {
  it('is whole', async () => {
    expect((await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS)).status).toBe(200);
    expect(service.verify()).toMatchObject({ ok: true, count: service.store.head().seq });
  });
});
