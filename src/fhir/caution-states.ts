/** Whether a record counts, and since when: Condition, Procedure and Device, each by its own elements. */
import { latestDayOf } from '../interpret/age.ts';
import type { CautionRead, CautionState, PastAs } from '../interpret/testing-caution.ts';
import type { ConditionResource, LineDeviceResource, ProcedureResource } from './caution-forms.ts';
import { codesOf } from './read-observation.ts';

const CLINICAL = 'http://terminology.hl7.org/CodeSystem/condition-clinical';
const VERIFICATION = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';

/** `ignored`: taken back, refuted, or not done. */
export type RecordState = CautionState | 'ignored';

export type DateRead = Pick<CautionRead, 'date' | 'dateOf'>;

/** Active where nothing is said of it. An abatement in the past ends it, whatever its status. */
export function stateOfCondition(condition: ConditionResource, today: string): RecordState {
  const verified = codesOf(condition.verificationStatus, VERIFICATION);
  if (verified.some((code) => code === 'refuted' || code === 'entered-in-error')) return 'ignored';
  const clinical = codesOf(condition.clinicalStatus, CLINICAL);
  if (clinical.some((code) => PAST.has(code)) || hasAbated(condition, today)) return 'past';
  return verified.some((code) => UNSURE.has(code)) ? 'unconfirmed' : 'current';
}

/** How a record that is past says so; one with another status has an abatement. */
export function pastAsOf({ clinicalStatus }: ConditionResource): PastAs {
  return codesOf(clinicalStatus, CLINICAL).find((code): code is PastAs => PAST.has(code)) ?? 'ended';
}

const PAST: ReadonlySet<string> = new Set(['inactive', 'remission', 'resolved']);
const UNSURE: ReadonlySet<string> = new Set(['unconfirmed', 'provisional', 'differential']);

function hasAbated(condition: ConditionResource, today: string): boolean {
  const { abatementDateTime, abatementPeriod } = condition;
  const dated = abatementDateTime ?? abatementPeriod?.end;
  if (dated !== undefined) {
    const day = latestDayOf(dated.slice(0, 10));
    return day !== undefined && day <= today;
  }
  // As an age, a range or a text it says that it ended, and not when.
  return ['abatementAge', 'abatementRange', 'abatementString'].some((name) => condition[name] !== undefined);
}

export function dateOfCondition({ onsetDateTime, onsetPeriod, recordedDate }: ConditionResource): DateRead {
  const onset = onsetDateTime ?? onsetPeriod?.start;
  if (onset !== undefined) return { date: onset.slice(0, 10), dateOf: 'onset' };
  return recordedDate === undefined ? NO_DATE : { date: recordedDate.slice(0, 10), dateOf: 'recorded' };
}

export const NO_DATE: DateRead = { date: null, dateOf: null };

export function stateOfProcedure({ status }: ProcedureResource): RecordState {
  return PROCEDURE_STATES[status];
}

/** One that was stopped was begun: a wound or a line may be there. */
const PROCEDURE_STATES: Readonly<Record<ProcedureResource['status'], RecordState>> = {
  preparation: 'planned',
  'on-hold': 'planned',
  'not-done': 'ignored',
  'entered-in-error': 'ignored',
  'in-progress': 'current',
  stopped: 'current',
  completed: 'current',
  unknown: 'unconfirmed',
};

/** The end where there is one: a wound heals from then on. */
export function dateOfProcedure({ performedDateTime, performedPeriod }: ProcedureResource): DateRead {
  const performed = performedDateTime ?? performedPeriod?.end ?? performedPeriod?.start;
  return performed === undefined ? NO_DATE : { date: performed.slice(0, 10), dateOf: 'performed' };
}

export function stateOfDevice({ status }: LineDeviceResource): RecordState {
  if (status === 'entered-in-error') return 'ignored';
  if (status === 'inactive') return 'past';
  return status === 'active' ? 'current' : 'unconfirmed';
}
