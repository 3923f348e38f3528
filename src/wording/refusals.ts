/** The table of refusals: what each means, how grave it is, and what a reader is told to do. */
import type { RefusalCode } from '../interpret/finding.ts';
import { CHART_REFUSALS, measureWord, type RefusalText } from './chart-refusals.ts';

export const REFUSALS: Readonly<Record<RefusalCode, RefusalText>> = {
  ...CHART_REFUSALS,
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
  SUMMARY_CONFLICT: {
    meaning: 'Charted summaries of one hand and session contradict each other',
    issue: 'duplicate',
    severity: 'error',
    text: ({ reading, unit }) =>
      `Not used: ${reading} ${unit} is charted as a mean or highest, and another charted for the same hand and session contradicts it. Correct the record.`,
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
    text: ({ figure, unit, otherUnit, previous, before, readings }) =>
      readings
        ? `Not interpreted: the readings of the ${readings}, which is implausible for this person. Check each reading, then its unit, and correct the chart.`
        : previous
          ? `Not interpreted: ${figure} ${unit} is strong for this person and ${before ?? `${previous} ${unit}`} was measured before; ${figure} ${otherUnit} would fit. Check the unit on the instrument and correct the chart.`
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
      `The record gives no sex for the tables. Results for women and for men are both shown; the clinician chooses. The sex parameter for clinical use, charted on the patient, settles it.${
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
  SUMMARY_NOT_CHARTED: {
    meaning: 'The reference set is read from another figure than the one that was charted without its trials',
    issue: 'not-supported',
    severity: 'information',
    text: ({ needs, charted }) =>
      `Not applied: it is read from ${needs ?? 'the trials'}, and only a ${charted ?? 'figure'} is charted, without its trials. It is never guessed.`,
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
