/** The gathered data of a call as an evaluation's input. */
import { z } from 'zod';
import { RequestError } from '../errors.ts';
import { requireForm } from '../fhir/forms.ts';
import { devicesIn, type Placed, placedEntries } from '../fhir/read-request.ts';
import { EARLIER_KEY, MEASURE_KEYS } from './discovery.ts';
import type { Envelope } from './envelope.ts';
import type { GatheredData } from './gather.ts';

export interface HookData {
  readonly patient: Placed;
  /** Grip trials, then the measures of the optional prefetch keys. */
  readonly observations: readonly Placed[];
  readonly devices: readonly Placed[];
  /** Null: the installation's default panel. */
  readonly panelId: string | null;
  /** The client holds further pages of grip Observations that were not read. */
  readonly hasMore: boolean;
}

/**
 * @param charted entries of the context that were just charted; they come before those of the record
 * @throws RequestError PREFETCH_MISSING, PATIENT_MISSING, PATIENT_MISMATCH, BODY_INVALID
 */
export function readHookData(
  envelope: Envelope,
  data: GatheredData,
  charted: ReturnType<typeof placedEntries> = [],
): HookData {
  const read = ['grip', EARLIER_KEY, ...MEASURE_KEYS].flatMap((key) => readBundle(data, key));
  const entries = [...charted, ...read];
  return {
    patient: readPatientKey(envelope, data),
    observations: entries.filter(({ resourceType }) => resourceType === 'Observation'),
    devices: devicesIn(entries),
    panelId: envelope.panelId,
    hasMore: ['grip', EARLIER_KEY].some((key) => hasNextLink(data, key)),
  };
}

/**
 * The Patient of the call.
 * @throws RequestError PREFETCH_MISSING, PATIENT_MISSING, PATIENT_MISMATCH
 */
export function readPatientKey(envelope: Envelope, { patient }: GatheredData): Placed {
  const fullUrl = patientUrlOf(envelope);
  if (patient?.state !== 'here') {
    const text = 'is null: there is no such Patient';
    throw new RequestError('PREFETCH_MISSING', [{ expression: 'prefetch.patient', text }]);
  }
  const { id } = patient.resource as { id?: unknown };
  if (id === undefined) {
    throw new RequestError('PATIENT_MISSING', [{ expression: 'prefetch.patient.id', text: 'is required' }]);
  }
  if (id !== envelope.patientId) {
    const text = 'is not context.patientId';
    throw new RequestError('PATIENT_MISMATCH', [{ expression: 'prefetch.patient.id', text }]);
  }
  return {
    resource: patient.resource,
    expression: 'prefetch.patient',
    ...(fullUrl === undefined ? {} : { fullUrl }),
  };
}

/** Address of the patient on the server of the call; undefined where the call names no server. */
export function patientUrlOf({ fhirServer, patientId }: Envelope): string | undefined {
  return fhirServer === null ? undefined : `${fhirServer.replace(/\/$/, '')}/Patient/${patientId}`;
}

/** Entries of the Bundle under a key; none where there is nothing or it could not be had. */
export function readBundle(data: GatheredData, key: string): ReturnType<typeof placedEntries> {
  const found = data[key];
  return found?.state === 'here' ? placedEntries(found.resource, `prefetch.${key}`) : [];
}

const linksForm = z.looseObject({ link: z.array(z.looseObject({ relation: z.string() })).optional() });

/** Whether the client holds further pages of what is under a key. */
export function hasNextLink(data: GatheredData, key: string): boolean {
  const found = data[key];
  // A Patient may have links too: to other Patients.
  if (found?.state !== 'here' || key === 'patient') return false;
  return (requireForm(linksForm, found.resource, `prefetch.${key}`).link ?? []).some(
    ({ relation }) => relation === 'next',
  );
}
