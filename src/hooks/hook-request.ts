/** A CDS Hooks call: its envelope, and the prefetched data as an evaluation's input. */
import { z } from 'zod';
import { RequestError } from '../errors.ts';
import { requireForm, resourceForm } from '../fhir/forms.ts';
import { devicesIn, type Placed, placedEntries } from '../fhir/read-request.ts';
import { MEASURE_KEYS, PANEL_EXTENSION, type ServiceDescription } from './discovery.ts';

const hookRequestForm = z
  .looseObject({
    hook: z.string().min(1),
    hookInstance: z.guid(),
    fhirServer: z.url({ protocol: /^https?$/ }).optional(),
    fhirAuthorization: z
      .looseObject({
        access_token: z.string().min(1),
        token_type: z.literal('Bearer'),
        expires_in: z.int(),
        scope: z.string(),
        subject: z.string(),
      })
      .optional(),
    context: z.looseObject({
      userId: z
        .string()
        .regex(/^(Practitioner|PractitionerRole|Patient|RelatedPerson)\/[A-Za-z0-9.-]{1,64}$/),
      patientId: z.string().regex(/^[A-Za-z0-9.-]{1,64}$/),
      encounterId: z.string().min(1).optional(),
    }),
    prefetch: z.record(z.string(), z.unknown()).optional(),
    extension: z.looseObject({ [PANEL_EXTENSION]: z.string().min(1).optional() }).optional(),
  })
  .refine((call) => call.fhirAuthorization === undefined || call.fhirServer !== undefined, {
    path: ['fhirServer'],
  });

export interface HookCall {
  readonly hook: string;
  readonly instance: string;
  readonly fhirServer: string | null;
  readonly encounter: string | null;
  readonly userId: string;
  readonly patient: Placed;
  /** Grip trials, then the measures of the optional prefetch key. */
  readonly observations: readonly Placed[];
  readonly devices: readonly Placed[];
  /** Null: the installation's default panel. */
  readonly panelId: string | null;
  /** The client holds further pages of grip Observations that were not sent. */
  readonly hasMore: boolean;
}

/**
 * Requirements Q1 to Q8 and table P11 of CDS Hooks 2.0.1; nothing is fetched, so data that are not
 * prefetched are missing.
 * @throws RequestError BODY_INVALID, HOOK_NOT_OFFERED, PREFETCH_MISSING, PATIENT_MISMATCH
 */
export function readHookCall(body: unknown, service: ServiceDescription): HookCall {
  const call = requireForm(hookRequestForm, body, 'request');
  if (call.hook !== service.hook) {
    throw new RequestError('HOOK_NOT_OFFERED', [
      { expression: 'request.hook', text: `must be ${service.hook}` },
    ]);
  }
  const { patientId, userId } = call.context;
  const patient = readPatientKey(call.prefetch, patientId);
  const grip = readPrefetched(call.prefetch, 'grip', 'Bundle');
  const entries = [...readGrip(grip), ...readMeasures(call.prefetch)];
  return {
    hook: call.hook,
    instance: call.hookInstance,
    fhirServer: call.fhirServer ?? null,
    encounter: call.context.encounterId ?? null,
    userId,
    patient: {
      resource: patient,
      expression: 'prefetch.patient',
      ...(call.fhirServer ? { fullUrl: `${call.fhirServer.replace(/\/$/, '')}/Patient/${patientId}` } : {}),
    },
    observations: entries.filter(({ resourceType }) => resourceType === 'Observation'),
    devices: devicesIn(entries),
    panelId: call.extension?.[PANEL_EXTENSION] ?? null,
    hasMore: hasNextLink(grip),
  };
}

type Prefetch = Record<string, unknown> | undefined;
type Entries = ReturnType<typeof placedEntries>;

function readPatientKey(prefetch: Prefetch, patientId: string): unknown {
  const patient = readPrefetched(prefetch, 'patient', 'Patient');
  if (patient === null) throw missing('patient', 'is null: there is no such Patient');
  const { id } = patient as { id?: unknown };
  if (id === undefined) {
    throw new RequestError('PATIENT_MISSING', [{ expression: 'prefetch.patient.id', text: 'is required' }]);
  }
  if (id !== patientId) {
    const text = 'is not context.patientId';
    throw new RequestError('PATIENT_MISMATCH', [{ expression: 'prefetch.patient.id', text }]);
  }
  return patient;
}

/** The resource under a key; null when the client says that there is none. */
function readPrefetched(prefetch: Prefetch, key: string, resourceType: string): unknown {
  const value = prefetch?.[key];
  if (value === undefined) throw missing(key, 'is required');
  if (value === null) return null;
  const resource = requireForm(resourceForm, value, `prefetch.${key}`);
  if (resource.resourceType === 'OperationOutcome') throw missing(key, NOT_RETRIEVED);
  if (resource.resourceType === resourceType) return resource;
  const expression = `prefetch.${key}.resourceType`;
  throw new RequestError('BODY_INVALID', [{ expression, text: `must be ${resourceType}` }]);
}

const NOT_RETRIEVED = 'could not be retrieved by the client';

function missing(key: string, text: string): RequestError {
  return new RequestError('PREFETCH_MISSING', [{ expression: `prefetch.${key}`, text }]);
}

function readGrip(bundle: unknown): Entries {
  if (bundle === null) return [];
  const entries = placedEntries(bundle, 'prefetch.grip');
  if (holdsFailure(entries)) throw missing('grip', NOT_RETRIEVED);
  return entries;
}

/** Optional: a key that is absent, null or not retrieved holds no measures. */
function readMeasures(prefetch: Prefetch): Entries {
  return MEASURE_KEYS.flatMap((key) => {
    const value = prefetch?.[key] ?? null;
    if (value === null || resourceForm.safeParse(value).data?.resourceType === 'OperationOutcome') return [];
    const entries = placedEntries(readPrefetched(prefetch, key, 'Bundle'), `prefetch.${key}`);
    return holdsFailure(entries) ? [] : entries;
  });
}

function holdsFailure(entries: Entries): boolean {
  return entries.some(
    ({ resource, resourceType, expression }) =>
      resourceType === 'OperationOutcome' && saysFailure(resource, expression),
  );
}

const outcomeForm = z.looseObject({ issue: z.array(z.looseObject({ severity: z.string() })) });

/** A search may come with an OperationOutcome that only warns. */
function saysFailure(resource: unknown, expression: string): boolean {
  const outcome = requireForm(outcomeForm, resource, expression);
  return outcome.issue.some(({ severity }) => severity === 'error' || severity === 'fatal');
}

const linksForm = z.looseObject({ link: z.array(z.looseObject({ relation: z.string() })).optional() });

function hasNextLink(bundle: unknown): boolean {
  if (bundle === null) return false;
  return (requireForm(linksForm, bundle, 'prefetch.grip').link ?? []).some(
    ({ relation }) => relation === 'next',
  );
}
