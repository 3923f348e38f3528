/**
 * The published invariants bite: each is broken one way in a reply, request or feedback that is whole otherwise. What they
 * say of the shipped service they say in every test that calls it (`tests/watch-replies.ts`).
 */
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import Fastify from 'fastify';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken, HOOK_DOOR, hookCallOf, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import { countJudged, takeBrokenRules, watchReplies } from '../watch-replies.ts';
import { judgeCards, judgeDiscovery, judgeExchange } from './judge-exchange.ts';
import {
  brokenIn,
  FEEDBACK_INVARIANTS,
  REPLY_INVARIANTS,
  REQUEST_INVARIANTS,
  REQUEST_WARNINGS,
} from './published-invariants.ts';

const CARD = {
  uuid: '4e0a3a1e-3283-4575-ab82-028d55fe2719',
  summary: 'An invented card.',
  indicator: 'info',
  detail: 'Invented.',
  source: {
    label: 'invented',
    url: 'https://example.org/',
    topic: { system: 'https://example.org/', code: 't' },
  },
  suggestions: [
    {
      label: 'One',
      uuid: 'e56e1945-20b3-4393-8503-a1a20fd73152',
      isRecommended: true,
      actionSelectionBehavior: 'all',
      actions: [
        { type: 'create', description: 'Create', resource: { resourceType: 'Basic', code: { text: 'x' } } },
        { type: 'delete', description: 'Delete', resourceId: 'Basic/1' },
      ],
    },
    { label: 'Two' },
  ],
  selectionBehavior: 'at-most-one',
  overrideReasons: [{ code: 'c', system: 'https://example.org/', display: 'Invented' }],
  links: [
    { label: 'Guide', url: 'https://example.org/guide', type: 'absolute' },
    { label: 'App', url: 'https://example.org/launch', type: 'smart', appContext: 'x' },
  ],
};
const replyWith = (path: string, value: unknown) => ({ cards: [broken(CARD, path, value)] });

describe('the invariants of a reply', () => {
  it('hold for a reply that uses every member, and for no cards', () => {
    expect(judgeCards({ cards: [CARD] })).toEqual([]);
    expect(judgeCards({ cards: [] })).toEqual([]);
  });

  it.each([
    ['cds-resp-1', 'suggestions.1.isRecommended', true],
    ['cds-resp-2', 'suggestions.0.actions.1.resource', { resourceType: 'Basic' }],
    ['cds-resp-2', 'suggestions.0.actions.1.resourceId', undefined],
    ['cds-resp-3', 'links.0.appContext', 'x'],
    ['cds-resp-4', 'overrideReasons.0.display', undefined],
    ['cds-resp-5', 'suggestions.0.actions.0.description', undefined],
    ['cds-resp-6', 'selectionBehavior', undefined],
    ['cds-resp-7', 'suggestions.0.actionSelectionBehavior', 'none'],
    ['LM cards.uuid 0..1 uuid', 'uuid', 'card-1'],
    ['LM cards.summary 1..1', 'summary', undefined],
    ['LM cards.summary 1..1', 'summary', 7],
    ['C1 fewer than 140 characters', 'summary', 'x'.repeat(140)],
    ['LM cards.indicator 1..1', 'indicator', 'hard-stop'],
    ['LM cards.source 1..1', 'source', undefined],
    ['LM source.label 1..1', 'source.label', undefined],
    ['C4 source.url is absolute', 'source.url', '/about'],
    ['C6 source.topic is a Coding', 'source.topic.system', undefined],
    ['LM cards.selectionBehavior', 'selectionBehavior', 'all'],
    ['E2 override reasons', 'overrideReasons.0.system', undefined],
    ['LM suggestions.label 1..1', 'suggestions.1.label', undefined],
    ['LM suggestions.uuid 0..1 uuid', 'suggestions.0.uuid', '1'],
    ['LM actions.type 1..1', 'suggestions.0.actions.0.type', 'replace'],
    ['S5 create and update carry a resource', 'suggestions.0.actions.0.resource', { id: 'x' }],
    ['LM links 1..1', 'links.0.label', undefined],
    ['LM links.type', 'links.0.type', 'relative'],
    ['L1 a link is absolute', 'links.0.url', 'review/1'],
    ['J2 null at cards.0.detail', 'detail', null],
    ['J3 empty text at cards.0.detail', 'detail', ''],
    ['J3 nothing in cards.0.links', 'links', []],
    ['J3 nothing in cards.0.source.topic', 'source.topic', {}],
  ])('%s is broken by %s as %j', (name, path, value) => {
    expect(judgeCards(replyWith(path, value))).toContain(name);
  });

  it('hold at the boundary: 139 characters, and no recommendation at all', () => {
    expect(judgeCards(replyWith('summary', 'x'.repeat(139)))).toEqual([]);
    expect(judgeCards(replyWith('suggestions.0.isRecommended', undefined))).toEqual([]);
  });

  it('want a list of cards and no system actions', () => {
    expect(judgeCards({})).toContain('LM cards 1..1, a list');
    expect(judgeCards({ cards: CARD })).toContain('LM cards 1..1, a list');
    expect(judgeCards({ cards: [], systemActions: [{ type: 'delete', resourceId: 'Basic/1' }] })).toEqual([
      'S7 system actions, which nobody agreed on',
    ]);
    expect(judgeCards(undefined)).toEqual(['R1 the reply is no object']);
  });
});

describe('the model of discovery', () => {
  const SERVICE = { hook: 'patient-view', id: 'a', description: 'Invented', prefetch: { p: 'Patient/1' } };
  it.each([
    ['LM services 1..1', 'hook', undefined],
    ['LM services 1..1', 'id', undefined],
    ['LM services 1..1', 'description', undefined],
    ['LM services.title 0..1', 'title', 7],
    ['LM services.usageRequirements 0..1', 'usageRequirements', 7],
    ['LM services.prefetch.value 1..1 string', 'prefetch.p', 7],
    ['J3 nothing in services.0.prefetch', 'prefetch', {}],
  ])('%s is broken by %s as %j', (name, path, value) => {
    expect(judgeDiscovery({ services: [SERVICE] })).toEqual([]);
    expect(judgeDiscovery({ services: [broken(SERVICE, path, value)] })).toContain(name);
  });

  it('may have no services, and must have the list', () => {
    expect(judgeDiscovery({ services: [] })).toEqual([]);
    expect(judgeDiscovery([])).toContain('LM services 1..1, a list');
  });
});

const AUTHORIZATION = { access_token: 't', token_type: 'Bearer', expires_in: 1, scope: 's', subject: 'c' };
const REQUEST = {
  ...hookCallOf(PATIENT, []),
  fhirServer: 'https://ehr.example/fhir',
  fhirAuthorization: AUTHORIZATION,
};

describe('the invariants of a request', () => {
  it.each([
    ['cds-r-1', 'fhirServer', undefined],
    ['ord-1', 'context.userId', 'Practitioner'],
    ['ord-1', 'context.userId', 'https://ehr.example/Practitioner/1'],
  ])('%s is broken by %s as %j', (name, path, value) => {
    expect(brokenIn(REQUEST_INVARIANTS, REQUEST)).toEqual([]);
    expect(brokenIn(REQUEST_INVARIANTS, broken(REQUEST, path, value))).toEqual([name]);
  });

  it('cds-r-2 warns of a scope of one patient without the patient', () => {
    const scoped = broken(REQUEST, 'fhirAuthorization.scope', 'Patient/Observation.rs');
    expect(brokenIn(REQUEST_WARNINGS, scoped)).toEqual(['cds-r-2']);
    expect(brokenIn(REQUEST_WARNINGS, broken(scoped, 'fhirAuthorization.patient', '1'))).toEqual([]);
  });
});

/** The examples of the specification (index.md, section "Feedback"). */
const FEEDBACK = {
  feedback: [
    {
      card: '4e0a3a1e-3283-4575-ab82-028d55fe2719',
      outcome: 'accepted',
      acceptedSuggestions: [{ id: 'e56e1945-20b3-4393-8503-a1a20fd73152' }],
      outcomeTimestamp: '2021-12-11T10:05:31Z',
    },
    {
      card: '9368d37b-283f-44a0-93ea-547cebab93ed',
      outcome: 'overridden',
      overrideReason: {
        reason: { code: 'd7ecf885', system: 'https://example.com/cds-hooks/override-reason-system' },
        userComment: 'A comment entered by the clinician.',
      },
      outcomeTimestamp: '2020-12-11T00:00:00Z',
    },
  ],
};

describe('the invariants of feedback', () => {
  it.each([
    ['cds-fb-1', 'feedback.1.outcome', 'ignored'],
    ['cds-fb-2', 'feedback.0.acceptedSuggestions', undefined],
    ['cds-fb-3', 'feedback.1.overrideReason', { other: 1 }],
  ])('%s is broken by %s as %j', (name, path, value) => {
    expect(brokenIn(FEEDBACK_INVARIANTS, FEEDBACK)).toEqual([]);
    expect(brokenIn(FEEDBACK_INVARIANTS, broken(FEEDBACK, path, value))).toEqual([name]);
  });

  it('are asked of feedback that is answered with success', () => {
    const url = '/cds-services/grip-interpretation/feedback';
    const judged = (asked: unknown) => judgeExchange({ method: 'POST', url, status: 200, asked, text: '' });
    expect(judged(FEEDBACK)).toEqual([]);
    expect(judged({})).toEqual(['LM feedback 1..1, a list']);
    expect(judged(broken(FEEDBACK, 'feedback.0.outcome', 'seen'))).toEqual(['cds-fb-1']);
  });
});

describe('a refusal', () => {
  const judged = (status: number, text: string) =>
    judgeExchange({ method: 'POST', url: '/cds-services/x', status, asked: {}, text });
  it('says why in an OperationOutcome, but for a 401, which may say nothing', () => {
    expect(judged(404, '{"resourceType":"OperationOutcome","issue":[{"code":"x"}]}')).toEqual([]);
    expect(judged(401, '')).toEqual([]);
    expect(judged(404, '')).toEqual(['R4 a 404 without an OperationOutcome']);
    expect(judged(500, '{"statusCode":500}')).toEqual(['R4 a 500 without an OperationOutcome']);
  });
});

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

describe('the watch over every reply of the tests', () => {
  it('judges a call of the shipped service, at the socket or not', async () => {
    const before = countJudged();
    expect((await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS)).status).toBe(200);
    expect((await service.app.inject({ url: '/cds-services' })).statusCode).toBe(200);
    expect((await service.post('/cds-services/unknown', {})).status).toBe(404);
    expect(countJudged() - before).toBe(3);
    expect(takeBrokenRules()).toEqual([]);
  });

  it('finds a reply that is broken on purpose, by the name of what it breaks', async () => {
    const app = Fastify();
    watchReplies(app);
    app.post('/cds-services/broken', async () => replyWith('selectionBehavior', undefined));
    app.get('/elsewhere', async () => ({ cards: null }));
    const before = countJudged();
    await app.inject({ method: 'POST', url: '/cds-services/broken', payload: REQUEST });
    await app.inject({ url: '/elsewhere' });
    expect(countJudged() - before).toBe(1);
    expect(takeBrokenRules()).toEqual(['POST /cds-services/broken: cds-resp-6']);
    expect(takeBrokenRules()).toEqual([]);
  });

  it('is set up wherever a test builds the service', () => {
    const folder = fileURLToPath(new URL('../', import.meta.url));
    const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((file) =>
      file.endsWith('.ts'),
    );
    const building = files.filter((file) =>
      /\b(?:buildApp|openService)\(/.test(readFileSync(folder + file, 'utf8')),
    );
    expect(building.length).toBeGreaterThan(1);
    expect(building.filter((file) => !/\bwatchReplies\(/.test(readFileSync(folder + file, 'utf8')))).toEqual(
      [],
    );
  });
});

it('every published invariant of a reply has a case that breaks it', () => {
  expect(REPLY_INVARIANTS.map(({ name }) => name)).toEqual([1, 2, 3, 4, 5, 6, 7].map((n) => `cds-resp-${n}`));
});
