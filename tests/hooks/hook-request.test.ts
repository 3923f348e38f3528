/** The envelope of a hook call (STANDARDS Q1 to Q8, K1, J6). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken, HOOK_DOOR, type HookBody, hookCallOf, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { cardsOf, codesOf, issuesOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const VALID = hookCallOf(PATIENT, SIX_TRIALS);
const AUTHORIZATION = {
  access_token: 'secret',
  token_type: 'Bearer',
  expires_in: 300,
  scope: 'user/Observation.rs',
  subject: 'client',
};
const send = (call: HookBody) => service.post(HOOK_DOOR.path, call);

describe('a hook call', () => {
  it.each([
    ['Q1: without hook', broken(VALID, 'hook', undefined), 'BODY_INVALID', 'request.hook'],
    ['Q1: with an empty hook', broken(VALID, 'hook', ''), 'BODY_INVALID', 'request.hook'],
    [
      'Q1: of a hook that is not offered',
      broken(VALID, 'hook', 'order-sign'),
      'HOOK_NOT_OFFERED',
      'request.hook',
    ],
    [
      'Q2: without hookInstance',
      broken(VALID, 'hookInstance', undefined),
      'BODY_INVALID',
      'request.hookInstance',
    ],
    [
      'Q2: with a hookInstance that is no UUID',
      broken(VALID, 'hookInstance', '1'),
      'BODY_INVALID',
      'request.hookInstance',
    ],
    [
      'Q2: with a hookInstance that is null (J2)',
      broken(VALID, 'hookInstance', null),
      'BODY_INVALID',
      'request.hookInstance',
    ],
    ['Q3: without context', broken(VALID, 'context', undefined), 'BODY_INVALID', 'request.context'],
    ['Q3: with a list as context', broken(VALID, 'context', []), 'BODY_INVALID', 'request.context'],
    [
      'Q3: without userId',
      broken(VALID, 'context.userId', undefined),
      'BODY_INVALID',
      'request.context.userId',
    ],
    [
      'Q3: without patientId',
      broken(VALID, 'context.patientId', undefined),
      'BODY_INVALID',
      'request.context.patientId',
    ],
    [
      'Q3: with a patientId that is a reference',
      broken(VALID, 'context.patientId', 'Patient/invented-1'),
      'BODY_INVALID',
      'request.context.patientId',
    ],
    [
      'Q3: with a patientId that is a number',
      broken(VALID, 'context.patientId', 1),
      'BODY_INVALID',
      'request.context.patientId',
    ],
    [
      'Q4: with fhirAuthorization but no fhirServer',
      broken(VALID, 'fhirAuthorization', AUTHORIZATION),
      'BODY_INVALID',
      'request.fhirServer',
    ],
    [
      'Q5: with fhirAuthorization of another token type',
      broken(broken(VALID, 'fhirServer', 'https://ehr.example/fhir'), 'fhirAuthorization', {
        ...AUTHORIZATION,
        token_type: 'MAC',
      }),
      'BODY_INVALID',
      'request.fhirAuthorization.token_type',
    ],
    [
      'Q5: with fhirAuthorization without its scope',
      broken(broken(VALID, 'fhirServer', 'https://ehr.example/fhir'), 'fhirAuthorization', {
        ...AUTHORIZATION,
        scope: undefined,
      }),
      'BODY_INVALID',
      'request.fhirAuthorization.scope',
    ],
    [
      'Q4: with a fhirServer that is not http',
      broken(VALID, 'fhirServer', 'javascript:alert(1)'),
      'BODY_INVALID',
      'request.fhirServer',
    ],
    [
      'Q4: with a fhirServer that is no URL',
      broken(VALID, 'fhirServer', 'here'),
      'BODY_INVALID',
      'request.fhirServer',
    ],
    ['Q6: with a list as prefetch', broken(VALID, 'prefetch', []), 'BODY_INVALID', 'request.prefetch'],
  ] as const)('%s is refused with 400 naming the member', async (_what, call, code, expression) => {
    const before = service.store.head().seq;
    const reply = await send(call);
    expect([reply.status, codesOf(reply)]).toEqual([400, [code]]);
    expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
    expect(service.store.head().seq).toBe(before);
  });

  it.each(['Practitioner/7', 'PractitionerRole/a-1', 'Patient/x.y', 'RelatedPerson/1'])(
    'K1: names its user as %s, which goes on record',
    async (userId) => {
      expect((await send(broken(VALID, 'context.userId', userId))).status).toBe(200);
      expect(service.last().content.asked.user).toBe(userId);
    },
  );

  it.each([
    'Practitioner',
    '7',
    'Organization/7',
    'Practitioner/',
    'Practitioner/a b',
    'https://ehr.example/Practitioner/7',
    'Practitioner/7/_history/1',
  ])('K1: is refused when its user is %j', async (userId) => {
    const reply = await send(broken(VALID, 'context.userId', userId));
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual(['request.context.userId']);
    expect(reply.text).not.toContain('history');
  });

  it('Q2: takes a UUID of any version, in either case, onto the record', async () => {
    for (const instance of ['6ba7b810-9dad-11d1-80b4-00c04fd430c8', '0198C0DE-0000-7000-8000-000000000001']) {
      expect((await send(broken(VALID, 'hookInstance', instance))).status).toBe(200);
      expect(service.last().content.asked.hook).toMatchObject({ instance });
    }
  });

  it('Q5: may carry an authorisation, of which nothing is kept', async () => {
    const call = {
      ...VALID,
      fhirServer: 'https://ehr.example/fhir',
      fhirAuthorization: {
        access_token: 'canary-token-41c7',
        token_type: 'Bearer',
        expires_in: 300,
        scope: 'patient/*.read',
        subject: 'canary-subject-41c7',
      },
    };
    const reply = await send(call);
    expect(reply.status).toBe(200);
    for (const text of [reply.text, service.last().record]) expect(text).not.toContain('41c7');
  });

  it('Q6: may carry prefetch of keys that are not ours', async () => {
    const call = broken(VALID, 'prefetch.conditions', { resourceType: 'OperationOutcome', issue: [] });
    expect((await send(call)).status).toBe(200);
  });

  it('Q7 and J6: may carry an extension and members that are not known', async () => {
    const call = { ...VALID, extension: { 'org.example.x': [1] }, vendor: { a: 1 } };
    expect((await send(broken(call, 'context.encounterId', 'e1'))).status).toBe(200);
  });

  it('is answered alike however often it comes, each time with a record and card of its own', async () => {
    const [first, second] = [await send(VALID), await send(VALID)];
    const [a, b] = [cardsOf(first)[0], cardsOf(second)[0]];
    expect(a?.summary).toBe(b?.summary);
    expect(a?.uuid).not.toBe(b?.uuid);
  });
});
