/** The resources of a request, whichever door -> what the core interprets, and what could not be read. */
import { RequestError } from './errors.ts';
import type { Evaluation, Sent } from './evaluation.ts';
import type { LocalCode, LocalCodes } from './fhir/local-codes.ts';
import { findRepeats, type ReadChart, readChart } from './fhir/read-chart.ts';
import { readInstruments } from './fhir/read-instrument.ts';
import { dominantOf } from './fhir/read-measure.ts';
import type { AsOf } from './fhir/read-observation.ts';
import { readPatient } from './fhir/read-patient.ts';
import type { InterpretRequest } from './fhir/read-request.ts';
import { readSex } from './fhir/read-sex.ts';
import { sourceKey } from './fhir/reference.ts';
import type { Refusal } from './interpret/finding.ts';
import { type SessionInput, toSessions } from './interpret/interpret.ts';
import type { AppliedPanel } from './reference/library.ts';
import type { Notice } from './wording/notices.ts';

export interface EvaluationInput extends InterpretRequest {
  /** Interpret every session, or only the latest with the others as earlier measurements. */
  readonly scope: 'every-session' | 'latest-session';
}

export type ReadInput = Pick<
  Evaluation,
  | 'patient'
  | 'sex'
  | 'input'
  | 'refusals'
  | 'expressions'
  | 'notices'
  | 'localCodes'
  | 'corrections'
  | 'handedness'
  | 'sent'
>;

/** More than a chart holds; an answer grows with the sessions, so that a small body could ask for a huge one. */
const MOST_OBSERVATIONS = 300;
const MOST_FIGURES = 600;
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
export function readInput(
  request: EvaluationInput,
  asOf: AsOf,
  { panel }: AppliedPanel,
  localCodes?: LocalCodes,
): ReadInput {
  const { observations, prior, devices, scope, notices = [] } = request;
  const every = [...observations, ...prior];
  const first = observations[0]?.expression ?? '';
  requireFew(every.length, MOST_OBSERVATIONS, 'Observations', first);
  requireFew(devices.length, MOST_DEVICES, 'Devices and DeviceMetrics', devices[0]?.expression ?? '');
  const { resource, expression } = request.patient;
  const patient = readPatient(resource, expression, request.patient);
  const context = {
    patient,
    asOf,
    instruments: readInstruments(devices),
    repeats: findRepeats(every),
    localCodes,
  };
  const current = readChart(observations, context);
  const earlier = readChart(prior, context);
  const refusals = [...current.refusals, ...earlier.refusals];
  const figures = [...current.expressions, ...earlier.expressions];
  requireFew(figures.length + refusals.length, MOST_FIGURES, 'trials, members and components', first);
  const measures = [...current.measures, ...earlier.measures];
  const found = toSessions(current, earlier, panel, patient.ageOn, measures);
  requireFew(found.length, MOST_SESSIONS, 'sessions', first);
  const sessions = scope === 'every-session' ? found : onlyLatest(found);
  const dates = sessions.map(({ testedOn }) => testedOn);
  const sex = readSex(patient.resource, [...current.extensions, ...earlier.extensions], dates);
  const corrections = [...current.corrections, ...earlier.corrections];
  const handed = dominantOf([...current.handedness, ...earlier.handedness]);
  return {
    patient: patient.reference,
    sex,
    input: { sex: sex.sex, ...(handed ? { dominant: handed.dominant } : {}), sessions },
    refusals,
    expressions: new Map(figures),
    ...(handed ? { handedness: handed.references } : {}),
    ...(corrections.length > 0 ? { corrections } : {}),
    sent: sentOf(current, earlier, request.asOf === null ? [] : refusals),
    ...translations([...current.localCodes, ...earlier.localCodes], notices, localCodes),
  };
}

/** @param late refusals of a request that asks as of a day: what is charted after it was not looked at */
function sentOf(current: ReadChart, earlier: ReadChart, late: readonly Refusal[]): Sent {
  const after = new Set(
    late.flatMap(({ code, trial }) => (code === 'TIME_IN_FUTURE' && trial ? [sourceKey(trial)] : [])),
  );
  const named = ([key]: readonly [string, string]) => key !== '' && !after.has(key);
  const interpreted = [...current.sent].filter(named);
  return {
    all: new Map([...[...earlier.sent].filter(named), ...interpreted]),
    interpreted: new Set(interpreted.map(([key]) => key)),
  };
}

/** Each local code is said once, and which map read it; nothing where there is nothing to say. */
function translations(
  read: readonly LocalCode[],
  notices: readonly Notice[],
  localCodes: LocalCodes | undefined,
): Pick<ReadInput, 'notices' | 'localCodes'> {
  const ref = localCodes?.ref;
  const said: readonly Notice[] = [...new Set(read)].map(({ code, target, hand, trialNumber }) => ({
    code: 'LOCAL_CODE_READ',
    expression: null,
    facts: {
      code,
      target: target.code,
      ...(hand ? { hand } : {}),
      ...(trialNumber === undefined ? {} : { trialNumber: String(trialNumber) }),
      map: `${ref?.url}|${ref?.version}`,
    },
  }));
  return {
    ...(notices.length + said.length > 0 ? { notices: [...notices, ...said] } : {}),
    ...(said.length > 0 && ref ? { localCodes: ref } : {}),
  };
}

function onlyLatest(sessions: readonly SessionInput[]): readonly SessionInput[] {
  return sessions.map((session, index) => ({
    ...session,
    prior: session.prior || index < sessions.length - 1,
  }));
}
