/** The table of refusals: what each means, how grave it is, and what a reader is told to do. */
import type { IssueType, Severity } from '../errors.ts';
import type { RefusalCode } from '../interpret/finding.ts';

interface RefusalText {
  /** For the code system and the documentation. */
  readonly meaning: string;
  readonly issue: IssueType;
  readonly severity: Severity;
  /** What happened and what to do about it. */
  readonly text: (facts: Readonly<Record<string, string>>) => string;
}

export const REFUSALS: Readonly<Record<RefusalCode, RefusalText>> = {
  CODE_NOT_GRIP: {
    meaning: 'The code is not one of a grip strength trial',
    issue: 'not-supported',
    severity: 'information',
    text: () =>
      'Not read: the code is not a grip strength trial (LOINC 83174-3 right, 83173-5 left, or SNOMED CT 251433001 with a body site).',
  },
  SIDE_MISSING: {
    meaning: 'Nothing says which hand was tested',
    issue: 'required',
    severity: 'warning',
    text: () => 'Not used: neither the code nor the body site says which hand was tested. Chart the side.',
  },
  SIDE_CONTRADICTION: {
    meaning: 'Code and body site name different hands',
    issue: 'invariant',
    severity: 'error',
    text: () => 'Not used: the code and the body site name different hands. Correct the record.',
  },
  STATUS_NOT_USABLE: {
    meaning: 'The status of the Observation rules out its use',
    issue: 'business-rule',
    severity: 'warning',
    text: ({ status }) => `Not used: its status is ${status}.`,
  },
  MODIFIER_UNKNOWN: {
    meaning: 'An unknown modifier may change the meaning',
    issue: 'extension',
    severity: 'error',
    text: ({ element }) =>
      `Not used: it carries ${element}, which may change its meaning and is not known here.`,
  },
  SUBJECT_MISSING: {
    meaning: 'Nothing says whose measurement it is',
    issue: 'required',
    severity: 'error',
    text: () => 'Not used: it does not say whose measurement it is. Give subject.reference.',
  },
  DUPLICATE_OBSERVATION: {
    meaning: 'The same Observation came more than once',
    issue: 'duplicate',
    severity: 'information',
    text: () => 'Not counted again: the same Observation is in the request more than once.',
  },
  OBSERVATION_CONFLICT: {
    meaning: 'The same Observation came with different content',
    issue: 'duplicate',
    severity: 'error',
    text: () =>
      'Not used: the same Observation is in the request with different content. Send only its current version.',
  },
  TIME_MISSING: {
    meaning: 'The date of the test is missing or lacks the day',
    issue: 'required',
    severity: 'error',
    text: () =>
      'Not used: the date of the test is missing, lacks the day or is given twice, so age at the test is unknown.',
  },
  TIME_IN_FUTURE: {
    meaning: 'The test is charted for a later time than now',
    issue: 'value',
    severity: 'error',
    text: ({ testedOn, asOf }) => `Not used: it is charted for ${testedOn}, after ${asOf}.`,
  },
  VALUE_ABSENT: {
    meaning: 'There is no reading',
    issue: 'required',
    severity: 'warning',
    text: ({ reason }) =>
      reason
        ? `No reading: charted as ${reason}.`
        : 'Not used: it has no valueQuantity.value (one Observation for each trial is read).',
  },
  VALUE_COMPARATOR: {
    meaning: 'The reading is off the scale',
    issue: 'value',
    severity: 'error',
    text: ({ comparator }) =>
      `Not used: the reading carries "${comparator}", so it is off the scale and cannot be averaged.`,
  },
  VALUE_NOT_POSITIVE: {
    meaning: 'The reading is not above zero',
    issue: 'value',
    severity: 'error',
    text: ({ reading, unit }) =>
      `Not used: a reading of ${reading} ${unit} is not above zero. A hand that cannot squeeze is charted as not performed, with the reason.`,
  },
  VALUE_OVER_BOUND: {
    meaning: 'The reading is above the physical bound',
    issue: 'value',
    severity: 'error',
    text: ({ reading, unit, maxKg }) =>
      `Not used: ${reading} ${unit} is above ${maxKg} kg. Check the reading and its unit.`,
  },
  UNIT_MISSING: {
    meaning: 'The reading has no coded unit',
    issue: 'required',
    severity: 'error',
    text: () =>
      'Not used: the unit of the reading is not coded in UCUM (system http://unitsofmeasure.org and a code). A number without a unit is never guessed at.',
  },
  UNIT_UNKNOWN: {
    meaning: 'The unit is not one of those that are read',
    issue: 'code-invalid',
    severity: 'error',
    text: ({ unit }) =>
      `Not used: ${unit ? `"${unit}"` : 'its unit code'} is not one of the UCUM codes kg, kgf, [lb_av], [lbf_av] and N (pounds are [lb_av] or [lbf_av]). It is never converted by guess.`,
  },
  MEASURE_NOT_USABLE: {
    meaning: 'A measure other than grip could not be used',
    issue: 'value',
    severity: 'information',
    text: ({ measure, why }) =>
      `A ${measureWord(measure ?? '')} was not used: ${MEASURE_FAULTS[why ?? ''] ?? 'it could not be read'}.`,
  },
  BIRTH_DATE_MISSING: {
    meaning: 'The date of birth is missing',
    issue: 'required',
    severity: 'error',
    text: () => 'Not interpreted: the date of birth is missing, so age at the test is unknown.',
  },
  BIRTH_DATE_PARTIAL: {
    meaning: 'The date of birth is no calendar date',
    issue: 'value',
    severity: 'error',
    text: () => 'Not interpreted: the date of birth is no calendar date, so age at the test is unknown.',
  },
  BIRTH_AFTER_TEST: {
    meaning: 'The date of birth is after the test',
    issue: 'value',
    severity: 'error',
    text: () => 'Not interpreted: the date of birth is after the test. Correct the record.',
  },
  SUBJECT_DECEASED: {
    meaning: 'The person is recorded as deceased',
    issue: 'business-rule',
    severity: 'error',
    text: () => 'Not interpreted: the person is recorded as deceased.',
  },
  AGE_IMPLAUSIBLE: {
    meaning: 'The date of birth gives an age that nobody reaches',
    issue: 'value',
    severity: 'error',
    text: ({ ageYears }) =>
      `Not interpreted: the date of birth gives an age of ${ageYears}. Correct the record.`,
  },
  UNITS_MIXED: {
    meaning: 'One session is charted in several units',
    issue: 'value',
    severity: 'error',
    text: ({ units }) =>
      `Not interpreted: the trials of one session are charted in different units (${units}). Confirm the unit of each.`,
  },
  UNIT_IMPLAUSIBLE: {
    meaning: 'Implausibly high for the person in the unit as charted',
    issue: 'value',
    severity: 'error',
    text: ({ figure, unit, otherUnit, previous }) =>
      previous
        ? `Not interpreted: ${figure} ${unit} is strong for this person and ${previous} ${unit} was measured before; ${figure} ${otherUnit} would fit. Check the unit on the instrument and correct the chart.`
        : otherUnit
          ? `Not interpreted: ${figure} ${unit} is implausible for this person and would be ordinary in ${otherUnit}. Check the unit on the instrument and correct the chart.`
          : `Not interpreted: ${figure} ${unit} is implausible for this person. Check the reading and its unit, and correct the chart.`,
  },
  AGE_OUTSIDE_SET: {
    meaning: 'The reference set does not cover the age',
    issue: 'not-supported',
    severity: 'information',
    text: ({ ageYears, covers, next }) =>
      `Not applied at age ${ageYears}: it is read for ${covers ?? 'other ages'}.${next ? ` For this age see ${next}.` : ''}`,
  },
  SEX_NOT_USABLE: {
    meaning: 'The record gives no sex that a table can be read for',
    issue: 'required',
    severity: 'warning',
    text: ({ ages, notCovered, unknown }) =>
      `The record gives no sex that a table can be read for. Both columns are shown; the clinician chooses. The sex parameter for clinical use, charted on the patient, settles it.${
        ages
          ? ` The date of birth is known in part only (age ${ages}), so that more than one row of a column is possible.`
          : ''
      }${notCovered ? ` At ${notCovered} this set is not read.` : ''}${unknownText(unknown)}`,
  },
  AGE_UNCERTAIN: {
    meaning: 'The date of birth is known in part only, and the possible ages are read from different rows',
    issue: 'required',
    severity: 'warning',
    text: ({ ages, notCovered, unknown }) =>
      `The date of birth is known in part only: the age was ${ages ?? 'one of two'}. ${
        notCovered
          ? `At ${notCovered} this set is not read; what it says at the other age is shown`
          : 'The row of each is shown'
      }; the full date of birth settles it.${unknownText(unknown)}`,
  },
  HANDEDNESS_UNKNOWN: {
    meaning: 'The reference set needs the dominant hand, which is not known',
    issue: 'required',
    severity: 'information',
    text: ({ dominant }) =>
      dominant === 'both'
        ? 'Not applied: it is read for the dominant hand, and this person is charted as using both alike.'
        : 'Not applied: it is read for the dominant hand, and the record does not say which that is (SNOMED CT 364940007).',
  },
  HAND_NOT_MEASURED: {
    meaning: 'The reference set needs a hand that has no usable trial',
    issue: 'required',
    severity: 'information',
    text: ({ needs }) => `Not applied: it needs ${needs ?? 'a hand'}, and that has no usable trial.`,
  },
  OWN_BASELINE: {
    meaning:
      'The hand is charted as one that norms do not fit: it is compared with its own earlier figures only',
    issue: 'business-rule',
    severity: 'information',
    text: () =>
      'Not applied: the hand is charted as one that norms do not fit. Its own earlier figures are its norm; see the change.',
  },
  MEASURE_MISSING: {
    meaning: 'The reference set needs a measure that the record does not hold near the test',
    issue: 'required',
    severity: 'information',
    text: ({ needs }) =>
      `Not applied: it needs ${needs ?? 'a measure'}, which the record does not hold near the test.`,
  },
  MEASURE_OUTSIDE_SET: {
    meaning: 'The reference set does not cover the height or body mass index',
    issue: 'not-supported',
    severity: 'information',
    text: ({ measure, value }) =>
      `Not applied: it has no row for ${value ? `a ${measureWord(measure ?? '')} of ${value}` : 'the measure'}.`,
  },
  FIGURE_UNKNOWN: {
    meaning: 'The row is printed in the source and its figure is not known here',
    issue: 'not-supported',
    severity: 'information',
    text: ({ note }) => `Not applied: the figure of this row is not known here${note ? ` (${note})` : ''}.`,
  },
};

/** Of two possible rows one may have no figure. */
function unknownText(rows: string | undefined): string {
  return rows ? ` The figure for ${rows} is not known here.` : '';
}

/** e.g. `body mass index`; `measure` for what is not known. */
export function measureWord(kind: string): string {
  return MEASURE_WORDS[kind] ?? 'measure';
}

const MEASURE_WORDS: Readonly<Record<string, string>> = {
  height: 'height',
  weight: 'weight',
  bmi: 'body mass index',
  'gait-speed': 'gait speed',
  'five-chair-rises': 'time of five chair rises',
  handedness: 'handedness',
};

/** Why a measure other than grip was not used. */
const MEASURE_FAULTS: Readonly<Record<string, string>> = {
  status: 'its status rules it out',
  time: 'its date is missing or lacks the day',
  future: 'it is charted for a later day',
  value: 'it has no plain value',
  unit: 'its unit is not one of the UCUM units that are read',
  range: 'its value is not possible',
  modifier: 'it carries an element that may change its meaning',
  subject: 'it does not say whose it is',
  code: 'its code says several things at once',
};
