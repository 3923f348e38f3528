/** The body of a card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */

import { type Evaluation, usedTrials } from '../evaluation.ts';
import { compare, subtract, toDecimalText } from '../interpret/exact.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';
import { forceOf, HANDS, type HandFigure, isChartedSummary, scaleOf } from '../interpret/measurement.ts';
import { conversionText } from '../interpret/units.ts';
import { cautionSentence, notCharted } from '../wording/caution-statements.ts';
import { changeSentence, nextSentence, yardstickNotes } from '../wording/change-statements.ts';
import { intendedUse, NOT_READ, nutritionReading } from '../wording/intended-use.ts';
import { noticeSentence } from '../wording/notices.ts';
import {
  ageText,
  chartSentence,
  patientSentence,
  stopOf,
  verdictsIn,
} from '../wording/session-statements.ts';
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
import { companionSentences, courseSentences, mismatchSentence } from '../wording/verdict-statements.ts';
import { resultTable, tableNotes } from './card-table.ts';
import { markdown } from './markdown.ts';

export function detailOf(evaluation: Evaluation, interpretation: Interpretation, hasMore: boolean): string {
  const stop = stopOf(interpretation);
  const wasRead = !stop && interpretation.summaries.length > 0;
  return join([
    heading(evaluation, interpretation),
    trialLines(evaluation, interpretation),
    stop ? `**${markdown(refusalSentence(stop))}**` : resultTable(evaluation, interpretation),
    stop ? '' : markdown(tableNotes(evaluation, interpretation)),
    section('Not applied', notApplied(evaluation, interpretation)),
    section('Cautions', cautionLines(evaluation, interpretation)),
    section('Local codes', (evaluation.notices ?? []).map(noticeSentence)),
    section('Over time', changeLines(evaluation, interpretation, hasMore)),
    section('What these sets say besides', companionLines(evaluation, interpretation)),
    section('In a nutrition assessment', nutritionReading(interpretation)),
    wasRead ? [NOT_READ, notCharted(usedTrials(evaluation, interpretation))].filter(Boolean).join(' ') : '',
    stop
      ? ''
      : `**For the chart:** ${markdown(`${chartSentence(interpretation, evaluation.panel)} Evaluation ${evaluation.id}.`)}`,
    patientLine(interpretation),
    footer(evaluation, interpretation.ageYears, wasRead),
  ]);
}

export function detailOfRefusals(evaluation: Evaluation, refusals: readonly Refusal[]): string {
  return join([
    section('Trials that could not be used', refusals.map(refusalLine)),
    footer(evaluation, null, false),
  ]);
}

function join(parts: readonly string[]): string {
  return parts.filter((part) => part !== '').join('\n\n');
}

function section(title: string, lines: readonly string[]): string {
  return lines.length > 0 ? `**${title}**\n\n${lines.map((line) => `- ${markdown(line)}`).join('\n')}` : '';
}

function heading(evaluation: Evaluation, interpretation: Interpretation): string {
  const { testedOn, ageYears, dominant } = interpretation;
  const age = ageYears === null ? 'age not used' : `age ${ageText(interpretation)} at the test`;
  const days = Math.floor((Date.parse(evaluation.at) - Date.parse(testedOn)) / 86_400_000);
  const ago = days < 1 ? '' : days === 1 ? ' (1 day ago)' : ` (${days} days ago)`;
  const hand = dominant ? `, ${dominanceText(dominant)}` : '';
  return `Tested ${dateText(testedOn)}${ago}, ${age}, ${sexText(evaluation.sex)}${hand}.`;
}

/** The readings in the unit as charted; kilograms beside the figures where they differ. */
function trialLines(evaluation: Evaluation, interpretation: Interpretation): string {
  const used = usedTrials(evaluation, interpretation);
  const lines = HANDS.flatMap((hand) => {
    const trials = used.filter((trial) => trial.hand === hand);
    if (trials.length === 0) return [];
    const figures = interpretation.summaries
      .filter((summary) => summary.hand === hand)
      .map((summary) => `${SUMMARY_WORDS[summary.kind]} ${withKilograms(summary)}`);
    const charted = trials.some(isChartedSummary);
    const shown = charted ? ['trials not in the record'] : [readings(trials)];
    return [`- ${capital(hand)}: ${[...shown, ...figures, ...rangeOf(trials)].join('; ')}`];
  });
  return [...lines, ...unitLine(used, interpretation)].join('\n');
}

/** From the lowest to the highest reading; nothing for one trial or several units. */
function rangeOf(trials: readonly HandFigure[]): readonly string[] {
  const [unit, ...others] = new Set(trials.map(scaleOf));
  if (trials.length < 2 || others.length > 0 || trials.some(isChartedSummary)) return [];
  const sorted = trials.map(forceOf).sort(compare);
  const [lowest, best] = [sorted[0], sorted.at(-1)];
  return lowest && best ? [`range ${toDecimalText(subtract(best, lowest), 1)} ${unit}`] : [];
}

function readings(trials: readonly HandFigure[]): string {
  const units = [...new Set(trials.map(scaleOf))];
  if (units.length === 1) return `${trials.map(({ reading }) => reading).join(', ')} ${units[0]}`;
  return trials.map((trial) => `${trial.reading} ${scaleOf(trial)}`).join(', ');
}

/** The codes as charted, and every factor used. */
function unitLine(trials: readonly HandFigure[], { results, summaries }: Interpretation): readonly string[] {
  if (trials.length === 0) return [];
  const codes = [...new Set(trials.map(({ unit }) => unit))].join(', ');
  const factors = new Set(
    results.flatMap((result) =>
      verdictsIn(result).flatMap(({ conversion }) => conversion?.split('; ') ?? []),
    ),
  );
  for (const { charted } of summaries) {
    const shown = conversionText(charted.unit, 'kg');
    for (const factor of shown?.split('; ') ?? []) factors.add(factor);
  }
  return [
    `- Charted in ${markdown(codes)}, read as the force on the instrument${factors.size > 0 ? `; ${[...factors].join('; ')}, exactly` : ''}`,
  ];
}

/** Sets that give the same reason share a line. */
function notApplied({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titlesByReason = new Map<string, Set<string>>();
  for (const result of interpretation.results) {
    if (result.kind === 'verdict' || !result.set || result.columns.length > 0) continue;
    const { shortTitle, ageReason } = panel.describe(result.set);
    const reason = whyNot(result, ageReason, nextTitle(result, panel));
    titlesByReason.set(reason, (titlesByReason.get(reason) ?? new Set()).add(shortTitle));
  }
  return [...titlesByReason].map(([reason, titles]) => `${[...titles].join(', ')}: ${reason}`);
}

/** Title of the table of the panel that covers the age; undefined where there is none. */
function nextTitle(
  { facts: { next, nextVersion } }: Refusal,
  panel: Evaluation['panel'],
): string | undefined {
  return next && nextVersion ? panel.describe({ id: next, version: nextVersion }).shortTitle : undefined;
}

function whyNot(refusal: Refusal, ageReason: string | null, next: string | undefined): string {
  const { covers } = refusal.facts;
  const hand = refusal.hand ? `${refusal.hand} hand: ` : '';
  if (!covers) return `${hand}${lowerFirst(refusalSentence(refusal).replace(/^Not applied: /, ''))}`;
  const ages = `read for ${covers}${ageReason ? ' by this panel' : ''}`;
  return `${ages}${ageReason ? `: ${ageReason}` : ''}.${next ? ` For this age see ${next}.` : ''}`;
}

function cautionLines(evaluation: Evaluation, interpretation: Interpretation): readonly string[] {
  const refused = interpretation.results.filter((result) => result.kind === 'refusal');
  const open = refused.filter(({ columns }) => columns.length > 0);
  const trials = [...refused.filter(({ trial }) => trial !== null), ...evaluation.refusals];
  return [
    ...new Set(open.map(refusalSentence)),
    ...trials.filter(({ code }) => !NOT_OF_TRIALS.has(code)).map(refusalLine),
    // An old chart can hold many measures that are of no use: each reason is said once.
    ...new Set(trials.filter(({ code }) => code === 'MEASURE_NOT_USABLE').map(refusalSentence)),
    ...mismatchLines(evaluation, interpretation),
    ...interpretation.cautions.filter(({ code }) => code !== 'MASS_UNIT_READ_AS_FORCE').map(cautionSentence),
  ];
}

/** Not worth a line of their own: other Observations, and measures (said below). */
const NOT_OF_TRIALS: ReadonlySet<string> = new Set([
  'CODE_NOT_GRIP',
  'LOCAL_CODE_UNKNOWN',
  'RESULT_LEFT_ASIDE',
  'MEASURE_NOT_USABLE',
]);

/** Sets that were built otherwise in the same way share a line. */
function mismatchLines({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titles = new Map<string, Set<string>>();
  for (const verdict of interpretation.results.flatMap(verdictsIn)) {
    for (const mismatch of verdict.mismatches ?? []) {
      const said = mismatchSentence(mismatch, panel);
      titles.set(said, (titles.get(said) ?? new Set()).add(panel.describe(verdict.set).shortTitle));
    }
  }
  return [...titles].map(([said, sets]) => `${[...sets].join(', ')}: ${said}`);
}

/** Change, and what else the record holds of earlier measurements. */
function changeLines(
  { panel, input, at }: Evaluation,
  { changes, nextFrom }: Interpretation,
  hasMore: boolean,
): readonly string[] {
  const earlier = input.sessions.length - 1;
  const count = earlier === 1 ? 'One earlier session was' : `${earlier} earlier sessions were`;
  return [
    ...changes.map((change) => changeSentence(change, panel)),
    ...yardstickNotes(changes, panel),
    ...(earlier > 0 ? [`${count} sent with this one.`] : []),
    ...(hasMore ? ['The record holds further grip measurements that were not sent with this call.'] : []),
    nextSentence(nextFrom, at),
  ].filter(Boolean);
}

function refusalLine(refusal: Refusal): string {
  const hand = refusal.hand ? `${capital(refusal.hand)} hand: ` : '';
  return `${hand}${refusalSentence(refusal)}${refusal.trial ? ` (${refusal.trial})` : ''}`;
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
    if (!reduced) return verdicts.length > 0 && meaning?.remark ? [`${shortTitle}: ${meaning.remark}.`] : [];
    return [
      ...(meaning
        ? [`${shortTitle}: ${isOpen ? `if read for ${rowText(reduced)}: ` : ''}${meaning.reduced}.`]
        : []),
      ...courseSentences(reduced).map((sentence) => `${shortTitle}: ${lowerFirst(sentence)}`),
      ...together(shortTitle, companionSentences(reduced, about)),
    ];
  });
}

/** In one line: a set may ask for five things. */
function together(shortTitle: string, sentences: readonly string[]): readonly string[] {
  return sentences.length > 0 ? [`${shortTitle}: ${sentences.join(' ')}`] : [];
}

function patientLine(interpretation: Interpretation): string {
  const sentence = patientSentence(interpretation);
  return sentence === '' ? '' : `**For the patient:** ${markdown(sentence)}`;
}

function footer({ id, panel }: Evaluation, ageYears: number | null, wasRead: boolean): string {
  const sets = panel.panel.sets.map(({ ref }) => `${ref.id} ${ref.version}`).join(', ');
  const record = `On record as evaluation ${id}.`;
  return `${intendedUse(ageYears)}\n\n${record}${wasRead ? ` Panel ${panel.panel.ref.id} ${panel.panel.ref.version} (${panel.audience}): ${sets}.` : ''}`;
}
