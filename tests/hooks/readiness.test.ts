/** The service grip-test-readiness: when there is a card, what is missing, whose data it is, what goes on record. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { AuditFault, type AuditStore } from '../../src/audit/audit-record.ts';
import { SNOMED } from '../../src/fhir/codes.ts';
import { replay } from '../../src/replay.ts';
import { replayAssessment } from '../../src/replay-assessment.ts';
import { openLibrary } from '../../src/service.ts';
import { broken, coded, PATIENT, sitting, TRIAL } from '../fixtures.ts';
import { cardsOf, issuesOf, openForTests, openWithStore, type TestService } from '../service-for-tests.ts';
import {
  type Chart,
  cardOf,
  condition,
  DUE_GRIP,
  device,
  handed,
  ICD,
  LEFT_SITE,
  line,
  procedure,
  READINESS,
  RECENT_GRIP,
  readinessCall,
  searchset,
} from './readiness-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const card = (chart: Chart) => cardOf(service, chart);
const text = (detail: string | undefined) => (detail ?? '').replace(/\\(?=[^\w\s])/g, '');
const DIALYSIS = condition(ICD, 'Z99.2');
const ACCESS = procedure(SNOMED, '48765000', { bodySite: [LEFT_SITE] });

describe('a card', () => {
  it('is not given where nothing speaks against a test and none is due', async () => {
    expect(await card({})).toBeUndefined();
    expect(service.last().content.returned).toMatchObject({ cards: [] });
  });

  it('informs where nothing speaks against a test and one is due', async () => {
    expect(await card({ grip: DUE_GRIP })).toMatchObject({
      indicator: 'info',
      summary: 'Grip strength: next measurement due since 25 Nov 2026; nothing found that speaks against it.',
    });
  });

  it('informs where grip was never measured', async () => {
    const given = await card({ grip: [] });
    expect(given).toMatchObject({
      indicator: 'info',
      summary: 'Grip strength: no measurement found in what was sent; nothing found that speaks against it.',
    });
    expect(given?.detail).toContain('- No measurement found in what was sent.');
  });

  it('warns of an arm whether or not a test is due, and says when one is', async () => {
    expect(await card({ procedures: [ACCESS] })).toMatchObject({
      indicator: 'warning',
      summary: 'Before a grip test: left arm: dialysis access. Next measurement from 30 Nov 2026.',
    });
    expect((await card({ procedures: [ACCESS], grip: DUE_GRIP }))?.summary).toContain(
      'due since 25 Nov 2026',
    );
    expect((await card({ procedures: [ACCESS], grip: [] }))?.summary).toContain(
      'No measurement found in what was sent.',
    );
  });

  it('does not come for what only asks for care while none is due, and does when one is', async () => {
    const conditions = [condition(ICD, 'G35'), condition(ICD, 'M10.9')];
    expect(await card({ conditions })).toBeUndefined();
    expect(await card({ conditions, grip: DUE_GRIP })).toMatchObject({
      indicator: 'info',
      summary:
        'Grip strength: next measurement due since 25 Nov 2026. Before it, see: gout, nerve or muscle disease.',
    });
  });

  it('C1, C3, C5, C11: is one, with a uuid, its rule and digest as source, and reasons to override it', async () => {
    const reply = await service.post(READINESS, readinessCall({ conditions: [DIALYSIS] })).expect(200);
    const [given, ...others] = cardsOf(reply);
    const { rule } = service.last().content as unknown as { rule: { version: string; digest: string } };
    expect(others).toEqual([]);
    expect(given?.uuid).toMatch(/^[0-9a-f-]{36}$/);
    expect(given?.source.label).toBe(
      `grip-strength-cds 0.3.0, rule testing-cautions ${rule.version} (sha256 ${rule.digest.slice(0, 12)})`,
    );
    expect(given?.detail).toContain(`sha256 ${rule.digest.slice(0, 12)};`);
    // Nothing was measured yet.
    expect(given?.overrideReasons.map(({ code }) => code)).toEqual([
      'own-baseline',
      'already-addressed',
      'cds-not-applicable',
      'recipient-disagrees-evidence',
      'cds-suboptimal-context',
    ]);
  });

  it('never forbids, and says what it rests on', async () => {
    const given = await card({ conditions: [DIALYSIS], procedures: [ACCESS] });
    expect(given?.detail).not.toMatch(/must not|do not test|forbidden|contraindicat/i);
    expect(given?.detail).toContain('it forbids nothing and diagnoses nothing');
    expect(given?.detail).toContain('Stop if it hurts. Breathe out while squeezing');
    expect(text(given?.detail)).toContain('(Academy/KDOQI 2020: the side opposite to the access;');
  });

  it('is for clinicians: a patient or relative gets none, and it is on record all the same', async () => {
    for (const userId of ['Patient/invented-1', 'RelatedPerson/invented-2']) {
      const call = readinessCall({ conditions: [DIALYSIS] });
      const reply = await service
        .post(READINESS, { ...call, context: { ...call.context, userId } })
        .expect(200);
      expect(reply.body).toEqual({ cards: [] });
      expect(service.last().content).toMatchObject({ asked: { user: userId }, returned: { cards: [] } });
    }
  });

  it.each([{ deceasedBoolean: true }, { deceasedDateTime: '2026-11-24' }])(
    'is not given for the dead (%o)',
    async (died) => {
      expect(
        await card({ patient: { ...PATIENT, ...died }, conditions: [DIALYSIS], grip: [] }),
      ).toBeUndefined();
    },
  );

  it('says when it was last measured and with which hands', async () => {
    const grip = sitting([], [28, 29], { at: '2026-10-01' });
    const given = await card({ grip });
    expect(given?.detail).toContain(
      '- 1 Oct 2026 (55 days ago), left hand only. By the rule of this panel the next is suggested from 15 Oct 2026: it is due.',
    );
  });

  it('takes nothing as markup that a record says: a code that was sent is not shown, a local one is escaped', async () => {
    const evil = line('IV-ARM-R', { id: 'x', bodySite: { text: '<script>[x](http://evil.example)' } });
    const given = await card({
      lines: [evil],
      conditions: [condition(ICD, 'F05', { code: { ...coded([ICD, 'F05']), text: '<b>Bramblewick</b>' } })],
    });
    expect(given?.detail).not.toMatch(/<|evil|Bramblewick/);
  });
});

describe('what is missing is said', () => {
  const ALL_MISSING: Chart = {
    conditions: null,
    procedures: null,
    devices: null,
    lines: null,
    grip: null,
    handedness: null,
  };

  it('P6: only the Patient is required', async () => {
    const given = await card(ALL_MISSING);
    expect(given?.indicator).toBe('info');
    expect(given?.summary).toBe(
      'Grip strength: last measurement not known; conditions, procedures, devices not available: ask before the test.',
    );
    for (const said of [
      'Conditions were not available: pain, fracture, stroke',
      'Procedures were not available: recent surgery',
      'Devices were not available',
      'Grip measurements were not available',
      'Handedness was not available',
      'Lines in the arm may not be found in this call: look at the arms.',
      'Surgery of the hand, wrist or forearm may not be found in this call: ask.',
      'Not known: neither conditions nor procedures were available. Ask, and look at the arms.',
    ])
      expect(given?.detail).toContain(said);
  });

  it('P11: a call without the Patient is answered 412, naming the key', async () => {
    const call = readinessCall({});
    const { patient: _, ...prefetch } = call.prefetch;
    const reply = await service.post(READINESS, { ...call, prefetch });
    expect(reply.status).toBe(412);
    expect(issuesOf(reply)[0]?.expression).toEqual(['prefetch.patient']);
  });

  it.each([
    [
      'conditions',
      'Grip strength: no measurement found in what was sent; conditions not available: ask before the test.',
    ],
    [
      'procedures',
      'Grip strength: no measurement found in what was sent; procedures not available: ask before the test.',
    ],
    [
      'devices',
      'Grip strength: no measurement found in what was sent; devices not available: ask before the test.',
    ],
  ])('%s', async (key, summary) => {
    const given = await card({ grip: [], [key]: null });
    expect(given?.detail).not.toContain('Not known: neither');
    expect(given?.summary).toBe(summary);
    expect(given?.detail).toContain(' not available');
  });

  it('a key that the client could not retrieve counts as missing; one that is null says that there is nothing', async () => {
    const outcome = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'exception' }] };
    const call = readinessCall({ grip: [] });
    const failed = await service.post(READINESS, {
      ...call,
      prefetch: { ...call.prefetch, conditions: outcome },
    });
    expect(cardsOf(failed)[0]?.summary).toContain('conditions not available');
    const none = await service.post(READINESS, { ...call, prefetch: { ...call.prefetch, conditions: null } });
    expect(cardsOf(none)[0]?.summary).toContain('nothing found that speaks against it');
  });

  it('further pages', async () => {
    const call = readinessCall({ grip: [] });
    const conditions = searchset([], { link: [{ relation: 'next', url: 'https://ehr.example/next' }] });
    const [given] = cardsOf(
      await service.post(READINESS, { ...call, prefetch: { ...call.prefetch, conditions } }),
    );
    expect(given?.detail).toContain('The record holds further conditions that were not sent.');
    expect(given?.summary).toContain('part of the record was not read');
  });

  it.each<[string, object, string]>([
    ['malformed', { onsetDateTime: 'last week' }, 'it is malformed'],
    ['of a day that is in no calendar', { onsetDateTime: '2026-02-30' }, 'it is malformed'],
    [
      'of an unknown modifier',
      { modifierExtension: [{ url: 'https://x.example' }] },
      'it carries rules or an extension that may change its meaning',
    ],
    [
      'of implicit rules',
      { implicitRules: 'https://x.example' },
      'it carries rules or an extension that may change its meaning',
    ],
    ['without a subject', { subject: undefined }, 'it does not say whose it is'],
    ['of the future', { onsetDateTime: '2027-01-01' }, 'its date is in the future'],
  ])('a Condition %s costs itself, not the card', async (_name, more, why) => {
    const given = await card({ conditions: [{ ...DIALYSIS, ...more } as never, condition(ICD, 'F05')] });
    expect(given?.summary).toContain('delirium');
    expect(text(given?.detail)).toContain(`One Condition that may matter was not used: ${why}`);
    expect(given?.detail).not.toContain('Dialysis or its access');
  });

  it('and never said to be free of cautions where one could not be read', async () => {
    const given = await card({ grip: DUE_GRIP, conditions: [{ ...DIALYSIS, onsetDateTime: 5 } as never] });
    expect(given?.summary).toBe(
      'Grip strength: next measurement due since 25 Nov 2026; part of the record was not read: ask before the test.',
    );
    expect(text(given?.detail)).toContain('(Condition/c-Z99.2)');
  });

  it('but not a malformed record whose code means nothing here', async () => {
    const other = { ...condition(ICD, 'I10'), onsetDateTime: 'long ago' } as never;
    expect((await card({ grip: DUE_GRIP, conditions: [other] }))?.detail).not.toContain('not used');
  });

  it.each([
    ['no object', { code: 'Z99.2' }],
    ['no text', { code: { coding: [{ system: ICD, code: 7 }] } }],
    ['nothing', { code: undefined, onsetDateTime: 3 }],
  ])('and a malformed record whose code is %s, since it may be any', async (_name, more) => {
    const given = await card({ grip: DUE_GRIP, conditions: [{ ...DIALYSIS, ...more } as never] });
    expect(text(given?.detail)).toContain('One Condition that may matter was not used: it is malformed');
  });

  it('malformed grip measurements, which do not cost what is said of the arms', async () => {
    const grip = [broken(TRIAL, 'valueQuantity', { value: '31.5' })];
    const given = await card({ grip, procedures: [ACCESS] });
    expect(given?.summary).toBe('Before a grip test: left arm: dialysis access. Last measurement not known.');
    expect(given?.detail).toContain('Grip measurements or handedness are malformed: none was used');
  });

  it('grip measurements that could not be used, by their number', async () => {
    const grip = [...RECENT_GRIP, { ...broken(TRIAL, 'valueQuantity.code', 'st'), id: 'stone' }];
    const given = await card({ grip, procedures: [ACCESS] });
    expect(given?.detail).toContain('One grip measurement could not be used');
  });
});

describe("another patient's record", () => {
  const OTHER = { reference: 'Patient/somebody-else' };

  it.each<[string, Chart, string]>([
    [
      'Condition',
      { conditions: [condition(ICD, 'F05', { subject: OTHER })] },
      'prefetch.conditions.entry[0].resource.subject.reference',
    ],
    [
      'Condition that is no caution',
      { conditions: [condition(ICD, 'I10', { subject: OTHER })] },
      'prefetch.conditions.entry[0].resource.subject.reference',
    ],
    [
      'malformed Condition',
      { conditions: [{ ...condition(ICD, 'F05', { subject: OTHER }), code: 3 } as never] },
      'prefetch.conditions.entry[0].resource.subject.reference',
    ],
    [
      'Procedure',
      { procedures: [procedure(SNOMED, '48765000', { subject: OTHER })] },
      'prefetch.procedures.entry[0].resource.subject.reference',
    ],
    [
      'Device',
      { devices: [device('https://x.example', 'y', { patient: OTHER })] },
      'prefetch.devices.entry[0].resource.patient.reference',
    ],
    [
      'line',
      { lines: [line('IV-ARM-R', { subject: OTHER })] },
      'prefetch.lines.entry[0].resource.subject.reference',
    ],
    [
      'grip trial',
      { grip: [{ ...TRIAL, subject: OTHER }] },
      'prefetch.grip.entry[0].resource.subject.reference',
    ],
    [
      'handedness',
      { handedness: [{ ...handed('46669005'), subject: OTHER }] },
      'prefetch.handedness.entry[0].resource.subject.reference',
    ],
  ])('(%s) stops the call: 400, and nothing is on record', async (_name, chart, expression) => {
    const before = service.store.head().seq;
    const reply = await service.post(READINESS, readinessCall(chart));
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]).toMatchObject({ expression: [expression] });
    expect(JSON.stringify(reply.body)).toContain('PATIENT_MISMATCH');
    expect(service.store.head().seq).toBe(before);
  });

  it('is not a resource of another type that a search included', async () => {
    const included = { resourceType: 'Encounter', id: 'e', subject: OTHER } as never;
    expect(await card({ conditions: [included, DIALYSIS] })).toMatchObject({ indicator: 'warning' });
  });
});

describe('the record', () => {
  const chart: Chart = {
    conditions: [condition(ICD, 'G81.91', { note: [{ text: 'Thaddeus fell' }] }), condition(ICD, 'I10')],
    procedures: [ACCESS],
    lines: [line('IV-ARM-R')],
    handedness: [handed('46669005')],
  };

  it('holds who asked, the cautions as read, the versions and digests, the findings and the reply', async () => {
    const given = await card(chart);
    const { content, kind, patient } = service.last();
    const recorded = content as unknown as Record<string, never>;
    expect([kind, patient]).toEqual(['readiness', 'Patient/invented-1']);
    expect(recorded).toMatchObject({
      asked: {
        door: 'cds-hooks',
        user: 'Practitioner/invented-dietitian',
        hook: { service: 'grip-test-readiness' },
      },
      panel: { kind: 'panel', id: 'adult-inpatient-us' },
      rule: {
        kind: 'rule',
        id: 'testing-cautions',
        version: '1.0.0',
        digest: expect.stringMatching(/^[0-9a-f]{64}$/),
      },
      localCodes: {
        url: expect.stringContaining('local-grip-codes'),
        sha256: expect.stringMatching(/^[0-9a-f]{64}$/),
      },
      input: {
        today: '2026-11-25',
        dominant: 'right',
        sessions: [{ testedOn: '2026-11-16', hands: ['right', 'left'] }],
      },
      returned: {
        cards: [{ uuid: given?.uuid, summary: given?.summary, indicator: 'warning' }],
        sha256: expect.stringMatching(/^[0-9a-f]{64}$/),
      },
      durationMs: expect.any(Number),
    });
    expect(recorded.valueSets).toHaveLength(18);
    expect((recorded.input as unknown as { cautions: readonly unknown[] }).cautions).toEqual([
      {
        caution: 'stroke-affected-side',
        reference: 'Condition/c-G81.91',
        codes: [{ system: ICD, code: 'G81.91' }],
        site: null,
        date: '2026-11-10',
        dateOf: 'onset',
        state: 'current',
      },
      expect.objectContaining({
        caution: 'dialysis-access',
        reference: 'Procedure/p-48765000',
        site: 'left',
      }),
      expect.objectContaining({
        caution: 'iv-line-in-arm',
        site: 'right',
        codes: [expect.objectContaining({ local: 'IV-ARM-R' })],
      }),
    ]);
  });

  it('holds no name, no free text, no other diagnosis and no date of birth', async () => {
    await card(chart);
    expect(service.last().record).not.toMatch(/Bramblewick|Thaddeus|fell|I10|1954/);
  });

  it('replays to the digit and to the byte, for every kind of chart', async () => {
    const library = openLibrary();
    for (const each of [
      chart,
      {},
      { grip: [] },
      { conditions: null, grip: null },
      { grip: DUE_GRIP, conditions: [{ ...DIALYSIS, onsetDateTime: 1 } as never] },
    ]) {
      await card(each);
      expect(replayAssessment(service.last(), library, '0.3.0')).toEqual({
        outcome: 'same',
        replyCompared: true,
      });
    }
    expect(replayAssessment(service.last(), library, '9.9.9')).toEqual({
      outcome: 'same',
      replyCompared: false,
    });
    expect(replay(service.last(), library, '0.3.0').outcome).toBe('not-replayable');
  });

  it('replays to a difference where a finding or a byte of the reply was altered, and not at all with another rule', async () => {
    const library = openLibrary();
    await card(chart);
    const stored = service.last();
    const altered = (from: string, to: string) => {
      expect(stored.record).toContain(from);
      return replayAssessment({ ...stored, record: stored.record.replace(from, to) }, library, '0.3.0');
    };
    expect(altered('"place":"left"', '"place":"right"')).toMatchObject({
      outcome: 'different',
      what: 'findings',
    });
    const { sha256 } = service.last().content.returned;
    expect(
      altered(
        sha256,
        sha256.replace(/^./, (digit) => (digit === '0' ? '1' : '0')),
      ),
    ).toMatchObject({
      outcome: 'different',
      what: 'reply',
    });
    expect(
      altered(
        '"id":"testing-cautions","kind":"rule","version":"1.0.0"',
        '"id":"testing-cautions","kind":"rule","version":"1.0.1"',
      ),
    ).toMatchObject({ outcome: 'not-replayable' });
    expect(altered('"gaps":', '"gabs":')).toMatchObject({ outcome: 'not-replayable' });
  });

  it('is the same for the same call, but for its id', async () => {
    const said = async () => {
      const given = await card(chart);
      const { id } = service.last();
      return JSON.stringify(given)
        .replaceAll(id, '')
        .replace(given?.uuid ?? '', '');
    };
    expect(await said()).toBe(await said());
  });

  it('chains with the others, and the log is whole', () => {
    expect(service.verify()).toMatchObject({ ok: true });
  });

  it('that cannot be written means 503 and no card', async () => {
    const store = {
      head: () => ({ seq: 0, hash: '0'.repeat(64) }),
      append: async () => Promise.reject(new AuditFault('full')),
    };
    const opened = await openWithStore(store as unknown as AuditStore);
    const reply = await opened.post(READINESS, readinessCall(chart));
    expect(reply.status).toBe(503);
    expect(JSON.stringify(reply.body)).not.toMatch(/cards|dialysis/i);
    await opened.app.close();
  });
});

describe('the call', () => {
  it('takes a chart of 1 MB, which other services do not, and no more', async () => {
    const notes = (bytes: number) => [condition(ICD, 'I10', { note: [{ text: 'x'.repeat(bytes) }] })];
    expect((await service.post(READINESS, readinessCall({ conditions: notes(900_000) }))).status).toBe(200);
    expect((await service.post(READINESS, readinessCall({ conditions: notes(1_100_000) }))).status).toBe(413);
    const other = await service.post(
      '/cds-services/grip-interpretation',
      readinessCall({ conditions: notes(900_000) }),
    );
    expect(other.status).toBe(413);
  });

  it('Q2: of another hook is refused', async () => {
    const reply = await service.post(READINESS, { ...readinessCall({}), hook: 'order-sign' });
    expect(reply.status).toBe(400);
  });

  it('may name another panel, whose rule says when the next measurement is due', async () => {
    const call = {
      ...readinessCall({}),
      extension: { 'example.grip-strength-cds.panel': 'older-adult-europe' },
    };
    await service.post(READINESS, call).expect(200);
    expect(service.last().content.panel).toMatchObject({ id: 'older-adult-europe' });
    const none = await service.post(READINESS, {
      ...call,
      extension: { 'example.grip-strength-cds.panel': 'none' },
    });
    expect(none.status).toBe(400);
  });
});
