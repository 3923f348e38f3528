/** How a trial was done: position, handle, instrument and its calibration (STANDARDS FT6 to FT8). */
import type { CodeableConcept, Device, DeviceMetric, FhirResource, Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BODY_POSITION_URL, GRIP_CODES, SNOMED } from '../../src/fhir/codes.ts';
import {
  broken,
  coded,
  collection,
  FHIR_DOOR,
  HOOK_DOOR,
  hookCallOf,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
  TRIAL,
} from '../fixtures.ts';
import { hookCallWith, WEIGHT } from '../measure-fixtures.ts';
import { codesOf, issuesOf, openForTests, refusalsOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

type ReadTrial = { protocol?: Record<string, string>; ownBaseline?: true };
/** The only trial of the last call, as the core took it. */
function lastTrial(): ReadTrial {
  const [trial, ...others] = service
    .last()
    .content.input.sessions.flatMap(({ trials }) => trials as readonly ReadTrial[]);
  if (!trial || others.length > 0) throw new Error('one trial is expected');
  return trial;
}
/** Sends the trial in a Bundle with these resources and gives back how it was read. */
async function read(trial: Observation, ...more: FhirResource[]): Promise<ReadTrial> {
  const reply = await service.post(FHIR_DOOR.path, collection([PATIENT, trial, ...more]));
  expect(reply.status, reply.text).toBe(200);
  return lastTrial();
}

const own = (code: string): CodeableConcept => coded([GRIP_CODES, code]);
const positioned = (...codes: string[]): Observation => ({
  ...TRIAL,
  extension: codes.map((code) => ({
    url: BODY_POSITION_URL,
    valueCodeableConcept: coded([SNOMED, code]),
  })),
});
const withComponents = (...component: object[]): Observation => ({ ...TRIAL, component }) as Observation;

describe('the position of the body', () => {
  it.each([
    ['33586001', 'seated'],
    ['10904000', 'standing'],
    ['102538003', 'recumbent'],
    ['40199007', 'recumbent'],
  ])('of SNOMED CT %s is %s', async (code, posture) => {
    expect((await read(positioned(code))).protocol).toEqual({ posture });
  });

  it("of Fowler's position counts as not charted: half sitting is neither", async () => {
    expect((await read(positioned('30212006'))).protocol).toBeUndefined();
  });

  it('said twice alike is one', async () => {
    expect((await read(positioned('40199007', '102538003'))).protocol).toEqual({ posture: 'recumbent' });
  });

  it.each([
    ['of a code that is not known', positioned('1240000')],
    ['said in two ways', positioned('33586001', '10904000')],
    [
      'in another code system',
      broken(positioned('33586001'), 'extension.0.valueCodeableConcept', own('33586001')),
    ],
    [
      'in another extension',
      broken(positioned('33586001'), 'extension.0.url', 'https://extensions.example/x'),
    ],
    ['of a code named like an object member', positioned('toString')],
  ])('%s is not charted', async (_what, trial) => {
    expect(await read(trial)).not.toHaveProperty('protocol');
  });
});

describe('the components', () => {
  it.each([['elbow-90-unsupported'], ['elbow-supported'], ['elbow-straight']])(
    'say the position of the arm: %s',
    async (arm) => {
      const trial = withComponents({ code: own('arm-position'), valueCodeableConcept: own(arm) });
      expect((await read(trial)).protocol).toEqual({ arm });
    },
  );

  it.each([1, 2, 3, 4, 5])('say the position of the handle: %d', async (handle) => {
    const trial = withComponents({ code: own('handle-position'), valueInteger: handle });
    expect((await read(trial)).protocol).toEqual({ handle: String(handle) });
  });

  it('say that norms do not fit the hand', async () => {
    const trial = withComponents({ code: own('own-baseline'), valueBoolean: true });
    expect(await read(trial)).toMatchObject({ ownBaseline: true });
    expect(await read(trial)).not.toHaveProperty('protocol');
  });

  it('say several things at once, among components of others', async () => {
    const trial = withComponents(
      { code: coded(['https://codes.example', 'pain']), valueString: 'some' },
      { code: own('handle-position'), valueInteger: 2 },
      { code: own('arm-position'), valueCodeableConcept: own('elbow-90-unsupported') },
    );
    trial.extension = positioned('33586001').extension ?? [];
    expect((await read(trial)).protocol).toEqual({
      posture: 'seated',
      arm: 'elbow-90-unsupported',
      handle: '2',
    });
  });

  it.each([
    ['a handle at 0', [{ code: own('handle-position'), valueInteger: 0 }]],
    ['a handle at 6', [{ code: own('handle-position'), valueInteger: 6 }]],
    [
      'a handle in two positions',
      [
        { code: own('handle-position'), valueInteger: 2 },
        { code: own('handle-position'), valueInteger: 3 },
      ],
    ],
    ['a handle without a value', [{ code: own('handle-position') }]],
    [
      'an arm of no known code',
      [{ code: own('arm-position'), valueCodeableConcept: own('handle-position') }],
    ],
    [
      'an arm in two positions',
      [
        { code: own('arm-position'), valueCodeableConcept: own('elbow-straight') },
        { code: own('arm-position'), valueCodeableConcept: own('elbow-supported') },
      ],
    ],
    ['norms that fit', [{ code: own('own-baseline'), valueBoolean: false }]],
    [
      'a code of another system',
      [{ code: coded(['https://codes.example', 'own-baseline']), valueBoolean: true }],
    ],
  ])('with %s say nothing', async (_what, component) => {
    const trial = await read(withComponents(...component));
    expect(trial).not.toHaveProperty('protocol');
    expect(trial).not.toHaveProperty('ownBaseline');
  });

  it.each([
    ['component', { code: own('handle-position') }, 'component'],
    ['component.0.code', undefined, 'component[0].code'],
    ['component.0.valueInteger', '2', 'component[0].value'],
    ['component.0.valueInteger', 2.5, 'component[0].value'],
    ['component.0.valueBoolean', 'true', 'component[0].value'],
    ['device', 'Device/1', 'device'],
    ['contained', [{ id: 'd' }], 'contained[0].resourceType'],
    ['contained', [{ resourceType: 'Device', id: 'd', type: 'hydraulic-dynamometer' }], 'contained[0].type'],
  ])('or the device that are malformed are 400: %s as %j', async (path, value, element) => {
    const valid = { ...withComponents({ code: own('own-baseline') }), device: { reference: '#d' } };
    const reply = await service.call(FHIR_DOOR, PATIENT, [broken(valid, path, value)]);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([`${FHIR_DOOR.observation(0)}.${element}`]);
  });

  it('with a modifier refuse the trial; a modifier of a component that is not read does not', async () => {
    const modifierExtension = [{ url: 'https://rules.example/not' }];
    const other = { code: coded(['https://codes.example', 'pain']), modifierExtension };
    const trial = withComponents(other, { code: own('own-baseline'), valueBoolean: true, modifierExtension });
    await service.call(FHIR_DOOR, PATIENT, [trial]);
    expect(refusalsOf(service.last())).toMatchObject([
      {
        code: 'MODIFIER_UNKNOWN',
        expression: `${FHIR_DOOR.observation(0)}.component[1].modifierExtension`,
      },
    ]);
    expect(await read(withComponents(other))).not.toHaveProperty('ownBaseline');
  });
});

const DEVICE: Device = {
  resourceType: 'Device',
  id: 'dynamometer-1',
  type: own('hydraulic-dynamometer'),
};
const METRIC: DeviceMetric = {
  resourceType: 'DeviceMetric',
  id: 'force-1',
  type: { text: 'force' },
  category: 'measurement',
  source: { reference: 'Device/dynamometer-1' },
  calibration: [
    { state: 'calibrated', time: '2025-02-01T08:00:00Z' },
    { state: 'calibrated', time: '2026-05-04T08:00:00Z' },
    { state: 'calibrated', time: '2026-01-15T08:00:00Z' },
  ],
};
const by = (reference: string): Observation => ({ ...TRIAL, device: { reference } });
const HYDRAULIC = { instrument: 'hydraulic', calibratedOn: '2026-05-04' };

describe('the instrument', () => {
  it.each([
    ['hydraulic-dynamometer', 'hydraulic'],
    ['digital-dynamometer', 'digital'],
    ['spring-dynamometer', 'spring'],
  ])('of type %s is %s', async (type, instrument) => {
    expect((await read(by('Device/dynamometer-1'), { ...DEVICE, type: own(type) })).protocol).toEqual({
      instrument,
    });
  });

  it.each([
    ['the Device', 'Device/dynamometer-1'],
    ['a version of the Device', 'Device/dynamometer-1/_history/3'],
    ['the DeviceMetric', 'DeviceMetric/force-1'],
  ])('named by %s has its type and last calibration', async (_what, reference) => {
    expect((await read(by(reference), DEVICE, METRIC)).protocol).toEqual(HYDRAULIC);
  });

  it('is known by the fullUrl of its entry', async () => {
    const fullUrl = 'urn:uuid:7d3f9c52-5a0e-4c7d-9c7f-2f1a4b6e8d01';
    const bundle = {
      resourceType: 'Bundle',
      type: 'collection',
      entry: [
        { resource: PATIENT },
        { resource: by(fullUrl) },
        { fullUrl, resource: broken(DEVICE, 'id', undefined) },
        { resource: broken(METRIC, 'source.reference', fullUrl) },
      ],
    };
    expect((await service.post(FHIR_DOOR.path, bundle)).status).toBe(200);
    expect(lastTrial().protocol).toEqual(HYDRAULIC);
  });

  it.each(['#d', '#m'])('may be contained in the Observation: %s', async (reference) => {
    const contained = [
      { ...DEVICE, id: 'd' },
      { ...METRIC, id: 'm', source: { reference: '#d' } },
    ];
    expect((await read({ ...by(reference), contained })).protocol).toEqual(HYDRAULIC);
  });

  it('contained in one resource is not meant by another', async () => {
    const contained = [{ ...DEVICE, id: 'd' }];
    const stranger = { ...METRIC, source: { reference: '#d' } };
    expect((await read({ ...by('#d'), contained }, stranger)).protocol).toEqual({ instrument: 'hydraulic' });
    expect((await read({ ...by('DeviceMetric/force-1'), contained }, stranger)).protocol).toEqual({
      calibratedOn: '2026-05-04',
    });
    const spring = { ...DEVICE, id: 'd', type: own('spring-dynamometer') };
    const itself = { ...stranger, contained: [spring] };
    expect((await read({ ...by('DeviceMetric/force-1'), contained }, itself)).protocol).toEqual({
      instrument: 'spring',
      calibratedOn: '2026-05-04',
    });
  });

  it('comes as a parameter of its own', async () => {
    const devices = [DEVICE, METRIC].map((resource) => ({ name: 'device', resource }));
    const reply = await service.post(
      FHIR_DOOR.path,
      parametersOf(PATIENT, [by('Device/dynamometer-1')], devices),
    );
    expect(reply.status, reply.text).toBe(200);
    expect(lastTrial().protocol).toEqual(HYDRAULIC);
  });

  it('comes with the trials of a hook call, or with its measures', async () => {
    const entry = [DEVICE, METRIC].map((resource) => ({ resource }));
    const call = hookCallOf(PATIENT, [by('Device/dynamometer-1')]);
    (call.prefetch.grip as { entry: object[] }).entry.push(...entry);
    await service.post(HOOK_DOOR.path, call);
    expect(lastTrial().protocol).toEqual(HYDRAULIC);
    const other = hookCallOf(PATIENT, [by('Device/dynamometer-1')]);
    other.prefetch.measures = { resourceType: 'Bundle', type: 'searchset', entry };
    await service.post(HOOK_DOOR.path, other);
    expect(lastTrial().protocol).toEqual(HYDRAULIC);
  });

  it.each([
    ['that is not in the request', [], 'Device/dynamometer-1'],
    ['of another server', [DEVICE, METRIC], 'https://two.example/fhir/Device/dynamometer-1'],
    ['that is contained nowhere', [DEVICE, METRIC], '#dynamometer-1'],
    ['of no known type', [{ ...DEVICE, type: own('own-baseline') }], 'Device/dynamometer-1'],
    [
      'of two types',
      [
        {
          ...DEVICE,
          type: coded([GRIP_CODES, 'spring-dynamometer'], [GRIP_CODES, 'digital-dynamometer']),
        },
      ],
      'Device/dynamometer-1',
    ],
    [
      'that comes twice with other content',
      [DEVICE, { ...DEVICE, type: own('spring-dynamometer') }],
      'Device/dynamometer-1',
    ],
    ['entered in error', [{ ...DEVICE, status: 'entered-in-error' }, METRIC], 'Device/dynamometer-1'],
    [
      'with a modifier',
      [{ ...DEVICE, modifierExtension: [{ url: 'https://rules.example' }] }],
      'Device/dynamometer-1',
    ],
  ] as [string, FhirResource[], string][])('%s is not charted', async (_what, resources, reference) => {
    expect(await read(by(reference), ...resources)).not.toHaveProperty('protocol');
  });

  it.each([
    ['name', { name: 'device' }, 'Parameters.parameter[2].resource'],
    ['resource', { name: 'device', resource: WEIGHT }, 'Parameters.parameter[2].resource.resourceType'],
    [
      'type',
      { name: 'device', resource: { ...DEVICE, type: 'hydraulic' } },
      'Parameters.parameter[2].resource.type',
    ],
    [
      'calibration',
      { name: 'device', resource: { ...METRIC, calibration: [{ time: 'last year' }] } },
      'Parameters.parameter[2].resource.calibration[0].time',
    ],
  ] as [string, object, string][])('with a wrong %s is 400', async (_what, parameter, expression) => {
    const body = parametersOf(PATIENT, [TRIAL], [parameter as { name: string }]);
    const reply = await service.post(FHIR_DOOR.path, body);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
    expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
  });

  it('that is another resource is 400 naming the two that it may be', async () => {
    const body = parametersOf(PATIENT, [TRIAL], [{ name: 'device', resource: WEIGHT }]);
    const [issue] = issuesOf(await service.post(FHIR_DOOR.path, body));
    expect(issue?.diagnostics).toContain('must be one of: Device, DeviceMetric');
  });

  it('is one of at most 50', async () => {
    const devices = Array.from({ length: 51 }, (_unused, index) => ({
      name: 'device',
      resource: { ...DEVICE, id: `d${index}` },
    }));
    const reply = await service.post(FHIR_DOOR.path, parametersOf(PATIENT, SIX_TRIALS, devices));
    expect([reply.status, codesOf(reply)]).toEqual([400, ['BODY_INVALID']]);
  });
});

describe('a calibration', () => {
  const calibrated = (calibration: DeviceMetric['calibration']) =>
    read(by('Device/dynamometer-1'), DEVICE, { ...METRIC, calibration });

  it('on the day of the test counts; one after it says nothing about the test', async () => {
    const on = (date: string) => ({ state: 'calibrated' as const, time: `${date}T08:00:00Z` });
    expect((await calibrated([on('2026-11-16'), on('2026-11-17')])).protocol).toEqual({
      instrument: 'hydraulic',
      calibratedOn: '2026-11-16',
    });
  });

  it.each([
    ['that was not made', [{ state: 'not-calibrated', time: '2026-05-04T08:00:00Z' }]],
    ['that is due', [{ state: 'calibration-required', time: '2026-05-04T08:00:00Z' }]],
    ['of a state that is not charted', [{ time: '2026-05-04T08:00:00Z' }]],
    ['without a time', [{ state: 'calibrated' }]],
    ['without the day', [{ state: 'calibrated', time: '2026-05' }]],
    ['on a day of no calendar', [{ state: 'calibrated', time: '2026-02-30' }]],
  ] as [string, DeviceMetric['calibration']][])('%s is not charted', async (_what, calibration) => {
    expect((await calibrated(calibration)).protocol).toEqual({ instrument: 'hydraulic' });
  });

  it('of another Device, or entered in error, does not count', async () => {
    for (const metric of [
      broken(METRIC, 'source.reference', 'Device/other'),
      broken(METRIC, 'source', undefined),
      broken(METRIC, 'operationalStatus', 'entered-in-error'),
    ]) {
      const { protocol } = await read(by('Device/dynamometer-1'), DEVICE, metric);
      expect(protocol).toEqual({ instrument: 'hydraulic' });
    }
  });
});

describe('a trial of which nothing more is charted', () => {
  it('is read as before', async () => {
    expect(Object.keys(await read(TRIAL)).sort()).toEqual([
      'effective',
      'hand',
      'preliminary',
      'reading',
      'reference',
      'testedAtMinute',
      'testedOn',
      'unit',
    ]);
    await service.post(HOOK_DOOR.path, hookCallWith(null));
    expect(service.last().content.input).not.toHaveProperty('dominant');
  });
});
