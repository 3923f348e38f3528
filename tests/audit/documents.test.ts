/** What is served is what was filed: `audit verify` compares the documents with the digests in the chain. */
import { randomUUID } from 'node:crypto';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyLog } from '../../src/audit/verify.ts';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS.slice(0, 5)));
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
});
afterAll(() => service.close());

/** Done to a copy. */
async function verifiedWith(sql: string): Promise<string | null> {
  const copy = `${service.file}.copy-${randomUUID()}`;
  const source = new Database(service.file, { readonly: true });
  await source.backup(copy);
  source.close();
  const db = new Database(copy);
  expect(db.prepare(sql).run().changes).toBeGreaterThan(0);
  db.close();
  return verifyLog(copy).firstFault?.problem ?? null;
}

describe('verification', () => {
  it('finds nothing wrong where documents were filed, replaced and stand again', () => {
    expect(verifyLog(service.file)).toMatchObject({ ok: true, count: 3 });
  });

  it.each([
    [
      'a figure that was changed',
      `UPDATE document_version SET content = replace(content, '"reduced"', '"not-reduced"') WHERE content LIKE '%"reduced"%'`,
      /^the filed Observation\/[0-9a-f-]{36}\/_history\/\d is not what was recorded$/,
    ],
    [
      'a content that was taken away without a removal',
      `UPDATE document_version SET facts = content, content = NULL WHERE document = 1 AND version = 1`,
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'a version that was taken away',
      'UPDATE document_version SET version = 50 WHERE document = 2 AND version = 1',
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'a version that nobody recorded',
      `INSERT INTO document_version (document, version, updated, record, content) VALUES (1, 0, '', 'x', '{}')`,
      /^a filed document is there that no record names$/,
    ],
    [
      'a version without a record',
      `INSERT INTO document_version (document, version, updated, content) VALUES (1, 0, '', '{}')`,
      /^a filed document is there that no record names$/,
    ],
    [
      'an older version made current',
      'UPDATE document SET version = 1 WHERE version = 2',
      /^the filed Observation\/.* is not what was recorded$|^a filed document is not at its newest version$/,
    ],
    [
      'a removal that nobody recorded',
      'UPDATE document SET removed = 1 WHERE seq = 2',
      /^a filed document is there that no record names$/,
    ],
    [
      'a status by which it is found',
      `UPDATE document_term SET value = 'entered-in-error' WHERE name = 'status' AND document = 2`,
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'terms that were taken away',
      `UPDATE document_term SET document = 2 WHERE document = 3`,
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'another owner',
      `UPDATE document SET owner = 'somebody' WHERE seq = 2`,
      /^the filed Observation\/.* is not what was recorded$/,
    ],
  ])('finds %s', async (_what, sql, problem) => {
    expect(await verifiedWith(sql)).toMatch(problem);
  });

  it('finds nothing wrong while the service is writing', async () => {
    const calls = Array.from({ length: 20 }, (_, index) => {
      const patient = { ...PATIENT, id: `busy-${index}` };
      const trials = SIX_TRIALS.map((trial) => ({
        ...trial,
        id: `busy-${index}-${trial.id}`,
        subject: { reference: `Patient/busy-${index}` },
      }));
      return service
        .post(FHIR_DOOR.path, bundleOf(patient, trials))
        .then(() => verifyLog(service.file).firstFault);
    });
    expect(new Set(await Promise.all(calls))).toEqual(new Set([null]));
  });
});
