/** The same input and versions give the same content; what was filed is given out again and not filed twice (item 4, FI9). */
import type { FhirResource, Observation, Patient } from 'fhir/r4.js';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import {
  bundleOf,
  collection,
  FHIR_DOOR,
  minutesAfter,
  NOW,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
} from '../fixtures.ts';
import {
  issuesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

let service: TestService;
let clock = NOW;
let people = 0;
beforeAll(async () => {
  service = await openForTests(() => clock);
});
afterEach(() => {
  clock = NOW;
});
afterAll(() => service.close());

interface Person {
  readonly patient: Patient;
  readonly trials: readonly Observation[];
}

function newPerson(id = `same-${++people}`): Person {
  const subject = { reference: `Patient/${id}` };
  return {
    patient: { ...PATIENT, id },
    trials: SIX_TRIALS.map((trial) => ({ ...trial, id: `${id}-${trial.id}`, subject })),
  };
}

const ask = ({ patient, trials }: Person, at = service) => at.post(FHIR_DOOR.path, bundleOf(patient, trials));
const countOf = async ({ patient }: Person) =>
  (await service.get(`/fhir/Observation?patient=${patient.id}&_summary=count`)).body.total as number;
const filedOf = (reply: { body: unknown }) =>
  resourcesOf(reply).filter(({ resourceType }) => resourceType !== 'OperationOutcome');
const bytes = (resources: readonly FhirResource[]) => resources.map((resource) => JSON.stringify(resource));

/** What these tests read of a record. */
interface Recorded {
  readonly returned: {
    readonly filed: Record<string, string>;
    readonly before: Readonly<Record<string, { readonly record: string }>>;
  };
}

/** Without what is another each time: the evaluation's id. */
const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;
const contentOf = (text: string) => text.replaceAll(UUID, 'id');

describe('the same input on two fresh instances', () => {
  it('gives the same content, ids aside, and the same ids of results', async () => {
    const fresh = [await openForTests(), await openForTests()];
    try {
      const person = newPerson('fresh');
      const [one, two] = [await ask(person, fresh[0]), await ask(person, fresh[1])];
      expect(one.text).not.toBe(two.text);
      expect(contentOf(one.text)).toBe(contentOf(two.text));
      const ids = (reply: { body: unknown }) => observationsOf(reply).map(({ id }) => id);
      expect(ids(one)).toEqual(ids(two));
      expect(ids(one).length).toBeGreaterThan(4);
    } finally {
      for (const each of fresh) await each.close();
    }
  });
});

describe('a resubmission', () => {
  it('returns what was filed byte for byte, says so, and files nothing', async () => {
    const person = newPerson();
    const first = await ask(person);
    const count = await countOf(person);
    clock = new Date(NOW.getTime() + 3_600_000);
    const second = await ask(person);
    expect(bytes(filedOf(second))).toEqual(bytes(filedOf(first)));
    expect(await countOf(person)).toBe(count);
    expect(count).toBe(observationsOf(first).length);
    const said = issuesOf(second).map(({ details }) => details?.text ?? '');
    expect(said.join(' ')).toContain(`not filed again: ${count} of ${count} results`);
    expect(
      issuesOf(first)
        .map(({ details }) => details?.text ?? '')
        .join(' '),
    ).not.toContain('not filed again');
    for (const result of observationsOf(first)) {
      expect((await service.get(`/fhir/Observation/${result.id}`)).text).toBe(JSON.stringify(result));
    }
  });

  it('is on record, as an evaluation of its own that names where the results came from', async () => {
    const person = newPerson();
    const before = service.store.head().seq;
    const first = await ask(person);
    await ask(person);
    const [one, two] = service.all().slice(before);
    const { returned } = JSON.parse(two?.record ?? '').content as Recorded;
    expect(two?.id).not.toBe(one?.id);
    expect(returned.filed).toEqual({});
    // The Device was filed by the first evaluation of all.
    const origins = Object.entries(returned.before).filter(([name]) => !name.startsWith('Device/'));
    expect(new Set(origins.map(([, { record }]) => record))).toEqual(new Set([one?.id]));
    expect(new Set(origins.map(([name]) => name).filter((name) => name.startsWith('Observation/')))).toEqual(
      new Set(observationsOf(first).map(({ id }) => `Observation/${id}`)),
    );
    expect(service.verify().firstFault).toBeNull();
  });

  it('as Parameters is the same', async () => {
    const person = newPerson();
    const first = await ask(person);
    const second = await service.post(FHIR_DOOR.path, parametersOf(person.patient, person.trials));
    expect(bytes(filedOf(second))).toEqual(bytes(filedOf(first)));
  });

  it('with more trials of another day adds those results only', async () => {
    const person = newPerson();
    const first = await ask(person);
    const later = person.trials.map((trial) => ({
      ...trial,
      id: `${trial.id}-later`,
      effectiveDateTime: minutesAfter(trial.effectiveDateTime ?? '', 4 * 24 * 60),
    }));
    const second = await ask({ ...person, trials: [...person.trials, ...later] });
    const ids = new Set(observationsOf(second).map(({ id }) => id));
    const kept = observationsOf(first).filter(({ id }) => ids.has(id));
    expect(kept.length).toBeGreaterThan(0);
    expect(await countOf(person)).toBe(
      new Set([...observationsOf(first), ...observationsOf(second)].map(({ id }) => id)).size,
    );
  });

  it('twenty at once files once, and all get the same', async () => {
    const person = newPerson();
    const before = service.store.head().seq;
    const replies = await Promise.all(Array.from({ length: 20 }, () => ask(person)));
    expect(replies.map(({ status }) => status)).toEqual(Array.from({ length: 20 }, () => 200));
    expect(new Set(replies.map((reply) => bytes(filedOf(reply)).join('\n'))).size).toBe(1);
    expect(await countOf(person)).toBe(observationsOf(replies[0] as { body: unknown }).length);
    expect(service.store.head().seq).toBe(before + 20);
    const provenances = await service.get(
      `/fhir/Provenance?target=Observation/${observationsOf(replies[0] as { body: unknown })[0]?.id}`,
    );
    expect(provenances.body.total).toBe(1);
    expect(service.verify().firstFault).toBeNull();
  });
});

describe('what has no clinical meaning', () => {
  it.each<[string, (person: Person) => readonly FhirResource[]]>([
    ['the trials in reverse', ({ patient, trials }) => [patient, ...[...trials].reverse()]],
    [
      'the hands by turns',
      ({ patient, trials }) => [patient, ...[0, 3, 1, 4, 2, 5].flatMap((index) => trials[index] ?? [])],
    ],
    ['the Patient last', ({ patient, trials }) => [...trials, patient]],
    [
      'a Condition and an Organization beside them',
      ({ patient, trials }) => [
        patient,
        { resourceType: 'Condition', id: 'c', subject: { reference: `Patient/${patient.id}` } },
        ...trials,
        { resourceType: 'Organization', id: 'o', name: 'Alder Reach Hospital (invented)' },
      ],
    ],
    [
      'an Observation of something else',
      ({ patient, trials }) => [
        patient,
        {
          resourceType: 'Observation',
          id: 'pulse',
          status: 'final',
          code: { coding: [{ system: 'http://loinc.org', code: '8867-4' }] },
          subject: { reference: `Patient/${patient.id}` },
          effectiveDateTime: '2026-11-16T14:00:00Z',
          valueQuantity: { value: 70, unit: '/min', system: 'http://unitsofmeasure.org', code: '/min' },
        },
        ...trials,
      ],
    ],
    [
      'members in another order',
      ({ patient, trials }) => [
        patient,
        ...trials.map(
          (trial) => Object.fromEntries(Object.entries(trial).reverse()) as unknown as Observation,
        ),
      ],
    ],
    [
      'a performer',
      ({ patient, trials }) => [
        patient,
        ...trials.map((trial) => ({ ...trial, performer: [{ reference: 'Practitioner/invented-9' }] })),
      ],
    ],
  ])('%s changes no result', async (_what, resourcesFor) => {
    const person = newPerson();
    const first = await ask(person);
    const again = await service.post(FHIR_DOOR.path, collection(resourcesFor(person)));
    expect(again.status, again.text.slice(0, 500)).toBe(200);
    const byId = (reply: { body: unknown }) => bytes(observationsOf(reply)).sort();
    expect(byId(again)).toEqual(byId(first));
    expect(await countOf(person)).toBe(observationsOf(first).length);
  });
});

describe('what does have one gives results of its own:', () => {
  it.each<[string, (person: Person) => Person | { body: object }]>([
    [
      'another patient',
      ({ trials }) => {
        const other = newPerson();
        return {
          ...other,
          trials: trials.map((trial) => ({
            ...trial,
            subject: { reference: `Patient/${other.patient.id}` },
          })),
        };
      },
    ],
    [
      'another panel',
      ({ patient, trials }) => ({
        body: parametersOf(patient, trials, [{ name: 'panel', valueCode: 'older-adult-europe' }]),
      }),
    ],
    [
      'other ids of the trials',
      ({ patient, trials }) => ({
        patient,
        trials: trials.map((trial) => ({ ...trial, id: `${trial.id}-b` })),
      }),
    ],
    [
      'another figure in one trial of each hand',
      ({ patient, trials }) => ({
        patient,
        trials: trials.map((trial, index) =>
          index % 3 === 0 ? { ...trial, valueQuantity: { ...trial.valueQuantity, value: 27 } } : trial,
        ),
      }),
    ],
    ['another sex', ({ patient, trials }) => ({ patient: { ...patient, gender: 'female' }, trials })],
  ])('%s', async (_what, change) => {
    const person = newPerson();
    const first = new Set(observationsOf(await ask(person)).map(({ id }) => id));
    const changed = change(person);
    const reply = 'body' in changed ? await service.post(FHIR_DOOR.path, changed.body) : await ask(changed);
    expect(reply.status, reply.text.slice(0, 500)).toBe(200);
    const verdicts = observationsOf(reply).filter(({ meta }) =>
      meta?.profile?.[0]?.endsWith('grip-interpretation'),
    );
    expect(verdicts.length).toBeGreaterThan(0);
    expect(verdicts.filter(({ id }) => first.has(id))).toEqual([]);
  });
});
