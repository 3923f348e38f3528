/** The organisation's own hook (STANDARDS K4, K5): the session just charted, beside the earlier ones. */
import { readFileSync } from 'node:fs';
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { replay } from '../../src/replay.ts';
import { openLibrary } from '../../src/service.ts';
import { broken, collection, type HookBody, hookCallOf, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import {
  cardsOf,
  codesOf,
  issuesOf,
  openForTests,
  refusalsOf,
  type TestService,
} from '../service-for-tests.ts';

const HOOK = 'org.alder-reach.grip-charted';
const PATH = '/cds-services/grip-interpretation-charted';
let service: TestService;
beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: HOOK });
});
afterAll(() => service.close());

const earlier = sitting([33, 34, 33], [30, 31, 30], { id: 'earlier', at: '2026-10-19T09:00:00Z' });

function charted(observations: readonly Observation[], record?: readonly Observation[] | null): HookBody {
  const { prefetch, context, ...call } = hookCallOf(PATIENT, record ?? []);
  const { patient, grip } = prefetch;
  return {
    ...call,
    hook: HOOK,
    context: { ...context, observations: collection(observations) },
    prefetch: { patient, ...(record === undefined ? {} : { earlier: record && grip }) },
  };
}

describe("the organisation's own hook", () => {
  it('K4: is answered under its own name only, and nowhere where it is not configured', async () => {
    const wrong = await service.post(PATH, { ...charted(SIX_TRIALS), hook: 'patient-view' });
    expect([wrong.status, codesOf(wrong)]).toEqual([400, ['HOOK_NOT_OFFERED']]);
    const unconfigured = await openForTests();
    expect((await unconfigured.post(PATH, charted(SIX_TRIALS))).status).toBe(404);
    await unconfigured.close();
  });

  it('K5: reads what is in the context, without any earlier measurement', async () => {
    for (const record of [undefined, null, []]) {
      const [card] = cardsOf(await service.post(PATH, charted(SIX_TRIALS, record)));
      expect(card?.summary).toBe(
        'Grip strength 16 Nov 2026: reference sets disagree: reduced by SDOC 2020; not by 4 others.',
      );
      expect(card?.detail).not.toContain('just charted');
    }
  });

  it('K5: puts it beside the earlier ones of the record, and knows again what is in both', async () => {
    const [card] = cardsOf(await service.post(PATH, charted(SIX_TRIALS, [...SIX_TRIALS, ...earlier])));
    expect(card?.detail).toContain('- Right: 31, 32, 30 kg; mean 31.0 kg; highest 32.0 kg\n');
    expect(card?.detail).toContain(
      'Right hand since 19 Oct 2026 09:00: mean 33.3 kg to 31.0 kg (-2.3 kg, -7.0%).',
    );
    expect(card?.detail).not.toContain('more than once');
    expect(refusalsOf(service.last()).filter(({ code }) => code === 'DUPLICATE_OBSERVATION')).toHaveLength(6);
  });

  it('K5: says so where the newest session is another than the one just charted', async () => {
    const [card] = cardsOf(await service.post(PATH, charted(earlier, SIX_TRIALS)));
    expect(card?.detail).toMatch(
      /^What was just charted is not part of the newest session that could be read: this card is of the session of 16 Nov 2026\.\n\n/,
    );
  });

  it('knows again a trial that carries its version', async () => {
    const versioned = SIX_TRIALS.map((trial) => ({ ...trial, meta: { versionId: '2' } }));
    const [card] = cardsOf(await service.post(PATH, charted(versioned)));
    expect(card?.detail).not.toContain('just charted');
  });

  it('R2: nothing charted that is grip gives no card', async () => {
    const reply = await service.post(PATH, charted([]));
    expect([reply.status, reply.body]).toEqual([200, { cards: [] }]);
  });

  it('says why when nothing that was just charted could be used', async () => {
    const unread = SIX_TRIALS.map((trial) => broken(trial, 'valueQuantity.code', 'lb'));
    const [card] = cardsOf(await service.post(PATH, charted(unread)));
    expect(card?.summary).toBe('Grip strength: not interpreted; none of the 6 trials could be used.');
  });

  it.each([
    ['is missing', undefined, 'request.context.observations'],
    [
      'is no Bundle',
      { resourceType: 'Patient', type: 'collection' },
      'request.context.observations.resourceType',
    ],
    [
      'is of another type than collection',
      { resourceType: 'Bundle', type: 'searchset' },
      'request.context.observations.type',
    ],
    ['is a list', [], 'request.context.observations'],
  ])('K5: context.observations that %s is refused', async (_what, observations, expression) => {
    const call = charted([]);
    const reply = await service.post(PATH, { ...call, context: { ...call.context, observations } });
    expect([reply.status, codesOf(reply)[0]]).toEqual([400, 'BODY_INVALID']);
    expect(issuesOf(reply)[0]?.expression?.[0]).toBe(expression);
  });

  it('P11: trials of another patient in the context are refused', async () => {
    const others = sitting([31], [], { subject: 'Patient/another' });
    const reply = await service.post(PATH, charted(others));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([
      'request.context.observations.entry[0].resource.subject.reference',
    ]);
  });

  it('P8: the patient is required', async () => {
    const call = charted(SIX_TRIALS);
    const reply = await service.post(PATH, { ...call, prefetch: {} });
    expect([reply.status, issuesOf(reply)[0]?.expression]).toEqual([412, ['prefetch.patient']]);
  });

  it('K5: answers the example of its documentation', async () => {
    const guide = readFileSync(new URL('../../docs/hooks.md', import.meta.url), 'utf8');
    const [, example = ''] =
      /```json\n(\{ "hook": "org\.alder-reach\.grip-charted"[\s\S]*?)```/.exec(guide) ?? [];
    const reply = await service.post(PATH, example);
    expect(reply.status).toBe(200);
    expect(cardsOf(reply)[0]?.summary).toContain('Grip strength 17 Nov 2026: ');
  });

  it('replays to the byte, since what was charted is on record', async () => {
    await service.post(PATH, charted(earlier, SIX_TRIALS));
    const { engine } = service.last().content;
    expect(replay(service.last(), openLibrary(), engine.version)).toEqual({
      outcome: 'same',
      replyCompared: true,
    });
  });
});
