/** What a prefetched value means, row by row (STANDARDS P6, P8, P11). */
import type { Bundle, FhirResource, Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken, HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { cardsOf, codesOf, issuesOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const VALID = hookCallOf(PATIENT, SIX_TRIALS);
const withPrefetch = (key: string, value: unknown) =>
  service.post(HOOK_DOOR.path, broken(VALID, `prefetch.${key}`, value));

const failure = (severity: string): FhirResource => ({
  resourceType: 'OperationOutcome',
  issue: [{ severity: severity as 'error', code: 'exception' }],
});
const searchset = (resources: readonly FhirResource[], parts: Partial<Bundle> = {}): Bundle => ({
  resourceType: 'Bundle',
  type: 'searchset',
  entry: resources.map((resource) => ({ resource })),
  ...parts,
});

describe('required data that are not there', () => {
  it.each([
    ['patient', 'an absent key', undefined],
    ['grip', 'an absent key', undefined],
    ['patient', 'null: no such Patient', null],
    ['patient', 'an OperationOutcome', failure('error')],
    ['grip', 'an OperationOutcome', failure('error')],
    ['grip', 'a Bundle with a failure among its entries', searchset([...SIX_TRIALS, failure('error')])],
    ['grip', 'a Bundle with a fatal failure', searchset([failure('fatal')])],
  ])('P8: %s as %s is 412 naming the key', async (key, _what, value) => {
    const before = service.store.head().seq;
    const reply = await withPrefetch(key, value);
    expect([reply.status, codesOf(reply)]).toEqual([412, ['PREFETCH_MISSING']]);
    expect(issuesOf(reply)[0]).toMatchObject({ code: 'incomplete', expression: [`prefetch.${key}`] });
    expect(issuesOf(reply)[0]?.diagnostics).toContain(`prefetch.${key}`);
    expect(service.store.head().seq).toBe(before);
  });

  it('P8: no prefetch at all is 412 naming the first key', async () => {
    const reply = await service.post(HOOK_DOOR.path, broken(VALID, 'prefetch', undefined));
    expect(reply.status).toBe(412);
    expect(issuesOf(reply)[0]?.expression).toEqual(['prefetch.patient']);
  });
});

describe('no grip measurement', () => {
  it.each([
    ['null', null],
    ['a Bundle without entries', searchset([])],
    ['a Bundle without the member entry', { resourceType: 'Bundle', type: 'searchset', total: 0 }],
    ['a Bundle with a warning only', searchset([failure('warning')])],
    ['a Bundle with other Observations only', searchset([broken(TRIAL, 'code', { text: 'Body weight' })])],
    [
      'a Bundle with other resources only',
      searchset([{ resourceType: 'Encounter', id: 'e' } as FhirResource]),
    ],
  ])('R2, P11: as %s is 200 and no card, on record', async (_what, value) => {
    const before = service.store.head().seq;
    const reply = await withPrefetch('grip', value);
    expect(reply.status).toBe(200);
    expect(reply.text).toBe('{"cards":[]}');
    expect(service.store.head().seq).toBe(before + 1);
    expect(service.last().content.returned.cards).toEqual([]);
  });
});

describe('data that are not what was asked for', () => {
  it.each([
    ['patient', { resourceType: 'Practitioner', id: 'invented-1' }],
    ['patient', searchset([PATIENT])],
    ['grip', TRIAL],
    ['grip', PATIENT],
  ])('P11: %s of the wrong type is 400 naming the type', async (key, value) => {
    const reply = await withPrefetch(key, value);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([`prefetch.${key}.resourceType`]);
  });

  it.each([true, 'Patient/invented-1', [PATIENT], 7])('patient as %j is 400', async (value) => {
    const reply = await withPrefetch('patient', value);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
  });

  it('P11: a Patient that is not context.patientId is 400', async () => {
    for (const id of ['invented-2', undefined, 'INVENTED-1']) {
      const reply = await withPrefetch('patient', broken(PATIENT, 'id', id));
      const code = id === undefined ? 'PATIENT_MISSING' : 'PATIENT_MISMATCH';
      expect([reply.status, codesOf(reply)]).toEqual([400, [code]]);
      expect(issuesOf(reply)[0]?.expression).toEqual(['prefetch.patient.id']);
    }
  });

  it('P11: a trial of another patient is 400, whatever its code', async () => {
    const before = service.store.head().seq;
    for (const code of [TRIAL.code, { text: 'Body weight' }]) {
      const stranger = { ...broken(TRIAL, 'subject.reference', 'Patient/invented-2'), id: 'other', code };
      const reply = await withPrefetch('grip', searchset([...SIX_TRIALS, stranger]));
      expect([reply.status, codesOf(reply)]).toEqual([400, ['PATIENT_MISMATCH']]);
      expect(issuesOf(reply)[0]?.expression).toEqual(['prefetch.grip.entry[6].resource.subject.reference']);
    }
    expect(service.store.head().seq).toBe(before);
  });
});

describe('data that are there', () => {
  it('P6: are read beside a warning of the search', async () => {
    const reply = await withPrefetch('grip', searchset([...SIX_TRIALS, failure('warning')]));
    expect(cardsOf(reply)).toHaveLength(1);
  });

  it('P10: are said to be incomplete when the Bundle has a next page', async () => {
    const said = 'The record holds further grip measurements that were not read for this card.';
    const link = [
      { relation: 'self', url: 'https://ehr.example/fhir/Observation?page=1' },
      { relation: 'next', url: 'https://ehr.example/fhir/Observation?page=2' },
    ];
    const more = await withPrefetch('grip', searchset(SIX_TRIALS, { link }));
    expect(cardsOf(more)[0]?.detail).toContain(`\n\n**Over time**\n\n- ${said}\n`);
    const all = await withPrefetch('grip', searchset(SIX_TRIALS, { link: link.slice(0, 1) }));
    expect(cardsOf(all)[0]?.detail).not.toContain(said);
  });

  it('may hold other resources, such as those included by the search', async () => {
    const included = { resourceType: 'Practitioner', id: 'p' } as FhirResource;
    const reply = await withPrefetch('grip', searchset([...SIX_TRIALS, included]));
    expect(cardsOf(reply)[0]?.summary).toContain('reduced by SDOC 2020');
  });

  it('are read in any order of the search', async () => {
    const newestFirst: Observation[] = [...SIX_TRIALS].reverse();
    await withPrefetch('grip', searchset(newestFirst));
    const reversed = service.last().content.findings;
    await withPrefetch('grip', searchset(SIX_TRIALS));
    expect(service.last().content.findings).toEqual(reversed);
  });
});
