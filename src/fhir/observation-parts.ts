/** The elements that the Observations which we write are made of. */
import type {
  Annotation,
  CodeableConcept,
  ObservationComponent,
  ObservationReferenceRange,
  Quantity,
  Reference,
} from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import { type Evaluation, type Filing, type Origin, usedTrials } from '../evaluation.ts';
import { exact, toDecimalText } from '../interpret/exact.ts';
import type { CautionCode, FigureText, Interpretation, Verdict } from '../interpret/finding.ts';
import type { Hand, Sex, SummaryKind } from '../interpret/measurement.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import { convertForce } from '../interpret/units.ts';
import { cautionSentence } from '../wording/caution-statements.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { limitText, rowFigures, rowText, standingText } from '../wording/statements.ts';
import {
  gripCoding,
  HAND_STRUCTURE,
  REFERENCE_RANGE_MEANING,
  SEX_SNOMED,
  SNOMED,
  UCUM,
  ucumOf,
} from './codes.ts';
import { figureContent } from './source-content.ts';

/** What the Observations of one session refer to. */
export interface WriteContext {
  readonly evaluation: Evaluation;
  readonly interpretation: Interpretation;
  readonly device: Reference;
  /** Reference of a summary Observation in the same answer; undefined when they are not written. */
  readonly summaryReference?: (kind: SummaryKind, hand: Hand | null) => Reference | undefined;
  /** Absent where a client files them itself. */
  readonly filing?: Filing | undefined;
}

/** Observations in the record, each once, whole even where a component was read; one without an id can only be named. */
export function trialReferences(references: readonly string[]): Reference[] {
  const whole = references.map((each) => (each.startsWith('#') ? each : each.replace(/#.*$/s, '')));
  return [...new Set(whole)].map((reference) =>
    reference.startsWith('#')
      ? { display: `Observation without an id, ${reference.slice(1)}` }
      : { reference },
  );
}

/** XHTML of plain sentences, escaped. */
export function narrative(sentences: readonly string[]): string {
  return `<div xmlns="http://www.w3.org/1999/xhtml">${sentences.map(paragraph).join('')}</div>`;
}

export function paragraph(text: string): string {
  return `<p>${text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;')}</p>`;
}

/** A force in UCUM force units; the number as shown to the reader. */
export function quantity(figure: FigureText): Quantity {
  return { value: Number(figure.value), unit: figure.unit, system: UCUM, code: ucumOf(figure.unit) };
}

export function site(hand: Hand | null): CodeableConcept | undefined {
  return hand ? { coding: [{ system: SNOMED, ...HAND_STRUCTURE[hand] }] } : undefined;
}

export function notes(texts: readonly string[]): Annotation[] | undefined {
  const said = texts.filter((text) => text !== '');
  return said.length > 0 ? said.map((text) => ({ text })) : undefined;
}

/** The way from a filed Observation to its audit record. */
export function recordNote({ record }: Origin): string {
  return `On record as evaluation ${record}.`;
}

/** Cautions of this hand and of the session; a figure of either hand carries those of both. */
export function cautionNotes(
  { evaluation, interpretation }: WriteContext,
  hand: Hand | null,
): readonly string[] {
  const earlier = earlierFigures(evaluation, interpretation);
  const unit = interpretation.summaries[0]?.charted.unit;
  return interpretation.cautions
    .filter((caution) => hand === null || caution.hand === null || caution.hand === hand)
    .map((caution) => cautionSentence(caution, { before: earlier(caution.hand), unit }));
}

/** What a result rests on. */
export interface Sources {
  /** The summary it was read from, when that is in the same answer. */
  readonly summary?: Reference | undefined;
  /** Every trial used, and the other measures. */
  readonly charted: readonly Reference[];
  /** The same as the core knows them: of a component, not of its Observation. */
  readonly basis: readonly string[];
  /** Those of its own session. */
  readonly own: readonly string[];
  /** What its cautions compare it with. */
  readonly context: readonly string[];
}

/** Of a result that rests on these, and on no summary in the same answer. */
export function chartedSources(
  context: WriteContext,
  own: readonly string[],
  others: readonly string[] = [],
): Sources {
  const basis = [...own, ...others];
  return { charted: trialReferences(basis), basis, own, context: comparedWith(context) };
}

/** The trials of the earlier sessions, where a caution compares this session with one of them. */
function comparedWith({ evaluation, interpretation }: WriteContext): readonly string[] {
  const compares = interpretation.cautions.some(({ code }) => COMPARING.has(code));
  if (!compares) return [];
  const before = evaluation.input.sessions.filter(({ testedOn }) => testedOn <= interpretation.testedOn);
  const figures = before.flatMap(({ trials, charted = [] }) => [...trials, ...charted]);
  return figures.map(({ reference }) => reference).filter((each) => !interpretation.trials.includes(each));
}

const COMPARING: ReadonlySet<CautionCode> = new Set(['CHANGE_LIKE_UNIT', 'TIME_OF_DAY_DIFFERS']);

export function sourcesOf(
  kind: SummaryKind,
  hand: Hand | null,
  context: WriteContext,
  others: readonly string[] = [],
): Sources {
  const summary = context.interpretation.summaries.find((own) => own.kind === kind && own.hand === hand);
  return {
    summary: context.summaryReference?.(kind, hand),
    ...chartedSources(context, summary?.trials ?? [], others),
  };
}

/** Moment of the first trial that it rests on, as charted: another trial of the session may yet be taken back. */
export function effectiveOf({ evaluation, interpretation }: WriteContext, { basis }: Sources): string {
  const first = usedTrials(evaluation, interpretation).find(({ reference }) => basis.includes(reference));
  return first?.effective ?? interpretation.effective;
}

/**
 * A UUID that is the same whenever the same is said of the same readings by the same panel and sets, whoever asks and
 * whenever: a record can tell that it has this one already.
 * @param said everything that the Observation says, but for what is another each time
 */
export function identityOf(
  { evaluation, interpretation }: WriteContext,
  { basis }: Sources,
  said: unknown,
): string {
  const rests = usedTrials(evaluation, interpretation).filter(({ reference }) => basis.includes(reference));
  const read = rests.map((figure) => [figure.reference, figureContent(figure)]);
  return uuidFor('interpretation', JSON.stringify([evaluation.patient, read, said]));
}

/** FI8: engine, panel, set and rule, each with its digest, and how the trials were summarised. */
export function method({ engine, panel }: Evaluation, sets: readonly SetRef[], how: string): CodeableConcept {
  const references = [panel.panel.ref, ...sets].map(
    ({ kind, id, version, digest }) => `${kind} ${id}|${version} sha256:${digest}`,
  );
  return { text: [`${engine.name} ${engine.version}`, ...references, how].filter(Boolean).join('; ') };
}

/**
 * Below a strict limit is reduced, so the limit is the low end of the normal range, in the unit as charted
 * (STANDARDS FI5), or over the measure where the set compares that; the text gives the published limit. R4's `low`
 * is inclusive: where the limit itself counts as reduced it would say the opposite, and only the text can say it.
 */
export function referenceRange(verdict: Verdict, citation: string): ObservationReferenceRange {
  const { limit, row, sex } = verdict;
  const figures = row.mean ? ` (${rowFigures(verdict)})` : '';
  const years = (value: number) => ({ value, unit: 'years', system: UCUM, code: 'a' });
  return {
    low: limit.operator === '<' ? quantity(asCharted(verdict)) : undefined,
    type: { coding: [{ system: REFERENCE_RANGE_MEANING, code: 'normal' }] },
    appliesTo: [appliesTo(sex)],
    age: { low: years(row.ageMin), ...(row.ageMax === null ? {} : { high: years(row.ageMax) }) },
    text: `${rowText(verdict)}${figures}: reduced is ${limitText(verdict.limit)}. ${citation} (${verdict.set.id}|${verdict.set.version})`,
  };
}

function asCharted({ limit, charted }: Verdict): FigureText {
  const { unit } = limit;
  if (unit !== 'kg' && unit !== 'lb' && unit !== 'N') return limit;
  return {
    value: toDecimalText(convertForce(exact(limit.value), unit, charted.unit), 3),
    unit: charted.unit,
  };
}

function appliesTo(sex: Sex): CodeableConcept {
  return { coding: [{ system: SNOMED, ...SEX_SNOMED[sex] }] };
}

/** z-score and percentile of a table of means; the place among the centiles of one of centiles. */
export function standing(verdict: Verdict): ObservationComponent[] | undefined {
  const { zScore, percentile, centile } = verdict;
  if (centile)
    return [{ code: { coding: [gripCoding('centile-place')] }, valueString: standingText(verdict) }];
  if (verdict.band) return [{ code: { coding: [gripCoding('source-band')] }, valueString: verdict.band }];
  if (zScore === null || percentile === null) return undefined;
  const z = { value: rounded(zScore, 3), unit: '{z-score}', system: UCUM, code: '{z-score}' };
  const share = { value: rounded(percentile, 2), unit: '%', system: UCUM, code: '%' };
  return [
    { code: { coding: [gripCoding('z-score')] }, valueQuantity: z },
    { code: { coding: [gripCoding('percentile')] }, valueQuantity: share },
  ];
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
