/** Codes and systems of FHIR, LOINC, SNOMED CT and UCUM that we read and write, and our own. */

import type { FigureUnit } from '../interpret/finding.ts';
import type {
  ArmPosition,
  Dominance,
  Hand,
  InstrumentClass,
  MeasureKind,
  Posture,
  Sex,
} from '../interpret/measurement.ts';
import type { ForceUnit } from '../interpret/units.ts';

export const LOINC = 'http://loinc.org';
export const SNOMED = 'http://snomed.info/sct';
export const UCUM = 'http://unitsofmeasure.org';
export const OBSERVATION_CATEGORY = 'http://terminology.hl7.org/CodeSystem/observation-category';
export const US_CORE_CATEGORY = 'http://hl7.org/fhir/us/core/CodeSystem/us-core-category';
export const OBSERVATION_INTERPRETATION =
  'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';
export const OBSERVATION_VALUE = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue';
export const DATA_ABSENT_REASON = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
/** Codes of data-absent-reason that say why there is no reading; any other code is not repeated. */
export const ABSENT_REASONS: ReadonlySet<string> = new Set([
  'unknown',
  'asked-unknown',
  'temp-unknown',
  'not-asked',
  'asked-declined',
  'masked',
  'not-applicable',
  'unsupported',
  'as-text',
  'error',
  'not-a-number',
  'negative-infinity',
  'positive-infinity',
  'not-performed',
  'not-permitted',
]);
export const REFERENCE_RANGE_MEANING = 'http://terminology.hl7.org/CodeSystem/referencerange-meaning';
export const DATA_OPERATION = 'http://terminology.hl7.org/CodeSystem/v3-DataOperation';
/** Codes for what a value is among several: used in `method`. */
export const OBSERVATION_STATISTICS = 'http://terminology.hl7.org/CodeSystem/observation-statistics';
export const PROVENANCE_PARTICIPANT = 'http://terminology.hl7.org/CodeSystem/provenance-participant-type';

/** Base of our own canonical URLs; `.example` is reserved and never resolves. */
export const CANONICAL = 'https://grip-strength-cds.example/fhir';
export const GRIP_CODES = `${CANONICAL}/CodeSystem/grip-strength`;
export const GRIP_ISSUES = `${CANONICAL}/CodeSystem/grip-strength-issue`;
export const GRIP_OVERRIDES = `${CANONICAL}/CodeSystem/grip-strength-override`;

/** LOINC: Grip strength Hand - right / left Dynamometer. */
export const GRIP_LOINC: Readonly<Record<Hand, string>> = { right: '83174-3', left: '83173-5' };
/** SNOMED CT: Grip strength (observable entity); the side is then in bodySite. */
export const GRIP_SNOMED = '251433001';

/** SNOMED CT codes that name a side in bodySite: structure of the hand, or the bare laterality qualifier. */
export const SIDE_OF_SNOMED: Readonly<Record<string, Hand>> = {
  '78791008': 'right', // Structure of right hand (seen in several public value lists)
  '85151006': 'left', // Structure of left hand
  '24028007': 'right', // Right (qualifier value)
  '7771000': 'left', // Left (qualifier value)
};
export const HAND_STRUCTURE: Readonly<Record<Hand, { code: string; display: string }>> = {
  right: { code: '78791008', display: 'Structure of right hand' },
  left: { code: '85151006', display: 'Structure of left hand' },
};

/** SNOMED CT findings of sex, as in the R4 value set referencerange-appliesto. */
export const SEX_SNOMED: Readonly<Record<Sex, { code: string; display: string }>> = {
  female: { code: '248152002', display: 'Female' },
  male: { code: '248153007', display: 'Male' },
};

/** SNOMED CT: Handedness finding, and its values. */
export const HANDEDNESS_SNOMED = '364940007';
export const DOMINANCE_OF_SNOMED: Readonly<Record<string, Dominance>> = {
  '46669005': 'right', // Right handed
  '87683000': 'left', // Left handed
  '23088002': 'both', // Ambidextrous
};

/** R4 standard extension of Observation: the position of the body during the test. */
export const BODY_POSITION_URL = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition';
/** SNOMED CT findings of body position, as in public value sets for vital signs. */
export const POSTURE_OF_SNOMED: Readonly<Record<string, Posture>> = {
  '33586001': 'seated', // Sitting position
  '10904000': 'standing', // Orthostatic body position
  '102538003': 'recumbent', // Recumbent body position
  '40199007': 'recumbent', // Supine body position
};

/** UCUM force codes for figures that we write; kg and lb on an instrument are kilogram- and pound-force. */
const FORCE_UCUM: Readonly<Record<ForceUnit, string>> = { kg: 'kgf', lb: '[lbf_av]', N: 'N' };

/** Of a force, or a force over body mass index or height squared. */
export function ucumOf(unit: FigureUnit): string {
  const [force = '', over] = unit.split(/\/(.*)/s);
  const code = FORCE_UCUM[force as ForceUnit];
  return over ? `${code}/${over}` : code;
}

/** Our own codes (terminology/CodeSystem-grip-strength.json holds the same list; a test compares). */
export const GRIP_CODE_DISPLAYS = {
  'grip-trial': 'One squeeze of one hand on a dynamometer',
  'trial-number': 'Number of a trial among those of its hand, from 1',
  'mean-per-hand': 'Mean grip strength of the trials of one hand',
  'highest-per-hand': 'Highest grip strength of one hand',
  'highest-of-either-hand': 'Highest grip strength of either hand',
  'mean-of-both-hands': 'Mean of the highest grip strength of both hands',
  'strength-against-norm': 'Grip strength read against a table of norms',
  'strength-against-cut-point': 'Grip strength read against a consensus cut-point',
  reduced: 'Reduced by this reference set',
  'not-reduced': 'Not reduced by this reference set',
  'z-score': 'Standard deviations from the mean of the reference row',
  percentile: 'Percentile in the reference row, taken as normally distributed',
  'centile-place': 'Place among the centiles of the reference row',
  'source-band': "The source's own name for where the figure lies",
  'column-female': 'Result if read in the column for women',
  'column-male': 'Result if read in the column for men',
  // No verified LOINC code for a gait-speed test or for five chair rises was found. LOINC 41957-2 is the 24-hour
  // mean of a wearable, which is another quantity.
  'gait-speed': 'Usual gait speed',
  'five-chair-rises': 'Time for five chair rises',
  'handle-position': 'Position of the handle of the dynamometer, 1 (narrowest) to 5',
  'arm-position': 'Position of the arm during the test',
  'elbow-90-unsupported': 'Elbow at 90 degrees, arm not supported',
  'elbow-supported': 'Arm supported',
  'elbow-straight': 'Elbow straight',
  'own-baseline': 'Norms do not fit this hand: it is followed against its own baseline',
  'hydraulic-dynamometer': 'Hydraulic hand dynamometer',
  'digital-dynamometer': 'Digital hand dynamometer',
  'spring-dynamometer': 'Spring hand dynamometer',
} as const;
export type GripCode = keyof typeof GRIP_CODE_DISPLAYS;

/** Measures other than grip: LOINC Body height, Body weight and Body mass index; the others are our own codes. */
export const MEASURE_CODES: Readonly<
  Record<MeasureKind, { readonly system: string; readonly code: string }>
> = {
  height: { system: LOINC, code: '8302-2' },
  weight: { system: LOINC, code: '29463-7' },
  bmi: { system: LOINC, code: '39156-5' },
  'gait-speed': { system: GRIP_CODES, code: 'gait-speed' satisfies GripCode },
  'five-chair-rises': { system: GRIP_CODES, code: 'five-chair-rises' satisfies GripCode },
};

/** Values of the component `arm-position`. */
export const ARM_POSITIONS: readonly (ArmPosition & GripCode)[] = [
  'elbow-90-unsupported',
  'elbow-supported',
  'elbow-straight',
];
/** Values of `Device.type`. */
export const INSTRUMENT_OF_GRIP_CODE: Readonly<Record<string, InstrumentClass>> = {
  'hydraulic-dynamometer': 'hydraulic',
  'digital-dynamometer': 'digital',
  'spring-dynamometer': 'spring',
} satisfies Partial<Record<GripCode, InstrumentClass>>;

/** Reasons of our own: what the published list does not say of a measurement. */
export const OVERRIDE_DISPLAYS = {
  'measurement-not-valid': 'The measurement is not valid and will be repeated',
  'arm-not-representative': 'The tested arm does not represent the person',
  'own-baseline': 'The person is followed against their own baseline',
  'set-not-suitable': 'The reference set does not suit this person',
  'already-addressed': 'Already addressed in the plan of care',
} as const;

/**
 * The trial-use code system that CDS Hooks 3.0.0-ballot suggests for reasons to override, with its own displays. Left
 * out of its six: `action-completed` and `action-not-priority`, which `already-addressed` says in the words of a ward.
 */
export const NON_ADHERENCE_REASONS = 'http://terminology.hl7.org/CodeSystem/non-adherence-reason-codes';
export const NON_ADHERENCE_DISPLAYS = {
  'cds-not-applicable': 'PC CDS does not apply to patient',
  'recipient-disagrees-evidence':
    'Recipient disagrees with recommendation because of issues with the evidence',
  'cds-suboptimal-context': 'PC CDS delivered in suboptimal context',
} as const;

export function gripCoding(code: GripCode): { system: string; code: GripCode; display: string } {
  return { system: GRIP_CODES, code, display: GRIP_CODE_DISPLAYS[code] };
}
