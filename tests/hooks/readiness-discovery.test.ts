/** Discovery of grip-test-readiness, and a site's own codes: what its map adds to the templates, and what it may not say. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { SNOMED } from '../../src/fhir/codes.ts';
import { gripTemplate } from '../../src/hooks/discovery.ts';
import { describeReadiness } from '../../src/hooks/grip-test-readiness.ts';
import { hookServices } from '../../src/hooks/services.ts';
import { openLocalCodes } from '../../src/service.ts';
import { bundleOf, coded, FHIR_DOOR, PATIENT, TRIAL } from '../fixtures.ts';
import { codesOf, openForTests } from '../service-for-tests.ts';
import { cardOf, condition, DUE_GRIP, LEFT_SITE, line, OWN, procedure } from './readiness-for-tests.ts';

const folder = mkdtempSync(join(tmpdir(), 'grip-map-'));
afterAll(() => rmSync(folder, { recursive: true }));

const WARD = 'https://north.example/ward';
interface Product {
  readonly property: string;
  readonly system?: string;
  readonly value: string;
}
const target = (code: string, product: Product[] = []) => ({
  code,
  equivalence: 'equivalent' as const,
  ...(product.length > 0 ? { product } : {}),
});

/** A site's map: grip, a line whose code holds what a search must escape, and a SNOMED CT operation. */
const MAP = {
  resourceType: 'ConceptMap',
  url: 'https://north.example/map',
  version: '1',
  status: 'active',
  group: [
    {
      source: WARD,
      target: 'http://loinc.org',
      element: [
        { code: 'GR', target: [target('83174-3')] },
        { code: 'HT', target: [target('8302-2')] },
      ],
    },
    {
      source: WARD,
      target: 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength',
      element: [
        { code: 'GR MEAN', target: [target('mean-per-hand')] },
        { code: 'HANDLE', target: [target('handle-position')] },
      ],
    },
    { source: WARD, target: OWN, element: [{ code: 'PICC,R|1&2', target: [target('iv-line-in-arm')] }] },
    {
      source: SNOMED,
      target: OWN,
      element: [{ code: 'EXAMPLE-OP', target: [target('recent-hand-surgery')] }],
    },
  ],
};

function mapped(map: unknown) {
  const file = join(folder, 'map.json');
  writeFileSync(file, JSON.stringify(map));
  return { file, codes: openLocalCodes(file)?.codes };
}

const tokensOf = (template: string) => /&code=([^&]*)/.exec(template)?.[1]?.split(',') ?? [];

describe('discovery', () => {
  it('D3 to D6: describes the service with its templates', () => {
    const service = hookServices({ chartedHook: null }).find(
      ({ description }) => description.id === 'grip-test-readiness',
    );
    expect(service?.description).toMatchObject({
      id: 'grip-test-readiness',
      hook: 'patient-view',
      prefetch: {
        patient: 'Patient/{{context.patientId}}',
        conditions: 'Condition?patient={{context.patientId}}&_count=100',
        procedures: 'Procedure?patient={{context.patientId}}&_sort=-date&_count=50',
        devices: 'Device?patient={{context.patientId}}&_count=50',
        grip: gripTemplate(),
        handedness:
          'Observation?patient={{context.patientId}}&code=http://snomed.info/sct|364940007&_sort=-date&_count=5',
      },
    });
    expect(service?.bodyLimitBytes).toBe(1_048_576);
  });

  it("asks for no code of the shipped example, which is nobody's", () => {
    const shipped = openLocalCodes()?.codes;
    expect(describeReadiness(shipped)).toEqual(describeReadiness());
    expect(gripTemplate(shipped)).toBe(gripTemplate());
  });

  it("P2 to P4, P12: asks for a site's own codes of grip in both services, and for its lines", () => {
    const { codes } = mapped(MAP);
    const services = hookServices({ chartedHook: null, localCodes: codes });
    for (const { description } of services) {
      const own = tokensOf(description.prefetch.grip ?? '').slice(3);
      expect(own).toEqual([`${WARD}|GR`, `${WARD}|GR%20MEAN`]);
    }
    const { lines = '' } = describeReadiness(codes).prefetch;
    expect(lines).toBe(
      `Observation?patient={{context.patientId}}&code=${WARD}|PICC%5C%2CR%5C%7C1%262,${SNOMED}|EXAMPLE-OP&_sort=-date&_count=50`,
    );
    expect(new URLSearchParams(lines.split('?')[1]).get('code')).toBe(
      `${WARD}|PICC\\,R\\|1&2,${SNOMED}|EXAMPLE-OP`,
    );
    expect(lines.split('?')).toHaveLength(2);
  });
});

describe("a site's map", () => {
  it('of an operation by its SNOMED CT code is read in a Procedure, and takes nothing from grip', async () => {
    const service = await openForTests(undefined, undefined, { localCodes: mapped(MAP).file });
    const procedures = [procedure(SNOMED, 'EXAMPLE-OP', { bodySite: [LEFT_SITE] })];
    const lines = [line('x', { code: coded([WARD, 'PICC,R|1&2']) })];
    const given = await cardOf(service, { procedures, lines, grip: DUE_GRIP });
    expect(given?.summary).toContain('left arm: recent hand surgery; side not recorded: intravenous line');
    expect(given?.detail).not.toContain('may not be found');
    const other = { ...TRIAL, code: coded([SNOMED, '27113001']) };
    expect(codesOf(await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [other])))).toContain(
      'CODE_NOT_GRIP',
    );
    const lineAmongGrip = { ...TRIAL, code: coded([WARD, 'PICC,R|1&2']) };
    const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [lineAmongGrip]));
    expect(codesOf(reply)).toContain('CODE_NOT_GRIP');
    expect(codesOf(reply)).not.toContain('LOCAL_CODE_READ');
    await service.close();
  });

  it('that has none of lines: it is said that lines may not be found', async () => {
    const service = await openForTests(undefined, undefined, { localCodes: 'none' });
    const given = await cardOf(service, {
      lines: null,
      grip: DUE_GRIP,
      conditions: [condition(OWN, 'aneurysm')],
    });
    expect(given?.detail).toContain('Lines in the arm may not be found in this call: look at the arms.');
    expect(given?.summary).toContain('aneurysm');
    await service.close();
  });

  const withTarget = (code: string, product: Product[]) => ({
    ...MAP,
    group: [{ source: WARD, target: OWN, element: [{ code: 'X', target: [target(code, product)] }] }],
  });
  const SITE = 'http://hl7.org/fhir/StructureDefinition/Observation#Observation.bodySite';

  it('may name the arm of a line', () => {
    const { codes } = mapped(
      withTarget('iv-line-in-arm', [{ property: SITE, system: SNOMED, value: '85151006' }]),
    );
    expect(codes?.all).toMatchObject([
      { code: 'X', hand: 'left', target: { system: OWN, code: 'iv-line-in-arm' } },
    ]);
  });

  it.each<[string, unknown, RegExp]>([
    [
      'names a caution that is none',
      withTarget('bad-mood', []),
      /target\[0\]\.code is not a code that this service reads/,
    ],
    [
      'numbers a caution like a trial',
      withTarget('iv-line-in-arm', [
        {
          property: 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength#trial-number',
          value: '1',
        },
      ]),
      /product\[0\] is the number of a trial, and the target is no trial/,
    ],
    [
      'maps ICD-10-CM to a figure of grip',
      { ...MAP, group: [{ ...MAP.group[0], source: 'http://hl7.org/fhir/sid/icd-10-cm' }] },
      /group\[0\]\.source is a system that is read as it is/,
    ],
    [
      'maps a caution of ours to another',
      { ...MAP, group: [{ ...MAP.group[2], source: OWN }] },
      /group\[0\]\.source is a system that is read as it is/,
    ],
  ])('that %s stops the start', (_name, map, words) => {
    expect(() => mapped(map)).toThrow(words);
  });
});
