/** The optional prefetch key `measures` (STANDARDS P6, P11), and the panel that a call asks for (E1). */
import type { Bundle, FhirResource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_INTERPRETATION, PANEL_EXTENSION } from '../../src/hooks/discovery.ts';
import { broken, HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { HEIGHT, handedness, hookCallWith, RIGHT_HANDED, WEIGHT } from '../measure-fixtures.ts';
import { cardsOf, codesOf, issuesOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

const failure = (severity: string): FhirResource => ({
  resourceType: 'OperationOutcome',
  issue: [{ severity: severity as 'error', code: 'exception' }],
});
const searchset = (...resources: FhirResource[]): Bundle => ({
  resourceType: 'Bundle',
  type: 'searchset',
  entry: resources.map((resource) => ({ resource })),
});
const sessionOf = () => service.last().content.input.sessions[0] as { measures?: { kind: string }[] };

describe('measures', () => {
  it.each([
    ['absent', undefined],
    ['null', null],
    ['an OperationOutcome: it could not be retrieved', failure('error')],
    ['a Bundle without entries', searchset()],
    ['a Bundle without the member entry', { resourceType: 'Bundle', type: 'searchset', total: 0 }],
    ['a Bundle with a failure among its entries', searchset(WEIGHT, failure('fatal'))],
  ])('as %s are none, and the trials are read', async (_what, value) => {
    const reply = await service.post(HOOK_DOOR.path, hookCallWith(value));
    expect(reply.status, reply.text).toBe(200);
    expect(cardsOf(reply)).toHaveLength(1);
    expect(sessionOf()).not.toHaveProperty('measures');
    expect(service.last().content.refusals).toEqual([]);
  });

  it('in a Bundle are read, beside a warning of the search and in any order', async () => {
    const resources = [failure('warning'), WEIGHT, HEIGHT, handedness(RIGHT_HANDED)];
    for (const order of [resources, resources.toReversed()]) {
      expect((await service.post(HOOK_DOOR.path, hookCallWith(searchset(...order)))).status).toBe(200);
      expect(new Set(sessionOf().measures?.map(({ kind }) => kind))).toEqual(new Set(['weight', 'height']));
      expect(service.last().content.input).toMatchObject({ dominant: 'right' });
      expect(service.last().content.refusals).toEqual([]);
    }
  });

  it('of another patient stop the call', async () => {
    const before = service.store.head().seq;
    const stranger = broken(HEIGHT, 'subject.reference', 'Patient/invented-2');
    const reply = await service.post(HOOK_DOOR.path, hookCallWith(searchset(WEIGHT, stranger)));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(reply)[0]?.expression).toEqual(['prefetch.measures.entry[1].resource.subject.reference']);
    expect(service.store.head().seq).toBe(before);
  });

  it.each([
    ['an Observation', WEIGHT, 'prefetch.measures.resourceType'],
    ['a Patient', PATIENT, 'prefetch.measures.resourceType'],
    ['a text', 'Bundle', 'prefetch.measures'],
    ['a list', [WEIGHT], 'prefetch.measures'],
    ['false', false, 'prefetch.measures'],
    ['without a type', {}, 'prefetch.measures.resourceType'],
    ['a Bundle whose entry is no list', { ...searchset(), entry: {} }, 'prefetch.measures.entry'],
  ])('as %s are 400', async (_what, value, expression) => {
    const reply = await service.post(HOOK_DOOR.path, hookCallWith(value));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
  });

  it('do not take the place of the grip trials, which stay required', async () => {
    const call = broken(hookCallWith(searchset(WEIGHT)), 'prefetch.grip', undefined);
    const reply = await service.post(HOOK_DOOR.path, call);
    expect([reply.status, codesOf(reply)]).toEqual([412, ['PREFETCH_MISSING']]);
  });

  it('that a server sends with the trials, and again under their own key, count once', async () => {
    const call = hookCallOf(PATIENT, [...SIX_TRIALS, WEIGHT]);
    call.prefetch.measures = searchset(WEIGHT);
    await service.post(HOOK_DOOR.path, call);
    expect(sessionOf().measures).toHaveLength(1);
    expect(service.last().content.refusals).toMatchObject([
      { code: 'DUPLICATE_OBSERVATION', expression: 'prefetch.measures.entry[0].resource' },
    ]);
  });

  it('alone give no card', async () => {
    const call = { ...hookCallOf(PATIENT, []), prefetch: { patient: PATIENT, grip: null } };
    const unusable = broken(WEIGHT, 'status', 'entered-in-error');
    for (const measures of [searchset(WEIGHT), searchset(unusable)]) {
      const reply = await service.post(HOOK_DOOR.path, broken(call, 'prefetch.measures', measures));
      expect(reply.text).toBe('{"cards":[]}');
    }
  });

  it('may hold a trial, which is read like any other', async () => {
    const call = hookCallOf(PATIENT, SIX_TRIALS.slice(0, 3));
    call.prefetch.measures = searchset({ ...TRIAL, id: 'seventh' });
    await service.post(HOOK_DOOR.path, call);
    expect(service.last().content.input.sessions[0]?.trials).toHaveLength(4);
  });
});

describe('the panel of a call', () => {
  const asking = (extension: unknown) => ({ ...hookCallOf(PATIENT, SIX_TRIALS), extension });

  it('is the one that its extension names, else the one of the installation', async () => {
    const own = await service.post(HOOK_DOOR.path, asking({ 'org.example.other': 1 }));
    expect(own.status).toBe(200);
    expect(service.last().content.panel.id).toBe('adult-inpatient-us');
    const named = await service.post(HOOK_DOOR.path, asking({ [PANEL_EXTENSION]: 'all-published' }));
    expect(named.status).toBe(200);
    expect(service.last().content.panel.id).toBe('all-published');
  });

  it('that is not known is 400 naming the member extension and the panels there are', async () => {
    const before = service.store.head().seq;
    const reply = await service.post(HOOK_DOOR.path, asking({ [PANEL_EXTENSION]: 'canary-panel' }));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['PANEL_UNKNOWN']]);
    expect(issuesOf(reply)[0]).toMatchObject({ expression: ['request.extension'] });
    expect(issuesOf(reply)[0]?.diagnostics).toContain('adult-inpatient-us');
    expect(reply.text).not.toContain('canary-panel');
    expect(service.store.head().seq).toBe(before);
  });

  it.each([
    ['a number', { [PANEL_EXTENSION]: 1 }, `request.extension.${PANEL_EXTENSION}`],
    ['null', { [PANEL_EXTENSION]: null }, `request.extension.${PANEL_EXTENSION}`],
    ['empty', { [PANEL_EXTENSION]: '' }, `request.extension.${PANEL_EXTENSION}`],
    ['in a list', ['all-published'], 'request.extension'],
  ])('that is %s is 400', async (_what, extension, expression) => {
    const reply = await service.post(HOOK_DOOR.path, asking(extension));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
  });

  it('E1: is described in the requirements of the service, under a name that nobody else uses', () => {
    expect(PANEL_EXTENSION).toMatch(/^[a-z]+\.[a-z-]+\.[a-z]+$/);
    expect(GRIP_INTERPRETATION.usageRequirements).toContain(PANEL_EXTENSION);
  });
});
