/** What becomes of filed results when the chart changes: never two answers for one session, none on what was taken back. */
import type { Bundle, Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { gripCoding } from '../../src/fhir/codes.ts';
import { replay } from '../../src/replay.ts';
import { readEngine } from '../../src/service.ts';
import { bundleOf, FHIR_DOOR, PATIENT, parametersOf, SIX_TRIALS } from '../fixtures.ts';
import { expectValid } from '../profiles/judges.ts';
import {
  codesOf,
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

const codes = (reply: { body: unknown }) => codesOf(reply);
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
      `Results on record that rest on what was changed since, Observation/${wrong?.id} (entered-in-error): ${restOnIt.length}. They are withdrawn`,
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
    const { note, text, issued, ...rest } = second.body as Observation;
    const why = `Withdrawn: Observation/${trials[0]?.id}, on which it rests, was charted as entered-in-error (evaluation ${service.last().id}).`;
    expect(note?.at(-1)?.text).toBe(why);
    expect(text?.div).toContain(`<p>Not current. ${why}</p><p>Grip strength, right hand, mean`);
    expect(issued).toBe(second.body.meta.lastUpdated);
    const { text: _text, issued: _issued, ...filed } = first as Observation;
    expect({ ...rest, note: note?.slice(0, -1), status: 'preliminary', meta: first?.meta }).toEqual(filed);
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

  it('of another patient withdraws nothing', async () => {
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

  it('sent twice withdraws nothing more', async () => {
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

/** The results that are current for a patient are those of this reply, and no others. */
async function expectCurrent(patient: Patient, reply: { body: unknown }): Promise<void> {
  const ids = (results: readonly Observation[]) => new Set(results.map(({ id }) => id));
  expect(ids(await current(patient, 'preliminary'))).toEqual(ids(observationsOf(reply)));
}

describe('the last reading of a session is the current one', () => {
  const left = { coding: [{ system: 'http://loinc.org', code: '83173-5' }] };
  const statistic = {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/observation-statistics', code: 'average' }],
  };

  it.each<[string, (trial: Observation) => Partial<Observation>]>([
    ['a corrected hand', () => ({ status: 'corrected', code: left })],
    [
      'a trial that becomes final with another reading',
      () => ({ status: 'final', valueQuantity: value(12) }),
    ],
    ['another reading and no word of it', () => ({ valueQuantity: value(12) })],
    ['another version of the Observation', () => ({ meta: { versionId: '2' } })],
    ['a trial that turns out to be a mean', () => ({ status: 'corrected', method: statistic })],
    [
      'a hand with its own baseline',
      () => ({ component: [{ code: { coding: [gripCoding('own-baseline')] }, valueBoolean: true }] }),
    ],
    ['another time', () => ({ effectiveDateTime: '2026-11-16T14:06:30Z' })],
    ['a reading that cannot be read', () => ({ valueQuantity: { value: 31 } })],
  ])('after %s', async (_name, change) => {
    const { patient, trials } = newPatient();
    const first = await ask(
      patient,
      trials.map((trial, index) => (index === 0 ? changed(trial, { status: 'preliminary' }) : trial)),
    );
    const second = await ask(
      patient,
      trials.map((trial, index) => (index === 0 ? changed(trial, change(trial)) : trial)),
    );
    expect(second.text).not.toBe(first.text);
    await expectCurrent(patient, second);
  });

  it('as the session grows, trial by trial, and a search gives the newest first', async () => {
    const { patient, trials } = newPatient();
    let reply = await ask(patient, trials.slice(0, 1));
    for (let sent = 2; sent <= trials.length; sent += 1) reply = await ask(patient, trials.slice(0, sent));
    await expectCurrent(patient, reply);
    expect(codes(reply)).toContain('RESULTS_REPLACED');
    const query = `/fhir/Observation?patient=${patient.id}&code=highest-of-either-hand&_count=1`;
    const [newest] = observationsOf(await service.get(query));
    expect(newest).toMatchObject({ status: 'preliminary', valueQuantity: { value: 32 } });
    const sorted = observationsOf(await service.get(`${query}&_sort=-date,-_lastUpdated`));
    expect(sorted[0]?.id).toBe(newest?.id);
  });

  it('after a corrected date of birth', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    await expectCurrent(patient, await ask({ ...patient, birthDate: '1996-03-09' }, trials));
  });

  it('after a corrected writing hand, by the sets that ask for it', async () => {
    const { patient, trials } = newPatient();
    const hand = (code: string): Observation => ({
      ...(trials[0] as Observation),
      id: `${patient.id}-hand`,
      code: { coding: [{ system: 'http://snomed.info/sct', code: '364940007' }] },
      valueQuantity: undefined as never,
      valueCodeableConcept: { coding: [{ system: 'http://snomed.info/sct', code }] },
    });
    const all = [{ name: 'panel', valueCode: 'all-published' }];
    const send = (code: string) =>
      service.post(FHIR_DOOR.path, parametersOf(patient, [...trials, hand(code)], all));
    const first = observationsOf(await send('46669005'));
    const byHand = first.filter(({ derivedFrom = [] }) =>
      derivedFrom.some(({ reference }) => reference === `Observation/${patient.id}-hand`),
    );
    expect(byHand.length).toBeGreaterThan(1);
    await expectCurrent(patient, await send('87683000'));
  });

  it('and the same again when the chart goes back and forth', async () => {
    const { patient, trials } = newPatient();
    const read = (kg: number, status: Observation['status']) =>
      ask(patient, [changed(trials[0], { status, valueQuantity: value(kg) }), ...trials.slice(1)]);
    await read(12, 'final');
    await read(30, 'amended');
    await expectCurrent(patient, await read(12, 'amended'));
    const reply = await read(30, 'amended');
    await expectCurrent(patient, reply);
    expect(codes(reply)).toContain('RESULTS_REINSTATED');
    const [again] = observationsOf(reply).filter(({ meta }) => meta?.versionId !== '1');
    expect(again).toMatchObject({ status: 'preliminary', meta: { versionId: '3' } });
    expect((await service.get(`/fhir/Observation/${again?.id}`)).body).toEqual(again);
    expect((await service.get(`/fhir/Observation/${again?.id}/_history/2`)).body.status).toBe(
      'entered-in-error',
    );
    expect(observationsOf(await read(30, 'amended')).find(({ id }) => id === again?.id)).toEqual(again);
  });

  it('is the same reading when an amendment changes nothing that is read', async () => {
    const { patient, trials } = newPatient();
    const first = observationsOf(await ask(patient, trials));
    const amended = trials.map((trial) => changed(trial, { status: 'amended', note: [{ text: 'mended' }] }));
    expect(observationsOf(await ask(patient, amended))).toEqual(first);
    expect(await current(patient)).toHaveLength(first.length);
  });

  it('of one panel leaves those of another as they are', async () => {
    const { patient, trials } = newPatient();
    const first = observationsOf(await ask(patient, trials));
    const other = [{ name: 'panel', valueCode: 'older-adult-europe' }];
    await service.post(FHIR_DOOR.path, parametersOf(patient, trials, other));
    for (const { id } of first)
      expect((await service.get(`/fhir/Observation/${id}`)).body.status).toBe('preliminary');
  });
});

describe('all that was sent counts, whether it was used or not', () => {
  const ALL = [{ name: 'panel', valueCode: 'all-published' }];
  const measured = (
    patient: Patient,
    id: string,
    cm: number,
    on: string,
    status: Observation['status'] = 'final',
  ): Observation => ({
    ...(SIX_TRIALS[0] as Observation),
    id: `${patient.id}-${id}`,
    status,
    subject: { reference: `Patient/${patient.id}` },
    code: { coding: [{ system: 'http://loinc.org', code: '8302-2' }] },
    effectiveDateTime: on,
    valueQuantity: { value: cm, unit: 'cm', system: 'http://unitsofmeasure.org', code: 'cm' },
  });
  const writes = (patient: Patient, id: string, code: string, on: string): Observation => ({
    ...measured(patient, id, 0, on),
    code: { coding: [{ system: 'http://snomed.info/sct', code: '364940007' }] },
    valueQuantity: undefined as never,
    valueCodeableConcept: { coding: [{ system: 'http://snomed.info/sct', code }] },
  });

  it.each<
    [string, (patient: Patient) => readonly Observation[], (patient: Patient) => readonly Observation[]]
  >([
    [
      'a newer height',
      (p) => [measured(p, 'h', 178, '2026-11-01')],
      (p) => [measured(p, 'h', 178, '2026-11-01'), measured(p, 'h2', 150, '2026-11-15')],
    ],
    [
      'a height that is out of range',
      (p) => [measured(p, 'h', 178, '2026-11-01')],
      (p) => [measured(p, 'h', 17.8, '2026-11-01')],
    ],
    [
      'heights that disagree',
      (p) => [measured(p, 'h', 178, '2026-11-01')],
      (p) => [measured(p, 'h', 178, '2026-11-01'), measured(p, 'h2', 150, '2026-11-01')],
    ],
    [
      'another writing hand, charted later',
      (p) => [writes(p, 'd', '46669005', '2026-01-01')],
      (p) => [writes(p, 'd', '46669005', '2026-01-01'), writes(p, 'd2', '87683000', '2026-11-01')],
    ],
    [
      'writing hands that disagree',
      (p) => [writes(p, 'd', '46669005', '2026-01-01')],
      (p) => [writes(p, 'd', '46669005', '2026-01-01'), writes(p, 'd2', '87683000', '2026-01-01')],
    ],
  ])('%s', async (_name, before, after) => {
    const { patient, trials } = newPatient();
    const send = (others: readonly Observation[]) =>
      service.post(FHIR_DOOR.path, parametersOf(patient, [...trials, ...others], ALL));
    await send(before(patient));
    const reply = await send(after(patient));
    expect(codes(reply)).not.toContain('SESSION_IN_PART');
    await expectCurrent(patient, reply);
  });

  it.each<[string, Partial<Observation>]>([
    ['has no time', { effectiveDateTime: undefined as never }],
    ['is of tomorrow', { effectiveDateTime: '2026-12-24T10:00:00Z' }],
    ['does not say whose it is', { subject: undefined as never }],
  ])('a trial that %s', async (_name, change) => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    const reply = await ask(patient, [changed(trials[0], change), ...trials.slice(1)]);
    await expectCurrent(patient, reply);
  });

  it('a height that is amended and says the same leaves what rests on it, alone or with another session', async () => {
    const { patient, trials } = newPatient();
    const height = (status: Observation['status']) => measured(patient, 'h', 178, '2026-11-01', status);
    const first = observationsOf(
      await service.post(FHIR_DOOR.path, parametersOf(patient, [...trials, height('final')], ALL)),
    );
    await service.post(FHIR_DOOR.path, parametersOf(patient, [height('amended')], ALL));
    expect(await current(patient, 'entered-in-error')).toEqual([]);
    expect(await current(patient, 'preliminary')).toHaveLength(first.length);
    await service.post(
      FHIR_DOOR.path,
      parametersOf(patient, [measured(patient, 'h', 168, '2026-11-01', 'amended')], ALL),
    );
    expect((await current(patient, 'entered-in-error')).length).toBeGreaterThan(0);
  });

  it('an earlier session that a caution quotes: taken back, it takes the caution with it', async () => {
    const { patient, trials } = newPatient();
    const early = trials.map((trial, index) =>
      changed(trial, {
        id: `${trial.id}-early`,
        effectiveDateTime: `2026-09-12T10:0${index}:00Z`,
        valueQuantity: value(14.2),
      }),
    );
    const reply = await ask(patient, [...early, ...trials]);
    const quoting = observationsOf(reply).find(({ note = [] }) =>
      note.some(({ text }) => text.includes('last time')),
    );
    expect(quoting?.effectiveDateTime).toContain('2026-11-16');
    await ask(
      patient,
      early.map((trial) => changed(trial, { status: 'entered-in-error' })),
    );
    expect((await service.get(`/fhir/Observation/${quoting?.id}`)).body.status).toBe('entered-in-error');
  });

  it('a trial that moves into a session given for change only', async () => {
    const { patient, trials } = newPatient();
    const early = trials.map((trial, index) =>
      changed(trial, { id: `${trial.id}-early`, effectiveDateTime: `2026-09-12T10:0${index}:00Z` }),
    );
    const prior = (each: readonly Observation[]) => each.map((resource) => ({ name: 'prior', resource }));
    await service.post(FHIR_DOOR.path, parametersOf(patient, trials, prior(early)));
    const moved = changed(trials[0], { effectiveDateTime: '2026-09-12T10:07:00Z' });
    const reply = await service.post(
      FHIR_DOOR.path,
      parametersOf(patient, trials.slice(1), prior([...early, moved])),
    );
    await expectCurrent(patient, reply);
  });

  it('a trial without a name keeps a part from passing for the whole', async () => {
    const { patient, trials } = newPatient();
    const nameless = trials.map((trial, index) =>
      index === 0 ? trial : changed(trial, { id: undefined as never }),
    );
    const first = observationsOf(await ask(patient, nameless));
    expect(codes(await ask(patient, trials.slice(0, 1)))).toContain('SESSION_IN_PART');
    for (const { id } of first)
      expect((await service.get(`/fhir/Observation/${id}`)).body.status).toBe('preliminary');
  });
});

describe('a part of a session', () => {
  it('replaces nothing that rests on more, and the reply says so', async () => {
    const { patient, trials } = newPatient();
    const whole = observationsOf(await ask(patient, trials));
    const part = await ask(patient, trials.slice(0, 3));
    expect(codes(part)).toContain('SESSION_IN_PART');
    for (const { id } of whole)
      expect((await service.get(`/fhir/Observation/${id}`)).body.status).toBe('preliminary');
    await expectCurrent(patient, await ask(patient, trials));
  });

  it('given as an earlier measurement keeps its results', async () => {
    const { patient, trials } = newPatient();
    const whole = observationsOf(await ask(patient, trials));
    const later = trials.map((trial, index) =>
      changed(trial, { id: `${trial.id}-later`, effectiveDateTime: `2026-11-20T10:0${index}:00Z` }),
    );
    const prior = trials.map((resource) => ({ name: 'prior', resource }));
    await service.post(FHIR_DOOR.path, parametersOf(patient, later, prior));
    for (const { id } of whole)
      expect((await service.get(`/fhir/Observation/${id}`)).body.status).toBe('preliminary');
  });
});

describe('an earlier session that is taken back', () => {
  it('withdraws what was said of the course since then', async () => {
    const { patient, trials } = newPatient();
    const weak = (at: string, id: string) =>
      trials.map((trial, index) =>
        changed(trial, {
          id: `${trial.id}-${id}`,
          effectiveDateTime: `${at}T10:0${index}:00Z`,
          valueQuantity: value(14),
        }),
      );
    const early = weak('2026-01-12', 'early');
    const reply = await ask(patient, [...early, ...weak('2026-11-16', 'now')]);
    const chronic = observationsOf(reply).find(({ text }) => text?.div.includes('chronic'));
    expect(chronic?.effectiveDateTime).toContain('2026-11-16');
    expect(chronic?.derivedFrom).toContainEqual({ reference: `Observation/${early[0]?.id}` });
    await ask(
      patient,
      early.map((trial) => changed(trial, { status: 'entered-in-error' })),
    );
    expect((await service.get(`/fhir/Observation/${chronic?.id}`)).body.status).toBe('entered-in-error');
  });
});

describe('a trial that was taken back and is sent as it was', () => {
  it('is read, with a warning that names it', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    await ask(patient, [changed(trials[0], { status: 'entered-in-error' }), ...trials.slice(1)]);
    const reply = await ask(patient, trials);
    expect(codes(reply)).toContain('TAKEN_BACK_BEFORE');
    expect(texts(reply).join(' ')).toContain(
      `taken back or amended in an earlier request: Observation/${trials[0]?.id}.`,
    );
    await expectCurrent(patient, reply);
  });

  it('in the same Bundle as the copy that takes it back is not believed', async () => {
    const { patient, trials } = newPatient();
    await ask(patient, trials);
    await ask(patient, [trials[0] as Observation, changed(trials[0], { status: 'entered-in-error' })]);
    expect((await current(patient, 'entered-in-error')).length).toBeGreaterThan(4);
  });
});

describe('the same ids on two servers', () => {
  const at = (server: string, patient: Patient, trials: readonly Observation[]): Bundle => ({
    resourceType: 'Bundle',
    type: 'collection',
    entry: [patient, ...trials].map((resource) => ({
      fullUrl: `https://${server}.example/fhir/${resource.resourceType}/${resource.id}`,
      resource,
    })),
  });
  const send = (server: string, patient: Patient, trials: readonly Observation[]) =>
    service.post(FHIR_DOOR.path, at(server, patient, trials));
  const found = async (patient: string, status = 'preliminary') =>
    observationsOf(await service.get(`/fhir/Observation?patient=${patient}&status=${status}&_count=100`));

  it('are two patients: named by their addresses, found by them, and not withdrawn for each other', async () => {
    const { patient, trials } = newPatient();
    const first = observationsOf(await send('north', patient, trials));
    await send('south', { ...patient, birthDate: '1990-01-01' }, trials);
    const north = `https://north.example/fhir/Patient/${patient.id}`;
    expect(first.every(({ subject }) => subject?.reference === north)).toBe(true);
    expect(first[0]?.derivedFrom).toContainEqual({
      reference: `https://north.example/fhir/Observation/${trials[0]?.id}`,
    });
    await send('south', patient, [changed(trials[0], { status: 'entered-in-error' })]);
    expect((await found(north)).map(({ id }) => id).sort()).toEqual(first.map(({ id }) => id).sort());
    expect(
      (await found(`https://south.example/fhir/Patient/${patient.id}`, 'entered-in-error')).length,
    ).toBeGreaterThan(4);
  });

  it('are one where a request does not say which: what it takes back is withdrawn', async () => {
    const { patient, trials } = newPatient();
    const first = observationsOf(await send('north', patient, trials));
    await ask(patient, [changed(trials[0], { status: 'entered-in-error' })]);
    const left = await found(`https://north.example/fhir/Patient/${patient.id}`);
    expect(left.length).toBeGreaterThan(0);
    expect(left.length).toBeLessThan(first.length - 3);
  });

  it('are quoted in the narrative as text, whatever their addresses hold', async () => {
    const { patient, trials } = newPatient();
    const [first] = observationsOf(await send("a&b$1$&'c", patient, trials));
    await send("a&b$1$&'c", patient, [changed(trials[0], { status: 'entered-in-error' })]);
    const { body } = await service.get(`/fhir/Observation/${first?.id}`);
    expect(body.text.div).toContain(
      `Withdrawn: https://a&amp;b$1$&amp;'c.example/fhir/Observation/${trials[0]?.id}, on`,
    );
    expectValid(body, 'grip-hand-summary');
  });

  it('a fullUrl that is no address names nothing, and is not repeated', async () => {
    const { patient, trials } = newPatient();
    const bundle = at('north', patient, trials);
    for (const each of bundle.entry ?? []) each.fullUrl = `urn:Thaddeus Bramblewick:${each.resource?.id}`;
    const reply = await service.post(FHIR_DOOR.path, bundle);
    expect(reply.status).toBe(200);
    expect(reply.text).not.toContain('Bramblewick');
    expect(observationsOf(reply)[0]?.subject?.reference).toBe(`Patient/${patient.id}`);
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
