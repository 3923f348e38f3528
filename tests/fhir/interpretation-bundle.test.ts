/** The Bundle that `$interpret-grip` returns: form, references, Device, Provenance, OperationOutcome. */
import type { Bundle, Observation, Provenance } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import { GRIP_ISSUES, PROVENANCE_PARTICIPANT } from '../../src/fhir/codes.ts';
import { intendedUse, NOT_READ } from '../../src/wording/intended-use.ts';
import { broken, FHIR_DOOR, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import {
  issuesOf,
  observationsOf,
  openForTests,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

let service: TestService;
const bundles: Bundle[] = [];

beforeAll(async () => {
  service = await openForTests();
  for (const { patient, observations } of DEMO_PATIENTS)
    bundles.push((await service.call(FHIR_DOOR, patient, observations)).body);
});
afterAll(() => service.close());

const BASE = 'https://grip.example.org/fhir';
const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

function everyReference(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  const { reference } = value as { reference?: unknown };
  const own = typeof reference === 'string' ? [reference] : [];
  return [...own, ...Object.values(value).flatMap(everyReference)];
}

function provenancesOf(bundle: Bundle): readonly Provenance[] {
  return resourcesOf({ body: bundle }).filter((resource) => resource.resourceType === 'Provenance');
}

describe('the Bundle returned', () => {
  it('O3: is a collection, returned as it is and not wrapped in Parameters', () => {
    for (const bundle of bundles)
      expect(bundle).toMatchObject({ resourceType: 'Bundle', type: 'collection' });
  });

  it('O4: holds resources with the ids they are stored by, and an OperationOutcome without one', () => {
    for (const bundle of bundles) {
      expect(bundle.id).toBeUndefined();
      for (const { resourceType, id, meta } of resourcesOf({ body: bundle })) {
        if (resourceType === 'OperationOutcome') expect({ id, meta }).toEqual({});
        else {
          expect(id).toMatch(resourceType === 'Device' ? /^grip-strength-cds-\d+\.\d+\.\d+$/ : UUID);
          expect(meta).toMatchObject({ versionId: '1', lastUpdated: '2026-11-25T12:00:00.000Z' });
        }
      }
    }
  });

  it('X12: has a full URL of its own for each entry, and no request, response or search', () => {
    for (const { entry = [] } of bundles) {
      const urls = entry.map(({ fullUrl }) => fullUrl ?? '');
      expect(new Set(urls).size).toBe(urls.length);
      for (const { fullUrl = '', resource, ...more } of entry) {
        expect(more).toEqual({});
        if (resource?.resourceType === 'OperationOutcome')
          expect(fullUrl.replace('urn:uuid:', '')).toMatch(UUID);
        else expect(fullUrl).toBe(`${BASE}/${resource?.resourceType}/${resource?.id}`);
      }
    }
  });

  it('has references that resolve within it, point to what was sent, or to a set that is served', async () => {
    const served = new Set<string>();
    for (const [index, bundle] of bundles.entries()) {
      const { patient, observations } = DEMO_PATIENTS[index] as (typeof DEMO_PATIENTS)[number];
      const known = new Set([
        ...(bundle.entry ?? []).map(({ resource }) => `${resource?.resourceType}/${resource?.id}`),
        `Patient/${patient.id}`,
        ...observations.map(({ id }) => `Observation/${id}`),
      ]);
      const references = everyReference(bundle).filter((reference) => !known.has(reference));
      for (const reference of references) served.add(reference);
    }
    expect(served.size).toBeGreaterThan(5);
    for (const reference of served) {
      expect(reference).toMatch(/^Library\//);
      expect((await service.get(`/fhir/${reference}`)).status, reference).toBe(200);
    }
  });

  it('carries the evaluation it is on record as', () => {
    for (const [index, bundle] of bundles.entries()) {
      expect(bundle.identifier).toEqual({
        system: 'urn:ietf:rfc:3986',
        value: `urn:uuid:${service.all()[index]?.id}`,
      });
      expect(bundle.timestamp).toBe('2026-11-25T12:00:00.000Z');
    }
  });

  it('J2 and J3 hold for FHIR too: no null, no empty text, list or object', () => {
    for (const bundle of bundles) expect(JSON.stringify(bundle)).not.toMatch(/null|""|\[\]|\{\}/);
  });
});

describe('the Provenance', () => {
  it('PV1 and PV2: is one for each Observation, by the Device, and names each of its sources', () => {
    for (const bundle of bundles) {
      const observations = observationsOf({ body: bundle });
      const own = new Set(observations.map(({ id }) => `Observation/${id}`));
      const device = resourcesOf({ body: bundle }).find(({ resourceType }) => resourceType === 'Device');
      const provenances = provenancesOf(bundle);
      expect(provenances.map(({ target }) => target)).toEqual(
        observations.map(({ id }) => [{ reference: `Observation/${id}` }]),
      );
      for (const [index, { recorded, agent, entity = [] }] of provenances.entries()) {
        expect(recorded).toBe('2026-11-25T12:00:00.000Z');
        expect(agent).toEqual([
          {
            type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
            who: { reference: `Device/${device?.id}` },
          },
        ]);
        expect(entity.every(({ role }) => role === 'source')).toBe(true);
        const charted = entity
          .map(({ what }) => what)
          .filter(({ display }) => !display?.startsWith('sha256:'));
        const derived = observations[index]?.derivedFrom ?? [];
        expect(charted).toEqual(derived.filter(({ reference }) => !own.has(reference ?? '')));
      }
    }
    expect(bundles.flatMap(provenancesOf).length).toBeGreaterThan(20);
  });

  it('PV2: names the panel, the set and its rule at their versions as policy, and their files with digests', () => {
    for (const { policy = [], entity = [] } of bundles.flatMap(provenancesOf)) {
      for (const uri of policy) expect(uri).toMatch(/^https:\/\/[^|]+\/Library\/[a-z0-9-]+\|\d+\.\d+\.\d+$/);
      expect(policy[0]).toMatch(/panel-adult-inpatient-us\|1\.1\.0$/);
      const files = entity.map(({ what }) => what).filter(({ display }) => display?.startsWith('sha256:'));
      expect(files.map(({ reference }) => reference)).toEqual(
        policy.map((uri) => uri.replace(/^.*\/(Library\/.*)\|/, '$1-')),
      );
      for (const { display } of files) expect(display).toMatch(/^sha256:[0-9a-f]{64}$/);
    }
    const every = bundles.flatMap(provenancesOf).flatMap(({ policy }) => policy ?? []);
    expect(every.some((uri) => uri.endsWith('cut-points-ewgsop2-2019|1.1.0'))).toBe(true);
    expect(every.some((uri) => uri.endsWith('rule-two-sd-below-mean|1.0.0'))).toBe(true);
  });
});

describe('the OperationOutcome', () => {
  it('begins with the record and ends with what was not read and what the output is not', () => {
    for (const [index, bundle] of bundles.entries()) {
      const texts = issuesOf({ body: bundle }).map(({ details }) => details?.text);
      const { id, content } = service.all()[index] as ReturnType<TestService['last']>;
      expect(texts[0]).toMatch(
        /^Recorded as evaluation \S+ by grip-strength-cds \d+\.\d+\.\d+ with panel adult-inpatient-us 1\.1\.0\. Sex: [^.]+(\.gender)?\.$/,
      );
      expect(texts[0]).toContain(`Recorded as evaluation ${id} by`);
      expect(texts.slice(-2)).toEqual([NOT_READ, intendedUse(content.findings.at(-1)?.ageYears ?? null)]);
    }
    const lastOf = (id: string) =>
      issuesOf({ body: bundles[DEMO_PATIENTS.findIndex(({ patient }) => patient.id === id)] }).at(-1)?.details
        ?.text;
    expect(lastOf('demo-juniper')).toContain('does not apply below 18');
    expect(lastOf('demo-linnea')).toContain('neither malnutrition nor sarcopenia');
  });

  it('X13: has a severity, a code and words in every issue, and our own system for its codes', () => {
    for (const bundle of bundles) {
      for (const { severity, code, details } of issuesOf({ body: bundle })) {
        expect(['error', 'warning', 'information']).toContain(severity);
        expect(code).toBeTruthy();
        expect(details?.text).toBeTruthy();
        expect(details?.text).not.toMatch(/undefined|NaN|\[object/);
        for (const coding of details?.coding ?? []) expect(coding.system).toBe(GRIP_ISSUES);
      }
    }
  });

  it('names the trial as it can where the trial has no id', async () => {
    const nameless = broken(TRIAL, 'id', undefined);
    const reply = await service.call(FHIR_DOOR, PATIENT, [
      nameless,
      broken(nameless, 'valueQuantity.value', -1),
    ]);
    const [mean] = observationsOf(reply);
    expect(mean?.derivedFrom).toEqual([{ display: 'Observation without an id, Bundle.entry[1].resource' }]);
    const refused = issuesOf(reply).find(
      ({ details }) => details?.coding?.[0]?.code === 'VALUE_NOT_POSITIVE',
    );
    expect(refused?.expression).toEqual(['Bundle.entry[2].resource.value.value']);
  });

  it('refers to a trial without an id by the fullUrl of its entry', async () => {
    const fullUrl = 'urn:uuid:0d6f3c5a-7b0e-4f7a-8a43-1b2c3d4e5f60';
    const entry = [{ resource: PATIENT }, { fullUrl, resource: broken(TRIAL, 'id', undefined) }];
    const reply = await service.post(FHIR_DOOR.path, { resourceType: 'Bundle', type: 'collection', entry });
    expect(observationsOf(reply)[0]?.derivedFrom).toEqual([{ reference: fullUrl }]);
  });
});

describe('nothing to interpret', () => {
  it.each([
    ['no Observation at all', [] as Observation[]],
    [
      'no grip Observation',
      [broken(TRIAL, 'code', { coding: [{ system: 'http://loinc.org', code: '29463-7' }] })],
    ],
  ])('with %s gives Device and OperationOutcome only, on record', async (_what, observations) => {
    const reply = await service.call(FHIR_DOOR, PATIENT, observations);
    expect(reply.status).toBe(200);
    expect(resourcesOf(reply).map(({ resourceType }) => resourceType)).toEqual([
      'Device',
      'OperationOutcome',
    ]);
    expect(issuesOf(reply).filter(({ severity }) => severity !== 'information')).toEqual([
      {
        severity: 'warning',
        code: 'not-found',
        details: {
          text: 'No usable grip strength trial was found in the request, so nothing was interpreted.',
        },
      },
    ]);
    expect(service.last().content.findings).toEqual([]);
  });

  it('ignores other resources in the Bundle', async () => {
    const entry = [PATIENT, { resourceType: 'Encounter', id: 'e' }, ...SIX_TRIALS].map((resource) => ({
      resource,
    }));
    const reply = await service.post(FHIR_DOOR.path, {
      resourceType: 'Bundle',
      type: 'collection',
      entry: [...entry, {}],
    });
    expect(observationsOf(reply)).toHaveLength(10);
  });
});
