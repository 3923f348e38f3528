/** The resources of a request, whichever door -> what the core interprets, and what could not be read. */
import { RequestError } from './errors.ts';
import type { Evaluation } from './evaluation.ts';
import { findRepeats, readChart } from './fhir/read-chart.ts';
import { readInstruments } from './fhir/read-instrument.ts';
import { dominantOf } from './fhir/read-measure.ts';
import type { AsOf } from './fhir/read-observation.ts';
import { readPatient } from './fhir/read-patient.ts';
import type { InterpretRequest } from './fhir/read-request.ts';
import { readSex } from './fhir/read-sex.ts';
import { type SessionInput, toSessions } from './interpret/interpret.ts';
import type { AppliedPanel } from './reference/library.ts';

export interface EvaluationInput extends InterpretRequest {
  /** Interpret every session, or only the latest with the others as earlier measurements. */
  readonly scope: 'every-session' | 'latest-session';
}

export type ReadInput = Pick<Evaluation, 'patient' | 'sex' | 'input' | 'refusals' | 'expressions'>;

/** More than a chart holds; an answer grows with the sessions, so that a small body could ask for a huge one. */
const MOST_OBSERVATIONS = 300;
const MOST_DEVICES = 50;
const MOST_SESSIONS = 60;

function requireFew(count: number, most: number, what: string, expression: string): void {
  if (count <= most) return;
  throw new RequestError('BODY_INVALID', [
    { expression, text: `holds ${count} ${what}; at most ${most} are read` },
  ]);
}

/**
 * Measures and handedness are taken from `observations` and `prior` alike.
 * @throws RequestError BODY_INVALID, PATIENT_MISSING, PATIENT_MISMATCH
 */
export function readInput(request: EvaluationInput, asOf: AsOf, { panel }: AppliedPanel): ReadInput {
  const { observations, prior, devices, scope } = request;
  const every = [...observations, ...prior];
  const first = observations[0]?.expression ?? '';
  requireFew(every.length, MOST_OBSERVATIONS, 'Observations', first);
  requireFew(devices.length, MOST_DEVICES, 'Devices and DeviceMetrics', devices[0]?.expression ?? '');
  const { resource, expression, fullUrl } = request.patient;
  const patient = readPatient(resource, expression, fullUrl);
  const context = { patient, asOf, instruments: readInstruments(devices), repeats: findRepeats(every) };
  const current = readChart(observations, context);
  const earlier = readChart(prior, context);
  const measures = [...current.measures, ...earlier.measures];
  const found = toSessions(current.trials, earlier.trials, panel, patient.ageOn, measures);
  requireFew(found.length, MOST_SESSIONS, 'sessions', first);
  const sessions = scope === 'every-session' ? found : onlyLatest(found);
  const dates = sessions.map(({ testedOn }) => testedOn);
  const sex = readSex(patient.resource, [...current.extensions, ...earlier.extensions], dates);
  const dominant = dominantOf([...current.handedness, ...earlier.handedness]);
  return {
    patient: patient.reference,
    sex,
    input: { sex: sex.sex, ...(dominant ? { dominant } : {}), sessions },
    refusals: [...current.refusals, ...earlier.refusals],
    expressions: new Map([...current.expressions, ...earlier.expressions]),
  };
}

function onlyLatest(sessions: readonly SessionInput[]): readonly SessionInput[] {
  return sessions.map((session, index) => ({
    ...session,
    prior: session.prior || index < sessions.length - 1,
  }));
}
