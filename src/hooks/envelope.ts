/** The envelope of a CDS Hooks call: everything but the meaning of its data. */
import { z } from 'zod';
import { RequestError } from '../errors.ts';
import { requireForm } from '../fhir/forms.ts';
import { PANEL_EXTENSION, type ServiceDescription } from './discovery.ts';

const idForm = z.string().regex(/^[A-Za-z0-9.-]{1,64}$/);

function isBareAddress(address: string): boolean {
  const url = URL.parse(address);
  return url !== null && !url.username && !url.password && !/[?#]/.test(address);
}

const envelopeForm = z
  .looseObject({
    hook: z.string().min(1),
    hookInstance: z.guid({ error: ({ input }) => (input === undefined ? 'is required' : 'must be a UUID') }),
    fhirServer: z
      .url({ protocol: /^https?$/, abort: true })
      .refine(isBareAddress, {
        error: 'must have neither credentials, query nor fragment: it is put on record',
      })
      .optional(),
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
        .regex(/^(Practitioner|PractitionerRole|Patient|RelatedPerson)\/[A-Za-z0-9.-]{1,64}$/, {
          error: 'must be Practitioner/, PractitionerRole/, Patient/ or RelatedPerson/ and an id',
        }),
      patientId: idForm,
      encounterId: idForm.optional(),
    }),
    prefetch: z.record(z.string(), z.unknown()).optional(),
    extension: z.looseObject({ [PANEL_EXTENSION]: z.string().min(1).optional() }).optional(),
  })
  .refine((call) => call.fhirAuthorization === undefined || call.fhirServer !== undefined, {
    path: ['fhirServer'],
    error: 'is required with fhirAuthorization',
  });

export interface Envelope {
  readonly hook: string;
  readonly instance: string;
  /** Base URL as given; null when not given. */
  readonly fhirServer: string | null;
  /** Bearer token for `fhirServer`: never recorded, never logged. */
  readonly accessToken: string | null;
  readonly userId: string;
  readonly patientId: string;
  readonly encounterId: string | null;
  /** The whole context, for the fields that only one hook has. */
  readonly context: Readonly<Record<string, unknown>>;
  readonly prefetch: Readonly<Record<string, unknown>>;
  /** Null: the installation's default panel. */
  readonly panelId: string | null;
}

/**
 * Requirements Q1 to Q8 of CDS Hooks 2.0.1.
 * @throws RequestError BODY_INVALID, HOOK_NOT_OFFERED
 */
export function readEnvelope(body: unknown, service: Pick<ServiceDescription, 'hook'>): Envelope {
  const call = requireForm(envelopeForm, body, 'request');
  if (call.hook !== service.hook) {
    throw new RequestError('HOOK_NOT_OFFERED', [
      { expression: 'request.hook', text: `must be ${service.hook}` },
    ]);
  }
  return {
    hook: call.hook,
    instance: call.hookInstance,
    fhirServer: call.fhirServer ?? null,
    accessToken: call.fhirAuthorization?.access_token ?? null,
    userId: call.context.userId,
    patientId: call.context.patientId,
    encounterId: call.context.encounterId ?? null,
    context: call.context,
    prefetch: call.prefetch ?? {},
    panelId: call.extension?.[PANEL_EXTENSION] ?? null,
  };
}
