/** Search at the FHIR door: forms of values, modifiers, pages, and what is refused (STANDARDS X9 to X11). */
import type { Bundle, FhirResource, Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CANONICAL, GRIP_CODES } from '../../src/fhir/codes.ts';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

const BASE = 'https://grip.example.org/fhir';
let service: TestService;
let filed: readonly Observation[];
let some: Observation;

beforeAll(async () => {
  service = await openForTests();
  const other = { ...PATIENT, id: 'invented-2' };
  const theirs = SIX_TRIALS.map((trial) => ({
    ...trial,
    id: `other-${trial.id}`,
    subject: { reference: 'Patient/invented-2' },
  }));
  await service.post(FHIR_DOOR.path, bundleOf(other, theirs));
  filed = observationsOf(await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS)));
  some = filed.find(({ derivedFrom = [] }) => derivedFrom.length > 2) as Observation;
});
afterAll(() => service.close());

const search = (query: string, headers = {}) => service.get(`/fhir/Observation?${query}`, headers);
const ids = (resources: readonly FhirResource[]) => resources.map(({ id }) => id).sort();
const linkOf = (body: Bundle, relation: string) => body.link?.find((link) => link.relation === relation)?.url;

async function found(query: string): Promise<readonly FhirResource[]> {
  const reply = await search(`_count=100&${query}`);
  expect(reply.status, `${query} ${JSON.stringify(reply.body.issue ?? '')}`).toBe(200);
  return resourcesOf(reply);
}

const encoded = encodeURIComponent;
const codeOf = ({ code }: Observation) => code.coding?.[0]?.code;

describe('a token', () => {
  const meanPerHand = () => filed.filter((each) => codeOf(each) === 'mean-per-hand');

  it.each([
    ['by its code', 'mean-per-hand'],
    ['by its system and code', `${GRIP_CODES}|mean-per-hand`],
    ['among others', `nothing,mean-per-hand`],
  ])('is found %s', async (_how, code) => {
    expect(meanPerHand().length).toBeGreaterThan(0);
    expect(ids(await found(`patient=invented-1&code=${encoded(code)}`))).toEqual(ids(meanPerHand()));
  });

  it('is found by its system alone, whatever its code', async () => {
    expect(ids(await found(`patient=invented-1&code=${encoded(`${GRIP_CODES}|`)}`))).toEqual(ids(filed));
  });

  it.each([
    'mean-per',
    'MEAN-PER-HAND',
    '|mean-per-hand',
    'http://loinc.org|mean-per-hand',
    'http://loinc.org|',
    'mean\\,per\\,hand',
    `${GRIP_CODES}\\|mean-per-hand`,
    `${GRIP_CODES}\\\\|mean-per-hand`,
    'mean-per-hand\\',
  ])('is not found by %j', async (code) => {
    expect(await found(`code=${encoded(code)}`)).toEqual([]);
  });

  it('with :not finds the others, and those that have none', async () => {
    const others = filed.filter((each) => codeOf(each) !== 'mean-per-hand');
    expect(ids(await found('patient=invented-1&code:not=mean-per-hand'))).toEqual(ids(others));
    const reduced = await found('patient=invented-1&value-concept:not=reduced');
    expect(ids(reduced)).toEqual(
      ids(filed.filter((each) => each.valueCodeableConcept?.coding?.[0]?.code !== 'reduced')),
    );
    expect(reduced.some((each) => (each as Observation).valueCodeableConcept === undefined)).toBe(true);
  });

  it('with :not and a comma finds what is neither', async () => {
    const codes = [...new Set(filed.map(codeOf))];
    expect(await found(`patient=invented-1&code:not=${codes.join(',')}`)).toEqual([]);
  });

  it('of a status is found with the system that its binding implies, and with no other', async () => {
    const status = (system: string) => found(`patient=invented-1&status=${encoded(`${system}|preliminary`)}`);
    expect(ids(await status('http://hl7.org/fhir/observation-status'))).toEqual(ids(filed));
    expect(await status('http://hl7.org/fhir/device-status')).toEqual([]);
    expect(await status('')).toEqual([]);
  });
});

describe('a reference', () => {
  it.each([
    'patient=invented-1',
    'patient=Patient/invented-1',
    'patient:Patient=invented-1',
    `patient=${encoded(`${BASE}/Patient/invented-1`)}`,
    'subject=invented-1',
    'subject=Patient/invented-1',
    'subject:Patient=invented-1',
    'subject:Patient=Patient/invented-1',
    'patient=invented-9,invented-1',
  ])('is found by %s', async (query) => {
    expect(ids(await found(query))).toEqual(ids(filed));
  });

  it.each([
    'patient=invented',
    'patient=Patient/invented-9',
    'patient=INVENTED-1',
    'patient:Group=invented-1',
    'subject:Device=invented-1',
    `patient=${encoded('https://elsewhere.example/fhir/Patient/invented-1')}`,
    'patient=Patient/invented-1/_history/1',
    'patient=%25',
    'patient=invented_1',
    'patient=invented-1%00',
  ])('is not found by %s', async (query) => {
    expect(await found(query)).toEqual([]);
  });

  it('to a trial or to a summary here is found as it is written, by id and by the address here', async () => {
    const reference = some.derivedFrom?.at(-1)?.reference ?? '';
    const due = ids(
      filed.filter(({ derivedFrom = [] }) => derivedFrom.some((d) => d.reference === reference)),
    );
    const [, id = ''] = reference.split('/');
    for (const way of [reference, id, `${BASE}/${reference}`]) {
      expect(ids(await found(`derived-from=${encoded(way)}`)), way).toEqual(due);
    }
    expect(ids(await found(`derived-from:Observation=${id}`))).toEqual(due);
  });

  it('of another type than its modifier says is refused', async () => {
    const reply = await search('subject:Group=Patient/invented-1');
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.diagnostics).toBe('subject is of another type than its modifier says');
  });
});

describe('a text and an address', () => {
  const definitions = async (query: string) =>
    resourcesOf(await service.get(`/fhir/StructureDefinition?_count=100&${query}`)).map(({ id }) => id);

  it('of a name is found by its beginning in any case, by any part with :contains, whole with :exact', async () => {
    const { body } = await service.get('/fhir/StructureDefinition/grip-trial');
    const name: string = body.name;
    expect(await definitions(`name=${name.slice(0, 6).toUpperCase()}`)).toContain('grip-trial');
    expect(await definitions(`name=${name.slice(2)}`)).toEqual([]);
    expect(await definitions(`name:contains=${name.slice(2).toLowerCase()}`)).toContain('grip-trial');
    expect(await definitions(`name:exact=${name}`)).toEqual(['grip-trial']);
    expect(await definitions(`name:exact=${name.toLowerCase()}`)).toEqual([]);
    expect(await definitions(`name=${encoded(`${name.slice(0, 3)}\u0301`)}`)).toContain('grip-trial');
    expect(await definitions('name=%25')).toEqual([]);
  });

  it('of a canonical is found whole only', async () => {
    const url = `${CANONICAL}/StructureDefinition/grip-trial`;
    expect(await definitions(`url=${encoded(url)}`)).toEqual(['grip-trial']);
    expect(await definitions(`url=${encoded(`${url}?x`)}`)).toEqual([]);
    expect(await definitions(`url=${encoded(url.slice(0, -1))}`)).toEqual([]);
  });

  it('keeps a question mark that stands in a value: what comes after it counts', async () => {
    expect((await found('code=a?b&patient=invented-1')).length).toBe(0);
    expect(ids(await found('code:not=a?b&patient=invented-1'))).toEqual(ids(filed));
  });
});

describe('what every type is found by', () => {
  it('_id, _profile, _security and _lastUpdated', async () => {
    const [first, second] = filed;
    expect(ids(await found(`_id=${first?.id},${second?.id}`))).toEqual(ids([first, second] as Observation[]));
    expect(ids(await found(`_id=${first?.id}&_id=${second?.id}`))).toEqual([]);
    const profile = `${CANONICAL}/StructureDefinition/grip-hand-summary`;
    const summaries = filed.filter(({ meta }) => meta?.profile?.includes(profile));
    expect(ids(await found(`patient=invented-1&_profile=${encoded(profile)}`))).toEqual(ids(summaries));
    expect(ids(await found('patient=invented-1&_security=AIAST'))).toEqual(ids(filed));
    expect(await found('_security:not=AIAST')).toEqual([]);
    expect(await found('_lastUpdated=lt2026-11-25')).toEqual([]);
    expect(ids(await found('patient=invented-1&_lastUpdated=2026-11-25'))).toEqual(ids(filed));
  });
});

describe('a parameter that is not known', () => {
  const CANARY = 'Zephyrine-Quillfeather';
  const query = `patient=invented-1&${CANARY}=${CANARY}&_count=100`;

  it('is an error that names its place, not itself (X9, X13)', async () => {
    const reply = await search(query);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)).toEqual(['SEARCH_INVALID']);
    expect(issuesOf(reply)[0]?.diagnostics).toMatch(
      /^Parameter 2 is not a search parameter here; known: _id,/,
    );
    expect(reply.text).not.toContain(CANARY);
  });

  it('is ignored with handling=lenient, which is said, and left out of self (X9)', async () => {
    for (const prefer of [
      'handling=lenient',
      'return=minimal, handling=lenient',
      'handling="lenient"; x=1',
    ]) {
      const reply = await search(query, { prefer });
      expect(reply.status, prefer).toBe(200);
      expect(ids(observationsOf(reply))).toEqual(ids(filed));
      expect(linkOf(reply.body, 'self')).toBe(`${BASE}/Observation?patient=invented-1&_count=100`);
      const outcome = (reply.body as Bundle).entry?.at(-1);
      expect(outcome?.search?.mode).toBe('outcome');
      expect(outcome?.resource).toMatchObject({ issue: [{ severity: 'warning', code: 'not-supported' }] });
      expect(reply.text).not.toContain(CANARY);
    }
  });

  it.each(['handling=strict', 'handling=lenientish', 'xhandling=lenient', 'lenient', ''])(
    'is still an error with Prefer: %s',
    async (prefer) => expect((await search(query, { prefer })).status).toBe(400),
  );

  it.each([
    'date=rubbish',
    'code:text=grip',
    'patient=',
    'patient:identifier=a',
    'date:missing=maybe',
    '_sort:asc=date',
    '_count=10&_count=20',
  ])(
    'does not make lenient of a known one: %s is refused (R4: an unsupported modifier SHALL be rejected)',
    async (wrong) => {
      const reply = await search(wrong, { prefer: 'handling=lenient' });
      expect(reply.status).toBe(400);
      expect(codesOf(reply)).toEqual(['SEARCH_INVALID']);
    },
  );
});

describe('what cannot be used', () => {
  it.each([
    '_count=ten',
    '_count=-1',
    '_count=1.5',
    '_count=',
    '_total=some',
    '_summary=short',
    '_page=2',
    '_page=0',
    '_page=-20-10',
    '_page=1e3-5',
    '_page=9999999999999-1',
    '_revinclude=Observation:derived-from',
    '_revinclude=*',
    '_include=Observation:patient',
    '_has:Provenance:target:agent=x',
    'patient.name=x',
    'code:in=x',
    'code:above=x',
    'name:exact=x',
    '_id=',
    '_id=a,',
    '_id=,a',
    'code=|',
    '_filter=x',
    '_text=x',
    '_type=Observation',
    '_client=open-access',
    '_basis%20Observation/trial-1=x',
  ])('is refused with 400: %s (X13)', async (query) => {
    const reply = await search(query);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)[0]).toBe('SEARCH_INVALID');
  });

  it('more values than the store can take are refused, in one parameter or in many', async () => {
    const many = Array.from({ length: 201 }, (_, index) => `a${index}`);
    const post = (body: string) =>
      service.post('/fhir/Observation/_search', body, {
        'content-type': 'application/x-www-form-urlencoded',
      });
    for (const body of [`_id=${many.join(',')}`, many.map((id) => `_id=${id}`).join('&')]) {
      expect((await post(body)).status).toBe(400);
    }
    expect((await post(`_id=${many.slice(0, 200).join(',')}`)).status).toBe(200);
    const repeated = (count: number) =>
      many
        .slice(0, count)
        .map((id) => `_id:not=${id}`)
        .join('&');
    expect((await post(repeated(10))).status).toBe(200);
    expect((await post(repeated(11))).status).toBe(400);
    const unknown = await post(many.map((name) => `${name}=1`).join('&'));
    expect(issuesOf(unknown).length).toBeLessThanOrEqual(20);
  });

  it('a search system-wide, or of a type that is not offered, has no address', async () => {
    for (const path of ['/fhir?_type=Observation', '/fhir/?_id=1', '/fhir/_search', '/fhir/Patient?_id=1']) {
      expect([404, 405], path).toContain((await service.get(path)).status);
    }
  });
});
