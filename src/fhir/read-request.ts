/**
 * The input of `$interpret-grip`: a Bundle, or Parameters with patient, observation, prior and device, or a bundle in
 * their place, and panel and asOf.
 */
import type { z } from 'zod';
import { RequestError } from '../errors.ts';
import { readCalendarDate } from '../interpret/age.ts';
import type { Notice } from '../wording/notices.ts';
import {
  bundleForm,
  containingForm,
  parametersForm,
  requireForm,
  requireUnmodified,
  resourceForm,
} from './forms.ts';
import { nameOfContained } from './read-patient.ts';

/** A resource of the request with its place in it. */
export interface Placed {
  readonly resource: unknown;
  /** FHIRPath from the root of the request. */
  readonly expression: string;
  /** A URN, or an address that ends with a type and an id. */
  readonly fullUrl?: string;
  /** How it is named in the answer; absent: by its id, else by its fullUrl. */
  readonly name?: string;
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
  /** What is said of the Bundle itself. */
  readonly notices?: readonly Notice[] | undefined;
}

/** @throws RequestError BODY_INVALID or PATIENT_MISSING */
export function readInterpretRequest(body: unknown): InterpretRequest {
  const { resourceType } = requireForm(resourceForm, body, 'Resource');
  if (resourceType === 'Bundle') return fromBundle(body, 'Bundle', NOT_CHOSEN);
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
            ...(fullUrl !== undefined && FULL_URL.test(fullUrl) ? { fullUrl } : {}),
          },
        ]
      : [],
  );
}

/** What R4 allows, and no longer than what is quoted back; anything else names nothing, and may name a person. */
const FULL_URL =
  /^(?:urn:uuid:[0-9A-Fa-f-]{36}|urn:oid:[0-9.]{1,128}|https?:\/\/[^\s#?"<>\\^`{|}]{1,200}\/[A-Z][A-Za-z]{1,40}\/[A-Za-z0-9.-]{1,64})$/;

/** A resource whose fullUrl says on which server it is goes by that: `Patient/1` of another is another patient. */
function named<T extends Placed>(placed: T): T {
  const { fullUrl, resource } = placed;
  const { resourceType, id } = resource as { resourceType?: unknown; id?: unknown };
  const isOwn =
    typeof id === 'string' && fullUrl?.startsWith('http') && fullUrl.endsWith(`/${resourceType}/${id}`);
  return isOwn ? { ...placed, name: fullUrl } : placed;
}

/** The Device and DeviceMetric resources among the entries of a Bundle. */
export function devicesIn(
  entries: readonly (Placed & { readonly resourceType: string })[],
): readonly Placed[] {
  return entries.filter(({ resourceType }) => DEVICE_TYPES.includes(resourceType));
}

const DEVICE_TYPES: readonly string[] = ['Device', 'DeviceMetric'];

type Chosen = Pick<InterpretRequest, 'panelId' | 'asOf'>;
const NOT_CHOSEN: Chosen = { panelId: null, asOf: null };

function fromBundle(body: unknown, expression: string, chosen: Chosen): InterpretRequest {
  const placed = placedEntries(body, expression).map(named);
  const observations = placed.filter(({ resourceType }) => resourceType === 'Observation');
  return {
    patient: onlyPatient(
      placed.filter(({ resourceType }) => resourceType === 'Patient'),
      observations,
    ),
    observations,
    prior: [],
    devices: devicesIn(placed),
    ...chosen,
    notices: noticesOf(body, expression, placed),
  };
}

/** What a page of search results says of the search. */
function noticesOf(bundle: unknown, expression: string, placed: Entries): readonly Notice[] {
  const { link = [] } = requireForm(bundleForm, bundle, expression);
  const next = link.findIndex(({ relation }) => relation === 'next');
  const outcome = placed.find(({ resourceType }) => resourceType === 'OperationOutcome');
  return [
    ...(next < 0
      ? []
      : [{ code: 'MORE_PAGES' as const, expression: `${expression}.link[${next}]`, facts: {} }]),
    ...(outcome ? [{ code: 'SEARCH_OUTCOME' as const, expression: outcome.expression, facts: {} }] : []),
  ];
}

type Entries = readonly (Placed & { readonly resourceType: string })[];

const IN_PLACE_OF_BUNDLE = ['patient', 'observation', 'prior', 'device'];
const PARAMETER_NAMES = [...IN_PLACE_OF_BUNDLE, 'bundle', 'panel', 'asOf'];

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
  const chosen = { panelId, asOf: readAsOf(singleOf(parameter, 'asOf')) };
  if (singleOf(parameter, 'bundle')) return fromBundleParameter(parameter, chosen);
  const observations = resourcesOf(parameter, 'observation');
  const prior = resourcesOf(parameter, 'prior');
  return {
    patient: onlyPatient(resourcesOf(parameter, 'patient'), [...observations, ...prior]),
    observations,
    prior,
    devices: resourcesOf(parameter, 'device').map(requireDevice),
    ...chosen,
  };
}

function fromBundleParameter(parameter: readonly Parameter[], chosen: Chosen): InterpretRequest {
  const beside = parameter.findIndex(({ name }) => IN_PLACE_OF_BUNDLE.includes(name));
  if (beside >= 0) {
    const expression = `Parameters.parameter[${beside}]`;
    throw new RequestError('BODY_INVALID', [{ expression, text: 'must not be given beside bundle' }]);
  }
  const [bundle] = resourcesOf(parameter, 'bundle');
  return fromBundle(bundle?.resource, bundle?.expression ?? '', chosen);
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

/** The Patient of the request; where there is none, the one that its Observations contain. */
function onlyPatient(sent: readonly Placed[], observations: readonly Placed[]): Placed {
  const [patient, ...others] = sent.length > 0 ? sent : containedPatients(observations);
  if (!patient) throw new RequestError('PATIENT_MISSING');
  if (others.length > 0) {
    const issues = others.map(({ expression }) => ({ expression, text: 'is a second Patient' }));
    throw new RequestError('PATIENT_MISMATCH', issues);
  }
  return patient;
}

/** Each different Patient that an Observation contains and names as its subject. */
function containedPatients(observations: readonly Placed[]): readonly Placed[] {
  const found = new Map<string, Placed>();
  for (const { resource, expression } of observations) {
    const { subject, contained = [] } = requireForm(containingForm, resource, expression);
    const own = subject?.reference ?? '';
    const name = own.startsWith('#') && nameOfContained({ contained }, own);
    if (!name || found.has(name)) continue;
    const index = contained.findIndex(({ id }) => typeof id === 'string' && `#${id}` === own);
    // Its id means nothing outside the Observation that contains it.
    found.set(name, {
      resource: { ...contained[index], id: undefined },
      expression: `${expression}.contained[${index}]`,
      fullUrl: name,
    });
  }
  return [...found.values()];
}
