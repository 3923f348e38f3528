/** From the demo's resources, over HTTP, to the audit row. */
import { createHash } from 'node:crypto';
import type { Bundle } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS, type DemoPatient } from '../../src/demo/patients.ts';
import { replay } from '../../src/replay.ts';
import { readEngine } from '../../src/service.ts';
import { FHIR_DOOR, HOOK_DOOR } from '../fixtures.ts';
import {
  cardsOf,
  observationsOf,
  openForTests,
  refusalsOf,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';
import { EXPECTED, line, RIVER_COLUMNS } from './expected-verdicts.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true, count: service.store.head().seq });
  await service.close();
});

describe.each(DEMO_PATIENTS.map((demo) => [demo.patient.id ?? '', demo] as const))('%s', (id, demo) => {
  const { patient, observations }: DemoPatient = demo;

  it('gets the verdicts of the published limits through the FHIR operation, on record', async () => {
    const reply = await service.call(FHIR_DOOR, patient, observations);
    expect(reply.status).toBe(200);
    const record = service.last();
    expect(verdictsOf(record).map(line)).toEqual(EXPECTED[id]);
    const filed = observationsOf(reply).flatMap((own) => own.valueCodeableConcept?.coding?.[0]?.code ?? []);
    expect(filed).toEqual(verdictsOf(record).map(({ outcome }) => outcome));
    const evaluation = (reply.body as Bundle).identifier?.value?.replace('urn:uuid:', '') ?? '';
    expect(service.store.findById(evaluation)?.seq).toBe(record.seq);
    expect(record.content.returned.sha256).toBe(createHash('sha256').update(reply.text).digest('hex'));
  });

  it('gets the verdicts of the latest sitting through the hook, on record', async () => {
    const reply = await service.call(HOOK_DOOR, patient, observations);
    expect(reply.status).toBe(200);
    const record = service.last();
    const expected = EXPECTED[id] ?? [];
    const latest = { 'demo-augusta': 7, 'demo-casimir': 2 }[id] ?? expected.length;
    expect(verdictsOf(record).map(line)).toEqual(expected.slice(expected.length - latest));
    const said = cardsOf(reply).map(({ uuid, summary, indicator }) => ({ uuid, summary, indicator }));
    expect(record.content.returned.cards).toEqual(said);
    expect(said).toHaveLength(1);
    expect(cardsOf(reply)[0]?.detail).toContain(`On record as evaluation ${record.id}`);
    expect(record.content.returned.sha256).toBe(createHash('sha256').update(reply.text).digest('hex'));
  });
});

describe('demo-river, whose sex is not recorded', () => {
  it('gets both columns of each set, and no verdict', async () => {
    const river = DEMO_PATIENTS.find(({ patient }) => patient.id === 'demo-river');
    for (const door of [FHIR_DOOR, HOOK_DOOR]) {
      await service.call(door, river?.patient as DemoPatient['patient'], river?.observations ?? []);
      const columns = refusalsOf(service.last()).flatMap((refusal) => refusal.columns);
      expect(columns.map(line)).toEqual(RIVER_COLUMNS);
    }
  });
});

describe('demo-barnaby, whose pounds were charted as kilograms', () => {
  it('is stopped and asked about, with no figure to file', async () => {
    const barnaby = DEMO_PATIENTS.find(({ patient }) => patient.id === 'demo-barnaby');
    const reply = await service.call(
      FHIR_DOOR,
      barnaby?.patient as DemoPatient['patient'],
      barnaby?.observations ?? [],
    );
    expect(refusalsOf(service.last())).toMatchObject([
      { code: 'UNIT_IMPLAUSIBLE', set: null, facts: { figure: '84.0', unit: 'kg', otherUnit: 'lb' } },
    ]);
    expect(observationsOf(reply)).toEqual([]);
  });
});

describe('the record of these calls', () => {
  it('names the engine, the panel and every reference with version and digest', () => {
    const lock = Object.values(service.library.releases).flatMap((releases) =>
      [...releases].map(({ ref }) => ref),
    );
    for (const { content } of service.all()) {
      expect(content.engine).toEqual({
        name: 'grip-strength-cds',
        version: expect.stringMatching(/^\d+\.\d+\.\d+$/),
      });
      expect(lock).toContainEqual(content.panel);
      expect(content.panel).toMatchObject({ kind: 'panel', id: 'adult-inpatient-us', version: '1.1.0' });
      expect(content.references).toHaveLength(18);
      for (const reference of content.references) {
        expect(reference.digest).toMatch(/^[0-9a-f]{64}$/);
        expect(lock).toContainEqual(reference);
      }
    }
  });

  it('says who asked and through which door', () => {
    const [operation, hook] = service.all();
    expect(operation?.content.asked).toEqual({
      door: 'fhir-operation',
      client: 'open-access',
      user: null,
      hook: null,
      fhir: { base: 'https://grip.example.org/fhir', returns: 'representation' },
    });
    expect(hook?.content.asked).toEqual({
      door: 'cds-hooks',
      client: 'open-access',
      user: 'Practitioner/invented-dietitian',
      hook: {
        service: 'grip-interpretation',
        hook: 'patient-view',
        instance: '0f8fad5b-d9cb-469f-a165-70867728950e',
        fhirServer: null,
        encounter: null,
        hasMore: false,
        // The call carries neither these nor leave to fetch them.
        unread: ['height', 'handedness', 'measures'],
        base: 'https://grip.example.org',
      },
    });
  });

  it('holds no name and no date of birth', () => {
    const text = service
      .all()
      .map(({ record }) => record)
      .join('\n');
    for (const { patient } of DEMO_PATIENTS) {
      const { family = '', given = [], text: whole = '' } = patient.name?.[0] ?? {};
      for (const canary of [family, ...given, whole, patient.birthDate ?? '']) {
        expect(canary).not.toBe('');
        expect(text).not.toContain(canary);
      }
    }
  });

  it('gives the same findings to the digit and the same reply to the byte when it is replayed', () => {
    const { version } = readEngine();
    for (const record of service.all()) {
      expect(replay(record, service.library, version)).toEqual({ outcome: 'same', replyCompared: true });
    }
  });

  it('is compared by its findings only when another version of the engine wrote it', () => {
    const [record] = service.all();
    if (!record) throw new Error('no record');
    expect(replay(record, service.library, '0.0.0')).toEqual({ outcome: 'same', replyCompared: false });
  });

  it('is different when a word of the reply would be', () => {
    const [record] = service.all();
    if (!record) throw new Error('no record');
    const stored = JSON.parse(record.record);
    stored.content.sex = { sex: stored.content.sex.sex, source: 'us-core-sex' };
    const changed = { ...record, record: JSON.stringify(stored) };
    expect(replay(changed, service.library, readEngine().version)).toMatchObject({
      outcome: 'different',
      what: 'reply',
    });
  });

  it('holds the same findings for the same request', async () => {
    for (const { patient, observations } of DEMO_PATIENTS) {
      const findings = [];
      for (const _ of [1, 2]) {
        await service.call(FHIR_DOOR, patient, observations);
        findings.push(service.last().content.findings);
      }
      expect(findings[1]).toEqual(findings[0]);
    }
  });
});
