/** `grip-cds results remove`, the command as it is built, on the file of a service that runs (STANDARDS X4). */
import { dirname } from 'node:path';
import type { Observation, Provenance } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { replay } from '../../src/replay.ts';
import { readEngine } from '../../src/service.ts';
import { runCommand } from '../audit/run-command.ts';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

let service: TestService;
let filed: readonly Observation[];
let removed: Observation;
let provenance: Provenance;
let records: number;

const remove = (...words: readonly string[]) =>
  runCommand(dirname(service.file), ['results', 'remove', ...words, '--file', service.file]);
const pathOf = ({ resourceType, id }: Observation | Provenance) => `/fhir/${resourceType}/${id}`;

beforeAll(async () => {
  service = await openForTests();
  const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
  filed = observationsOf(reply);
  removed = filed[0] as Observation;
  provenance = resourcesOf(reply).find(
    (each) => each.resourceType === 'Provenance' && each.target[0]?.reference === `Observation/${removed.id}`,
  ) as Provenance;
  records = service.store.head().seq;
  const ended = remove(`Observation/${removed.id}`, '--reason', 'wrong-patient');
  expect(ended.stderr).toBe('');
  expect(ended.status).toBe(0);
  expect(ended.stdout).toContain(`Observation/${removed.id} was removed, with 1 Provenance`);
}, 30_000);
afterAll(() => service.close());

describe('a result that was removed', () => {
  it('is 410 with an OperationOutcome, in every version and for HEAD; so is its Provenance', async () => {
    for (const path of [pathOf(removed), pathOf(provenance)]) {
      for (const url of [path, `${path}/_history/1`, `${path}/_history/2`, `${path}?_elements=status`]) {
        const reply = await service.get(url);
        expect(reply.status, url).toBe(410);
        expect(codesOf(reply)).toEqual(['GONE']);
        expect(reply.body.issue[0].code).toBe('deleted');
        expect((await service.app.inject({ method: 'HEAD', url })).statusCode).toBe(410);
      }
      expect((await service.get(path, { 'if-none-match': '*' })).status).toBe(410);
      expect((await service.get(`${path}/_history/3`)).status).toBe(404);
    }
  });

  it('is found by no search, and neither is its Provenance', async () => {
    const all = await service.get('/fhir/Observation?_count=100');
    expect(all.body.total).toBe(filed.length - 1);
    for (const query of [
      `Observation?_id=${removed.id}`,
      `Observation?identifier=${encodeURIComponent(removed.identifier?.[0]?.value ?? '')}`,
      `Provenance?_id=${provenance.id}`,
      `Provenance?target=Observation/${removed.id}`,
      `Observation?_id=${removed.id}&status:missing=true`,
      `Observation?_id:not=x&status:missing=true`,
    ]) {
      expect((await service.get(`/fhir/${query}`)).body.total, query).toBe(0);
    }
    const withProvenance = await service.get('/fhir/Observation?_count=100&_revinclude=Provenance:target');
    expect(withProvenance.text).not.toContain(provenance.id);
  });

  it('leaves the others as they were', async () => {
    for (const each of filed.slice(1)) expect((await service.get(pathOf(each))).body).toEqual(each);
  });

  it('is on record with who filed it and why, and the log holds', () => {
    expect(service.store.head().seq).toBe(records + 1);
    const record = service.last();
    expect(record.kind).toBe('removal');
    expect(record.content).toEqual({
      removed: [`Observation/${removed.id}`, `Provenance/${provenance.id}`],
      filedBy: service.all()[records - 1]?.id,
      reason: 'wrong-patient',
    });
    expect(service.verify().firstFault).toBeNull();
  });

  it('leaves nothing of its content in the file of the results', () => {
    expect(service.store.findDocument('Observation', removed.id ?? '', 1)?.content).toBeNull();
  });

  it('does not stop what runs: the next evaluation is chained to the removal', async () => {
    const other = { ...PATIENT, id: 'invented-2' };
    const trials = SIX_TRIALS.map((trial) => ({
      ...trial,
      id: `next-${trial.id}`,
      subject: { reference: 'Patient/invented-2' },
    }));
    expect((await service.post(FHIR_DOOR.path, bundleOf(other, trials))).status).toBe(200);
    expect(service.verify().firstFault).toBeNull();
  });

  it('does not come back when the same trials are sent again', async () => {
    const again = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
    expect((await service.get(pathOf(removed))).status).toBe(410);
    expect(observationsOf(again).map(({ id }) => id)).toEqual(filed.slice(1).map(({ id }) => id));
    expect(issuesOf(again).map(({ details }) => details?.text)).toContain(
      'Results removed from this service before and not given out again: 1.',
    );
    const replayed = replay(service.last(), service.library, readEngine().version);
    expect(replayed).toEqual({ outcome: 'same', replyCompared: true });
    expect((await service.get('/fhir/Observation?patient=invented-1')).body.total).toBe(filed.length - 1);
  });
});

describe('what cannot be removed', () => {
  it.each([
    ['an id that is not there', ['Observation/nobody', '--reason', 'other'], 1, 'no filed'],
    ['a reason of its own', ['Observation/x', '--reason', 'Bramblewick'], 1, '--reason must be one of'],
    ['no reason', ['Observation/x'], 1, '--reason must be one of'],
    ['a Device', ['Device/x', '--reason', 'other'], 2, 'not understood'],
    ['a trick of a path', ['Observation/../x', '--reason', 'other'], 2, 'not understood'],
  ])('%s: the command says so and records nothing', (_what, words, status, said) => {
    const before = service.store.head().seq;
    const ended = remove(...words);
    expect(ended.status).toBe(status);
    expect(ended.stderr).toContain(said);
    expect(service.store.head().seq).toBe(before);
  });

  it('what was removed before', () => {
    expect(remove(`Observation/${removed.id}`, '--reason', 'other').stderr).toContain('no filed');
  });
});
