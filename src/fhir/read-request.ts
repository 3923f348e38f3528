/** The input of `$interpret-grip`: a Bundle, or Parameters with patient, observation, prior, panel and asOf. */
import { RequestError } from '../errors.ts';
import { readCalendarDate } from '../interpret/age.ts';
import { bundleForm, parametersForm, requireForm, resourceForm } from './forms.ts';

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
  const { entry = [] } = requireForm(bundleForm, bundle, expression);
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

function fromBundle(body: unknown): InterpretRequest {
  const placed = placedEntries(body, 'Bundle');
  return {
    patient: onlyPatient(placed.filter(({ resourceType }) => resourceType === 'Patient')),
    observations: placed.filter(({ resourceType }) => resourceType === 'Observation'),
    prior: [],
    panelId: null,
    asOf: null,
  };
}

const PARAMETER_NAMES = ['patient', 'observation', 'prior', 'panel', 'asOf'];

function fromParameters(body: unknown): InterpretRequest {
  const { parameter } = requireForm(parametersForm, body, 'Parameters');
  const unknown = parameter.findIndex(({ name }) => !PARAMETER_NAMES.includes(name));
  if (unknown >= 0) {
    const text = `must be one of: ${PARAMETER_NAMES.join(', ')}`;
    throw new RequestError('BODY_INVALID', [{ expression: `Parameters.parameter[${unknown}].name`, text }]);
  }
  const resources = (wanted: string): Placed[] =>
    parameter.flatMap(({ name, resource }, index) => {
      if (name !== wanted) return [];
      const expression = `Parameters.parameter[${index}].resource`;
      if (!resource) throw new RequestError('BODY_INVALID', [{ expression, text: 'is required' }]);
      return [{ resource, expression }];
    });
  const single = (wanted: string) => {
    const found = parameter.filter(({ name }) => name === wanted);
    if (found.length > 1) {
      const expression = `Parameters.parameter.where(name='${wanted}')`;
      throw new RequestError('BODY_INVALID', [{ expression, text: 'must not be repeated' }]);
    }
    return found[0];
  };
  const panel = single('panel');
  const panelId = panel?.valueCode ?? panel?.valueString ?? panel?.valueUri ?? null;
  if (panel && panelId === null) {
    const expression = "Parameters.parameter.where(name='panel').value";
    throw new RequestError('BODY_INVALID', [{ expression, text: 'must be a code, string or uri' }]);
  }
  return {
    patient: onlyPatient(resources('patient')),
    observations: resources('observation'),
    prior: resources('prior'),
    panelId,
    asOf: readAsOf(single('asOf')),
  };
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
