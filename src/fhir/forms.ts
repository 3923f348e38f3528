/**
 * The form of the FHIR R4 elements that we read. Strict about what we read (no coercion: a reading of
 * `"31.5"`, `true`, `[31.5]` or `null` is an error), silent about what we do not.
 */
import { z } from 'zod';
import { RequestError, type RequestIssue } from '../errors.ts';

const code = z.string().min(1);
export const fhirId = z.string().regex(/^[A-Za-z0-9.-]{1,64}$/);
const fhirDate = z.string().regex(/^\d{4}(-\d{2}(-\d{2})?)?$/);
export const fhirDateTime = z
  .string()
  .regex(
    /^\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01])(T([01]\d|2[0-3]):[0-5]\d:([0-5]\d|60)(\.\d{1,20})?(Z|[+-]((0\d|1[0-3]):[0-5]\d|14:00)))?)?)?$/,
  );

const coding = z.looseObject({ system: z.string().optional(), code: code.optional() });
export const codeableConcept = z.looseObject({
  coding: z.array(coding).optional(),
  text: z.string().optional(),
});
export const reference = z.looseObject({ reference: z.string().optional() });
export const period = z.looseObject({ start: fhirDateTime.optional(), end: fhirDateTime.optional() });

const innerExtension = z.looseObject({
  url: z.string(),
  valueCode: code.optional(),
  valueCoding: coding.optional(),
  valueCodeableConcept: codeableConcept.optional(),
  valuePeriod: period.optional(),
});
const extension = innerExtension.extend({ extension: z.array(innerExtension).optional() });

/** Elements that may change the meaning of a resource; with them we do not process it. */
export const modifiers = {
  implicitRules: z.string().optional(),
  modifierExtension: z.array(z.looseObject({ url: z.string() })).optional(),
};

export const patientForm = z.looseObject({
  resourceType: z.literal('Patient'),
  id: fhirId.optional(),
  ...modifiers,
  extension: z.array(extension).optional(),
  active: z.boolean().optional(),
  link: z
    .array(z.looseObject({ type: z.string().optional(), modifierExtension: modifiers.modifierExtension }))
    .optional(),
  gender: z.enum(['male', 'female', 'other', 'unknown']).optional(),
  birthDate: fhirDate.optional(),
  deceasedBoolean: z.boolean().optional(),
  deceasedDateTime: fhirDateTime.optional(),
});

/** Any resource: enough to tell what it is. */
export const resourceForm = z.looseObject({ resourceType: z.string().min(1) });

const quantity = z.looseObject({
  value: z.number().optional(),
  comparator: z.enum(['<', '<=', '>=', '>']).optional(),
  unit: z.string().optional(),
  system: z.string().optional(),
  code: code.optional(),
});

/** A trial of its own, or part of the protocol; a component of another code is not looked into. */
const component = z.looseObject({
  code: codeableConcept,
  modifierExtension: modifiers.modifierExtension,
  valueQuantity: quantity.optional(),
  dataAbsentReason: codeableConcept.optional(),
  valueInteger: z.int().optional(),
  valueBoolean: z.boolean().optional(),
  valueCodeableConcept: codeableConcept.optional(),
});

export const observationForm = z.looseObject({
  resourceType: z.literal('Observation'),
  id: fhirId.optional(),
  meta: z.looseObject({ versionId: fhirId.optional() }).optional(),
  ...modifiers,
  extension: z.array(extension).optional(),
  status: z.enum([
    'registered',
    'preliminary',
    'final',
    'amended',
    'corrected',
    'cancelled',
    'entered-in-error',
    'unknown',
  ]),
  code: codeableConcept,
  subject: reference.optional(),
  focus: z.array(reference).optional(),
  effectiveDateTime: fhirDateTime.optional(),
  effectiveInstant: fhirDateTime.optional(),
  effectivePeriod: period.optional(),
  valueCodeableConcept: codeableConcept.optional(),
  valueQuantity: quantity.optional(),
  dataAbsentReason: codeableConcept.optional(),
  bodySite: codeableConcept.optional(),
  method: codeableConcept.optional(),
  hasMember: z.array(reference).optional(),
  derivedFrom: z.array(reference).optional(),
  device: reference.optional(),
  component: z.array(component).optional(),
  contained: z.array(resourceForm).optional(),
});

/** What of an Observation is looked at for a Patient that it contains. */
export const containingForm = observationForm.pick({ subject: true, contained: true });

/** The dynamometer. */
export const deviceForm = z.looseObject({
  resourceType: z.literal('Device'),
  id: fhirId.optional(),
  ...modifiers,
  contained: z.array(resourceForm).optional(),
  status: code.optional(),
  type: codeableConcept.optional(),
});

/** Where R4 keeps the calibration of an instrument; `source` is the Device. */
export const deviceMetricForm = z.looseObject({
  resourceType: z.literal('DeviceMetric'),
  id: fhirId.optional(),
  ...modifiers,
  contained: z.array(resourceForm).optional(),
  operationalStatus: code.optional(),
  source: reference.optional(),
  calibration: z
    .array(
      z.looseObject({
        modifierExtension: modifiers.modifierExtension,
        state: code.optional(),
        time: fhirDateTime.optional(),
      }),
    )
    .optional(),
});

/** The stay that a discharge ends. */
export const encounterForm = z.looseObject({
  resourceType: z.literal('Encounter'),
  id: fhirId.optional(),
  ...modifiers,
  status: z.string().optional(),
  subject: reference.optional(),
  period: period.optional(),
});

/** What an organisation's own hook gives in its context: Bundles of resources are of type collection. */
export const collectionForm = z.looseObject({
  resourceType: z.literal('Bundle'),
  type: z.literal('collection'),
});

export const bundleForm = z.looseObject({
  resourceType: z.literal('Bundle'),
  ...modifiers,
  entry: z
    .array(
      z.looseObject({
        modifierExtension: modifiers.modifierExtension,
        fullUrl: z.string().optional(),
        resource: resourceForm.optional(),
        search: z.looseObject({ mode: z.string().optional() }).optional(),
      }),
    )
    .optional(),
  link: z.array(z.looseObject({ relation: z.string().optional() })).optional(),
});

/** Of an instant; it goes out again as a date of HTTP. */
const fhirInstant = z.string().regex(/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|[+-]\d{2}:\d{2})$/);

export const batchForm = z.looseObject({
  resourceType: z.literal('Bundle'),
  type: z.literal('batch'),
  entry: z
    .array(
      z.looseObject({
        resource: resourceForm.optional(),
        request: z.looseObject({
          method: z.enum(['GET', 'HEAD', 'POST', 'PUT', 'DELETE', 'PATCH']),
          url: z.string().min(1),
          ifNoneMatch: z
            .string()
            .regex(/^[\x20-\x7e]*$/)
            .optional(),
          ifModifiedSince: fhirInstant.optional(),
        }),
      }),
    )
    .optional(),
  link: z.array(z.looseObject({ relation: z.string().optional() })).optional(),
});

export const parametersForm = z.looseObject({
  resourceType: z.literal('Parameters'),
  ...modifiers,
  parameter: z.array(
    z.looseObject({
      modifierExtension: modifiers.modifierExtension,
      name: z.string().min(1),
      resource: resourceForm.optional(),
      valueCode: code.optional(),
      valueString: z.string().optional(),
      valueUri: z.string().optional(),
      valueDate: fhirDate.optional(),
    }),
  ),
});

export type PatientResource = z.infer<typeof patientForm>;
export type ObservationResource = z.infer<typeof observationForm>;
export type DeviceResource = z.infer<typeof deviceForm>;
export type DeviceMetricResource = z.infer<typeof deviceMetricForm>;
export type ObservationComponent = NonNullable<ObservationResource['component']>[number];
export type CodeableConcept = z.infer<typeof codeableConcept>;
export type Extension = z.infer<typeof extension>;

/**
 * Reads `value` strictly.
 * @param expression FHIRPath of `value` in the request, put before the path of each fault
 * @throws RequestError BODY_INVALID naming every element at fault
 */
export function requireForm<T>(form: z.ZodType<T>, value: unknown, expression: string): T {
  const parsed = form.safeParse(value);
  if (parsed.success) return parsed.data;
  const { issues } = parsed.error;
  const named = issues.slice(0, MOST_ISSUES).map((issue) => toRequestIssue(issue, expression));
  const left = issues.length - named.length;
  if (left > 0) named.push({ expression, text: `has ${left} more faults` });
  throw new RequestError('BODY_INVALID', named);
}

interface Modified {
  readonly implicitRules?: string | undefined;
  readonly modifierExtension?: unknown;
}

/** Whether something in it may change its meaning. Rules and extensions that do are not known here. */
export function isModified({ implicitRules, modifierExtension = [] }: Modified): boolean {
  // Bundles and Parameters are looked at here before any form has read them.
  return implicitRules !== undefined || !Array.isArray(modifierExtension) || modifierExtension.length > 0;
}

/** @throws RequestError BODY_INVALID: what may mean something else is not processed (R4, extensibility and resource) */
export function requireUnmodified(element: Modified, expression: string): void {
  if (!isModified(element)) return;
  const text =
    'carries implicitRules or a modifierExtension, which may change its meaning and is not known here';
  throw new RequestError('BODY_INVALID', [{ expression, text }]);
}

/** A reply names this many faults and counts the rest: it must not be larger than what was sent. */
const MOST_ISSUES = 20;

function toRequestIssue(issue: z.core.$ZodIssue, expression: string): RequestIssue {
  const path = issue.path
    .map((step) => (typeof step === 'number' ? `[${step}]` : `.${String(step)}`))
    .join('');
  return { expression: `${expression}${path}`, text: faultText(issue) };
}

/** Says what was expected, never what was sent: the value may be about a person. */
function faultText(issue: z.core.$ZodIssue): string {
  // zod's own words begin otherwise: these are those of a form.
  if (/^(?:must|is) /.test(issue.message)) return issue.message;
  if (issue.message.endsWith('received undefined')) return 'is required';
  if (issue.code === 'invalid_type') return `must be of type ${issue.expected}, and of no other`;
  if (issue.code === 'invalid_value') return `must be one of: ${issue.values.map(String).join(', ')}`;
  if (issue.code === 'unrecognized_keys') return 'has a member that is not known here';
  return 'does not have the required form';
}
