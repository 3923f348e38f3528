/**
 * Findings -> FHIR R4 Observations (STANDARDS FI1 to FI9): new resources, never an edit of a trial; labelled as
 * asserted by an algorithm; `preliminary` until a clinician accepts them. Members that do not apply are
 * undefined, which JSON leaves out.
 */
import type { CodeableConcept, Observation } from 'fhir/r4.js';
import type { MeasureUsed, Refusal, RefusalCode, Summary, Verdict } from '../interpret/finding.ts';
import type { Hand } from '../interpret/measurement.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import { INTENDED_USE_SHORT, NOT_READ } from '../wording/intended-use.ts';
import {
  capital,
  provisionalText,
  refusalSentence,
  sexText,
  summaryText,
  withKilograms,
} from '../wording/statements.ts';
import { companionSentences, mismatchSentence, verdictSentence } from '../wording/verdict-statements.ts';
import {
  DATA_ABSENT_REASON,
  type GripCode,
  gripCoding,
  OBSERVATION_CATEGORY,
  OBSERVATION_INTERPRETATION,
  OBSERVATION_VALUE,
  US_CORE_CATEGORY,
} from './codes.ts';
import {
  cautionNotes,
  derivedFrom,
  identifier,
  method,
  narrative,
  notes,
  quantity,
  recordNote,
  referenceRange,
  site,
  standing,
  trialReferences,
  type WriteContext,
} from './observation-parts.ts';

export function writeSummaryObservation(summary: Summary, context: WriteContext): Observation {
  const figure = withKilograms(summary);
  const text = `Grip strength, ${summaryText(summary.kind, summary.hand)}`;
  return writeObservation(context, `${text}: ${figure}. ${provisionalText(summary.provisional)}`.trim(), {
    code: { coding: [gripCoding(summary.kind)], text },
    valueQuantity: quantity(summary.charted),
    bodySite: site(summary.hand),
    method: method(
      context.evaluation,
      [context.evaluation.panel.panel.rules.trialsPerHand.ref],
      summaryText(summary.kind, summary.hand),
    ),
    derivedFrom: trialReferences(summary.trials),
    note: notes([
      provisionalText(summary.provisional),
      ...cautionNotes(context, summary.hand),
      recordNote(context),
      INTENDED_USE_SHORT,
    ]),
  });
}

export function writeVerdictObservation(verdict: Verdict, context: WriteContext): Observation {
  const { panel } = context.evaluation;
  const about = panel.describe(verdict.set);
  const outcome: GripCode = verdict.outcome;
  return writeObservation(context, verdictSentence(verdict, panel), {
    code: setCode(verdict.set, about.shortTitle, verdict.hand),
    valueCodeableConcept: { coding: [gripCoding(outcome)] },
    interpretation: interpretationOf(verdict),
    bodySite: site(verdict.hand),
    method: method(
      context.evaluation,
      verdict.rule ? [verdict.set, verdict.rule] : [verdict.set],
      summaryText(verdict.summary, verdict.hand),
    ),
    referenceRange: [referenceRange(verdict, about.citation)],
    derivedFrom: derivedFrom(verdict.summary, verdict.hand, context, measuresOf(verdict)),
    component: standing(verdict),
    note: notes([
      provisionalText(verdict.provisional),
      verdict.conversion
        ? `Compared in ${verdict.compared.unit}: ${verdict.compared.value} (${verdict.conversion}).`
        : '',
      about.ageReason ? `Applied from age ${verdict.row.ageMin} by the panel: ${about.ageReason}.` : '',
      about.summaryReason ? `Summary chosen by the panel: ${about.summaryReason}.` : '',
      about.unprovenReason ? `Taken by the panel though not fully verified: ${about.unprovenReason}.` : '',
      ...companionSentences(verdict, about),
      ...(verdict.mismatches ?? []).map((mismatch) => capital(mismatchSentence(mismatch, panel))),
      `Sex of the row: ${sexText(context.evaluation.sex)}. Figures of the row: ${verdict.row.verification}.`,
      ...cautionNotes(context, verdict.hand),
      outcome === 'reduced' ? NOT_READ : '',
      recordNote(context),
      INTENDED_USE_SHORT,
    ]),
  });
}

/** Every measure of the record that a verdict rests on. */
export function measuresOf({ divisor, row, companions = [] }: Verdict): readonly MeasureUsed[] {
  return [...(divisor?.measures ?? []), ...(row.stratum ? [row.stratum.measure] : []), ...companions];
}

/**
 * L for reduced; N only within a table of norms: not being below a consensus cut-point is not being normal.
 */
function interpretationOf({ outcome, set }: Verdict): CodeableConcept[] | undefined {
  const code = outcome === 'reduced' ? 'L' : set.kind === 'table' ? 'N' : undefined;
  return code ? [{ coding: [{ system: OBSERVATION_INTERPRETATION, code }] }] : undefined;
}

/** FI4: a set that could not be read has no value, a reason and a note; for unusable sex, both columns. */
export function writeRefusalObservation(
  refusal: Refusal & { set: SetRef },
  context: WriteContext,
): Observation {
  const { panel } = context.evaluation;
  const about = panel.describe(refusal.set);
  const sentence = `${about.shortTitle}: ${refusalSentence(refusal)}`;
  const columns = refusal.columns.map((column) => ({
    code: { coding: [gripCoding(`column-${column.sex}`)] },
    valueCodeableConcept: { coding: [gripCoding(column.outcome)], text: verdictSentence(column, panel) },
    // Two columns of one sex are told apart by their ages.
    referenceRange: [referenceRange(column, about.citation)],
  }));
  const [column] = refusal.columns;
  return writeObservation(context, sentence, {
    code: setCode(refusal.set, about.shortTitle, refusal.hand),
    dataAbsentReason: {
      coding: [{ system: DATA_ABSENT_REASON, code: ABSENT_REASON[refusal.code] ?? 'unknown' }],
      text: refusalSentence(refusal),
    },
    bodySite: site(refusal.hand),
    method: method(context.evaluation, [refusal.set], ''),
    derivedFrom: column
      ? derivedFrom(column.summary, column.hand, context, refusal.columns.flatMap(measuresOf))
      : trialReferences(context.interpretation.trials),
    component: columns.length > 0 ? columns : undefined,
    note: notes([
      sentence,
      about.ageReason ?? '',
      ...(column ? [...cautionNotes(context, refusal.hand), NOT_READ] : []),
      recordNote(context),
      INTENDED_USE_SHORT,
    ]),
  });
}

const ABSENT_REASON: Partial<Record<RefusalCode, string>> = {
  AGE_OUTSIDE_SET: 'not-applicable',
  MEASURE_OUTSIDE_SET: 'not-applicable',
  OWN_BASELINE: 'not-applicable',
  HAND_NOT_MEASURED: 'not-performed',
};

export function isSetRefusal(refusal: Refusal): refusal is Refusal & { set: SetRef } {
  return refusal.set !== null;
}

/** Our own code only: no LOINC code says "read against a reference set". */
function setCode(set: SetRef, shortTitle: string, hand: Hand | null): CodeableConcept {
  const code: GripCode = set.kind === 'table' ? 'strength-against-norm' : 'strength-against-cut-point';
  return {
    coding: [gripCoding(code)],
    text: `Grip strength against ${shortTitle}${hand ? `, ${hand} hand` : ''}`,
  };
}

type Particular = Pick<
  Observation,
  | 'code'
  | 'valueQuantity'
  | 'valueCodeableConcept'
  | 'dataAbsentReason'
  | 'interpretation'
  | 'note'
  | 'bodySite'
  | 'method'
  | 'referenceRange'
  | 'derivedFrom'
  | 'component'
>;

/** One literal, in the order of the FHIR definition. */
function writeObservation(context: WriteContext, sentence: string, own: Particular): Observation {
  const { evaluation, interpretation, device } = context;
  // Not the key of the record: it is another each time.
  const noted = (own.note ?? []).map(({ text }) => text).filter((text) => text !== recordNote(context));
  return {
    resourceType: 'Observation',
    meta: { security: [{ system: OBSERVATION_VALUE, code: 'AIAST' }] },
    text: { status: 'generated', div: narrative([sentence]) },
    identifier: identifier(context, [own.code.text, own.method?.text, sentence, ...noted]),
    status: 'preliminary',
    category: CATEGORY,
    code: own.code,
    subject: { reference: evaluation.patient },
    effectiveDateTime: interpretation.effective,
    issued: evaluation.at,
    valueQuantity: own.valueQuantity,
    valueCodeableConcept: own.valueCodeableConcept,
    dataAbsentReason: own.dataAbsentReason,
    interpretation: own.interpretation,
    note: own.note,
    bodySite: own.bodySite,
    method: own.method,
    device,
    referenceRange: own.referenceRange,
    derivedFrom: own.derivedFrom,
    component: own.component,
  };
}

const CATEGORY: CodeableConcept[] = [
  { coding: [{ system: OBSERVATION_CATEGORY, code: 'exam' }] },
  { coding: [{ system: US_CORE_CATEGORY, code: 'functional-status' }] },
];
