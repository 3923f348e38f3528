/** The evidence of one session as tables: what came in, the figures, each set with its limit and how it came about. */
import { type Evaluation, usedTrials } from '../evaluation.ts';
import type { Interpretation, Summary, Verdict } from '../interpret/finding.ts';
import { type HandFigure, isChartedSummary, PROTOCOL_PARTS, scaleOf } from '../interpret/measurement.ts';
import { verdictsIn } from '../wording/session-statements.ts';
import {
  comparedText,
  dateText,
  divisorText,
  forceText,
  limitText,
  lowerFirst,
  momentText,
  outcomeText,
  provisionalText,
  refusalSentence,
  rowFigures,
  rowText,
  SUMMARY_WORDS,
  standingText,
  summaryText,
} from '../wording/statements.ts';
import { partWord, protocolWord, supersededText } from '../wording/verdict-statements.ts';
import { type Html, html, list, NOTHING, table } from './html.ts';

export function renderTrials(evaluation: Evaluation, interpretation: Interpretation): Html {
  const trials = usedTrials(evaluation, interpretation);
  const rows = trials.map((trial) => [
    trial.hand,
    `${trial.reading} ${scaleOf(trial)}${isChartedSummary(trial) ? ' (charted as one figure)' : ''}`,
    trial.unit,
    momentText(trial.effective),
    html`<code>${trial.reference}</code>`,
  ]);
  const how = new Set(trials.map(protocolText));
  const head = ['Hand', 'Reading', 'Unit code', 'When', 'Observation'];
  return html`${table('Readings, as charted', head, rows)}${
    rows.length > 0 ? html`<p>How it was done: ${[...how].join('; or ')}.</p>` : NOTHING
  }`;
}

function protocolText({ protocol }: HandFigure): string {
  if (!protocol) return 'not charted';
  const { calibratedOn, ...parts } = protocol;
  const said = PROTOCOL_PARTS.flatMap((part) => {
    const value = parts[part];
    return value ? [`${partWord(part)} ${protocolWord(value)}`] : [];
  });
  return [...said, ...(calibratedOn ? [`calibrated ${dateText(calibratedOn)}`] : [])].join(', ');
}

export function renderFigures({ summaries }: Interpretation): Html {
  const rows = summaries.map((summary: Summary) => [
    summary.hand ? `${summary.hand} hand, ${SUMMARY_WORDS[summary.kind]}` : SUMMARY_WORDS[summary.kind],
    forceText(summary.charted),
    forceText(summary.kilograms),
    summary.trials.length === 1 ? '1 reading' : `${summary.trials.length} readings`,
    provisionalText(summary.provisional) || 'stands',
  ]);
  return table(
    'Figures that stand for the readings',
    ['Figure', 'As charted', 'In kilograms', 'From', 'Standing'],
    rows,
  );
}

export function renderSets({ panel }: Evaluation, { results }: Interpretation): Html {
  const verdicts = results.flatMap(verdictsIn);
  const rows = verdicts.map((verdict) => verdictRow(verdict, panel));
  const head = ['Reference set', 'Compared', 'Reduced is', 'Result', 'Read from', 'How the limit came about'];
  return html`${table('Each reference set that was read', head, rows)}${list(rulesOf(verdicts, panel))}`;
}

function verdictRow(verdict: Verdict, panel: Evaluation['panel']): readonly (string | Html)[] {
  const about = panel.describe(verdict.set);
  const outcome = outcomeText(verdict);
  const standing = standingText(verdict);
  const factors = [divisorText(verdict), verdict.conversion ?? ''].filter(Boolean).join('; ');
  const read = `${summaryText(verdict.summary, verdict.hand)}${about.summaryReason ? " (panel's choice)" : ''}`;
  return [
    html`${about.shortTitle}${supersededText(about)}<br><code>${verdict.set.id} ${verdict.set.version}</code>`,
    html`${comparedText(verdict)}${factors ? html`<br><small>${factors}</small>` : NOTHING}`,
    limitText(verdict.limit),
    html`${verdict.outcome === 'reduced' ? html`<strong>${outcome}</strong>` : outcome}${standing ? ` (${standing})` : ''}`,
    `${read}; ${rowText(verdict)}`,
    originText(verdict),
  ];
}

/** e.g. `mean 70.4, SD 14.5 lb of the row; rule two-sd-below-mean 1.0.0; verified: two-sources`. */
function originText(verdict: Verdict): string {
  const { row, rule } = verdict;
  const figures = rowFigures(verdict);
  const how = rule ? `rule ${rule.id} ${rule.version}` : 'printed cut-point';
  return [figures ? `${figures} of the row` : '', how, `verified: ${row.verification}`]
    .filter(Boolean)
    .join('; ');
}

/** What the rules and the panel's choices are, each once. */
function rulesOf(verdicts: readonly Verdict[], panel: Evaluation['panel']): readonly string[] {
  const said = verdicts.flatMap(({ set, rule }) => {
    const about = panel.describe(set);
    return [
      ...(rule && about.rule
        ? [`${rule.id} ${rule.version}: ${lowerFirst(about.rule.title)} (${about.rule.basis}).`]
        : []),
      ...(about.summaryReason ? [`Panel's choice for ${about.shortTitle}: ${about.summaryReason}.`] : []),
      ...(about.ageReason ? [`Ages of ${about.shortTitle} in this panel: ${about.ageReason}.`] : []),
      ...(about.unprovenReason
        ? [`${about.shortTitle}, not fully verified, taken on purpose: ${about.unprovenReason}.`]
        : []),
      ...(about.posture ? [`${about.shortTitle} was measured ${about.posture}.`] : []),
    ];
  });
  return [...new Set(said)];
}

/** With the panel's own reasons for its ages. */
export function notAppliedLines({ panel }: Evaluation, { results }: Interpretation): readonly string[] {
  const said = results.flatMap((result) => {
    if (result.kind === 'verdict' || !result.set || result.columns.length > 0) return [];
    const { shortTitle, ageReason } = panel.describe(result.set);
    const hand = result.hand ? `, ${result.hand} hand` : '';
    const why = result.facts.covers && ageReason ? ` Choice of the panel: ${ageReason}.` : '';
    return [`${shortTitle}${hand}: ${refusalSentence(result)}${why}`];
  });
  return [...new Set(said)];
}
