/** The body of a card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */

import { type Evaluation, usedTrials } from '../evaluation.ts';
import type { Change, Interpretation, Refusal } from '../interpret/finding.ts';
import { HANDS, type HandFigure, isChartedSummary, scaleOf } from '../interpret/measurement.ts';
import { conversionText } from '../interpret/units.ts';
import { notCharted } from '../wording/caution-statements.ts';
import { changeSentence, nextSentence, yardstickPeople } from '../wording/change-statements.ts';
import { chartSentence } from '../wording/chart-sentence.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { intendedUse, NOT_READ, nutritionInShort } from '../wording/intended-use.ts';
import { noticeSentence } from '../wording/notices.ts';
import { ageText, patientSentence, stopOf, verdictsIn } from '../wording/session-statements.ts';
import {
  capital,
  dateText,
  dominanceText,
  lowerFirst,
  refusalSentence,
  rowText,
  SUMMARY_WORDS,
  sexText,
  withKilograms,
} from '../wording/statements.ts';
import { companionsInShort, courseInShort, meaningInShort } from '../wording/verdict-statements.ts';
import { cautionLines, notApplied, refusalLines, unitDoubtLines } from './card-cautions.ts';
import { chartedLine } from './card-charted.ts';
import { stayChanges, stayDecline, stayLines } from './card-stay.ts';
import { resultTable, tableNotes } from './card-table.ts';
import { newerUnread } from './card-unread.ts';
import type { HookFacts } from './hook-facts.ts';
import { markdown } from './markdown.ts';

/** The most telling first: what was measured, what it comes to, what speaks against it; the small print last. */
export function detailOf(evaluation: Evaluation, interpretation: Interpretation, facts: HookFacts): string {
  const stop = stopOf(interpretation);
  const wasRead = !stop && interpretation.summaries.length > 0;
  return join([
    markdown(chartedLine(interpretation, facts)),
    unreadLine(evaluation, interpretation),
    section('At discharge', stayLines(evaluation, interpretation, facts)),
    heading(evaluation, interpretation),
    trialLines(evaluation, interpretation),
    ...unitDoubtLines(evaluation, interpretation).map((line) => `**${markdown(line)}**`),
    stop ? `**${markdown(refusalSentence(stop))}**` : resultTable(evaluation, interpretation),
    section('Cautions', cautionLines(evaluation, interpretation)),
    section('Over time', changeLines(evaluation, interpretation, facts)),
    stop ? '' : chartLine(evaluation, interpretation, facts),
    patientLine(interpretation),
    section('In a nutrition assessment', [
      ...nutritionInShort(interpretation),
      ...companionLines(evaluation, interpretation),
    ]),
    wasRead ? unknownLine(evaluation, interpretation, facts) : '',
    section('Not applied', notApplied(evaluation, interpretation)),
    section('Local codes', (evaluation.notices ?? []).map(noticeSentence)),
    markdown(factorsText(interpretation)),
    stop ? '' : markdown(tableNotes(evaluation, interpretation)),
    footer(evaluation, interpretation.ageYears, wasRead),
  ]);
}

/** At a discharge without a measurement: the last one before it, without what it came to then. */
export function detailBeforeStay(evaluation: Evaluation, last: Interpretation, facts: HookFacts): string {
  return join([
    section('At discharge', stayLines(evaluation, last, facts)),
    heading(evaluation, last),
    trialLines(evaluation, last),
    footer(evaluation, last.ageYears, false),
  ]);
}

/** First of all: a reader must not take an older session for the newest. */
function unreadLine(evaluation: Evaluation, interpretation: Interpretation): string {
  const day = newerUnread(evaluation, interpretation);
  if (day === undefined) return '';
  return `**Trials of ${dateText(day)} could not be used (see Cautions). What follows is of ${dateText(interpretation.testedOn)}.**`;
}

export function detailOfRefusals(evaluation: Evaluation, refusals: readonly Refusal[]): string {
  return join([
    section('Trials that could not be used', refusalLines(refusals)),
    footer(evaluation, null, false),
  ]);
}

export function join(parts: readonly string[]): string {
  return parts.filter((part) => part !== '').join('\n\n');
}

export function section(title: string, lines: readonly string[]): string {
  return lines.length > 0 ? `**${title}**\n\n${lines.map((line) => `- ${markdown(line)}`).join('\n')}` : '';
}

export function heading(evaluation: Evaluation, interpretation: Interpretation): string {
  const { testedOn, ageYears, dominant } = interpretation;
  const age = ageYears === null ? 'age not used' : `age ${ageText(interpretation)} at the test`;
  const days = Math.floor((Date.parse(evaluation.at) - Date.parse(testedOn)) / 86_400_000);
  const ago = days < 1 ? '' : days === 1 ? ' (1 day ago)' : ` (${days} days ago)`;
  const hand = dominant ? `, ${dominanceText(dominant)}` : '';
  // An element of FHIR says nothing to who reads at a bedside.
  const sex = sexText(evaluation.sex)
    .replace(/, from Patient\.gender$/, ' (administrative gender)')
    .replace('Patient.gender', 'administrative gender');
  return `Tested ${dateText(testedOn)}${ago}, ${age}, ${sex}${hand}.`;
}

/** The readings in the unit as charted; kilograms beside the figures where they differ. */
export function trialLines(evaluation: Evaluation, interpretation: Interpretation): string {
  const used = usedTrials(evaluation, interpretation);
  const lines = HANDS.flatMap((hand) => {
    const trials = used.filter((trial) => trial.hand === hand);
    if (trials.length === 0) return [];
    const figures = interpretation.summaries
      .filter((summary) => summary.hand === hand)
      .map((summary) => `${SUMMARY_WORDS[summary.kind]} ${withKilograms(summary)}`);
    const charted = trials.some(isChartedSummary);
    const shown = charted ? 'trials not in the record' : readings(trials);
    return [`- ${capital(hand)}: ${[shown, ...figures].join('; ')}`];
  });
  return [...lines, ...unitLine(used)].join('\n');
}

function readings(trials: readonly HandFigure[]): string {
  const units = [...new Set(trials.map(scaleOf))];
  if (units.length === 1) return `${trials.map(({ reading }) => reading).join(', ')} ${units[0]}`;
  return trials.map((trial) => `${trial.reading} ${scaleOf(trial)}`).join(', ');
}

/** The codes as charted. */
function unitLine(trials: readonly HandFigure[]): readonly string[] {
  if (trials.length === 0) return [];
  const codes = [...new Set(trials.map(({ unit }) => unit))].join(', ');
  return [`- Charted in ${markdown(codes)}, read as the force on the instrument`];
}

/** Every factor used; empty where nothing was converted. */
function factorsText({ results, summaries }: Interpretation): string {
  const factors = new Set(
    results.flatMap((result) =>
      verdictsIn(result).flatMap(({ conversion }) => conversion?.split('; ') ?? []),
    ),
  );
  for (const { charted } of summaries) {
    const shown = conversionText(charted.unit, 'kg');
    for (const factor of shown?.split('; ') ?? []) factors.add(factor);
  }
  return factors.size > 0 ? `Converted by ${[...factors].join('; ')}, exactly.` : '';
}

/** Change, and what else the record holds of earlier measurements. */
function changeLines(
  evaluation: Evaluation,
  interpretation: Interpretation,
  facts: HookFacts,
): readonly string[] {
  const { panel, input, at } = evaluation;
  const { changes, nextFrom } = interpretation;
  const { hasMore, stay } = facts;
  const figureOf = earlierFigures(evaluation, interpretation);
  const said = stayChanges(evaluation, interpretation, facts);
  const isSaid = ({ hand, since }: Change) =>
    said.some((change) => change.hand === hand && change.since === since);
  const earlier = input.sessions.length - 1;
  const count = earlier === 1 ? 'One earlier session was' : `${earlier} earlier sessions were`;
  return [
    // At a discharge the change over the stay stands at the top.
    ...changes
      .filter((change) => !isSaid(change))
      .map((change) => changeSentence(change, panel, figureOf(change.hand, change.since))),
    ...yardstickPeople(changes, panel),
    ...(earlier > 0 && changes.length === 0
      ? [`${count} sent with this one, with no figure to compare.`]
      : []),
    ...(hasMore ? ['The record holds further grip measurements that were not read for this card.'] : []),
    // At a discharge it stands among what is handed over.
    stay ? '' : nextSentence(nextFrom, at),
  ].filter(Boolean);
}

/** For sets that say reduced: their meaning, for how long, and what they go on to ask. For the others: their remark. */
function companionLines({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  return panel.panel.sets.flatMap(({ ref }) => {
    const own = interpretation.results.filter(({ set }) => set?.id === ref.id);
    const verdicts = own.flatMap(verdictsIn);
    const isOpen = own.some((result) => result.kind === 'refusal' && result.columns.length > 0);
    const about = panel.describe(ref);
    const { shortTitle, meaning } = about;

    const reduced = verdicts.find(({ outcome }) => outcome === 'reduced');
    const course = reduced ? courseInShort(reduced) : '';
    if (!reduced) return verdicts.length > 0 && meaning?.remark ? [`${shortTitle}: ${meaning.remark}.`] : [];
    const condition = isOpen ? `, if read for ${rowText(reduced)}` : '';
    const said = [
      ...(meaning ? [`${meaningInShort(about)}.`] : []),
      ...(course ? [meaning ? course : lowerFirst(course)] : []),
      ...companionsInShort(reduced, about),
    ];
    const mark = meaning && meaningInShort(about) !== meaning.reduced ? ':' : ',';
    return said.length > 0 ? [`By ${shortTitle}${condition}${mark} ${said.join(' ')}`] : [];
  });
}

/** What the service did not look at, could not have, or was not told. */
function unknownLine(evaluation: Evaluation, interpretation: Interpretation, { unread }: HookFacts): string {
  const missing = (unread ?? []).map((key) => KEY_WORDS[key] ?? key);
  const unavailable = missing.length > 0 ? `Not available, or not in full: ${missing.join(', ')}.` : '';
  const parts = [NOT_READ, notCharted(usedTrials(evaluation, interpretation)), unavailable];
  return markdown(parts.filter(Boolean).join(' '));
}

/** What an optional prefetch key holds, in words. */
const KEY_WORDS: Readonly<Record<string, string>> = {
  height: 'height',
  handedness: 'which hand is dominant',
  measures: 'weight, body mass index, gait speed and chair rises',
  earlier: 'earlier grip measurements',
  encounter: 'the stay',
};

/** To be copied as it stands, with the number of the record that it rests on. */
function chartLine(evaluation: Evaluation, interpretation: Interpretation, facts: HookFacts): string {
  const { id, panel, sex, refusals } = evaluation;
  const said = chartSentence(interpretation, panel, {
    ...{ sex, refusals, trials: usedTrials(evaluation, interpretation) },
    decline: stayDecline(evaluation, interpretation, facts),
    unread: newerUnread(evaluation, interpretation),
  });
  return `**For the chart:** ${markdown(`${said} Evaluation ${id}.`)}`;
}

function patientLine(interpretation: Interpretation): string {
  const sentence = patientSentence(interpretation);
  return sentence === '' ? '' : `**For the patient:** ${markdown(sentence)}`;
}

/** What it is for, and the evidence: the record, and every file that was used. */
export function footer({ id, panel }: Evaluation, ageYears: number | null, wasRead: boolean): string {
  const sets = panel.panel.sets.map(({ ref }) => `${ref.id} ${ref.version}`).join(', ');
  const record = `On record as evaluation ${id}.`;
  const { ref } = panel.panel;
  return `${intendedUse(ageYears)}\n\n${record}${wasRead ? ` ${markdown(`Panel ${ref.id} ${ref.version}: ${sets}.`)}` : ''}`;
}
