/** No answer without a record: a log that cannot take it means 503 and not one finding in the reply. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { AuditFault, type AuditStore } from '../../src/audit/audit-record.ts';
import { DOORS, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { openForTests, openWithStore, type TestService } from '../service-for-tests.ts';

type Failing = 'never' | 'at-once' | 'later' | 'throws';

let failing: Failing = 'never';
let opened: Awaited<ReturnType<typeof openWithStore>>;
let entries = 0;

const CAUSE = 'disk /var/secret-path is full';
const head = { seq: 0, hash: '0'.repeat(64) };
const store: AuditStore = {
  async append() {
    if (failing === 'throws') throw new TypeError(CAUSE);
    if (failing === 'later') await new Promise((resolve) => setTimeout(resolve, 20));
    if (failing !== 'never') throw new AuditFault(CAUSE);
    entries += 1;
    return head;
  },
  head: () => head,
  findById: () => undefined,
  findByName: () => undefined,
  recordsAbout: () => [],
  findFiled: () => undefined,
  claimOnce: () => ({ kept: async () => true }),
  findDocument: () => undefined,
  searchDocuments: () => ({ total: 0, documents: [], upTo: 0 }),
  records: () => [][Symbol.iterator](),
  close: () => undefined,
};

beforeAll(async () => {
  opened = await openWithStore(store);
});
afterAll(() => opened.app.close());

describe.each(DOORS)('the %s', (_name, door) => {
  it.each(['at-once', 'later', 'throws'] as const)('answers 503 when the log fails (%s)', async (how) => {
    failing = how;
    const reply = await opened.call(door, PATIENT, SIX_TRIALS);
    expect(reply.status).toBe(503);
    expect(Number(reply.headers['retry-after'])).toBeGreaterThan(0);
    expect(reply.type).toBe(door.path.startsWith('/fhir') ? 'application/fhir+json' : 'application/json');
    expect(reply.body).toEqual({
      resourceType: 'OperationOutcome',
      issue: [
        {
          severity: 'error',
          code: 'no-store',
          details: {
            coding: [{ system: expect.any(String), code: 'NOT_RECORDED' }],
            text: 'The answer could not be put on record, so it is not given. Try again later.',
          },
        },
      ],
    });
    for (const finding of ['reduced', 'EWGSOP2', '31', 'secret-path'])
      expect(reply.text).not.toContain(finding);
  });

  it('answers again once the log does', async () => {
    failing = 'never';
    const before = entries;
    expect((await opened.call(door, PATIENT, SIX_TRIALS)).status).toBe(200);
    expect(entries).toBe(before + 1);
  });

  it('refuses a bad request without asking the log', async () => {
    failing = 'at-once';
    expect((await opened.post(door.path, '{')).status).toBe(400);
  });
});

describe('a real log that was closed under the service', () => {
  it('means 503 at both doors, and not ready', async () => {
    const service: TestService = await openForTests();
    service.store.close();
    for (const [, door] of DOORS) {
      const reply = await service.call(door, PATIENT, [TRIAL]);
      expect(reply.status).toBe(503);
      expect(reply.body.issue[0].details.coding[0].code).toBe('NOT_RECORDED');
    }
    expect((await service.get('/health/ready')).status).toBe(503);
    expect((await service.get('/health/live')).status).toBe(200);
    await service.close();
  });
});
