/** What is served is what was filed: `audit verify` compares the documents with the digests in the chain. */
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

/** Does it, looks, and undoes it. */
function verifiedWith(sql: string, undo: string) {
  const db = new Database(service.file);
  try {
    const { changes } = db.prepare(sql).run();
    expect(changes).toBeGreaterThan(0);
    const result = verifyLog(service.file);
    db.prepare(undo).run();
    return result.firstFault?.problem ?? null;
  } finally {
    db.close();
  }
}

describe('verification', () => {
  it('finds nothing wrong where documents were filed, replaced and stand again', () => {
    expect(verifyLog(service.file)).toMatchObject({ ok: true, count: 3 });
  });

  it.each([
    [
      'a figure that was changed',
      `UPDATE document_version SET content = replace(content, '"reduced"', '"not-reduced"') WHERE content LIKE '%"reduced"%'`,
      `UPDATE document_version SET content = replace(content, '"not-reduced"', '"reduced"') WHERE content LIKE '%sdoc-2020%'`,
      /^the filed Observation\/[0-9a-f-]{36}\/_history\/\d is not what was recorded$/,
    ],
    [
      'a content that was taken away without a removal',
      `UPDATE document_version SET facts = content, content = NULL WHERE document = 1 AND version = 1`,
      `UPDATE document_version SET content = facts WHERE document = 1 AND version = 1`,
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'a version that was taken away',
      'UPDATE document_version SET version = 50 WHERE document = 2 AND version = 1',
      'UPDATE document_version SET version = 1 WHERE document = 2 AND version = 50',
      /^the filed Observation\/.* is not what was recorded$/,
    ],
    [
      'a version that nobody recorded',
      `INSERT INTO document_version (document, version, updated, record, content) VALUES (1, 99, '', 'x', '{}')`,
      'DELETE FROM document_version WHERE version = 99',
      /^a filed document is there that no record names$/,
    ],
  ])('finds %s', (_what, sql, undo, problem) => {
    expect(verifiedWith(sql, undo)).toMatch(problem);
  });
});
