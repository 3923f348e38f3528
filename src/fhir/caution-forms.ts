/** The form of Conditions, Procedures and Devices as far as they are read for cautions before a test. */
import { z } from 'zod';
import { codeableConcept, fhirDateTime, fhirId, modifiers, period, reference } from './forms.ts';

const record = {
  id: fhirId.optional(),
  meta: z.looseObject({ versionId: fhirId.optional() }).optional(),
  ...modifiers,
};

export const conditionForm = z.looseObject({
  resourceType: z.literal('Condition'),
  ...record,
  clinicalStatus: codeableConcept.optional(),
  verificationStatus: codeableConcept.optional(),
  code: codeableConcept.optional(),
  bodySite: z.array(codeableConcept).optional(),
  subject: reference.optional(),
  onsetDateTime: fhirDateTime.optional(),
  onsetPeriod: period.optional(),
  abatementDateTime: fhirDateTime.optional(),
  abatementPeriod: period.optional(),
  recordedDate: fhirDateTime.optional(),
});

export const procedureForm = z.looseObject({
  resourceType: z.literal('Procedure'),
  ...record,
  status: z.enum([
    'preparation',
    'in-progress',
    'not-done',
    'on-hold',
    'stopped',
    'completed',
    'entered-in-error',
    'unknown',
  ]),
  code: codeableConcept.optional(),
  bodySite: z.array(codeableConcept).optional(),
  subject: reference.optional(),
  performedDateTime: fhirDateTime.optional(),
  performedPeriod: period.optional(),
});

export const lineDeviceForm = z.looseObject({
  resourceType: z.literal('Device'),
  ...record,
  status: z.enum(['active', 'inactive', 'entered-in-error', 'unknown']).optional(),
  type: codeableConcept.optional(),
  patient: reference.optional(),
});

/** Enough to tell whether a record that is otherwise malformed is about a caution at all. */
export const codedForm = z.looseObject({
  code: codeableConcept.optional(),
  type: codeableConcept.optional(),
});

export type ConditionResource = z.infer<typeof conditionForm>;
export type ProcedureResource = z.infer<typeof procedureForm>;
export type LineDeviceResource = z.infer<typeof lineDeviceForm>;
