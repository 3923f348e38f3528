/** The input of `$interpret-grip`: a Bundle, or Parameters with patient, observation, prior, device, panel and asOf. */
import type { z } from 'zod';
import { RequestError } from '../errors.ts';
import { readCalendarDate } from '../interpret/age.ts';
import { bundleForm, parametersForm, requireForm, requireUnmodified, resourceForm } from './forms.ts';

/** A resource of the request with its place in it. */
export interface Placed {
  readonly resource: unknown;
  /** FHIRPath from the root of the request. */
  readonly expression: string;
  readonly fullUrl?: string;
}

export interface InterpretRequest {
  readonly patient: Placed;
  readonly observations: readonly Placed[];
  /** Earlier measurements, for change only. */
  readonly prior: readonly Placed[];
  /** Each a Device or a DeviceMetric. */
  readonly devices: readonly Placed[];
  /** Null: the installation's default panel. */
  readonly panelId: string | null;
  /** `YYYY-MM-DD`: measurements after this day are refused; null means now. */
  readonly asOf: string | null;
}

/** @throws RequestError BODY_INVALID or PATIENT_MISSING */
export function readInterpretRequest(body: unknown): InterpretRequest {
  const { resourceType } = requireForm(resourceForm, body, 'Resource');
  if (resourceType === 'Bundle') return fromBundle(body);
  if (resourceType === 'Parameters') return fromParameters(body);
  const text = 'must be Bundle or Parameters';
  throw new RequestError('BODY_INVALID', [{ expression: 'Resource.resourceType', text }]);
}

/** The resources of a Bundle, each with its place; entries without a resource are left out. */
export function placedEntries(
  bundle: unknown,
  expression: string,
): readonly (Placed & { resourceType: string })[] {
  const read = requireForm(bundleForm, bundle, expression);
  const entry = read.entry ?? [];
  requireUnmodified(read, expression);
  for (const [index, each] of entry.entries()) requireUnmodified(each, `${expression}.entry[${index}]`);
  return entry.flatMap(({ resource, fullUrl }, index) =>
    resource
      ? [
          {
            resource,
            resourceType: resource.resourceType,
            expression: `${expression}.entry[${index}].resource`,
            ...(fullUrl === undefined ? {} : { fullUrl }),
          },
        ]
      : [],
  );
}

/** The Device and DeviceMetric resources among the entries of a Bundle. */
export function devicesIn(
  entries: readonly (Placed & { readonly resourceType: string })[],
): readonly Placed[] {
  return entries.filter(({ resourceType }) => DEVICE_TYPES.includes(resourceType));
}

const DEVICE_TYPES: readonly string[] = ['Device', 'DeviceMetric'];

function fromBundle(body: unknown): InterpretRequest {
  const placed = placedEntries(body, 'Bundle');
  return {
    patient: onlyPatient(placed.filter(({ resourceType }) => resourceType === 'Patient')),
    observations: placed.filter(({ resourceType }) => resourceType === 'Observation'),
    prior: [],
    devices: devicesIn(placed),
    panelId: null,
    asOf: null,
  };
}

const PARAMETER_NAMES = ['patient', 'observation', 'prior', 'device', 'panel', 'asOf'];

type Parameter = z.infer<typeof parametersForm>['parameter'][number];

function fromParameters(body: unknown): InterpretRequest {
  const read = requireForm(parametersForm, body, 'Parameters');
  const { parameter } = read;
  requireUnmodified(read, 'Parameters');
  for (const [index, each] of parameter.entries()) requireUnmodified(each, `Parameters.parameter[${index}]`);
  const unknown = parameter.findIndex(({ name }) => !PARAMETER_NAMES.includes(name));
  if (unknown >= 0) {
    const text = `must be one of: ${PARAMETER_NAMES.join(', ')}`;
    throw new RequestError('BODY_INVALID', [{ expression: `Parameters.parameter[${unknown}].name`, text }]);
  }
  const panel = singleOf(parameter, 'panel');
  const panelId = panel?.valueCode ?? panel?.valueString ?? panel?.valueUri ?? null;
  if (panel && panelId === null) {
    const text = 'must be a code, string or uri';
    throw new RequestError('BODY_INVALID', [{ expression: PANEL_PARAMETER, text }]);
  }
  return {
    patient: onlyPatient(resourcesOf(parameter, 'patient')),
    observations: resourcesOf(parameter, 'observation'),
    prior: resourcesOf(parameter, 'prior'),
    devices: resourcesOf(parameter, 'device').map(requireDevice),
    panelId,
    asOf: readAsOf(singleOf(parameter, 'asOf')),
  };
}

/** Where the panel is named. */
export const PANEL_PARAMETER = "Parameters.parameter.where(name='panel').value";

function resourcesOf(
  parameter: readonly Parameter[],
  wanted: string,
): readonly (Placed & { resourceType: string })[] {
  return parameter.flatMap(({ name, resource }, index) => {
    if (name !== wanted) return [];
    const expression = `Parameters.parameter[${index}].resource`;
    if (!resource) throw new RequestError('BODY_INVALID', [{ expression, text: 'is required' }]);
    return [{ resource, resourceType: resource.resourceType, expression }];
  });
}

function singleOf(parameter: readonly Parameter[], wanted: string): Parameter | undefined {
  const found = parameter.filter(({ name }) => name === wanted);
  if (found.length > 1) {
    const expression = `Parameters.parameter.where(name='${wanted}')`;
    throw new RequestError('BODY_INVALID', [{ expression, text: 'must not be repeated' }]);
  }
  return found[0];
}

function requireDevice(device: Placed & { resourceType: string }): Placed {
  if (DEVICE_TYPES.includes(device.resourceType)) return device;
  const expression = `${device.expression}.resourceType`;
  throw new RequestError('BODY_INVALID', [
    { expression, text: `must be one of: ${DEVICE_TYPES.join(', ')}` },
  ]);
}

function readAsOf(parameter: { valueDate?: string | undefined } | undefined): string | null {
  if (!parameter) return null;
  const { valueDate } = parameter;
  if (valueDate && readCalendarDate(valueDate)) return valueDate;
  const expression = "Parameters.parameter.where(name='asOf').value";
  throw new RequestError('BODY_INVALID', [
    { expression, text: 'must be a valueDate with year, month and day' },
  ]);
}

function onlyPatient(patients: readonly Placed[]): Placed {
  const [patient, ...others] = patients;
  if (!patient) throw new RequestError('PATIENT_MISSING');
  if (others.length > 0) {
    const issues = others.map(({ expression }) => ({ expression, text: 'is a second Patient' }));
    throw new RequestError('PATIENT_MISMATCH', issues);
  }
  return patient;
}
