/** One evaluation as a page: what came in, what was made of it, by which versions, and which record says so. */
import type { Asked } from '../evaluate.ts';
import { type Evaluation, usedTrials } from '../evaluation.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';
import { cautionSentence, notCharted } from '../wording/caution-statements.ts';
import { changeSentence, nextSentence, yardstickNotes } from '../wording/change-statements.ts';
import { chartSentence } from '../wording/chart-sentence.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { intendedUse, NOT_READ, nutritionReading } from '../wording/intended-use.ts';
import { noticeSentence } from '../wording/notices.ts';
import { ageText, patientSentence, stopOf, verdictsIn } from '../wording/session-statements.ts';
import {
  capital,
  dateText,
  dominanceText,
  lowerFirst,
  momentText,
  refusalSentence,
  sexText,
} from '../wording/statements.ts';
import { companionSentences, courseSentences, mismatchSentence } from '../wording/verdict-statements.ts';
import { notAppliedLines, renderFigures, renderSets, renderTrials } from './evidence.ts';
import { type Html, html, list, NOTHING, part, table } from './html.ts';
import { renderPage } from './page.ts';

/** What a page is written from. */
export interface ReviewedEvaluation {
  readonly evaluation: Evaluation;
  readonly asked: Asked;
  /** Of the record that keeps it. */
  readonly record: { readonly seq: number; readonly hash: string; readonly recordedAt: string };
  /** What this version of the software makes of the recorded readings is what was recorded. */
  readonly isUnchanged: boolean;
  /** What clinicians answered to its cards, oldest first; absent or empty: the page says nothing of it. */
  readonly feedback?: readonly ReviewedFeedback[] | undefined;
}

export interface ReviewedFeedback {
  /** RFC 3339, UTC. */
  readonly at: string;
  readonly outcome: string;
  /** Why it was overridden, in words; null when not said. */
  readonly reason: string | null;
}

export function renderEvaluationPage(reviewed: ReviewedEvaluation): string {
  const { evaluation, isUnchanged } = reviewed;
  const latest = evaluation.interpretations.at(-1);
  const title = latest
    ? `Grip strength, ${dateText(latest.testedOn)}`
    : 'Grip strength: nothing could be read';
  const body = html`<h1>${title}</h1>
<p class="open">Open access: anyone who reaches this address sees this page. Do not pass the address on.</p>
${latest && isUnchanged ? html`<p class="said">${chartText(evaluation, latest)}</p>` : NOTHING}
${renderFacts(reviewed)}
${isUnchanged ? evaluation.interpretations.toReversed().map((each) => renderSession(evaluation, each)) : CHANGED}
${renderRefusals(evaluation.refusals)}
${part('Of the request', list((evaluation.notices ?? []).map(noticeSentence)))}
${renderFeedback(reviewed)}
${renderEvidence(reviewed)}
<footer><p>${intendedUse(latest?.ageYears ?? null)}</p></footer>`;
  return renderPage(title, body);
}

const CHANGED = html`<p class="stop">The installed version of the software makes other findings of the recorded readings than
those that were recorded, so none are shown. The record itself is whole: <code>grip-cds audit show</code> prints it.</p>`;

function renderFacts({ evaluation, asked }: ReviewedEvaluation): Html {
  const { patient, sex, panel, at, engine, interpretations } = evaluation;
  const latest = interpretations.at(-1);
  const age = latest && latest.ageYears !== null ? ageText(latest) : 'not used';
  const facts: readonly (readonly [string, string])[] = [
    ['Patient', patient],
    ['Age at the test', age],
    ['Sex', sexText(sex)],
    ['Dominant hand', dominanceText(latest?.dominant) || 'not in the record'],
    ['Panel', `${panel.panel.ref.id} ${panel.panel.ref.version} (${panel.audience})`],
    ['Evaluated', `${momentText(at)} UTC by ${engine.name} ${engine.version}`],
    ['Asked', askedText(asked)],
  ];
  return html`<dl>${facts.map(
    ([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>
`,
  )}</dl>`;
}

function askedText({ door, client, user, hook }: Asked): string {
  const by = user ? `by ${user}, client ${client}` : `by client ${client}`;
  if (!hook) return `${by}, through the ${door === 'fhir-operation' ? 'FHIR operation' : door}`;
  const stay = hook.encounter ? `, ${hook.encounter}` : '';
  return `${by}, through ${hook.service} (${hook.hook}${stay})`;
}

function renderSession(evaluation: Evaluation, interpretation: Interpretation): Html {
  const { panel, at } = evaluation;
  const stop = stopOf(interpretation);
  const { changes, nextFrom } = interpretation;
  const earlier = earlierFigures(evaluation, interpretation);
  return html`<h2>Session of ${dateText(interpretation.testedOn)}</h2>
${stop ? html`<p class="stop"><strong>${refusalSentence(stop)}</strong></p>` : NOTHING}
${part('What came in', renderTrials(evaluation, interpretation))}
${part('Figures', renderFigures(interpretation))}
${part('What each reference set says', renderSets(evaluation, interpretation))}
${part('Not applied', list(notAppliedLines(evaluation, interpretation)))}
${part('Cautions', list(cautionLines(evaluation, interpretation)))}
${part('Over time', list([...changes.map((each) => changeSentence(each, panel, earlier(each.hand, each.since))), ...yardstickNotes(changes, panel), nextSentence(nextFrom, at)].filter(Boolean)))}
${part('What these sets say besides', list(besides(evaluation, interpretation)))}
${part('In a nutrition assessment', list(nutritionReading(interpretation)))}
${part('What was not known', list(stop ? [] : [NOT_READ, notCharted(usedTrials(evaluation, interpretation))].filter(Boolean)))}
${part('For the chart', html`<blockquote>${chartText(evaluation, interpretation)}</blockquote>`)}
${part('For the patient', quoted(patientSentence(interpretation)))}`;
}

function chartText(evaluation: Evaluation, interpretation: Interpretation): string {
  const { sex, panel, refusals } = evaluation;
  return chartSentence(interpretation, panel, {
    sex,
    trials: usedTrials(evaluation, interpretation),
    refusals,
  });
}

function quoted(text: string): Html {
  return text === '' ? NOTHING : html`<blockquote>${text}</blockquote>`;
}

function cautionLines(evaluation: Evaluation, interpretation: Interpretation): readonly string[] {
  const { panel } = evaluation;
  const { results, cautions, summaries } = interpretation;
  const earlier = earlierFigures(evaluation, interpretation);
  const unit = summaries[0]?.charted.unit;
  const said = cautions.map((caution) => cautionSentence(caution, { before: earlier(caution.hand), unit }));
  const open = results.flatMap((result) =>
    result.kind === 'refusal' && result.columns.length > 0 ? [refusalSentence(result)] : [],
  );
  const trials = results.flatMap((result) =>
    result.kind === 'refusal' && result.trial !== null ? [refusalLine(result)] : [],
  );
  const mismatches = results
    .flatMap(verdictsIn)
    .flatMap(({ set, mismatches = [] }) =>
      mismatches.map((each) => `${panel.describe(set).shortTitle}: ${mismatchSentence(each, panel)}`),
    );
  return [...new Set([...open, ...trials, ...mismatches, ...said])];
}

function refusalLine(refusal: Refusal): string {
  const hand = refusal.hand ? `${capital(refusal.hand)} hand: ` : '';
  return `${hand}${refusalSentence(refusal)}${refusal.trial ? ` (${refusal.trial})` : ''}`;
}

/** Meaning, course and companions of the sets that say reduced; the remark of the others. */
function besides({ panel }: Evaluation, { results }: Interpretation): readonly string[] {
  return panel.panel.sets.flatMap(({ ref }) => {
    const verdicts = results.filter(({ set }) => set?.id === ref.id).flatMap(verdictsIn);
    const about = panel.describe(ref);
    const reduced = verdicts.find(({ outcome }) => outcome === 'reduced');
    if (!reduced)
      return verdicts.length > 0 && about.meaning?.remark
        ? [`${about.shortTitle}: ${about.meaning.remark}.`]
        : [];
    const said = [
      ...(about.meaning ? [`${about.meaning.reduced}.`] : []),
      ...courseSentences(reduced),
      ...companionSentences(reduced, about),
    ];
    return said.length > 0 ? [`${about.shortTitle}: ${lowerFirst(said.join(' '))}`] : [];
  });
}

function renderRefusals(refusals: readonly Refusal[]): Html {
  const rows = refusals.map((refusal) => [
    refusal.trial ?? 'The request',
    refusalSentence(refusal),
    html`<code>${refusal.code}</code>`,
    refusal.expression === null ? 'not one element' : html`<code>${refusal.expression}</code>`,
  ]);
  return part(
    'Not used',
    table('Entries that were not used, and why', ['Entry', 'Why', 'Code', 'Where'], rows),
  );
}

function renderFeedback({ feedback = [] }: ReviewedEvaluation): Html {
  const rows = feedback.map(({ at, outcome, reason }) => [
    `${momentText(at)} UTC`,
    outcome,
    reason ?? 'no reason given',
  ]);
  if (rows.length === 0) return NOTHING;
  return html`<h2>What clinicians answered</h2>${table('Feedback on the cards of this evaluation', ['When', 'Outcome', 'Reason'], rows)}`;
}

function renderEvidence({ evaluation, record }: ReviewedEvaluation): Html {
  const { panel } = evaluation;
  const rows = panel.references.map((reference) => [
    html`<code>${reference.id} ${reference.version}</code>`,
    reference.kind,
    panel.sourceOf(reference),
    html`<code>${reference.digest}</code>`,
  ]);
  return html`<h2>Evidence and record</h2>
${table('Released files that were applied', ['File and version', 'Kind', 'What it rests on', 'SHA-256'], rows)}
<dl><dt>Record</dt><dd>${record.seq}, written ${momentText(record.recordedAt)} UTC</dd>
<dt>Evaluation</dt><dd><code>${evaluation.id}</code></dd>
<dt>Hash of the record</dt><dd><code>${record.hash}</code></dd></dl>
<p><code>grip-cds audit show ${evaluation.id}</code> prints the record; <code>grip-cds audit verify</code> checks the chain, and <code>grip-cds audit replay</code> redoes every answer.</p>`;
}

/** For an address that is no evaluation. */
export function renderNotFoundPage(): string {
  const title = 'There is no such evaluation';
  const body = html`<h1>${title}</h1>
<p>This installation has no record of an evaluation with this number. Check the address, or ask who runs the service.</p>`;
  return renderPage(title, body);
}
