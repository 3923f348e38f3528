/**
 * Findings -> FHIR R4 Observations (STANDARDS FI1 to FI9): new resources, never an edit of a trial; labelled as
 * asserted by an algorithm; `preliminary` until a clinician accepts them. Members that do not apply are
 * undefined, which JSON leaves out.
 */
import type {
  Annotation,
  CodeableConcept,
  Observation,
  ObservationComponent,
  ObservationReferenceRange,
  Quantity,
  Reference,
} from 'fhir/r4.js';
import type { Evaluation } from '../evaluation.ts';
import { exact, toDecimalText } from '../interpret/exact.ts';
import type {
  ForceText,
  Interpretation,
  Refusal,
  RefusalCode,
  Summary,
  Verdict,
} from '../interpret/finding.ts';
import type { Hand, Sex, SummaryKind } from '../interpret/measurement.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import { convertForce } from '../interpret/units.ts';
import {
  cautionSentence,
  forceText,
  INTENDED_USE_SHORT,
  limitText,
  provisionalText,
  refusalSentence,
  rowFigures,
  rowText,
  summaryText,
  verdictSentence,
} from '../statements.ts';
import {
  DATA_ABSENT_REASON,
  FORCE_UCUM,
  type GripCode,
  gripCoding,
  HAND_STRUCTURE,
  OBSERVATION_CATEGORY,
  OBSERVATION_INTERPRETATION,
  OBSERVATION_VALUE,
  REFERENCE_RANGE_MEANING,
  SEX_SNOMED,
  SNOMED,
  UCUM,
  US_CORE_CATEGORY,
} from './codes.ts';

/** What the Observations of one session refer to. */
export interface WriteContext {
  readonly evaluation: Evaluation;
  readonly interpretation: Interpretation;
  readonly device: Reference;
  /** Reference of a summary Observation in the same answer; undefined when they are not written. */
  readonly summaryReference?: (kind: SummaryKind, hand: Hand | null) => Reference;
}

export function writeSummaryObservation(summary: Summary, context: WriteContext): Observation {
  const figure = `${forceText(summary.charted)} (${forceText(summary.kilograms)})`;
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
    derivedFrom: summary.trials.map(trialReference),
    note: notes([provisionalText(summary.provisional), ...unitNotes(context)]),
  });
}

export function writeVerdictObservation(verdict: Verdict, context: WriteContext): Observation {
  const { panel } = context.evaluation;
  const about = panel.describe(verdict.set);
  const outcome: GripCode = verdict.outcome;
  const companions = about.companions.map(
    ({ name, rule, use }) => `Not evaluated here: ${name} ${rule} (${use}).`,
  );
  return writeObservation(context, verdictSentence(verdict, panel), {
    code: setCode(verdict.set, about.shortTitle, verdict.hand),
    valueCodeableConcept: { coding: [gripCoding(outcome)] },
    interpretation: [
      { coding: [{ system: OBSERVATION_INTERPRETATION, code: outcome === 'reduced' ? 'L' : 'N' }] },
    ],
    bodySite: site(verdict.hand),
    method: method(
      context.evaluation,
      verdict.rule ? [verdict.set, verdict.rule] : [verdict.set],
      summaryText(verdict.summary, verdict.hand),
    ),
    referenceRange: [referenceRange(verdict, about.citation)],
    derivedFrom: derivedFrom(verdict.summary, verdict.hand, context),
    component: standing(verdict),
    note: notes([
      provisionalText(verdict.provisional),
      verdict.conversion
        ? `Compared in ${verdict.compared.unit}: ${verdict.compared.value} (${verdict.conversion}).`
        : '',
      about.ageReason ? `Applied from age ${verdict.row.ageMin} by the panel: ${about.ageReason}.` : '',
      about.summaryReason ? `Summary chosen by the panel: ${about.summaryReason}.` : '',
      ...companions,
      `Sex of the row: ${verdict.sex}, from ${context.evaluation.sex.source}.`,
      ...unitNotes(context),
      INTENDED_USE_SHORT,
    ]),
  });
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
      ? derivedFrom(column.summary, column.hand, context)
      : context.interpretation.trials.map(trialReference),
    component: columns.length > 0 ? columns : undefined,
    note: notes([sentence, about.ageReason ?? '', INTENDED_USE_SHORT]),
  });
}

const ABSENT_REASON: Partial<Record<RefusalCode, string>> = {
  AGE_OUTSIDE_SET: 'not-applicable',
  SEX_NOT_USABLE: 'unknown',
};

export function isSetRefusal(refusal: Refusal): refusal is Refusal & { set: SetRef } {
  return refusal.set !== null;
}

/** A trial in the record; one that came without an id can only be named. */
export function trialReference(reference: string): Reference {
  return reference.startsWith('#')
    ? { display: `Observation without an id, ${reference.slice(1)}` }
    : { reference };
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

/** In the order of the FHIR definition. One literal: spreading made this the slowest step of a call. */
function writeObservation(context: WriteContext, sentence: string, own: Particular): Observation {
  const { evaluation, interpretation, device } = context;
  return {
    resourceType: 'Observation',
    meta: { security: [{ system: OBSERVATION_VALUE, code: 'AIAST' }] },
    text: { status: 'generated', div: narrative([sentence]) },
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

/** XHTML of plain sentences, escaped. */
export function narrative(sentences: readonly string[]): string {
  const escaped = (text: string) =>
    text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
  return `<div xmlns="http://www.w3.org/1999/xhtml">${sentences.map((text) => `<p>${escaped(text)}</p>`).join('')}</div>`;
}

/** A force in UCUM force units; the number as shown to the reader. */
function quantity(force: ForceText): Quantity {
  return { value: Number(force.value), unit: force.unit, system: UCUM, code: FORCE_UCUM[force.unit] };
}

function site(hand: Hand | null): CodeableConcept | undefined {
  return hand ? { coding: [{ system: SNOMED, ...HAND_STRUCTURE[hand] }] } : undefined;
}

function notes(texts: readonly string[]): Annotation[] | undefined {
  const said = texts.filter((text) => text !== '');
  return said.length > 0 ? said.map((text) => ({ text })) : undefined;
}

function unitNotes({ interpretation }: WriteContext): readonly string[] {
  return interpretation.cautions
    .filter(({ code }) => code === 'MASS_UNIT_READ_AS_FORCE')
    .map(cautionSentence);
}

/** The summary it was read from, when that is in the same answer, and every trial used. */
function derivedFrom(kind: SummaryKind, hand: Hand | null, context: WriteContext): Reference[] {
  const summary = context.interpretation.summaries.find((own) => own.kind === kind && own.hand === hand);
  const written = context.summaryReference?.(kind, hand);
  return [...(written ? [written] : []), ...(summary?.trials ?? []).map(trialReference)];
}

/** FI8: engine and every released file that led here, each with its digest, and how the trials were summarised. */
function method({ engine, panel }: Evaluation, sets: readonly SetRef[], how: string): CodeableConcept {
  const references = [panel.panel.ref, ...sets].map(
    ({ kind, id, version, digest }) => `${kind} ${id}|${version} sha256:${digest}`,
  );
  return { text: [`${engine.name} ${engine.version}`, ...references, how].filter(Boolean).join('; ') };
}

/**
 * The limit in the unit as charted, as STANDARDS FI5 asks. FHIR's `low` cannot say whether the limit itself is
 * reduced, nor hold a converted limit exactly: the text gives the published limit and its strictness.
 */
function referenceRange(verdict: Verdict, citation: string): ObservationReferenceRange {
  const { limit, row, sex, charted } = verdict;
  const figures = row.mean ? ` (${rowFigures(verdict)})` : '';
  const inCharted = toDecimalText(convertForce(exact(limit.value), limit.unit, charted.unit), 3);
  const years = (value: number) => ({ value, unit: 'years', system: UCUM, code: 'a' });
  return {
    low: quantity({ value: inCharted, unit: charted.unit }),
    type: { coding: [{ system: REFERENCE_RANGE_MEANING, code: 'normal' }] },
    appliesTo: [appliesTo(sex)],
    age: { low: years(row.ageMin), ...(row.ageMax === null ? {} : { high: years(row.ageMax) }) },
    text: `${rowText(verdict)}${figures}: reduced is ${limitText(limit)}. ${citation} (${verdict.set.id}|${verdict.set.version})`,
  };
}

function appliesTo(sex: Sex): CodeableConcept {
  return { coding: [{ system: SNOMED, ...SEX_SNOMED[sex] }] };
}

function standing(verdict: Verdict): ObservationComponent[] | undefined {
  if (verdict.zScore === null || verdict.percentile === null) return undefined;
  const z = { value: rounded(verdict.zScore, 3), unit: '{z-score}', system: UCUM, code: '{z-score}' };
  const percentile = { value: rounded(verdict.percentile, 2), unit: '%', system: UCUM, code: '%' };
  return [
    { code: { coding: [gripCoding('z-score')] }, valueQuantity: z },
    { code: { coding: [gripCoding('percentile')] }, valueQuantity: percentile },
  ];
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
