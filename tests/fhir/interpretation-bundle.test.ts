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

const UUID = /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

function everyReference(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  const { reference } = value as { reference?: unknown };
  const own = typeof reference === 'string' ? [reference] : [];
  return [...own, ...Object.values(value).flatMap(everyReference)];
}

function provenanceOf(bundle: Bundle): Provenance | undefined {
  return resourcesOf({ body: bundle }).find((resource) => resource.resourceType === 'Provenance');
}

describe('the Bundle returned', () => {
  it('O3: is a collection, returned as it is and not wrapped in Parameters', () => {
    for (const bundle of bundles)
      expect(bundle).toMatchObject({ resourceType: 'Bundle', type: 'collection' });
  });

  it('O4: holds resources without ids, because none is stored', () => {
    for (const bundle of bundles) {
      expect(bundle.id).toBeUndefined();
      for (const resource of resourcesOf({ body: bundle })) expect(resource).not.toHaveProperty('id');
    }
  });

  it('X12: has a full URL of its own for each entry, and no request, response or search', () => {
    for (const { entry = [] } of bundles) {
      const urls = entry.map(({ fullUrl }) => fullUrl ?? '');
      for (const url of urls) expect(url).toMatch(UUID);
      expect(new Set(urls).size).toBe(urls.length);
      for (const each of entry) expect(Object.keys(each).sort()).toEqual(['fullUrl', 'resource']);
    }
  });

  it('has references that resolve within it, or point to what was sent', () => {
    for (const [index, bundle] of bundles.entries()) {
      const { patient, observations } = DEMO_PATIENTS[index] as (typeof DEMO_PATIENTS)[number];
      const known = new Set([
        ...(bundle.entry ?? []).map(({ fullUrl }) => fullUrl),
        `Patient/${patient.id}`,
        ...observations.map(({ id }) => `Observation/${id}`),
      ]);
      const references = everyReference(bundle);
      expect(references.filter((reference) => !known.has(reference))).toEqual([]);
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
  it('PV1 and PV2: targets every Observation, is by the Device, and names each trial as source', () => {
    for (const [index, bundle] of bundles.entries()) {
      const provenance = provenanceOf(bundle);
      const urls = (bundle.entry ?? []).flatMap(({ fullUrl, resource }) =>
        resource?.resourceType === 'Observation' ? [fullUrl] : [],
      );
      if (urls.length === 0) {
        expect(provenance).toBeUndefined();
        continue;
      }
      const device = bundle.entry?.find(({ resource }) => resource?.resourceType === 'Device')?.fullUrl;
      expect(provenance?.target.map(({ reference }) => reference)).toEqual(urls);
      expect(provenance?.recorded).toBe('2026-11-25T12:00:00.000Z');
      expect(provenance?.agent).toEqual([
        {
          type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
          who: { reference: device },
        },
      ]);
      const measured = DEMO_PATIENTS[index]?.observations.filter(({ valueQuantity }) => valueQuantity) ?? [];
      expect(provenance?.entity).toEqual(
        measured.map(({ id }) => ({ role: 'source', what: { reference: `Observation/${id}` } })),
      );
    }
  });

  it('PV2: names the panel and every reference at its version as policy', () => {
    const policy = provenanceOf(bundles[0] as Bundle)?.policy ?? [];
    expect(policy).toHaveLength(19);
    for (const uri of policy) expect(uri).toMatch(/^https:\/\/[^|]+\/Library\/[a-z0-9-]+\|\d+\.\d+\.\d+$/);
    expect(policy.some((uri) => uri.endsWith('panel-adult-inpatient-us|1.1.0'))).toBe(true);
    expect(policy.some((uri) => uri.endsWith('cut-points-ewgsop2-2019|1.1.0'))).toBe(true);
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
