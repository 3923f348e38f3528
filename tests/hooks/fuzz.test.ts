/**
 * Thousands of hook calls that are nearly right, over every service that discovery names: never a failure, never data of
 * another person, never a long wait; an answer has its record and a refusal has none; the chain is whole at the end.
 * GRIP_TEST_FUZZ gives another number of calls.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openForTests, type TestService } from '../service-for-tests.ts';
import { junk, spliced, splices } from '../splices.ts';
import { CANARY_FORCE, callsOf, FORBIDDEN, OTHER } from './generated-calls.ts';
import { addressOf, CHARTED_HOOK, callOf, type Discovered, discover } from './valid-calls.ts';

const CALLS = Number(process.env.GRIP_TEST_FUZZ ?? 10_000);
/** One report on a card for every ten calls. */
const REPORTS = Math.ceil(CALLS / 10);
/** A call takes some milliseconds; the machine may be busy with other tests. */
const LONGEST_MS = 1_000;

let service: TestService;
let services: readonly Discovered[];
beforeAll(async () => {
  service = await openForTests(undefined, undefined, { chartedHook: CHARTED_HOOK });
  services = await discover(service);
});
afterAll(() => service.close());

const statuses = new Map<number, number>();
let slowestMs = 0;
/** Cards and suggestions that were given out, for reports on them. */
const given: { readonly service: string; readonly card: string; readonly suggestion?: string }[] = [];

async function inject(url: string, payload: string) {
  const started = performance.now();
  const headers = { 'content-type': 'application/json' };
  const reply = await service.app.inject({ method: 'POST', url, payload, headers });
  return { reply, waitedMs: performance.now() - started };
}

async function post(url: string, payload: string) {
  const before = service.store.head().seq;
  const { reply, waitedMs } = await inject(url, payload);
  const written = service.store.head().seq - before;
  slowestMs = Math.max(slowestMs, waitedMs);
  statuses.set(reply.statusCode, (statuses.get(reply.statusCode) ?? 0) + 1);
  expect(reply.statusCode, reply.payload).toBeLessThan(500);
  // A call that is slow itself is slow again; one that met the machine at work elsewhere is not.
  if (waitedMs >= LONGEST_MS) expect((await inject(url, payload)).waitedMs).toBeLessThan(LONGEST_MS);
  const records = written > 0 ? [...service.store.records(before + 1)].map(({ record }) => record) : [];
  const out = [reply.payload, ...records].join('\n');
  expect(FORBIDDEN.filter((found) => out.includes(found))).toEqual([]);
  return { status: reply.statusCode, written, json: () => reply.json() as unknown };
}

function remember(id: string, reply: unknown): void {
  const { cards } = reply as { cards: { uuid: string; suggestions?: { uuid: string }[] }[] };
  for (const { uuid, suggestions } of cards.slice(0, given.length < 500 ? 1 : 0))
    given.push({ service: id, card: uuid, ...(suggestions?.[0] ? { suggestion: suggestions[0].uuid } : {}) });
}

describe(`${CALLS} generated calls`, () => {
  it('are answered with their record or refused without one, in time, with nothing of another person', async () => {
    const started = performance.now();
    const call = fc
      .constantFrom(...services)
      .chain((one) => callsOf(one).map((text) => [one, text] as const));
    await fc.assert(
      fc.asyncProperty(call, async ([one, text]) => {
        const { status, written, json } = await post(addressOf(one), text);
        expect(written).toBe(status === 200 ? 1 : 0);
        if (status === 200) remember(one.id, json());
      }),
      { numRuns: CALLS },
    );
    const seconds = (performance.now() - started) / 1_000;
    const count = [...statuses].sort(([a], [b]) => a - b).map(([status, times]) => `${times} x ${status}`);
    console.info(
      `fuzz: ${CALLS} calls to ${services.length} services in ${seconds.toFixed(1)} s, slowest ${Math.round(slowestMs)} ms: ${count.join(', ')}`,
    );
  }, 300_000);

  it('were of every kind: a good part answered, a good part refused', () => {
    const answered = statuses.get(200) ?? 0;
    expect(answered).toBeGreaterThan(CALLS / 5);
    expect(CALLS - answered).toBeGreaterThan(CALLS / 5);
    expect(statuses.get(400)).toBeGreaterThan(CALLS / 20);
    expect(statuses.get(412)).toBeGreaterThan(0);
  });

  it('would have shown the other person: what is looked for stands in the record of a call about them', async () => {
    const [one] = services;
    if (!one) throw new Error('no service');
    const reply = await service.post(addressOf(one), callOf(one, OTHER));
    expect(reply.status).toBe(200);
    expect(service.last().record).toContain(String(CANARY_FORCE));
    for (const found of FORBIDDEN.slice(0, 2)) expect(service.last().record).toContain(found);
  });
});

const outcome = fc.constantFrom('accepted', 'overridden', 'ignored');
/** A report on a card that was given out, or on one that nobody knows. */
const report = fc.record({
  at: fc.nat(10_000),
  card: fc.oneof({ weight: 3, arbitrary: fc.constant(undefined) }, { weight: 1, arbitrary: fc.uuid() }),
  outcome,
  comment: fc.oneof(fc.constant(undefined), fc.string()),
  when: fc.constantFrom('2026-11-25T11:00:00Z', '2026-11-25T11:00:00.123Z', '2021-12-11', 'now'),
  changes: fc.oneof({ weight: 1, arbitrary: fc.constant([]) }, { weight: 1, arbitrary: splices }),
  more: junk,
});

describe(`${REPORTS} generated reports on cards`, () => {
  it('are taken or refused, and what is refused leaves nothing', async () => {
    await fc.assert(
      fc.asyncProperty(fc.constantFrom(...services), report, async (one, parts) => {
        const of = given[parts.at % Math.max(1, given.length)];
        const entry = {
          card: parts.card ?? of?.card,
          outcome: parts.outcome,
          outcomeTimestamp: parts.when,
          ...(parts.outcome === 'accepted' && of?.suggestion
            ? { acceptedSuggestions: [{ id: of.suggestion }] }
            : {}),
          ...(parts.comment === undefined ? {} : { overrideReason: { userComment: parts.comment } }),
        };
        const url = `/cds-services/${parts.card ? one.id : (of?.service ?? one.id)}/feedback`;
        const body = spliced({ feedback: [entry], vendor: parts.more }, parts.changes);
        const { status, written } = await post(url, JSON.stringify(body));
        if (status >= 300) expect(written).toBe(0);
        if (!service.app.hasRoute({ method: 'POST', url })) expect(status).toBeGreaterThanOrEqual(400);
      }),
      { numRuns: REPORTS },
    );
  }, 120_000);
});

describe('the record of all these calls', () => {
  it('is whole', () => {
    const { seq } = service.store.head();
    expect(seq).toBeGreaterThan(CALLS / 5);
    expect(service.verify()).toMatchObject({ ok: true, count: seq });
  }, 60_000);
});
