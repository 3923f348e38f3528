/** The body of a card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */
import type { Evaluation } from '../evaluation.ts';
import type { Interpretation, Refusal, Verdict } from '../interpret/finding.ts';
import { HANDS, scaleOf, type Trial } from '../interpret/measurement.ts';
import { conversionText } from '../interpret/units.ts';
import { chartSentence, patientSentence, stopOf, verdictsIn } from '../session-statements.ts';
import {
  capital,
  cautionSentence,
  changeSentence,
  comparedText,
  dateText,
  intendedUse,
  limitText,
  NOT_READ,
  outcomeText,
  refusalSentence,
  rowText,
  SUMMARY_WORDS,
  sexText,
  standingText,
  summaryText,
  withKilograms,
} from '../statements.ts';

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
    section('Change', changeLines(evaluation, interpretation, hasMore)),
    section('What these sets say besides', companionLines(evaluation, interpretation)),
    wasRead ? NOT_READ : '',
    stop
      ? ''
      : `**For the chart:** ${markdown(`${chartSentence(interpretation, evaluation.panel)} Evaluation ${evaluation.id.slice(0, 8)}.`)}`,
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

/** Escapes what Markdown or HTML would take as markup or as a link; line breaks become spaces. */
export function markdown(text: string): string {
  return text.replace(/[\r\n]+/g, ' ').replace(/[\\`*_{}[\]<>#|~!&@]|:(?=\/\/)|(?<=\bwww)\./gi, '\\$&');
}

function heading(evaluation: Evaluation, { testedOn, ageYears }: Interpretation): string {
  const age = ageYears === null ? 'age not used' : `age ${ageYears} at the test`;
  const days = Math.floor((Date.parse(evaluation.at) - Date.parse(testedOn)) / 86_400_000);
  const ago = days < 1 ? '' : days === 1 ? ' (1 day ago)' : ` (${days} days ago)`;
  return `Tested ${dateText(testedOn)}${ago}, ${age}, ${sexText(evaluation.sex)}.`;
}

/** The readings in the unit as charted; kilograms beside the figures where they differ. */
function trialLines(evaluation: Evaluation, interpretation: Interpretation): string {
  const used = evaluation.input.sessions
    .flatMap(({ trials }) => trials)
    .filter(({ reference }) => interpretation.trials.includes(reference));
  const lines = HANDS.flatMap((hand) => {
    const trials = used.filter((trial) => trial.hand === hand);
    if (trials.length === 0) return [];
    const figures = interpretation.summaries
      .filter((summary) => summary.hand === hand)
      .map((summary) => `${SUMMARY_WORDS[summary.kind]} ${withKilograms(summary)}`);
    return [`- ${capital(hand)}: ${[`${readings(trials)}`, ...figures].join('; ')}`];
  });
  return [...lines, ...unitLine(used, interpretation)].join('\n');
}

function readings(trials: readonly Trial[]): string {
  const units = [...new Set(trials.map(scaleOf))];
  if (units.length === 1) return `${trials.map(({ reading }) => reading).join(', ')} ${units[0]}`;
  return trials.map((trial) => `${trial.reading} ${scaleOf(trial)}`).join(', ');
}

/** The codes as charted, and every factor used. */
function unitLine(trials: readonly Trial[], { results, summaries }: Interpretation): readonly string[] {
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

function resultTable(evaluation: Evaluation, interpretation: Interpretation): string {
  const rows = interpretation.results.flatMap((result) =>
    result.kind === 'verdict'
      ? [tableRow(evaluation, result)]
      : result.columns.map((column) => tableRow(evaluation, column)),
  );
  if (rows.length === 0) return '';
  return [
    '| Reference set | Read from | Value | Reduced is | Result |',
    '|---|---|--:|--:|---|',
    ...rows.map((cells) => `| ${cells.join(' | ')} |`),
  ].join('\n');
}

function tableRow({ panel }: Evaluation, verdict: Verdict): readonly string[] {
  const { shortTitle, superseded, summaryReason } = panel.describe(verdict.set);
  const standing = standingText(verdict);
  const outcome = outcomeText(verdict);
  return [
    `${shortTitle} (${verdict.set.version}${superseded ? ', superseded' : ''}), ${rowText(verdict)}`,
    `${summaryText(verdict.summary, verdict.hand)}${summaryReason ? " (panel's choice)" : ''}`,
    comparedText(verdict),
    limitText(verdict.limit),
    `${verdict.outcome === 'reduced' ? `**${outcome}**` : outcome}${standing ? ` (${standing})` : ''}`,
  ];
}

/** What the table rests on: rules, the panel's ages, the normal distribution. */
function tableNotes({ panel }: Evaluation, interpretation: Interpretation): string {
  const read = new Set(
    interpretation.results.flatMap((result) => verdictsIn(result).map(({ set }) => set.id)),
  );
  const from = new Map<number, string[]>();
  const rules = new Set<string>();
  const postures: string[] = [];
  for (const { ref, rows } of panel.panel.sets) {
    if (!read.has(ref.id)) continue;
    const { shortTitle, ageReason, rule, posture } = panel.describe(ref);
    const age = Math.min(...rows.map(({ ageMin }) => ageMin));
    if (ageReason) from.set(age, [...(from.get(age) ?? []), shortTitle]);
    if (posture) postures.push(`${shortTitle} ${posture}`);
    if (rule) rules.add(`${rule.title.toLowerCase()} (${rule.basis})`);
  }
  const ages = [...from].map(([age, titles]) => `${titles.join(', ')} from age ${age}`);
  return [
    rules.size > 0
      ? `Limits of the tables: ${[...rules].join('; ')}; in older people that limit is low. z-scores and percentiles take the row as normally distributed.`
      : '',
    postures.length > 0 ? `Measured: ${postures.join('; ')}.` : '',
    ages.length > 0 ? `By choice of the panel: ${ages.join('; ')}.` : '',
  ]
    .filter(Boolean)
    .join(' ');
}

/** Sets that give the same reason share a line. */
function notApplied({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titlesByReason = new Map<string, string[]>();
  for (const result of interpretation.results) {
    if (result.kind === 'verdict' || !result.set || result.columns.length > 0) continue;
    const { shortTitle, ageReason } = panel.describe(result.set);
    const { covers } = result.facts;
    const ages = covers ? `read for ${covers}${ageReason ? ' by this panel' : ''}` : refusalSentence(result);
    const reason = ageReason ? `${ages}: ${ageReason}.` : `${ages}.`;
    titlesByReason.set(reason, [...(titlesByReason.get(reason) ?? []), shortTitle]);
  }
  return [...titlesByReason].map(([reason, titles]) => `${titles.join(', ')}: ${reason}`);
}

function cautionLines(evaluation: Evaluation, interpretation: Interpretation): readonly string[] {
  const refused = interpretation.results.filter((result) => result.kind === 'refusal');
  const open = refused.find(({ columns }) => columns.length > 0);
  const trials = [...refused.filter(({ trial }) => trial !== null), ...evaluation.refusals];
  return [
    ...(open ? [refusalSentence(open)] : []),
    ...trials.filter(({ code }) => code !== 'CODE_NOT_GRIP').map(refusalLine),
    ...interpretation.cautions.filter(({ code }) => code !== 'MASS_UNIT_READ_AS_FORCE').map(cautionSentence),
  ];
}

/** Change, and what else the record holds of earlier measurements. */
function changeLines(
  evaluation: Evaluation,
  { changes }: Interpretation,
  hasMore: boolean,
): readonly string[] {
  const earlier = evaluation.input.sessions.length - 1;
  const count = earlier === 1 ? 'One earlier session was' : `${earlier} earlier sessions were`;
  return [
    ...changes.map(changeSentence),
    ...(earlier > 0
      ? [`${count} sent with this one${changes.length > 0 ? '; change is since the last of each hand' : ''}.`]
      : []),
    ...(hasMore ? ['The record holds further grip measurements that were not sent with this call.'] : []),
  ];
}

function refusalLine(refusal: Refusal): string {
  const hand = refusal.hand ? `${capital(refusal.hand)} hand: ` : '';
  return `${hand}${refusalSentence(refusal)}${refusal.trial ? ` (${refusal.trial})` : ''}`;
}

/** For sets that say reduced: their meaning and what they go on to ask. For the others: their remark. */
function companionLines({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  return panel.panel.sets.flatMap(({ ref }) => {
    const verdicts = interpretation.results
      .flatMap((result) => verdictsIn(result))
      .filter(({ set }) => set.id === ref.id);
    if (verdicts.length === 0) return [];
    const { shortTitle, companions, meaning } = panel.describe(ref);
    if (!verdicts.some(({ outcome }) => outcome === 'reduced')) {
      return meaning?.remark ? [`${shortTitle}: ${meaning.remark}.`] : [];
    }
    return [
      ...(meaning ? [`${shortTitle}: ${meaning.reduced}.`] : []),
      ...companions.map(
        ({ name, rule, use }) => `${shortTitle}: ${name}, ${rule} (${use}): not evaluated here.`,
      ),
    ];
  });
}

function patientLine(interpretation: Interpretation): string {
  const sentence = patientSentence(interpretation);
  return sentence === '' ? '' : `**For the patient:** ${markdown(sentence)}`;
}

function footer({ id, panel }: Evaluation, ageYears: number | null, wasRead: boolean): string {
  const sets = panel.panel.sets.map(({ ref }) => `${ref.id} ${ref.version}`).join(', ');
  const record = `On record as evaluation ${id}.`;
  return `${intendedUse(ageYears)}\n\n${record}${wasRead ? ` Panel ${panel.panel.ref.id} ${panel.panel.ref.version}: ${sets}.` : ''}`;
}
