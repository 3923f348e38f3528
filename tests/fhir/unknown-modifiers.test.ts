/**
 * implicitRules and modifierExtension may change the meaning of what carries them, and none is known here: what is
 * asked for is refused, what is only looked at counts as not charted (R4, "implicitRules" and "Modifier Extensions").
 */
import type { Bundle, Device, DeviceMetric, FhirResource, Observation, Parameters } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_CODES, LOINC, UCUM } from '../../src/fhir/codes.ts';
import type { Protocol } from '../../src/interpret/measurement.ts';
import {
  broken,
  bundleOf,
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
import {
  codesOf,
  issuesOf,
  openForTests,
  refusalsOf,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

const MODIFIER_EXTENSION = [{ url: 'http://modifier.example/unknown', valueBoolean: true }];
const MODIFIERS: readonly (readonly [string, unknown])[] = [
  ['implicitRules', 'http://modifier.example/rules'],
  ['modifierExtension', MODIFIER_EXTENSION],
];
const [RULES = ['', null]] = MODIFIERS;

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

async function expectRefused(path: string, body: object, expression: string): Promise<void> {
  const reply = await service.post(path, body);
  expect(reply.status).toBe(400);
  expect(codesOf(reply)).toEqual(['BODY_INVALID']);
  expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
  expect(reply.text).not.toContain('modifier.example');
}

describe('the request is refused whole', () => {
  const valid = bundleOf(PATIENT, SIX_TRIALS);

  it('for implicitRules of a Bundle or of Parameters, which have no modifierExtension of their own', async () => {
    await expectRefused(FHIR_DOOR.path, broken<Bundle>(valid, ...RULES), 'Bundle');
    const parameters = parametersOf(PATIENT, SIX_TRIALS);
    await expectRefused(FHIR_DOOR.path, broken<Parameters>(parameters, ...RULES), 'Parameters');
  });

  it('for implicitRules of a prefetched Bundle, of grip or of measures', async () => {
    const call = hookCallOf(PATIENT, SIX_TRIALS);
    await expectRefused(
      HOOK_DOOR.path,
      broken(call, 'prefetch.grip.implicitRules', RULES[1]),
      'prefetch.grip',
    );
    const measures = { ...collection([]), implicitRules: RULES[1] };
    const both = { ...call, prefetch: { ...call.prefetch, measures } };
    await expectRefused(HOOK_DOOR.path, both, 'prefetch.measures');
  });

  it('for a modifierExtension of an entry or of a parameter', async () => {
    const entry = broken<Bundle>(valid, 'entry.3.modifierExtension', MODIFIER_EXTENSION);
    await expectRefused(FHIR_DOOR.path, entry, 'Bundle.entry[3]');
    const parameters = parametersOf(PATIENT, SIX_TRIALS);
    const parameter = broken<Parameters>(parameters, 'parameter.2.modifierExtension', MODIFIER_EXTENSION);
    await expectRefused(FHIR_DOOR.path, parameter, 'Parameters.parameter[2]');
  });

  it.each(MODIFIERS)('for %s of the Patient', async (element, value) => {
    const patient = broken(PATIENT, element, value);
    for (const door of [FHIR_DOOR, HOOK_DOOR])
      await expectRefused(door.path, door.bodyOf(patient, SIX_TRIALS), door.patient);
  });

  it('for a modifierExtension of Patient.link: it may say or unsay that the Patient was replaced', async () => {
    const link = [
      { other: { reference: 'Patient/2' }, type: 'seealso', modifierExtension: MODIFIER_EXTENSION },
    ];
    await expectRefused(
      FHIR_DOOR.path,
      bundleOf(broken(PATIENT, 'link', link), SIX_TRIALS),
      'Bundle.entry[0].resource.link[0]',
    );
  });

  it('but not for an extension that modifies nothing, nor for an empty list of those that do', async () => {
    const extended = broken<Bundle>(valid, 'entry.1.extension', MODIFIER_EXTENSION);
    const body = broken<Bundle>(extended, 'entry.2.modifierExtension', []);
    expect((await service.post(FHIR_DOOR.path, body)).status).toBe(200);
  });
});

describe('an Observation is refused alone', () => {
  const [first, ...rest] = SIX_TRIALS as [Observation, ...Observation[]];

  it.each(MODIFIERS)('for %s of a trial, at both doors', async (element, value) => {
    for (const door of [FHIR_DOOR, HOOK_DOOR]) {
      const reply = await service.call(door, PATIENT, [broken(first, element, value), ...rest]);
      expect(reply.status).toBe(200);
      const refused = refusalsOf(service.last()).filter(({ trial }) => trial === `Observation/${first.id}`);
      expect(refused.map(({ code }) => code)).toEqual(['MODIFIER_UNKNOWN']);
      expect(reply.text).not.toContain('modifier.example');
    }
  });

  it('for a modifierExtension of a component that is read', async () => {
    const component = [
      {
        code: coded([GRIP_CODES, 'handle-position']),
        valueInteger: 2,
        modifierExtension: MODIFIER_EXTENSION,
      },
    ];
    await service.call(FHIR_DOOR, PATIENT, [broken(first, 'component', component), ...rest]);
    const refused = refusalsOf(service.last()).filter(({ trial }) => trial === `Observation/${first.id}`);
    expect(refused.map(({ code }) => code)).toEqual(['MODIFIER_UNKNOWN']);
  });

  it.each(MODIFIERS)('for %s of a measure', async (element, value) => {
    const height: Observation = {
      ...TRIAL,
      id: 'height',
      code: coded([LOINC, '8302-2']),
      valueQuantity: { value: 170, unit: 'cm', system: UCUM, code: 'cm' },
    };
    await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, broken(height, element, value)]);
    const refused = refusalsOf(service.last()).filter(({ trial }) => trial === 'Observation/height');
    expect(refused.map(({ code }) => code)).toEqual(['MEASURE_NOT_USABLE']);
  });
});

describe('an instrument counts as not charted', () => {
  const DEVICE: Device = {
    resourceType: 'Device',
    id: 'dynamometer-1',
    type: coded([GRIP_CODES, 'hydraulic-dynamometer']),
  };
  const METRIC: DeviceMetric = {
    resourceType: 'DeviceMetric',
    id: 'metric-1',
    type: { text: 'force' },
    category: 'measurement',
    source: { reference: 'Device/dynamometer-1' },
    calibration: [{ state: 'calibrated', time: '2026-06-01T08:00:00Z' }],
  };
  const trials = SIX_TRIALS.map((trial) => ({ ...trial, device: { reference: 'DeviceMetric/metric-1' } }));

  /** What was read of the instrument of the first trial. */
  async function instrumentOf(resources: readonly FhirResource[], of: readonly Observation[] = trials) {
    await service.post(FHIR_DOOR.path, collection([PATIENT, ...of, ...resources]));
    expect(verdictsOf(service.last()).length).toBeGreaterThan(0);
    const [trial] = service.last().content.input.sessions[0]?.trials ?? [];
    const { instrument = null, calibratedOn = null } = (trial as { protocol?: Protocol }).protocol ?? {};
    return [instrument, calibratedOn];
  }

  it('and without a modifier is read', async () => {
    expect(await instrumentOf([DEVICE, METRIC])).toEqual(['hydraulic', '2026-06-01']);
  });

  it.each(MODIFIERS)('for %s of the Device: its calibration stands', async (element, value) => {
    expect(await instrumentOf([broken(DEVICE, element, value), METRIC])).toEqual([null, '2026-06-01']);
  });

  it.each(MODIFIERS)('for %s of the DeviceMetric', async (element, value) => {
    expect(await instrumentOf([DEVICE, broken(METRIC, element, value)])).toEqual([null, null]);
  });

  it('for a modifierExtension of a calibration, which alone is not read', async () => {
    const metric = broken(METRIC, 'calibration.0.modifierExtension', MODIFIER_EXTENSION);
    expect(await instrumentOf([DEVICE, metric])).toEqual(['hydraulic', null]);
  });

  it.each(MODIFIERS)('for %s of a Device contained in the trial', async (element, value) => {
    const withDevice = (device: Device) =>
      SIX_TRIALS.map((trial) => ({ ...trial, contained: [device], device: { reference: '#dynamometer-1' } }));
    expect(await instrumentOf([], withDevice(DEVICE))).toEqual(['hydraulic', null]);
    expect(await instrumentOf([], withDevice(broken(DEVICE, element, value)))).toEqual([null, null]);
  });
});
