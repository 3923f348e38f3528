/** The body of a card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */
import type { Evaluation } from '../evaluation.ts';
import type { ForceText, Interpretation, Refusal, Verdict } from '../interpret/finding.ts';
import { HANDS, type Trial } from '../interpret/measurement.ts';
import { KG_PER_LB } from '../interpret/units.ts';
import {
  cautionSentence,
  changeSentence,
  chartSentence,
  comparedText,
  dateText,
  forceText,
  INTENDED_USE,
  limitText,
  outcomeText,
  patientSentence,
  provisionalText,
  refusalSentence,
  rowText,
  standingText,
  stopOf,
  summaryText,
} from '../statements.ts';

export function detailOf(evaluation: Evaluation, interpretation: Interpretation, hasMore: boolean): string {
  const stop = stopOf(interpretation);
  return join([
    heading(evaluation, interpretation),
    trialLines(evaluation, interpretation),
    stop ? `**${markdown(refusalSentence(stop))}**` : resultTable(evaluation, interpretation),
    stop ? '' : agePolicy(evaluation, interpretation),
    section('Not applied', notApplied(evaluation, interpretation)),
    section('Cautions', cautionLines(evaluation, interpretation, hasMore)),
    section('Change', interpretation.changes.map(changeSentence)),
    section('What the sets that say reduced go on to ask', companionLines(evaluation, interpretation)),
    stop ? '' : `**For the chart:** ${markdown(chartSentence(interpretation, evaluation.panel))}`,
    patientLine(interpretation),
    footer(evaluation),
  ]);
}

export function detailOfRefusals(evaluation: Evaluation, refusals: readonly Refusal[]): string {
  return join([section('Trials that could not be used', refusals.map(refusalLine)), footer(evaluation)]);
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
  const { sex, source } = evaluation.sex;
  const age = ageYears === null ? 'age not known' : `age ${ageYears} at the test`;
  return `Tested ${dateText(testedOn)}, ${age}, ${sex ?? 'sex not usable'} (${source}).`;
}

/** The unit as charted first; kilograms beside it where they differ. */
function trialLines(evaluation: Evaluation, interpretation: Interpretation): string {
  const used = evaluation.input.sessions.flatMap(({ trials }) => trials);
  const lines = HANDS.flatMap((hand) => {
    const trials = used.filter(
      (trial) => trial.hand === hand && interpretation.trials.includes(trial.reference),
    );
    if (trials.length === 0) return [];
    const figures = interpretation.summaries
      .filter((summary) => summary.hand === hand)
      .map(
        (summary) =>
          `${summary.kind === 'mean-per-hand' ? 'mean' : 'highest'} ${withKilograms(summary.charted, summary.kilograms)}`,
      );
    return [`- ${capital(hand)}: ${readings(trials)}${figures.length > 0 ? `; ${figures.join(', ')}` : ''}`];
  });
  const converted = interpretation.summaries.some(({ charted }) => charted.unit === 'lb');
  return [...lines, ...(converted ? [`- 1 lb = ${KG_PER_LB} kg, exactly`] : [])].join('\n');
}

function readings(trials: readonly Trial[]): string {
  return trials.map((trial) => `${trial.reading} ${markdown(trial.unit)}`).join(', ');
}

function withKilograms(charted: ForceText, kilograms: ForceText): string {
  return charted.unit === 'kg' ? forceText(charted) : `${forceText(charted)} (${forceText(kilograms)})`;
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
    ...(rows.some((cells) => cells.some((cell) => cell.includes('percentile')))
      ? ['', 'z-scores and percentiles take the row as normally distributed.']
      : []),
  ].join('\n');
}

function tableRow({ panel }: Evaluation, verdict: Verdict): readonly string[] {
  const standing = standingText(verdict);
  const outcome = outcomeText(verdict);
  return [
    `${panel.describe(verdict.set).shortTitle} (${verdict.set.version}), ${rowText(verdict)}`,
    summaryText(verdict.summary, verdict.hand),
    comparedText(verdict),
    limitText(verdict.limit),
    `${verdict.outcome === 'reduced' ? `**${outcome}**` : outcome}${standing ? ` (${standing})` : ''}`,
  ];
}

/** Sets that give the same reason share a line. */
function notApplied({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titlesByReason = new Map<string, string[]>();
  for (const result of interpretation.results) {
    if (result.kind === 'verdict' || !result.set || result.columns.length > 0) continue;
    const { shortTitle, ageReason } = panel.describe(result.set);
    const ages = result.facts.covers ? `covers age ${result.facts.covers}` : refusalSentence(result);
    const reason = ageReason ? `${ages}: ${ageReason}.` : `${ages}.`;
    titlesByReason.set(reason, [...(titlesByReason.get(reason) ?? []), shortTitle]);
  }
  return [...titlesByReason].map(([reason, titles]) => `${titles.join(', ')}: ${reason}`);
}

function cautionLines(
  evaluation: Evaluation,
  interpretation: Interpretation,
  hasMore: boolean,
): readonly string[] {
  const open = interpretation.results.find(
    (result) => result.kind === 'refusal' && result.columns.length > 0,
  );
  const trialRefusals = [
    ...interpretation.results.filter((result) => result.kind === 'refusal' && result.trial !== null),
    ...evaluation.refusals,
  ] as readonly Refusal[];
  const provisional = new Set(
    interpretation.results.flatMap((result) => (result.kind === 'verdict' ? result.provisional : [])),
  );
  const earlier = evaluation.input.sessions.length - 1;
  return [
    ...(open?.kind === 'refusal' ? [refusalSentence(open)] : []),
    ...trialRefusals.filter(({ code }) => code !== 'CODE_NOT_GRIP').map(refusalLine),
    ...interpretation.cautions.filter(({ code }) => code !== 'MASS_UNIT_READ_AS_FORCE').map(cautionSentence),
    ...(provisional.size > 0 ? [provisionalText([...provisional])] : []),
    ...(earlier > 0
      ? [`${earlier} earlier ${earlier === 1 ? 'session is' : 'sessions are'} on record and not shown here.`]
      : []),
    ...(hasMore ? ['The record holds further grip measurements that were not sent with this call.'] : []),
  ];
}

function refusalLine(refusal: Refusal): string {
  const hand = refusal.hand ? `${capital(refusal.hand)} hand: ` : '';
  return `${hand}${refusalSentence(refusal)}${refusal.trial ? ` (${refusal.trial})` : ''}`;
}

function companionLines({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const reduced = interpretation.results.filter(
    (result) => result.kind === 'verdict' && result.outcome === 'reduced',
  );
  const sets = new Map(
    reduced.flatMap((result) => (result.set ? [[result.set.id, panel.describe(result.set)] as const] : [])),
  );
  return [...sets.values()].flatMap(({ shortTitle, companions, meaning }) => [
    ...(meaning ? [`${shortTitle}: ${meaning.reduced}.`] : []),
    ...companions.map(
      ({ name, rule, use }) => `${shortTitle}: ${name} ${rule} (${use}); not evaluated here.`,
    ),
  ]);
}

function patientLine(interpretation: Interpretation): string {
  const sentence = patientSentence(interpretation);
  return sentence === '' ? '' : `**For the patient:** ${markdown(sentence)}`;
}

function footer({ id, panel }: Evaluation): string {
  const sets = panel.panel.sets.map(({ ref }) => `${ref.id} ${ref.version}`).join(', ');
  return `${INTENDED_USE}\n\nOn record as evaluation ${id}. Read with: ${sets}.`;
}

/** Ages that are the panel's choice and not the set's, for the sets that were read. */
function agePolicy({ panel }: Evaluation, interpretation: Interpretation): string {
  const from = new Map<number, string[]>();
  for (const { ref, rows } of panel.panel.sets) {
    const { shortTitle, ageReason } = panel.describe(ref);
    const read = interpretation.results.some(
      (result) => result.set?.id === ref.id && result.kind === 'verdict',
    );
    const age = Math.min(...rows.map(({ ageMin }) => ageMin));
    if (ageReason && read) from.set(age, [...(from.get(age) ?? []), shortTitle]);
  }
  const policies = [...from].map(([age, titles]) => `${titles.join(', ')} from age ${age}`);
  return policies.length > 0 ? `By choice of the panel: ${policies.join('; ')}.` : '';
}

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1);
}
