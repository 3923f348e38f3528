/** The evidence of one session as tables: what came in, the figures, each set with its limit and how it came about. */
import { type Evaluation, usedTrials } from '../evaluation.ts';
import type { Interpretation, Summary, Verdict } from '../interpret/finding.ts';
import { type HandFigure, isChartedSummary, scaleOf } from '../interpret/measurement.ts';
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
import { type Html, html, table } from './html.ts';

export function renderTrials(evaluation: Evaluation, interpretation: Interpretation): Html {
  const rows = usedTrials(evaluation, interpretation).map((trial) => [
    trial.hand,
    `${trial.reading} ${scaleOf(trial)}${isChartedSummary(trial) ? ' (charted as one figure)' : ''}`,
    trial.unit,
    momentText(trial.effective),
    protocolText(trial),
    html`<code>${trial.reference}</code>`,
  ]);
  return table(
    'Readings that were used, as charted',
    ['Hand', 'Reading', 'Unit code', 'When', 'How', 'Observation'],
    rows,
  );
}

function protocolText({ protocol }: HandFigure): string {
  if (!protocol) return 'not charted';
  const { calibratedOn, ...parts } = protocol;
  const said = Object.entries(parts).flatMap(([part, value]) =>
    value ? [`${partWord(part as Parameters<typeof partWord>[0])} ${protocolWord(String(value))}`] : [],
  );
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
  const rows = results.flatMap(verdictsIn).map((verdict) => verdictRow(verdict, panel));
  return table(
    'Each reference set that was read',
    ['Reference set', 'Row', 'Read from', 'Compared', 'Reduced is', 'How the limit came about', 'Result'],
    rows,
  );
}

function verdictRow(verdict: Verdict, panel: Evaluation['panel']): readonly (string | Html)[] {
  const about = panel.describe(verdict.set);
  const outcome = outcomeText(verdict);
  const standing = standingText(verdict);
  const over = divisorText(verdict);
  return [
    html`${about.shortTitle}${supersededText(about)}<br><code>${verdict.set.id} ${verdict.set.version}</code>`,
    rowText(verdict),
    `${summaryText(verdict.summary, verdict.hand)}${about.summaryReason ? ` (panel's choice: ${about.summaryReason})` : ''}`,
    [comparedText(verdict), over, verdict.conversion ?? ''].filter(Boolean).join('; '),
    limitText(verdict.limit),
    originText(verdict, about),
    html`${verdict.outcome === 'reduced' ? html`<strong>${outcome}</strong>` : outcome}${standing ? ` (${standing})` : ''}`,
  ];
}

/** e.g. `mean 70.4, SD 14.5 lb; two standard deviations below the mean, inclusive (common practice, no source)`. */
function originText(verdict: Verdict, { rule }: ReturnType<Evaluation['panel']['describe']>): string {
  const { row, rule: ref } = verdict;
  const how =
    rule && ref
      ? `${lowerFirst(rule.title)} (${rule.basis}; ${ref.id} ${ref.version})`
      : 'a printed cut-point';
  return [rowFigures(verdict), how, `figures ${row.verification}`].filter(Boolean).join('; ');
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
