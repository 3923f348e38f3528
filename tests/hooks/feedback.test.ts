/** Feedback over HTTP: what goes on record, beside which evaluation, and what does not show (STANDARDS F1 to F7, RG15). */
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Writable } from 'node:stream';
import fc from 'fast-check';
import { pino } from 'pino';
import request from 'supertest';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { AuditFault, type AuditStore } from '../../src/audit/audit-record.ts';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import { recordFeedback } from '../../src/hooks/feedback.ts';
import { MOST_ENTRIES } from '../../src/hooks/feedback-form.ts';
import { openService } from '../../src/service.ts';
import { broken, FHIR_DOOR, HOOK_DOOR, hookCallOf, NOW, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import {
  cardsOf,
  codesOf,
  issuesOf,
  openForTests,
  openWithStore,
  type TestService,
} from '../service-for-tests.ts';
import { watchReplies } from '../watch-replies.ts';
import { PUBLISHED_FEEDBACK } from './published-feedback.ts';

/** Invented, for these tests only. */
const WARD = 'ward-token-for-tests.1';
const CLINIC = 'clinic-token-for-tests.2';
const PATH = '/cds-services/grip-interpretation/feedback';

const folder = mkdtempSync(join(tmpdir(), 'grip-feedback-'));
const clientsFile = join(folder, 'clients.json');
const digest = (token: string) => createHash('sha256').update(token, 'utf8').digest('hex');
const bearer = (token: string) => ({ authorization: `Bearer ${token}` });

let service: TestService;
beforeAll(async () => {
  const clients = [
    { name: 'ward-7', tokenSha256: digest(WARD) },
    { name: 'clinic', tokenSha256: digest(CLINIC) },
  ];
  writeFileSync(clientsFile, JSON.stringify({ clients }));
  service = await openForTests(undefined, undefined, { clientsFile });
});
afterAll(async () => {
  await service.close();
  rmSync(folder, { recursive: true });
});

interface Given {
  readonly evaluation: string;
  readonly seq: number;
  readonly card: string;
  readonly suggestion: string;
}

/** A card that the service gave to a client, in an encounter, and the record of the evaluation. */
async function givenTo(token: string): Promise<Given> {
  const call = hookCallOf(PATIENT, SIX_TRIALS);
  const context = { ...call.context, encounterId: 'invented-encounter' };
  const reply = await service.post(
    HOOK_DOOR.path,
    { ...call, context, fhirServer: 'https://fhir.example.org/r4' },
    bearer(token),
  );
  const [card] = cardsOf(reply);
  const { id, seq } = service.last();
  return { evaluation: id, seq, card: card?.uuid ?? '', suggestion: card?.suggestions?.[0]?.uuid ?? '' };
}

const say = (body: unknown, token = WARD) => service.post(PATH, body, bearer(token));
const records = () => service.all().length;
const contentOf = (record: { content: unknown } | undefined) => record?.content as Record<string, unknown>;
const last = () => ({ ...service.last(), content: contentOf(service.last()) });

function overridden(card: string, members: object = {}) {
  return {
    feedback: [{ card, outcome: 'overridden', outcomeTimestamp: '2026-11-25T11:00:00Z', ...members }],
  };
}

describe('feedback on a card', () => {
  it('F2, F6, RG15: is 200 without a body, and on record beside the evaluation that gave the card', async () => {
    const { evaluation, seq, card, suggestion } = await givenTo(WARD);
    const entry = {
      card: card.toUpperCase(),
      outcome: 'accepted',
      acceptedSuggestions: [{ id: suggestion }],
      outcomeTimestamp: '2026-11-25T11:00:00+00:00',
    };
    const reply = await say({ feedback: [entry] });
    expect({ status: reply.status, text: reply.text }).toEqual({ status: 200, text: '' });
    expect(reply.headers['content-length']).toBe('0');
    expect(last()).toMatchObject({ kind: 'feedback', patient: 'Patient/invented-1' });
    expect(last().content).toEqual({
      client: 'ward-7',
      service: 'grip-interpretation',
      card,
      outcome: 'accepted',
      acceptedSuggestions: [suggestion],
      outcomeTimestamp: '2026-11-25T11:00:00+00:00',
      answers: { record: evaluation, seq },
      context: {
        panel: { id: 'adult-inpatient-us', version: '1.1.0' },
        engine: { name: 'grip-strength-cds', version: '0.3.0' },
        user: 'Practitioner/invented-dietitian',
        encounter: 'invented-encounter',
        fhirServer: 'https://fhir.example.org/r4',
      },
    });
    expect(service.store.recordsAbout(evaluation).map(({ id }) => id)).toEqual([last().id]);
    expect(service.store.findByName(card)?.id).toBe(evaluation);
    expect(service.verify().ok).toBe(true);
  });

  it.each(PUBLISHED_FEEDBACK)(
    'F2, F5: the published example $feedback.0.outcome is recorded as sent',
    async (body) => {
      const [entry] = body.feedback;
      expect((await say(body)).status).toBe(200);
      const { card, outcome, outcomeTimestamp } = entry;
      const reason = 'overrideReason' in entry ? { overrideReason: entry.overrideReason } : {};
      expect(last().content).toMatchObject({ card, outcome, outcomeTimestamp, answers: null, ...reason });
      expect(last().patient).toBeNull();
    },
  );

  it('F1: an empty array is accepted and records nothing', async () => {
    const before = records();
    expect((await say({ feedback: [] })).status).toBe(200);
    expect(records()).toBe(before);
  });

  it('F3: several cards of several calls are taken at once, in one commit and in their order', async () => {
    const [one, other] = [await givenTo(WARD), await givenTo(WARD)];
    const before = service.store.head().seq;
    const body = { feedback: [one.card, other.card].flatMap((card) => overridden(card).feedback) };
    expect((await say(body)).status).toBe(200);
    const said = service.all().slice(before);
    expect(said.map((record) => contentOf(record).answers)).toEqual([
      { record: one.evaluation, seq: one.seq },
      { record: other.evaluation, seq: other.seq },
    ]);
  });

  it('F3: the same entry again, alone, twice in a call or at once, is not doubled; another is a further record', async () => {
    const { card, evaluation } = await givenTo(WARD);
    const before = records();
    const twice = { feedback: [...overridden(card).feedback, ...overridden(card).feedback] };
    await say(twice);
    await Promise.all([say(overridden(card)), say(twice), say(overridden(card))]);
    expect(records()).toBe(before + 1);
    // Out of order: what was done first arrives last.
    await say(overridden(card, { outcomeTimestamp: '2026-11-25T10:00:00Z' }));
    await say(overridden(card, { overrideReason: { userComment: 'No longer in pain.' } }));
    expect(records()).toBe(before + 3);
    expect(service.store.recordsAbout(evaluation)).toHaveLength(3);
  });

  it('F3: the same words of another client are feedback of their own', async () => {
    const { card } = await givenTo(WARD);
    const before = records();
    await say(overridden(card), WARD);
    await say(overridden(card), CLINIC);
    expect(records()).toBe(before + 2);
  });
});

describe('every card that is given out', () => {
  it('F4: has a uuid by which its evaluation is found; a call without cards leaves no name', async () => {
    const calls = [
      ...DEMO_PATIENTS.map(({ patient, observations }) => hookCallOf(patient, observations)),
      hookCallOf(PATIENT, [broken(TRIAL, 'valueQuantity.code', 'stone')]),
    ];
    for (const call of calls) {
      const cards = cardsOf(await service.post(HOOK_DOOR.path, call, bearer(WARD)));
      expect(cards.length).toBeGreaterThan(0);
      for (const { uuid } of cards) expect(service.store.findByName(uuid)?.id).toBe(service.last().id);
    }
    await service.post(HOOK_DOOR.path, hookCallOf(PATIENT, []), bearer(WARD));
    expect(JSON.parse(service.last().record)).not.toHaveProperty('names');
  });
});

describe('a card of another kind of record', () => {
  it('F2: is found by its name, and what that record lacks is null', async () => {
    const [id, card] = [crypto.randomUUID(), crypto.randomUUID()];
    const hook = { service: 'another-service', encounter: null, fhirServer: null };
    const content = { asked: { client: 'ward-7', user: 'Practitioner/7', hook } };
    await service.store.append({ id, kind: 'readiness', patient: 'Patient/7', content, names: [card] });
    const caller = { client: 'ward-7', service: 'another-service' };
    await recordFeedback(service, caller, overridden(card));
    const { seq } = service.store.findById(id) ?? {};
    expect(last().patient).toBe('Patient/7');
    expect(last().content).toMatchObject({
      answers: { record: id, seq },
      context: { panel: null, engine: null, user: 'Practitioner/7', encounter: null, fhirServer: null },
    });
    // At the address of a service that did not give it.
    await say(overridden(card));
    expect(last().content).toMatchObject({ service: 'grip-interpretation', answers: null });
  });

  it('F6: of another tenant of the same client answers nothing; of the same one it does', async () => {
    const [id, card] = [crypto.randomUUID(), crypto.randomUUID()];
    const hook = { service: 'another-service', encounter: null, fhirServer: null };
    const content = { asked: { client: 'ward-7', tenant: 'alder-reach', user: null, hook } };
    await service.store.append({ id, kind: 'evaluation', patient: null, content, names: [card] });
    const answers = [];
    for (const tenant of ['alder-reach', 'another-site', null, undefined]) {
      await recordFeedback(
        service,
        { client: 'ward-7', tenant, service: 'another-service' },
        overridden(card),
      );
      answers.push([last().content.tenant, last().content.answers !== null]);
    }
    // Null and undefined both say that there is no tenant: the same entry, recorded once.
    expect(answers).toEqual([
      ['alder-reach', true],
      ['another-site', false],
      [undefined, false],
      [undefined, false],
    ]);
  });
});

describe('whose card it is', () => {
  it('F6: does not show: unknown, of another client, and known are answered alike, to the byte', async () => {
    const { card } = await givenTo(WARD);
    const unknown = crypto.randomUUID();
    const replies = [
      await say(overridden(card), WARD),
      await say(overridden(card), CLINIC),
      await say(overridden(unknown), CLINIC),
    ];
    const shown = replies.map(({ status, text, headers: { date: _when, ...headers } }) => ({
      status,
      text,
      headers,
    }));
    expect(shown[0]?.status).toBe(200);
    expect(new Set(shown.map((each) => JSON.stringify(each))).size).toBe(1);
    const [own, others, none] = service.all().slice(-3);
    expect(contentOf(own).answers).not.toBeNull();
    for (const record of [others, none]) {
      expect(record?.patient).toBeNull();
      expect(contentOf(record)).toMatchObject({ client: 'clinic', answers: null });
      expect(contentOf(record)).not.toHaveProperty('context');
    }
  });

  it('F6: what has the name of no card answers nothing: a suggestion, an evaluation', async () => {
    const { suggestion, evaluation } = await givenTo(WARD);
    for (const name of [suggestion, evaluation]) {
      await say(overridden(name));
      expect(last().content.answers).toBeNull();
    }
  });

  it('F7: feedback asks for credentials like any other call, and records nothing without', async () => {
    const before = records();
    for (const headers of [{}, bearer('wrong')]) {
      const reply = await service.post(PATH, overridden(crypto.randomUUID()), headers);
      expect({ status: reply.status, codes: codesOf(reply) }).toEqual({
        status: 401,
        codes: ['UNAUTHENTICATED'],
      });
    }
    expect(records()).toBe(before);
  });
});

describe('a call that is refused', () => {
  it.each([
    ['one entry of three at fault', 'request.feedback[1].card', [{}, { card: 'no-uuid' }, {}]],
    [
      'the last of many',
      `request.feedback[${MOST_ENTRIES - 1}].outcome`,
      [...Array(MOST_ENTRIES - 1).fill({}), { outcome: 'ignored' }],
    ],
  ])('F2: for %s records nothing of it, and names the element', async (_name, element, members) => {
    const before = records();
    const feedback = members.flatMap((each: object) => overridden(crypto.randomUUID(), each).feedback);
    const reply = await say({ feedback });
    expect(reply.status).toBe(400);
    expect(codesOf(reply)).toEqual(['BODY_INVALID']);
    expect(issuesOf(reply)[0]?.expression).toEqual([element]);
    expect(records()).toBe(before);
  });

  it.each([
    ['POST', '/cds-services/no-such-service/feedback', 404, 'NOT_FOUND'],
    ['POST', `${PATH}/x`, 404, 'NOT_FOUND'],
    ['GET', PATH, 405, 'METHOD_NOT_ALLOWED'],
    ['PUT', PATH, 405, 'METHOD_NOT_ALLOWED'],
    ['DELETE', PATH, 405, 'METHOD_NOT_ALLOWED'],
  ] as const)('F1: %s %s is %i', async (method, url, status, code) => {
    const reply = await service.app.inject({ method, url, headers: bearer(WARD) });
    expect(reply.statusCode).toBe(status);
    expect(codesOf({ body: reply.json() })).toEqual([code]);
    expect(reply.headers.allow).toBe(status === 405 ? 'POST' : undefined);
  });

  it.each([
    ['text/plain', '{"feedback":[]}', 415, 'MEDIA_TYPE_UNSUPPORTED'],
    ['application/json', '{"feedback":[', 400, 'BODY_NOT_JSON'],
    ['application/json', '', 400, 'BODY_NOT_JSON'],
    ['application/json', `{"feedback":[],"x":"${'x'.repeat(300_000)}"}`, 413, 'BODY_TOO_LARGE'],
    ['application/json', '{"feedback":[{"__proto__":{}}]}', 400, 'BODY_NOT_JSON'],
    ['application/json', '{"feedback":[],"x":"\\ud800"}', 400, 'BODY_NOT_JSON'],
  ])('F1: %s %.20s is %i', async (type, body, status, code) => {
    const reply = await service.post(PATH, body, { ...bearer(WARD), 'content-type': type });
    expect({ status: reply.status, codes: codesOf(reply) }).toEqual({ status, codes: [code] });
  });
});

describe('a log that cannot take it', () => {
  const head = { seq: 0, hash: '0'.repeat(64) };
  const failing = (parts: Partial<AuditStore>): AuditStore => ({
    append: async () => head,
    head: () => head,
    findById: () => undefined,
    findByName: () => undefined,
    claimOnce: () => undefined,
    recordsAbout: () => [],
    findFiled: () => undefined,
    findDocument: () => undefined,
    searchDocuments: () => ({ total: 0, documents: [], upTo: 0 }),
    records: () => [][Symbol.iterator](),
    close: () => undefined,
    ...parts,
  });
  const fails = () => {
    throw new AuditFault('disk /var/secret-path is full');
  };

  it.each([
    ['the append is refused', { append: async () => fails() }],
    ['the append throws', { append: fails }],
    ['the card cannot be looked up', { findByName: fails }],
  ])('F1: means 503 where %s, and says no more', async (_name, parts) => {
    const { app, post } = await openWithStore(failing(parts));
    const reply = await post(PATH, overridden(crypto.randomUUID()));
    expect({ status: reply.status, codes: codesOf(reply) }).toEqual({ status: 503, codes: ['NOT_RECORDED'] });
    expect(Number(reply.headers['retry-after'])).toBeGreaterThan(0);
    expect(reply.text).not.toContain('secret-path');
    await app.close();
  });

  it('F1: means 503 where a real log was closed under the service', async () => {
    const closed = await openForTests();
    closed.store.close();
    expect((await closed.post(PATH, overridden(crypto.randomUUID()))).status).toBe(503);
    await closed.close();
  });
});

describe('a comment', () => {
  it('F2: is in no line of the log of the process, and in no reply that refuses it', async () => {
    const canary = 'CANARY Thaddeus Bramblewick refused the left arm';
    let lines = '';
    const logger = pino(
      { level: 'trace' },
      new Writable({
        write(chunk, _encoding, done) {
          lines += chunk;
          done();
        },
      }),
    );
    const config = {
      ...{ host: '127.0.0.1', port: 0, panelId: 'adult-inpatient-us', logLevel: 'trace', publicUrl: null },
      ...{ clientsFile: null, fhirServers: [], corsOrigins: [], chartedHook: null },
      auditFile: join(folder, 'canary.sqlite'),
    };
    const { app, store } = openService({ config, logger, now: () => NOW, onFatal: () => undefined });
    watchReplies(app);
    await app.ready();
    const post = (body: object) => request(app.server).post(PATH).send(body);
    const card = crypto.randomUUID();
    const taken = overridden(card, { overrideReason: { userComment: canary } });
    const replies = [
      await post(taken),
      await post(broken(taken, 'feedback.0.outcome', canary)),
      await post(broken(taken, 'feedback.0.card', canary)),
      await post(broken(taken, 'feedback.0.overrideReason.userComment', `${canary}\u0007`)),
      await post(broken(taken, 'feedback.0.overrideReason.reason', { code: canary })),
      await post(broken(taken, `feedback.0.${canary}`, null)),
    ];
    const records = [...store.records()];
    store.close();
    replies.push(await post(taken));
    await app.close();
    expect(replies.map(({ status }) => status)).toEqual([200, 400, 400, 400, 400, 200, 503]);
    expect(records[0]?.record).toContain(canary);
    expect(lines).toContain('request failed');
    expect(lines + replies.map(({ text, headers }) => text + JSON.stringify(headers))).not.toContain(
      'CANARY',
    );
  });
});

describe('any JSON', () => {
  const anything = fc.oneof(
    fc.jsonValue({ maxDepth: 3 }),
    fc.constantFrom(null, '', 0, [], {}, 'accepted', 'overridden', '2026-11-25T11:00:00Z'),
    fc.uuid(),
  );
  const entry = fc.record(
    {
      card: fc.oneof({ weight: 9, arbitrary: fc.uuid() }, anything),
      outcome: fc.oneof({ weight: 9, arbitrary: fc.constantFrom('accepted', 'overridden') }, anything),
      outcomeTimestamp: fc.oneof({ weight: 9, arbitrary: fc.constant('2026-11-25T11:00:00Z') }, anything),
      acceptedSuggestions: fc.oneof(fc.array(fc.record({ id: fc.uuid() }), { maxLength: 3 }), anything),
      overrideReason: fc.oneof(
        fc.record(
          { userComment: fc.string({ unit: 'grapheme', maxLength: 40 }), reason: anything },
          { requiredKeys: [] },
        ),
        anything,
      ),
      vendor: anything,
    },
    { requiredKeys: ['card', 'outcome', 'outcomeTimestamp'] },
  );
  const bodies = fc.oneof(
    anything,
    fc.record({ feedback: fc.oneof(fc.array(entry, { maxLength: 3 }), anything) }),
  );

  it('J6, F1, F3: as feedback is 200 or 400, never a failure; sent again it adds nothing; the chain verifies', async () => {
    const seen = new Set<number>();
    await fc.assert(
      fc.asyncProperty(bodies, async (body) => {
        const before = service.store.head().seq;
        const { status } = await say(JSON.stringify(body), CLINIC);
        seen.add(status);
        expect([200, 400]).toContain(status);
        const sent = status === 200 ? (body as { feedback: object[] }).feedback.length : 0;
        const more = service.store.head().seq - before;
        expect(more).toBeLessThanOrEqual(sent);
        if (more > 0) expect(service.last().kind).toBe('feedback');
        expect((await say(JSON.stringify(body), CLINIC)).status).toBe(status);
        expect(service.store.head().seq).toBe(before + more);
      }),
      { numRuns: 500 },
    );
    expect([...seen].sort()).toEqual([200, 400]);
    expect(service.verify().ok).toBe(true);
  });

  it('F6: at the FHIR door nothing carries a card: its records have no names', async () => {
    await service.post(FHIR_DOOR.path, FHIR_DOOR.bodyOf(PATIENT, SIX_TRIALS), bearer(WARD));
    expect(JSON.parse(service.last().record)).not.toHaveProperty('names');
  });
});
