/** Results whose trials are amended or entered in error afterwards are withdrawn: never left to be taken for current. */
import type { Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { gripCoding } from '../../src/fhir/codes.ts';
import { replay } from '../../src/replay.ts';
import { readEngine } from '../../src/service.ts';
import { bundleOf, FHIR_DOOR, PATIENT, parametersOf, SIX_TRIALS } from '../fixtures.ts';
import { expectValid } from '../profiles/judges.ts';
import {
  issuesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

let service: TestService;
let patients = 0;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

/** A patient of their own for each test, with the same six trials. */
function newPatient(): { patient: Patient; trials: Observation[] } {
  patients += 1;
  const id = `invented-${patients}`;
  const subject = { reference: `Patient/${id}` };
  return {
    patient: { ...PATIENT, id },
    trials: SIX_TRIALS.map((trial) => ({ ...trial, id: `${id}-${trial.id}`, subject })),
  };
}

const ask = (patient: Patient, trials: readonly Observation[]) =>
  service.post(FHIR_DOOR.path, bundleOf(patient, trials));

function changed(trial: Observation | undefined, to: Partial<Observation>): Observation {
  return { ...(trial as Observation), ...to };
}

const TRIAL_CODE = { coding: [gripCoding('grip-trial')] };
const value = (kg: number) => ({ value: kg, unit: 'kg', system: 'http://unitsofmeasure.org', code: 'kgf' });

async function current(patient: Patient, status?: string): Promise<readonly Observation[]> {
  const more = status ? `&status=${status}` : '';
  return observationsOf(await service.get(`/fhir/Observation?patient=${patient.id}&_count=100${more}`));
}

const texts = (reply: { body: unknown }) => issuesOf(reply).map(({ details }) => details?.text ?? '');

describe('a trial entered in error', () => {
  it('withdraws the results that rest on it, and no others', async () => {
    const { patient, trials } = newPatient();
    const first = observationsOf(await ask(patient, trials));
    const [wrong, ...rest] = trials;
    const reply = await ask(patient, [changed(wrong, { status: 'entered-in-error' }), ...rest]);
    const now = await current(patient);
    const ids = new Set(first.map(({ id }) => id));
    const withdrawn = now.filter(({ status }) => status === 'entered-in-error');
    const restOnIt = first.filter(({ derivedFrom = [] }) =>
      derivedFrom.some(({ reference }) => reference === `Observation/${wrong?.id}`),
    );
    expect(restOnIt.length).toBeGreaterThan(4);
    expect(restOnIt.length).toBeLessThan(first.length);
    expect(new Set(withdrawn.map(({ id }) => id))).toEqual(new Set(restOnIt.map(({ id }) => id)));
    expect(now.filter(({ id, status }) => !ids.has(id) && status === 'preliminary').length).toBeGreaterThan(
      4,
    );
    expect(texts(reply).join(' ')).toContain(
      `Results filed before that rest on what was changed since, Observation/${wrong?.id} (entered-in-error): ${restOnIt.length}. They are withdrawn`,
    );
  });

  it('withdraws them when it is all that is sent', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    await ask(patient, [changed(trials[0], { status: 'entered-in-error' })]);
    expect((await current(patient, 'entered-in-error')).length).toBeGreaterThan(4);
  });

  it('withdraws them though both calls come at once', async () => {
    const { patient, trials } = newPatient();
    const [wrong, ...rest] = trials;
    const [first] = await Promise.all(
      [trials, [changed(wrong, { status: 'entered-in-error' }), ...rest]].map((sent) =>
        service.app.inject({ method: 'POST', url: FHIR_DOOR.path, payload: bundleOf(patient, sent) }),
      ),
    );
    const restOnIt = observationsOf({ body: first?.json() }).filter(({ derivedFrom = [] }) =>
      derivedFrom.some(({ reference }) => reference === `Observation/${wrong?.id}`),
    );
    expect(restOnIt.length).toBeGreaterThan(4);
    const withdrawn = await current(patient, 'entered-in-error');
    expect(new Set(withdrawn.map(({ id }) => id))).toEqual(new Set(restOnIt.map(({ id }) => id)));
    expect(service.verify().firstFault).toBeNull();
  });

  it('leaves both versions to be read, the second with the reason and a Provenance of its own', async () => {
    const { patient, trials } = newPatient();
    const [first] = observationsOf(await ask(patient, trials));
    const reply = await ask(patient, [changed(trials[0], { status: 'entered-in-error' })]);
    const read = (version: string) => service.get(`/fhir/Observation/${first?.id}${version}`);
    expect((await read('/_history/1')).body).toEqual(first);
    const second = await read('');
    expect(second.headers.etag).toBe('W/"2"');
    expect((await read('/_history/2')).body).toEqual(second.body);
    expect(second.body).toMatchObject({ status: 'entered-in-error', meta: { versionId: '2' } });
    const { note, ...rest } = second.body as Observation;
    expect(note?.at(-1)?.text).toBe(
      `Withdrawn: Observation/${trials[0]?.id}, on which it rests, was charted as entered-in-error (evaluation ${service.last().id}).`,
    );
    expect({ ...rest, note: note?.slice(0, -1), status: 'preliminary', meta: first?.meta }).toEqual(first);
    expect((await service.get(`/fhir/Observation/${first?.id}`, { 'if-none-match': 'W/"1"' })).status).toBe(
      200,
    );
    const provenance = resourcesOf(reply).find(
      (resource) =>
        resource.resourceType === 'Provenance' &&
        resource.target[0]?.reference === `Observation/${first?.id}/_history/2`,
    );
    expect(provenance).toMatchObject({
      activity: { coding: [{ code: 'UPDATE' }] },
      entity: [
        { role: 'revision', what: { reference: `Observation/${first?.id}/_history/1` } },
        { role: 'source', what: { reference: `Observation/${trials[0]?.id}` } },
      ],
    });
    expect((await service.get(`/fhir/Provenance/${provenance?.id}`)).body).toEqual(provenance);
    expectValid(second.body, 'grip-hand-summary');
    for (const resource of await current(patient)) expectValid(resource);
    if (provenance) expectValid(provenance);
  });

  it('of another patient, or of another client, withdraws nothing', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    const other = newPatient();
    const stranger = changed(trials[0], {
      status: 'entered-in-error',
      subject: { reference: `Patient/${other.patient.id}` },
    });
    await ask(other.patient, [stranger]);
    expect(await current(patient, 'entered-in-error')).toEqual([]);
  });
});

describe('an amended trial', () => {
  it('withdraws what rests on its former reading and files what rests on the new one', async () => {
    const { patient, trials } = newPatient();
    const before = observationsOf(await ask(patient, trials));
    const amended = changed(trials[0], { status: 'amended', valueQuantity: value(40) });
    const after = observationsOf(await ask(patient, [amended, ...trials.slice(1)]));
    const kept = after.filter(({ id }) => before.some((result) => result.id === id));
    expect(kept.every(({ bodySite }) => bodySite?.coding?.[0]?.code === '85151006')).toBe(true);
    const now = await current(patient, 'preliminary');
    expect(new Set(now.map(({ id }) => id))).toEqual(new Set(after.map(({ id }) => id)));
  });

  it('sent twice, or with another panel, withdraws nothing more', async () => {
    const { patient, trials } = newPatient();
    const amended = [changed(trials[0], { status: 'amended' }), ...trials.slice(1)];
    const first = observationsOf(await ask(patient, amended));
    const again = await ask(patient, amended);
    expect(observationsOf(again)).toEqual(first);
    expect(await current(patient, 'entered-in-error')).toEqual([]);
  });

  it('back to its first reading is a result of its own, not the withdrawn one', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    const rest = trials.slice(1);
    await ask(patient, [changed(trials[0], { status: 'amended', valueQuantity: value(40) }), ...rest]);
    const back = observationsOf(await ask(patient, [changed(trials[0], { status: 'amended' }), ...rest]));
    expect(back.every(({ status }) => status === 'preliminary')).toBe(true);
    const now = await current(patient, 'preliminary');
    expect(new Set(now.map(({ id }) => id))).toEqual(new Set(back.map(({ id }) => id)));
  });
});

describe('an amended Observation of components', () => {
  const component = (kg: number) => ({ code: TRIAL_CODE, valueQuantity: value(kg) });
  const ofHand = (id: string, readings: readonly number[], status: Observation['status']): Observation => ({
    ...(SIX_TRIALS[0] as Observation),
    id: `hand-${id}`,
    status,
    subject: { reference: `Patient/${id}` },
    valueQuantity: undefined as never,
    component: readings.map(component),
  });

  it.each([
    ['one more trial', [31, 32], [31, 32, 30]],
    ['one trial less', [31, 32, 30], [31, 32]],
    ['another reading', [31, 32, 30], [31, 32, 33]],
  ])('withdraws what rested on it with %s', async (_name, before, after) => {
    const { patient } = newPatient();
    const id = patient.id ?? '';
    const first = observationsOf(await ask(patient, [ofHand(id, before, 'final')]));
    const second = observationsOf(await ask(patient, [ofHand(id, after, 'amended')]));
    expect(first.length).toBeGreaterThan(3);
    const now = await current(patient, 'preliminary');
    expect(new Set(now.map((result) => result.id))).toEqual(new Set(second.map((result) => result.id)));
    const again = observationsOf(await ask(patient, [ofHand(id, after, 'amended')]));
    expect(again).toEqual(second);
    expect((await current(patient, 'entered-in-error')).length).toBe(first.length);
  });
});

describe('an amended height', () => {
  it('withdraws what rests on it, and what is filed with the new one stands', async () => {
    const { patient, trials } = newPatient();
    const height = (cm: number, status: Observation['status']): Observation => ({
      ...(trials[0] as Observation),
      id: `${patient.id}-height`,
      status,
      code: { coding: [{ system: 'http://loinc.org', code: '8302-2' }] },
      valueQuantity: { value: cm, unit: 'cm', system: 'http://unitsofmeasure.org', code: 'cm' },
    });
    const all = [{ name: 'panel', valueCode: 'all-published' }];
    const send = (cm: number, status: Observation['status']) =>
      service.post(FHIR_DOOR.path, parametersOf(patient, [...trials, height(cm, status)], all));
    const onHeight = (results: readonly Observation[]) =>
      results.filter(({ derivedFrom = [] }) =>
        derivedFrom.some(({ reference }) => reference === `Observation/${patient.id}-height`),
      );
    const first = onHeight(observationsOf(await send(178, 'final')));
    const second = onHeight(observationsOf(await send(168, 'amended')));
    expect(first.length).toBeGreaterThan(0);
    const found = await service.get(
      `/fhir/Observation?patient=${patient.id}&_count=100&status=entered-in-error`,
    );
    expect(new Set(observationsOf(found).map(({ id }) => id))).toEqual(new Set(first.map(({ id }) => id)));
    const back = onHeight(observationsOf(await send(178, 'amended')));
    expect(back.every(({ status }) => status === 'preliminary')).toBe(true);
    expect(back.some(({ id }) => second.some((result) => result.id === id))).toBe(false);
  });
});

describe('trials sent as they were before the change', () => {
  it('give the withdrawn results as such, with a warning, and bring nothing back', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    await ask(patient, [
      changed(trials[0], { status: 'amended', valueQuantity: value(40) }),
      ...trials.slice(1),
    ]);
    const before = await current(patient);
    const stale = await ask(patient, trials);
    const withdrawn = observationsOf(stale).filter(({ status }) => status === 'entered-in-error');
    expect(withdrawn.length).toBeGreaterThan(4);
    for (const result of withdrawn) {
      expect((await service.get(`/fhir/Observation/${result.id}`)).body).toEqual(result);
    }
    expect(texts(stale).join(' ')).toContain(
      `Of these results, withdrawn before because a trial was changed: ${withdrawn.length}.`,
    );
    expect(await current(patient)).toEqual(before);
  });
});

describe('the log', () => {
  it('replays all of this to the byte and is whole', () => {
    const { version } = readEngine();
    const outcomes = [...service.store.records()].map((record) => replay(record, service.library, version));
    expect(outcomes.length).toBeGreaterThan(15);
    expect(outcomes.filter(({ outcome }) => outcome !== 'same')).toEqual([]);
    expect(outcomes.every((result) => result.outcome === 'same' && result.replyCompared)).toBe(true);
    expect(service.verify().ok).toBe(true);
  });
});
