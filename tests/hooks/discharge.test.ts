/** `grip-interpretation-discharge`: what a card says of the stay that ends (hook encounter-discharge 1.0). */
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { replay } from '../../src/replay.ts';
import { openLibrary } from '../../src/service.ts';
import { broken, type HookBody, hookCallOf, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { cardsOf, codesOf, issuesOf, openForTests, type TestService } from '../service-for-tests.ts';

const PATH = '/cds-services/grip-interpretation-discharge';
const STAY = 'invented-stay';
const NOT_SENT = 'not sent';
let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const encounter = (start?: string, more: object = {}) => ({
  resourceType: 'Encounter',
  id: STAY,
  status: 'in-progress',
  class: { code: 'IMP' },
  subject: { reference: 'Patient/invented-1' },
  ...(start ? { period: { start } } : {}),
  ...more,
});

function discharge(
  observations: readonly Observation[],
  stay: unknown = encounter('2026-11-02T10:00:00Z'),
): HookBody {
  const call = hookCallOf(PATIENT, observations);
  const prefetch = { ...call.prefetch, ...(stay === NOT_SENT ? {} : { encounter: stay }) };
  return {
    ...call,
    hook: 'encounter-discharge',
    context: { ...call.context, encounterId: STAY },
    prefetch,
  };
}

const before = sitting([36, 35, 36], [33, 33, 32], { id: 'before', at: '2026-08-03T09:00:00Z' });
const first = sitting([33, 34, 33], [30, 31, 30], { id: 'first', at: '2026-11-03T09:00:00Z' });

/** The lines of the section. */
async function lineOf(body: HookBody): Promise<string> {
  const reply = await service.post(PATH, body);
  expect(reply.status).toBe(200);
  const parts = (cardsOf(reply)[0]?.detail ?? '').split('\n\n');
  return parts[parts.indexOf('**At discharge**') + 1] ?? '';
}

describe('at a discharge', () => {
  it('G1: the card says first and last of the stay, the change between them, and when the next is due', async () => {
    // Means 33.333 and 31 kg on the right, 30.333 and 28.5 kg on the left; 36 kg of August is of before the stay.
    expect(await lineOf(discharge([...SIX_TRIALS, ...first, ...before]))).toBe(
      '- Measured 2 times during this stay (since 2 Nov 2026), first on 3 Nov 2026, last on 16 Nov 2026. To hand over: by the rule of this panel the next measurement is suggested from 30 Nov 2026.\n' +
        '- Right hand: mean 33.3 kg to 31.0 kg (-2.3 kg, -7.0%). Within measurement error (3.5 kg); less than the smallest important change (5.0 kg).\n' +
        '- Left hand: mean 30.3 kg to 28.5 kg (-1.8 kg, -6.0%). Within measurement error (3.5 kg); less than the smallest important change (5.0 kg).',
    );
    expect(service.last().content.asked.hook).toMatchObject({
      service: 'grip-interpretation-discharge',
      hook: 'encounter-discharge',
      encounter: STAY,
      stay: { start: '2026-11-02T10:00:00Z', end: null, why: null },
    });
  });

  it('the change is in the unit charted, and says where it is provisional', async () => {
    const pounds = sitting([74, 75, 73], [66, 66], { id: 'lb', at: '2026-11-03T09:00:00Z', unit: '[lb_av]' });
    const now = sitting([68, 69, 67], [62, 62, 62], { unit: '[lb_av]' });
    const lines = await lineOf(discharge([...now, ...pounds]));
    expect(lines).toContain('- Right hand: mean 74.0 lb to 68.0 lb (-6.0 lb, -8.1%). Within');
    expect(lines).toContain(
      '- Left hand: mean 66.0 lb to 62.0 lb (-4.0 lb, -6.1%). Provisional: fewer trials than the protocol asks for. Within',
    );
  });

  it('one measurement in the stay is said to be one', async () => {
    expect(await lineOf(discharge([...SIX_TRIALS, ...before]))).toMatch(
      /^- Measured once during this stay \(since 2 Nov 2026\), on 16 Nov 2026\. To hand over: /,
    );
  });

  it('R2: nothing is said where grip was never measured', async () => {
    const reply = await service.post(PATH, discharge([]));
    expect([reply.status, reply.body]).toEqual([200, { cards: [] }]);
  });

  it('C2: a stay without a measurement gives a brief info card, with the last one before it', async () => {
    const reply = await service.post(PATH, discharge(before));
    const [card] = cardsOf(reply);
    expect(card?.summary).toBe('Grip strength was not measured during this stay; last measured 3 Aug 2026.');
    expect(card?.indicator).toBe('info');
    expect(card?.detail).toMatch(
      /^\*\*At discharge\*\*\n\n- Not measured during this stay \(since 2 Nov 2026\)\. To hand over: by the rule of this panel the next measurement was suggested from 17 Aug 2026\.\n\nTested 3 Aug 2026 /,
    );
    expect(card).not.toHaveProperty('suggestions');
    expect((card?.detail ?? '').split(/\s+/).length).toBeLessThan(150);
  });

  it('what was charted in the stay and could not be read is not called unmeasured', async () => {
    const unread = SIX_TRIALS.map((trial) => broken(trial, 'valueQuantity.code', 'lb'));
    const [card] = cardsOf(await service.post(PATH, discharge([...unread, ...before])));
    expect(card?.summary).toMatch(/^Newer grip trials \(16 Nov 2026\) could not be used\. /);
    expect(card?.detail).toContain(
      '- Charted, but not in a form that could be read, during this stay (since 2 Nov 2026).',
    );
  });

  it.each([
    ['is not sent', NOT_SENT, 'The Encounter of this stay could not be had.'],
    ['is null', null, 'The Encounter of this stay could not be had.'],
    ['has no period', encounter(), 'The Encounter of this stay has no start.'],
    [
      'is entered in error',
      encounter('2026-11-02', { status: 'entered-in-error' }),
      'The Encounter of this stay is charted as entered in error.',
    ],
  ])('P11: an Encounter that %s is said, and the reading is given', async (_what, stay, said) => {
    expect(await lineOf(discharge(SIX_TRIALS, stay))).toContain(
      `- ${said} Which measurements belong to this stay is not known.`,
    );
  });

  it('an Encounter that ended bounds the stay on both sides', async () => {
    const ended = encounter('2026-11-02', { period: { start: '2026-11-02', end: '2026-11-10' } });
    expect(await lineOf(discharge([...SIX_TRIALS, ...first], ended))).toMatch(
      /^- Measured once .* on 3 Nov 2026\./,
    );
  });

  it.each([
    [
      'of another patient',
      encounter('2026-11-02', { subject: { reference: 'Patient/another' } }),
      'PATIENT_MISMATCH',
    ],
    ['with another id', encounter('2026-11-02', { id: 'another-stay' }), 'BODY_INVALID'],
    ['that is no Encounter', { resourceType: 'Patient', id: STAY }, 'BODY_INVALID'],
    ['with a start that is no date', encounter('yesterday'), 'BODY_INVALID'],
  ])('P11: an Encounter %s is refused, and nothing is interpreted', async (_what, stay, code) => {
    const count = service.all().length;
    const reply = await service.post(PATH, discharge(SIX_TRIALS, stay));
    expect([reply.status, codesOf(reply)[0]]).toEqual([400, code]);
    expect(service.all()).toHaveLength(count);
  });

  it.each([
    'https://elsewhere.example/fhir/Patient/invented-1',
    'https://elsewhere.example/Group/Patient/invented-1',
    'Patient/invented-1#other',
  ])('P11: an Encounter of the same id on another server (%s) is another patient', async (reference) => {
    expect(PATIENT.id).toBe('invented-1');
    const call = {
      ...discharge(SIX_TRIALS, encounter('2026-11-02', { subject: { reference } })),
      fhirServer: 'https://ehr.example/fhir',
    };
    const reply = await service.post(PATH, call);
    expect([reply.status, codesOf(reply)[0]]).toEqual([400, 'PATIENT_MISMATCH']);
    const own = 'https://ehr.example/fhir/Patient/invented-1';
    const theirs = {
      ...call,
      prefetch: discharge(SIX_TRIALS, encounter('2026-11-02', { subject: { reference: own } })).prefetch,
    };
    expect((await service.post(PATH, theirs)).status).toBe(200);
  });

  it('Q3: a trial charted without its day may be of the stay: that it was not measured is not said', async () => {
    const { effectiveDateTime: _, ...undated } = { ...(SIX_TRIALS[0] as Observation), id: 'undated' };
    const reply = await service.post(PATH, discharge([...before, undated]));
    const [card] = cardsOf(reply);
    expect(card?.summary).not.toContain('not measured during this stay');
    expect(card?.detail).toContain('charted without its day');
  });

  it('Q3: context.encounterId is required', async () => {
    const call = discharge(SIX_TRIALS);
    const { encounterId: _, ...context } = call.context;
    const reply = await service.post(PATH, { ...call, context });
    expect([reply.status, issuesOf(reply)[0]?.expression]).toEqual([400, ['request.context.encounterId']]);
  });

  it('replays to the byte, since the stay is on record', async () => {
    await service.post(PATH, discharge([...SIX_TRIALS, ...first]));
    const { engine } = service.last().content;
    expect(replay(service.last(), openLibrary(), engine.version)).toEqual({
      outcome: 'same',
      replyCompared: true,
    });
  });
});
