/**
 * A valid call of any service, made from its discovery entry alone, as a client would: the context of its hook, and under
 * each prefetch key what its template asks for out of the record of an invented person.
 */
import type { Bundle, FhirResource, Observation, Patient } from 'fhir/r4.js';
import type { HookBody } from '../fixtures.ts';
import { coded, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import type { TestService } from '../service-for-tests.ts';

/** A service as discovery describes it. */
export interface Discovered {
  readonly id: string;
  readonly hook: string;
  readonly title?: string;
  readonly description: string;
  readonly prefetch: Readonly<Record<string, string>>;
  readonly usageRequirements?: string;
}

/** What a record holds of one person. */
export interface Person {
  readonly patient: Patient & { readonly id: string };
  readonly resources: readonly FhirResource[];
}

const SUBJECT = { reference: 'Patient/invented-1' };
const ENCOUNTER = 'invented-encounter';
const SNOMED = 'http://snomed.info/sct';

const HEIGHT: Observation = {
  resourceType: 'Observation',
  id: 'height-1',
  status: 'final',
  code: coded(['http://loinc.org', '8302-2']),
  subject: SUBJECT,
  effectiveDateTime: '2026-11-03',
  valueQuantity: { value: 178, unit: 'cm', system: 'http://unitsofmeasure.org', code: 'cm' },
};

/** Hemiplegia, an operation, and the trials of grip strength. Invented. */
export const INVENTED: Person = {
  patient: { ...PATIENT, id: 'invented-1' },
  resources: [
    ...SIX_TRIALS,
    HEIGHT,
    {
      resourceType: 'Condition',
      id: 'condition-1',
      clinicalStatus: coded(['http://terminology.hl7.org/CodeSystem/condition-clinical', 'active']),
      code: coded([SNOMED, '50582007']),
      subject: SUBJECT,
      onsetDateTime: '2026-10-01',
    },
    {
      resourceType: 'Procedure',
      id: 'procedure-1',
      status: 'completed',
      code: { text: 'An invented operation' },
      subject: SUBJECT,
      performedDateTime: '2026-11-10',
    },
    {
      resourceType: 'Encounter',
      id: ENCOUNTER,
      status: 'in-progress',
      class: { system: 'http://terminology.hl7.org/CodeSystem/v3-ActCode', code: 'IMP' },
      subject: SUBJECT,
      period: { start: '2026-11-09T10:00:00Z' },
    },
  ],
};

/** The organisation's own hook of these tests, so that every service that can be offered is. */
export const CHARTED_HOOK = 'org.example.alder-reach.grip-charted';

export async function discover(service: Pick<TestService, 'app'>): Promise<readonly Discovered[]> {
  const reply = await service.app.inject({ url: '/cds-services' });
  return reply.json<{ services: readonly Discovered[] }>().services;
}

export const addressOf = ({ id }: Pick<Discovered, 'id'>): string => `/cds-services/${id}`;

export function callOf({ hook, prefetch }: Discovered, person: Person = INVENTED): HookBody {
  return {
    hook,
    hookInstance: '0f8fad5b-d9cb-469f-a165-70867728950e',
    context: contextOf(hook, person),
    prefetch: Object.fromEntries(
      Object.entries(prefetch).map(([key, template]) => [key, answerTo(template, person)]),
    ),
  };
}

/**
 * Required and optional fields of patient-view, encounter-start and encounter-discharge (the hook library); an
 * organisation's own hook for a measurement brings the Observations just charted (docs/hooks.md).
 */
function contextOf(hook: string, { patient, resources }: Person): Record<string, unknown> {
  const charted = resources.filter(({ resourceType }) => resourceType === 'Observation');
  const entry = charted.map((resource) => ({ resource }));
  return {
    userId: 'Practitioner/invented-dietitian',
    patientId: patient.id,
    encounterId: ENCOUNTER,
    ...(hook.includes('.') ? { observations: { resourceType: 'Bundle', type: 'collection', entry } } : {}),
  };
}

/** What a FHIR server with this one person answers; null where there is no such resource. */
function answerTo(template: string, { patient, resources }: Person): FhirResource | null {
  const [path = '', query] = template.split('?');
  const [type = ''] = path.split('/');
  const all: readonly FhirResource[] = [patient, ...resources];
  const ofType = all.filter(({ resourceType }) => resourceType === type);
  if (query === undefined) return ofType[0] ?? null;
  const codes = new URLSearchParams(query).get('code')?.split(',');
  const found = ofType.filter((resource) => codes === undefined || isOneOf(resource, codes));
  const bundle: Bundle = { resourceType: 'Bundle', type: 'searchset', total: found.length };
  return found.length > 0 ? { ...bundle, entry: found.map((resource) => ({ resource })) } : bundle;
}

/** Tokens are `system|code`; a template without the codes of a type asks for all of it. */
function isOneOf(resource: FhirResource, tokens: readonly string[]): boolean {
  const { code } = resource as Partial<Observation>;
  return (code?.coding ?? []).some(({ system, code: own }) => tokens.includes(`${system}|${own}`));
}
