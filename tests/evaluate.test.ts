/** One evaluation without a door: what is read, what is answered, and that the record comes first. */
import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import type { AuditEntry, AuditStore } from '../src/audit/audit-record.ts';
import { RequestError } from '../src/errors.ts';
import { type Asked, evaluate } from '../src/evaluate.ts';
import type { Evaluation } from '../src/evaluation.ts';
import type { EvaluationInput } from '../src/read-input.ts';
import { openLibrary } from '../src/service.ts';
import { broken, NOW, PATIENT, SIX_TRIALS, sitting, TRIAL } from './fixtures.ts';

const library = openLibrary();
const ASKED: Asked = { door: 'fhir-operation', client: 'test', user: null, hook: null };
const ID = '0f8fad5b-d9cb-469f-a165-70867728950e';

const INPUT: EvaluationInput = {
  patient: { resource: PATIENT, expression: 'p' },
  observations: SIX_TRIALS.map((resource, index) => ({ resource, expression: `o[${index}]` })),
  prior: [],
  devices: [],
  panelId: null,
  asOf: null,
  scope: 'every-session',
};

/** A store that keeps what it is given, and can be told to take its time or to fail. */
function storeFor(append: (entry: AuditEntry) => Promise<void> = async () => undefined) {
  const entries: AuditEntry[] = [];
  const head = { seq: 0, hash: '0'.repeat(64) };
  const store: AuditStore = {
    append: async (entry) => {
      await append(entry);
      entries.push(entry);
      return head;
    },
    head: () => head,
    findById: () => undefined,
    findByName: () => undefined,
    recordsAbout: () => [],
    findFiled: () => undefined,
    claimOnce: () => undefined,
    findDocument: () => undefined,
    searchDocuments: () => ({ total: 0, documents: [], upTo: 0 }),
    records: () => [][Symbol.iterator](),
    close: () => undefined,
  };
  return { entries, store };
}

function depsWith(store: AuditStore) {
  const engine = { name: 'test', version: '0.0.0' };
  return { library, store, engine, defaultPanelId: 'adult-inpatient-us', now: () => NOW, newId: () => ID };
}

/** Evaluates and gives back what the answer was written from, the reply and the record. */
async function evaluated(parts: Partial<EvaluationInput> = {}) {
  const { entries, store } = storeFor();
  const seen: Evaluation[] = [];
  const reply = await evaluate(depsWith(store), ASKED, { ...INPUT, ...parts }, (evaluation) => {
    seen.push(evaluation);
    return { body: { said: evaluation.id }, returned: { resources: 1 } };
  });
  const [evaluation] = seen;
  const [entry] = entries;
  if (!evaluation || !entry || entries.length !== 1)
    throw new Error('one evaluation and one record are expected');
  return { evaluation, entry, content: entry.content as Record<string, unknown>, reply };
}

async function codeOf(promise: Promise<unknown>): Promise<string> {
  const fault = await promise.then(
    () => undefined,
    (thrown: unknown) => thrown,
  );
  return fault instanceof RequestError ? fault.code : `not a RequestError: ${String(fault)}`;
}

describe('an evaluation', () => {
  it('gives the reply as text, with its digest on record', async () => {
    const { reply, entry, content } = await evaluated();
    expect(reply).toBe(`{"said":"${ID}"}`);
    expect(entry).toMatchObject({ id: ID, kind: 'evaluation', patient: 'Patient/invented-1' });
    const sha256 = createHash('sha256').update(reply, 'utf8').digest('hex');
    expect(content.returned).toEqual({ resources: 1, sha256 });
    expect(content).toMatchObject({ asked: ASKED, at: NOW.toISOString(), asOf: null });
  });

  it('is on record before the reply is given', async () => {
    const order: string[] = [];
    const { store } = storeFor(async () => {
      await new Promise((resolve) => setTimeout(resolve, 10));
      order.push('recorded');
    });
    await evaluate(depsWith(store), ASKED, INPUT, () => ({ body: {}, returned: {} }));
    order.push('replied');
    expect(order).toEqual(['recorded', 'replied']);
  });

  it('is refused, with the cause for the log only, when it cannot be recorded', async () => {
    const cause = new Error('disk full');
    const { store } = storeFor(() => Promise.reject(cause));
    const attempt = evaluate(depsWith(store), ASKED, INPUT, () => ({ body: { secret: 1 }, returned: {} }));
    await expect(attempt).rejects.toMatchObject({ code: 'NOT_RECORDED', issues: [], cause });
  });

  it('of a bad request does not reach the log', async () => {
    const { entries, store } = storeFor();
    const attempt = (parts: Partial<EvaluationInput>) =>
      codeOf(evaluate(depsWith(store), ASKED, { ...INPUT, ...parts }, () => ({ body: {}, returned: {} })));
    const stranger = { resource: broken(TRIAL, 'subject.reference', 'Patient/2'), expression: 'o' };
    const nameless = { resource: broken(PATIENT, 'id', undefined), expression: 'p' };
    expect(await attempt({ panelId: 'none' })).toBe('PANEL_UNKNOWN');
    expect(await attempt({ observations: [stranger] })).toBe('PATIENT_MISMATCH');
    expect(await attempt({ prior: [stranger] })).toBe('PATIENT_MISMATCH');
    expect(await attempt({ patient: nameless })).toBe('PATIENT_MISSING');
    expect(await attempt({ patient: { resource: null, expression: 'p' } })).toBe('BODY_INVALID');
    expect(entries).toEqual([]);
  });

  it('records panel and references with their digests, and what is needed to redo it', async () => {
    const { content } = await evaluated({ panelId: 'all-published' });
    const panel = library.findPanel('all-published');
    expect(content.panel).toEqual(panel?.panel.ref);
    expect(content.references).toEqual(panel?.references);
    expect(content.input).toMatchObject({
      sex: 'male',
      sessions: [{ testedOn: '2026-11-16', age: { ageYears: 72 } }],
    });
    expect(JSON.stringify(content)).not.toMatch(/Bramblewick|Thaddeus|1954-03-09/);
  });

  it('leaves its input as it was', async () => {
    const before = structuredClone(INPUT);
    await evaluated();
    expect(INPUT).toEqual(before);
  });

  it('counts an Observation once when the same content comes again, and says so', async () => {
    const again = { resource: structuredClone(INPUT.observations[0]?.resource), expression: 'again' };
    const { evaluation } = await evaluated({ observations: [...INPUT.observations, again] });
    expect(evaluation.refusals).toMatchObject([
      { code: 'DUPLICATE_OBSERVATION', trial: 'Observation/trial-1', expression: 'again' },
    ]);
    expect(evaluation.input.sessions[0]?.trials).toHaveLength(6);
  });

  it('uses no copy of an Observation that comes in two versions', async () => {
    for (const status of ['corrected', 'entered-in-error']) {
      const resource = { ...broken(TRIAL, 'meta', { versionId: '2' }), status, id: 'trial-1' };
      const { evaluation } = await evaluated({
        observations: [...INPUT.observations, { resource, expression: 'again' }],
      });
      expect(evaluation.refusals).toMatchObject([
        { code: 'OBSERVATION_CONFLICT', expression: 'o[0]' },
        { code: 'OBSERVATION_CONFLICT', trial: 'Observation/trial-1/_history/2', expression: 'again' },
      ]);
      expect(evaluation.input.sessions[0]?.trials).toHaveLength(5);
    }
  });

  it('reads no patient of a second server, though the id is the same', async () => {
    const from = (server: string, index: number) => ({
      resource: broken(
        broken(TRIAL, 'subject.reference', `${server}/Patient/${PATIENT.id}`),
        'id',
        `s${index}`,
      ),
      expression: `o[${index}]`,
    });
    const one = 'https://a.example/fhir';
    await evaluated({ observations: [from(one, 0), from(one, 1)] });
    await expect(
      evaluated({ observations: [from(one, 0), from('https://b.example/fhir', 1)] }),
    ).rejects.toMatchObject({
      code: 'PATIENT_MISMATCH',
    });
  });

  it('refuses more than a chart holds, an age that nobody reaches and an asOf to come', async () => {
    const many = Array.from({ length: 301 }, (_unused, index) => ({
      resource: broken(TRIAL, 'id', `t${index}`),
      expression: `o[${index}]`,
    }));
    await expect(evaluated({ observations: many })).rejects.toMatchObject({ code: 'BODY_INVALID' });
    const days = Array.from({ length: 61 }, (_unused, index) => ({
      resource: {
        ...broken(TRIAL, 'id', `d${index}`),
        effectiveDateTime: new Date(Date.UTC(2026, 0, 1 + index)).toISOString().slice(0, 10),
      },
      expression: `o[${index}]`,
    }));
    await expect(evaluated({ observations: days })).rejects.toMatchObject({ code: 'BODY_INVALID' });
    await expect(evaluated({ asOf: '2099-01-01' })).rejects.toMatchObject({ code: 'BODY_INVALID' });
    const { evaluation } = await evaluated({
      patient: { resource: broken(PATIENT, 'birthDate', '1850-01-01'), expression: 'p' },
    });
    expect(evaluation.interpretations[0]?.results).toMatchObject([
      { code: 'AGE_IMPLAUSIBLE', facts: { ageYears: '176' } },
    ]);
  });

  it('keeps a reading as it was charted', async () => {
    const observations = [41.4, 0.1, 30, 1e-7].map((value, index) => ({
      resource: broken(broken(TRIAL, 'valueQuantity.value', value), 'id', `t${index}`),
      expression: `o[${index}]`,
    }));
    const { evaluation } = await evaluated({ observations });
    expect(evaluation.input.sessions[0]?.trials.map(({ reading }) => reading)).toEqual([
      '41.4',
      '0.1',
      '30',
      '1e-7',
    ]);
  });

  const twoSittings = [...sitting([24, 25, 26], [], { id: 'earlier', at: '2026-08-20' }), ...SIX_TRIALS].map(
    (resource, index) => ({ resource, expression: `o[${index}]` }),
  );

  it('of every session interprets each; of the latest keeps the others as earlier measurements', async () => {
    const every = await evaluated({ observations: twoSittings });
    expect(every.evaluation.interpretations.map(({ testedOn }) => testedOn)).toEqual([
      '2026-08-20',
      '2026-11-16',
    ]);
    const latest = await evaluated({ observations: twoSittings, scope: 'latest-session' });
    expect(latest.evaluation.interpretations).toEqual([every.evaluation.interpretations[1]]);
    expect(latest.evaluation.input.sessions.map(({ prior }) => prior)).toEqual([true, false]);
  });

  it('with a date asOf takes nothing charted after it', async () => {
    const { evaluation } = await evaluated({ observations: twoSittings, asOf: '2026-08-20' });
    expect(evaluation.interpretations.map(({ testedOn }) => testedOn)).toEqual(['2026-08-20']);
    expect(evaluation.refusals.map(({ code }) => code)).toEqual(Array(6).fill('TIME_IN_FUTURE'));
  });
});
