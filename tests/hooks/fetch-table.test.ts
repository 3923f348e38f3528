/**
 * What a value under a prefetch key means, row by row of table P11, for a required and an optional key, with and
 * without leave to fetch; every answer in time, and nothing of the token or of the server's words anywhere.
 */
import type { FhirResource } from 'fhir/r4.js';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { callOf, type FetchingService, openFetching, UNHURRIED_MS } from '../fetching-service.ts';
import { isFor, searchset } from '../fhir-server-behaviours.ts';
import { type FhirServerForTests, openFhirServer, outcome } from '../fhir-server-for-tests.ts';
import { broken, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { HEIGHT } from '../measure-fixtures.ts';
import { cardsOf, codesOf, issuesOf } from '../service-for-tests.ts';

let server: FhirServerForTests;
let service: FetchingService;
beforeAll(async () => {
  server = await openFhirServer([PATIENT, ...SIX_TRIALS, HEIGHT]);
  service = await openFetching({ GRIP_CDS_FHIR_SERVERS: server.base }, UNHURRIED_MS);
});
afterEach(() => server.behave());
afterAll(async () => {
  await service.close();
  await server.close();
});

type Key = 'patient' | 'grip' | 'height';
const HELD: Readonly<Record<Key, FhirResource>> = {
  patient: PATIENT,
  grip: searchset(SIX_TRIALS),
  height: searchset([HEIGHT]),
};

interface Row {
  readonly row: string;
  readonly values: Partial<Record<Key, unknown>>;
  /** What becomes of a required key; an optional one is 200 unless `both` says otherwise. */
  readonly required: { readonly [key in Key]?: 'read' | 'no card' | 412 | 400 };
  readonly both?: 400;
  /** The optional key is said not to have been had. */
  readonly unread?: boolean;
}

const all = (value: unknown) => ({ patient: value, grip: value, height: value });
const searches = (value: unknown) => ({ grip: value, height: value });
const stranger = { ...HEIGHT, id: 'other', subject: { reference: 'Patient/canary-other' } };

/** Rows that mean the same with and without leave to fetch: nothing is asked for. */
const ROWS: readonly Row[] = [
  { row: 'null', values: all(null), required: { patient: 412, grip: 'no card' } },
  { row: 'a Bundle of no entries', values: searches(searchset([])), required: { grip: 'no card' } },
  {
    row: 'a Bundle without the member entry',
    values: searches({ resourceType: 'Bundle', type: 'searchset', total: 0 }),
    required: { grip: 'no card' },
  },
  {
    row: 'an OperationOutcome',
    values: all(outcome('exception')),
    required: { patient: 412, grip: 412 },
    unread: true,
  },
  {
    row: 'an OperationOutcome as an entry of a Bundle',
    values: searches({
      ...searchset([]),
      entry: [{ resource: outcome('exception'), search: { mode: 'outcome' } }],
    }),
    required: { grip: 412 },
    unread: true,
  },
  {
    row: 'a resource of another type',
    values: all({ resourceType: 'Practitioner', id: 'canary' }),
    required: { patient: 400, grip: 400 },
    both: 400,
  },
  {
    row: 'data of another patient',
    values: { patient: { ...PATIENT, id: 'canary-other' }, ...searches(searchset([stranger])) },
    required: { patient: 400, grip: 400 },
    both: 400,
  },
];

const KEYS: readonly Key[] = ['patient', 'grip', 'height'];
const ACCESS = [
  ['with leave to fetch', true],
  ['without', false],
] as const;

/** The other keys are prefetched. */
function prefetched(key: Key, value: unknown): Record<string, unknown> {
  const { [key]: _, ...others } = { ...HELD, handedness: null, measures: null };
  return value === undefined ? others : { ...others, [key]: value };
}

function ask(key: Key, value: unknown, mayFetch: boolean) {
  const call = callOf(server, prefetched(key, value));
  return service.post(mayFetch ? call : broken(call, 'fhirAuthorization', undefined));
}

describe('P11: a key that came', () => {
  const cases = ROWS.flatMap((row) =>
    KEYS.filter((key) => key in row.values).flatMap((key) =>
      ACCESS.map(([access, mayFetch]) => [row.row, key, access, mayFetch, row] as const),
    ),
  );

  it.each(cases)(
    'P11: as %s for %s, %s, means what the table says',
    async (_row, key, _access, mayFetch, row) => {
      const before = service.count();
      const reply = await ask(key, row.values[key], mayFetch);
      const meaning = key === 'height' ? (row.both ?? 'read') : row.required[key];
      expect(server.requests).toEqual([]);
      service.requireNoLeak(reply);
      if (typeof meaning === 'number') {
        expect(reply.status, reply.text.slice(0, 300)).toBe(meaning);
        expect(issuesOf(reply)[0]?.expression?.[0]).toMatch(new RegExp(`^prefetch\\.${key}`));
        expect(service.count()).toBe(before);
        return;
      }
      expect(reply.status, reply.text.slice(0, 300)).toBe(200);
      expect(cardsOf(reply)).toHaveLength(meaning === 'read' ? 1 : 0);
      const { fetched, unread } = service.last().asked.hook;
      expect([fetched, unread]).toEqual([undefined, row.unread ? ['height'] : undefined]);
    },
  );
});

describe('P7, P8, P9: a key that is absent', () => {
  it.each(KEYS)('%s is fetched with leave to fetch, and that is on record', async (key) => {
    const reply = await ask(key, undefined, true);
    expect(reply.status, reply.text.slice(0, 300)).toBe(200);
    expect(cardsOf(reply)).toHaveLength(1);
    expect(server.requests).toHaveLength(1);
    expect(isFor(key, server.requests[0] ?? {})).toBe(true);
    expect(server.requests[0]?.headers).toMatchObject({
      authorization: `Bearer ${server.token}`,
      accept: 'application/fhir+json',
    });
    expect(service.last().asked.hook.fetched).toEqual([key]);
    expect(service.last().asked.hook).not.toHaveProperty('unread');
    service.requireNoLeak(reply);
  });

  it.each(['patient', 'grip'] as const)(
    'R3: %s is 412 without, naming the key and what was not given',
    async (key) => {
      const call = callOf(server, prefetched(key, undefined));
      const { fhirAuthorization: _, ...noToken } = call;
      const { fhirServer: __, ...noServer } = noToken;
      for (const [body, missing] of [
        [noToken, 'fhirAuthorization'],
        [noServer, 'fhirServer'],
      ] as const) {
        const reply = await service.post(body);
        expect([reply.status, codesOf(reply)]).toEqual([412, ['PREFETCH_MISSING']]);
        const text = `prefetch.${key} was not prefetched, and the call gives no ${missing}`;
        expect(issuesOf(reply)).toMatchObject([
          { code: 'incomplete', expression: [`prefetch.${key}`], diagnostics: text },
        ]);
        service.requireNoLeak(reply);
      }
      expect(server.requests).toEqual([]);
    },
  );

  it('P8: several required ones are all named', async () => {
    const reply = await service.post(broken(callOf(server), 'fhirAuthorization', undefined));
    expect(reply.status).toBe(412);
    expect(issuesOf(reply).map(({ expression }) => expression)).toEqual([
      ['prefetch.patient'],
      ['prefetch.grip'],
    ]);
  });

  it('height, which is optional, is 200 without, and is said not to have been had', async () => {
    const reply = await ask('height', undefined, false);
    expect(cardsOf(reply)).toHaveLength(1);
    expect(service.last().asked.hook).toMatchObject({ unread: ['height'] });
    expect(service.last().asked.hook).not.toHaveProperty('fetched');
  });

  it('Q4, Q5: fhirAuthorization without fhirServer, or with a part missing, is 400, and nothing is asked for', async () => {
    const call = callOf(server);
    const faulty = [
      broken(call, 'fhirServer', undefined),
      ...['access_token', 'token_type', 'expires_in', 'scope', 'subject'].map((part) =>
        broken(call, `fhirAuthorization.${part}`, undefined),
      ),
      broken(call, 'fhirAuthorization.token_type', 'MAC'),
      broken(call, 'fhirAuthorization.expires_in', '300'),
      broken(call, 'fhirServer', 'ftp://ehr.example.org/fhir'),
    ];
    for (const body of faulty) {
      const reply = await service.post(body);
      expect([reply.status, codesOf(reply)[0]], reply.text.slice(0, 300)).toEqual([400, 'BODY_INVALID']);
      service.requireNoLeak(reply);
    }
    expect(server.requests).toEqual([]);
  });

  it('is not fetched for a call that is refused anyway', async () => {
    const failed = await service.post(callOf(server, { patient: outcome('exception') }));
    const faulty = await service.post(callOf(server, { measures: HEIGHT }));
    expect([failed.status, faulty.status]).toEqual([412, 400]);
    expect(server.requests).toEqual([]);
  });

  it('P11: that is not on the server: no Patient is 412, no Observation is no card', async () => {
    server.hold([]);
    const noPatient = await service.post(callOf(server));
    expect([noPatient.status, codesOf(noPatient)]).toEqual([412, ['PREFETCH_MISSING']]);
    expect(issuesOf(noPatient)[0]?.expression).toEqual(['prefetch.patient']);
    // As a client says it with null, and not as a server that failed.
    expect(issuesOf(noPatient)[0]?.diagnostics).toBe(
      'prefetch.patient was not prefetched, and the FHIR server says that there is no such Patient',
    );
    server.hold([PATIENT]);
    const noTrial = await service.post(callOf(server));
    expect([noTrial.status, noTrial.text]).toEqual([200, '{"cards":[]}']);
    server.hold([PATIENT, ...SIX_TRIALS, HEIGHT]);
    service.requireNoLeak(noPatient, noTrial);
  });
});
