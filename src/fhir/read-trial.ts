/** FHIR Observation of one grip trial -> a Trial of the core, or a refusal naming the element at fault. */
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { Hand, Trial } from '../interpret/measurement.ts';
import { isChartedUnit } from '../interpret/units.ts';
import { GRIP_LOINC, GRIP_SNOMED, LOINC, SIDE_OF_SNOMED, SNOMED } from './codes.ts';
import type { CodeableConcept, ObservationResource } from './forms.ts';
import type { Instruments } from './read-instrument.ts';
import {
  type AsOf,
  checkUsable,
  codesOf,
  type Fault,
  meaningsOf,
  readMoment,
  readQuantity,
} from './read-observation.ts';
import { readProtocol } from './read-protocol.ts';

/**
 * @param expression FHIRPath of the Observation in the request
 * @param reference how the answer points back to it
 */
export function readTrial(
  observation: ObservationResource,
  expression: string,
  reference: string,
  asOf: AsOf,
  instruments: Instruments,
): Trial | Refusal {
  const hand = readHand(observation);
  const moment = readMoment(observation, asOf);
  const when = 'code' in moment ? {} : { testedOn: moment.testedOn, testedAt: moment.effective };
  const refuseFor = ({ code, element, facts }: Fault) =>
    refuse(code, {
      trial: reference,
      hand: typeof hand === 'string' ? hand : null,
      expression: `${expression}.${element}`,
      facts: { ...when, ...facts },
    });
  if (typeof hand !== 'string') return refuseFor(hand);
  const unusable = checkUsable(observation);
  if (unusable) return refuseFor(unusable);
  if ('code' in moment) return refuseFor(moment);
  const reading = readReading(observation);
  if ('code' in reading) return refuseFor(reading);
  const done = readProtocol(observation, instruments.of(observation, expression, moment.testedOn));
  if ('code' in done) return refuseFor(done);
  const preliminary = observation.status === 'preliminary';
  return { reference, hand, ...reading, ...moment, preliminary, ...done };
}

export function isGripCode(code: CodeableConcept): boolean {
  return handsOfCode(code).length > 0 || codesOf(code, SNOMED).includes(GRIP_SNOMED);
}

function handsOfCode(code: CodeableConcept): readonly Hand[] {
  const loinc = codesOf(code, LOINC);
  return (['right', 'left'] as const).filter((hand) => loinc.includes(GRIP_LOINC[hand]));
}

function readHand(observation: ObservationResource): Hand | Fault {
  if (!isGripCode(observation.code)) return { code: 'CODE_NOT_GRIP', element: 'code' };
  const fromSite = meaningsOf(codesOf(observation.bodySite, SNOMED), SIDE_OF_SNOMED);
  const [hand, ...others] = new Set([...handsOfCode(observation.code), ...fromSite]);
  if (!hand) return { code: 'SIDE_MISSING', element: 'bodySite' };
  if (others.length > 0)
    return { code: 'SIDE_CONTRADICTION', element: fromSite.length > 0 ? 'bodySite' : 'code' };
  return hand;
}

/** Unit codes that are repeated in the answer; anything else a client sends is not. */
const KNOWN_MISTAKES: ReadonlySet<string> = new Set(
  'lb lbs LB [lb] pound pounds kgs Kg KG kg_f kilogram kilograms g gf daN kN psi [psi] kPa bar mm[Hg]'.split(
    ' ',
  ),
);

function readReading(observation: ObservationResource): Pick<Trial, 'reading' | 'unit'> | Fault {
  const quantity = readQuantity(observation);
  if ('element' in quantity) return quantity;
  const { value, unit } = quantity;
  if (isChartedUnit(unit)) return { reading: String(value), unit };
  const facts = KNOWN_MISTAKES.has(unit) ? { unit } : {};
  return { code: 'UNIT_UNKNOWN', element: 'valueQuantity.code', facts };
}
