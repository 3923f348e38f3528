/**
 * Findings -> FHIR R4 Observations (STANDARDS FI1 to FI9): new resources, never an edit of a trial; labelled as
 * asserted by an algorithm; `preliminary` until a clinician accepts them. Members that do not apply are
 * undefined, which JSON leaves out.
 */
import type { CodeableConcept, Observation } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Evaluation, Origin, ResultState } from '../evaluation.ts';
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
  CANONICAL,
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
  chartedSources,
  effectiveOf,
  identityOf,
  method,
  narrative,
  notes,
  quantity,
  recordNote,
  referenceRange,
  type Sources,
  site,
  sourcesOf,
  standing,
  type WriteContext,
} from './observation-parts.ts';
import { inState } from './revision.ts';

export function writeSummaryObservation(summary: Summary, context: WriteContext): Written {
  const figure = withKilograms(summary);
  const text = `Grip strength, ${summaryText(summary.kind, summary.hand)}`;
  return writeObservation(
    context,
    `${text}: ${figure}. ${provisionalText(summary.provisional)}`.trim(),
    'grip-hand-summary',
    {
      code: { coding: [gripCoding(summary.kind)], text },
      valueQuantity: quantity(summary.charted),
      bodySite: site(summary.hand),
      method: method(
        context.evaluation,
        [context.evaluation.panel.panel.rules.trialsPerHand.ref],
        summaryText(summary.kind, summary.hand),
      ),
      sources: chartedSources(context, summary.trials),
      sets: [context.evaluation.panel.panel.rules.trialsPerHand.ref],
      note: notes([provisionalText(summary.provisional), ...cautionNotes(context, summary.hand)]),
    },
  );
}

export function writeVerdictObservation(verdict: Verdict, context: WriteContext): Written {
  const { panel } = context.evaluation;
  const about = panel.describe(verdict.set);
  const outcome: GripCode = verdict.outcome;
  return writeObservation(context, verdictSentence(verdict, panel), 'grip-interpretation', {
    code: setCode(verdict.set, about.shortTitle, verdict.hand),
    valueCodeableConcept: { coding: [gripCoding(outcome)] },
    interpretation: interpretationOf(verdict),
    bodySite: site(verdict.hand),
    method: method(context.evaluation, setsOf(verdict), summaryText(verdict.summary, verdict.hand)),
    referenceRange: [referenceRange(verdict, about.citation)],
    sources: sourcesOf(verdict.summary, verdict.hand, context, othersOf(verdict, context)),
    sets: setsOf(verdict),
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
    ]),
  });
}

function setsOf({ set, rule }: Verdict): readonly SetRef[] {
  return rule ? [set, rule] : [set];
}

/** What a verdict rests on besides the trials of its session: measures, the writing hand, the sessions of its course. */
function othersOf(verdict: Verdict, { evaluation, interpretation }: WriteContext): readonly string[] {
  const { course, row } = verdict;
  const from = course?.lastNotReduced ?? course?.reducedSince;
  const before = evaluation.input.sessions.filter(
    ({ testedOn }) => from !== undefined && testedOn >= from && testedOn < interpretation.testedOn,
  );
  return [
    ...measuresOf(verdict).map(({ reference }) => reference),
    ...(row.hand === undefined ? [] : (evaluation.handedness ?? [])),
    ...before
      .flatMap(({ trials, charted = [] }) => [...trials, ...charted])
      .map(({ reference }) => reference),
  ];
}

/** Every measure of the record that a verdict rests on. */
function measuresOf({ divisor, row, companions = [] }: Verdict): readonly MeasureUsed[] {
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
export function writeRefusalObservation(refusal: Refusal & { set: SetRef }, context: WriteContext): Written {
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
  return writeObservation(context, sentence, 'grip-interpretation', {
    code: setCode(refusal.set, about.shortTitle, refusal.hand),
    dataAbsentReason: {
      coding: [{ system: DATA_ABSENT_REASON, code: ABSENT_REASON[refusal.code] ?? 'unknown' }],
      text: refusalSentence(refusal),
    },
    bodySite: site(refusal.hand),
    method: method(context.evaluation, [refusal.set], ''),
    sources: column
      ? sourcesOf(
          column.summary,
          column.hand,
          context,
          refusal.columns.flatMap((each) => othersOf(each, context)),
        )
      : chartedSources(context, context.interpretation.trials),
    sets: [refusal.set],
    component: columns.length > 0 ? columns : undefined,
    note: notes([
      sentence,
      about.ageReason ?? '',
      ...(column ? [...cautionNotes(context, refusal.hand), NOT_READ] : []),
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
  | 'component'
> & {
  readonly sources: Sources;
  /** Sets and rules it was read with, besides the panel. */
  readonly sets: readonly SetRef[];
};

/** An Observation, and what its Provenance has to name. */
export interface Written {
  readonly resource: Observation;
  /** As it was first filed. */
  readonly first: Observation;
  readonly origin: Origin;
  /** It was not current and stands again with this evaluation. */
  readonly again: ResultState | undefined;
  readonly sources: Sources;
  readonly sets: readonly SetRef[];
}

type Profile = 'grip-hand-summary' | 'grip-interpretation';

/** One literal, in the order of the FHIR definition. */
function writeObservation(
  context: WriteContext,
  sentence: string,
  profile: Profile,
  own: Particular,
): Written {
  const { evaluation, device, filing } = context;
  const { sources, sets, ...said } = own;
  // References among our own resources follow from the rest.
  const identity = identityOf(context, sources, [sentence, said, sources.charted]);
  const id = filing && uuidFor(filing.client, identity);
  const origin = originOf(context, id);
  const { summary, charted } = sources;
  const resource: Observation = {
    resourceType: 'Observation',
    id,
    meta: {
      ...(filing ? { versionId: '1', lastUpdated: origin.at } : {}),
      profile: [`${CANONICAL}/StructureDefinition/${profile}`],
      security: [{ system: OBSERVATION_VALUE, code: 'AIAST' }],
    },
    text: { status: 'generated', div: narrative([sentence]) },
    identifier: [{ system: 'urn:ietf:rfc:3986', value: `urn:uuid:${identity}` }],
    status: 'preliminary',
    category: CATEGORY,
    code: own.code,
    subject: { reference: evaluation.patient },
    effectiveDateTime: effectiveOf(context, sources),
    issued: origin.at,
    valueQuantity: own.valueQuantity,
    valueCodeableConcept: own.valueCodeableConcept,
    dataAbsentReason: own.dataAbsentReason,
    interpretation: own.interpretation,
    note: [...(own.note ?? []), ...(notes([recordNote(origin), INTENDED_USE_SHORT]) ?? [])],
    bodySite: own.bodySite,
    method: own.method,
    device,
    referenceRange: own.referenceRange,
    derivedFrom: [...(summary ? [summary] : []), ...charted],
    component: own.component,
  };
  const again = standsAgain(origin, evaluation);
  const state = again ?? origin.state;
  const now = state ? inState(resource, state) : resource;
  return { resource: now, first: resource, origin, again, sources, sets };
}

/** What was withdrawn or replaced and is given again stands again: a version of its own, by this evaluation. */
function standsAgain({ state, removed }: Origin, { id: record, at }: Evaluation): ResultState | undefined {
  if (!state || state.kind === 'reinstated' || removed) return undefined;
  return { kind: 'reinstated', version: state.version + 1, record, at };
}

/** Of what was filed before, that evaluation; else this one. */
function originOf({ evaluation, filing }: WriteContext, id: string | undefined): Origin {
  const before = id === undefined ? undefined : filing?.filedBefore('Observation', id);
  return before ?? { record: evaluation.id, at: evaluation.at };
}

const CATEGORY: CodeableConcept[] = [
  { coding: [{ system: OBSERVATION_CATEGORY, code: 'exam' }] },
  { coding: [{ system: US_CORE_CATEGORY, code: 'functional-status' }] },
];
