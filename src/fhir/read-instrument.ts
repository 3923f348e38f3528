/**
 * The Device and DeviceMetric resources of a request -> the class of the instrument of a trial, and the day of its
 * last calibration (STANDARDS FT7). `Observation.device` may name a Device, or a DeviceMetric whose `source` is one;
 * R4 keeps calibrations in DeviceMetric only. What is not in the request, is entered in error, carries a modifier or
 * comes twice with different content counts as not charted.
 */
import { readCalendarDate } from '../interpret/age.ts';
import type { Protocol } from '../interpret/measurement.ts';
import { GRIP_CODES, INSTRUMENT_OF_GRIP_CODE } from './codes.ts';
import {
  type DeviceMetricResource,
  type DeviceResource,
  deviceForm,
  deviceMetricForm,
  isModified,
  type ObservationResource,
  requireForm,
} from './forms.ts';
import { codesOf, meaningsOf } from './read-observation.ts';
import type { Placed } from './read-request.ts';
import { unversioned } from './reference.ts';

export type Instrument = Pick<Protocol, 'instrument' | 'calibratedOn'>;

export interface Instruments {
  /**
   * What is known of the instrument of an Observation at `expression`, on the day of the test: a calibration after
   * `testedOn` (`YYYY-MM-DD`) says nothing about it.
   * @throws RequestError BODY_INVALID for a malformed resource contained in it
   */
  of(observation: ObservationResource, expression: string, testedOn: string): Instrument;
}

interface Found {
  readonly resource: DeviceResource | DeviceMetricResource;
  /** What a reference `#id` in it means: contained in it, or contained in the same Observation. */
  readonly contained: Named;
  /** Days of a DeviceMetric's calibrations, oldest first. */
  readonly calibratedOn: readonly string[];
}

/** By every name that a reference may use; null where two with different content have it. */
type Named = ReadonlyMap<string, Found | null>;

/** @throws RequestError BODY_INVALID */
export function readInstruments(placed: readonly Placed[]): Instruments {
  const shared = new Map<string, Found | null>();
  for (const { resource, expression, fullUrl } of placed) {
    const read = readResource(resource, expression);
    const found = toFound(read, readContained(read.contained, expression));
    if (read.id) addTo(shared, `${read.resourceType}/${read.id}`, found);
    if (fullUrl) addTo(shared, fullUrl, found);
  }
  return {
    of: ({ device, contained }, expression, testedOn) => {
      if (!device?.reference) return {};
      const own = readContained(contained, expression);
      const found = find(device.reference, own, shared);
      return found ? instrumentOf(found, [own, shared], shared, testedOn) : {};
    },
  };
}

function readResource(resource: unknown, expression: string): Found['resource'] {
  const { resourceType } = resource as { resourceType?: unknown };
  if (resourceType === 'DeviceMetric') return requireForm(deviceMetricForm, resource, expression);
  return requireForm(deviceForm, resource, expression);
}

/** Only those of the two types are read; each may refer to the others. */
function readContained(resources: ObservationResource['contained'], expression: string): Named {
  const own = new Map<string, Found | null>();
  for (const [index, resource] of (resources ?? []).entries()) {
    if (resource.resourceType !== 'Device' && resource.resourceType !== 'DeviceMetric') continue;
    const read = readResource(resource, `${expression}.contained[${index}]`);
    if (read.id) addTo(own, `#${read.id}`, toFound(read, own));
  }
  return own;
}

function toFound(resource: Found['resource'], contained: Named): Found {
  const calibrations = resource.resourceType === 'DeviceMetric' ? (resource.calibration ?? []) : [];
  const dates = calibrations
    .filter((each) => each.state === 'calibrated' && !isModified(each))
    .map(({ time }) => (time ?? '').slice(0, 10));
  return { resource, contained, calibratedOn: [...new Set(dates)].filter(readCalendarDate).sort() };
}

function addTo(names: Map<string, Found | null>, name: string, found: Found): void {
  const before = names.get(name);
  const isSame = before === undefined || JSON.stringify(before?.resource) === JSON.stringify(found.resource);
  names.set(name, isSame ? (before ?? found) : null);
}

function find(reference: string, contained: Named, shared: Named): Found | undefined {
  if (reference.startsWith('#')) return usable(contained.get(reference));
  return usable(shared.get(unversioned(reference)));
}

function usable(found: Found | null | undefined): Found | undefined {
  if (!found) return undefined;
  const { resource } = found;
  const status = resource.resourceType === 'Device' ? resource.status : resource.operationalStatus;
  return status === 'entered-in-error' || isModified(resource) ? undefined : found;
}

function instrumentOf(found: Found, scopes: readonly Named[], shared: Named, testedOn: string): Instrument {
  const isMetric = found.resource.resourceType === 'DeviceMetric';
  const device = isMetric ? deviceOf(found, shared) : found;
  const metrics = isMetric
    ? [found]
    : scopes.flatMap((scope) =>
        [...scope.values()].filter((each) => usable(each) && each && deviceOf(each, shared) === found),
      );
  const type = device?.resource.resourceType === 'Device' ? device.resource.type : undefined;
  const [instrument, ...others] = meaningsOf(codesOf(type, GRIP_CODES), INSTRUMENT_OF_GRIP_CODE);
  const calibratedOn = metrics
    .flatMap((metric) => metric?.calibratedOn.findLast((date) => date <= testedOn) ?? [])
    .sort()
    .at(-1);
  return {
    ...(instrument && others.length === 0 ? { instrument } : {}),
    ...(calibratedOn ? { calibratedOn } : {}),
  };
}

/** The Device that a DeviceMetric is of. */
function deviceOf({ resource, contained }: Found, shared: Named): Found | undefined {
  if (resource.resourceType !== 'DeviceMetric' || !resource.source?.reference) return undefined;
  const found = find(resource.source.reference, contained, shared);
  return found?.resource.resourceType === 'Device' ? found : undefined;
}
