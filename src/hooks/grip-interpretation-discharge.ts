/** The hook service `grip-interpretation-discharge`: the same reading, and what matters when the stay ends. */
import { RequestError } from '../errors.ts';
import type { AskedStay } from '../evaluate.ts';
import { encounterForm, requireForm, requireUnmodified } from '../fhir/forms.ts';
import { patientMatcher } from '../fhir/read-patient.ts';
import type { ServiceDescription } from './discovery.ts';
import { type Envelope, readEnvelope } from './envelope.ts';
import { type GatheredData, gather } from './gather.ts';
import { answerReading, type HookCall } from './grip-interpretation.ts';
import { patientUrlOf } from './hook-request.ts';

/**
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerGripInterpretationDischarge(
  service: ServiceDescription,
  { deps, caller, body }: HookCall,
): Promise<string> {
  const envelope = readEnvelope(body, service);
  if (envelope.encounterId === null) {
    // Hook library, encounter-discharge 1.0: encounterId is required.
    const text = 'is required by encounter-discharge';
    throw new RequestError('BODY_INVALID', [{ expression: 'request.context.encounterId', text }]);
  }
  const data = await gather(envelope, service, caller, deps);
  const readFacts = () => ({ stay: readStay(envelope, data) });
  return answerReading(deps, { caller, envelope, data, service: service.id, readFacts });
}

const AT = 'prefetch.encounter';

/**
 * The stay that ends; without a start where it is not known, and why.
 * @throws RequestError BODY_INVALID, or PATIENT_MISMATCH where the Encounter is of another patient
 */
function readStay(envelope: Envelope, { encounter: found }: GatheredData): AskedStay {
  if (found?.state !== 'here') return { start: null, end: null, why: 'not-sent' };
  const encounter = requireForm(encounterForm, found.resource, AT);
  requireUnmodified(encounter, AT);
  const { id, subject, status, period } = encounter;
  if (id !== envelope.encounterId) {
    const text = 'is not context.encounterId';
    throw new RequestError('BODY_INVALID', [{ expression: `${AT}.id`, text }]);
  }
  const isMeantBy = patientMatcher(envelope.patientId, patientUrlOf(envelope));
  if (subject?.reference !== undefined && !isMeantBy(subject.reference)) {
    const text = 'is not context.patientId';
    throw new RequestError('PATIENT_MISMATCH', [{ expression: `${AT}.subject.reference`, text }]);
  }
  if (status === 'entered-in-error') return { start: null, end: null, why: 'not-usable' };
  if (period?.start === undefined) return { start: null, end: null, why: 'no-start' };
  return { start: period.start, end: period.end ?? null, why: null };
}
