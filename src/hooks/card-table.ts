/** The table of a card: every set that was read, and the notes under it. */
import type { Evaluation } from '../evaluation.ts';
import type { Interpretation, Verdict } from '../interpret/finding.ts';
import { verdictsIn } from '../wording/session-statements.ts';
import {
  comparedText,
  divisorText,
  limitText,
  lowerFirst,
  outcomeText,
  rowText,
  standingText,
  summaryText,
} from '../wording/statements.ts';
import { supersededText } from '../wording/verdict-statements.ts';

export function resultTable(evaluation: Evaluation, interpretation: Interpretation): string {
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
  const about = panel.describe(verdict.set);
  const { shortTitle, summaryReason } = about;
  const standing = standingText(verdict);
  const outcome = outcomeText(verdict);
  return [
    `${shortTitle} (${verdict.set.version})${supersededText(about)}, ${rowText(verdict)}`,
    `${summaryText(verdict.summary, verdict.hand)}${summaryReason ? " (panel's choice)" : ''}${overText(verdict)}`,
    comparedText(verdict),
    limitText(verdict.limit),
    `${verdict.outcome === 'reduced' ? `**${outcome}**` : outcome}${standing ? ` (${standing})` : ''}`,
  ];
}

/** e.g. `, over BMI 24.31`; empty where the force itself was compared. */
function overText({ divisor }: Verdict): string {
  if (!divisor) return '';
  return divisor.of === 'bmi'
    ? `, over BMI ${divisor.value}`
    : `, over ${divisor.value} m2 of height squared`;
}

/** What the table rests on: rules, the panel's ages, exact ages, measures, the normal distribution. */
export function tableNotes({ panel }: Evaluation, interpretation: Interpretation): string {
  const verdicts = interpretation.results.flatMap(verdictsIn);
  const read = new Set(verdicts.map(({ set }) => set.id));
  const sets = panel.panel.sets
    .filter(({ ref }) => read.has(ref.id))
    .map((set) => ({ ...set, ...panel.describe(set.ref) }));
  const rules = new Set(
    sets.flatMap(({ rule }) => (rule ? [`${lowerFirst(rule.title)} (${rule.basis})`] : [])),
  );
  const postures = sets.flatMap(({ shortTitle, posture }) => (posture ? [`${shortTitle} ${posture}`] : []));
  const between = sets.flatMap(({ shortTitle, interpolates }) => (interpolates ? [shortTitle] : []));
  const measures = new Set(verdicts.map(divisorText).filter(Boolean));
  const hasMeans = verdicts.some(({ zScore }) => zScore !== null);
  return [
    rules.size > 0
      ? `Limits of the tables: ${[...rules].join('; ')}.${hasMeans ? ' In older people two SD below the mean is a low limit. z-scores and percentiles take the row as normally distributed.' : ''}`
      : '',
    between.length > 0
      ? `${between.join(', ')}: centiles are printed for exact ages; those of the completed year are linear between them.`
      : '',
    measures.size > 0 ? `Force ${[...measures].join('; force ')}.` : '',
    unprovenText(verdicts, panel),
    postures.length > 0 ? `Measured: ${postures.join('; ')}.` : '',
    agesText(sets),
  ]
    .filter(Boolean)
    .join(' ');
}

/** Sets whose figures were seen in one copy only, by the reason for which the panel took them. */
function unprovenText(verdicts: readonly Verdict[], panel: Evaluation['panel']): string {
  const titles = new Map<string, Set<string>>();
  for (const { set, provisional } of verdicts) {
    const { shortTitle, unprovenReason } = panel.describe(set);
    if (!unprovenReason || !provisional.includes('FIGURES_UNPROVEN')) continue;
    titles.set(unprovenReason, (titles.get(unprovenReason) ?? new Set()).add(shortTitle));
  }
  const said = [...titles].map(([reason, sets]) => `${[...sets].join(', ')} (${reason})`);
  return said.length > 0 ? `Not fully verified, taken by the panel on purpose: ${said.join('; ')}.` : '';
}

/** From which age the panel applies a set that gives none. */
function agesText(
  sets: readonly { shortTitle: string; ageReason: string | null; rows: readonly { ageMin: number }[] }[],
): string {
  const from = new Map<number, string[]>();
  for (const { shortTitle, ageReason, rows } of sets) {
    const age = Math.min(...rows.map(({ ageMin }) => ageMin));
    if (ageReason) from.set(age, [...(from.get(age) ?? []), shortTitle]);
  }
  const ages = [...from].map(([age, titles]) => `${titles.join(', ')} from age ${age}`);
  return ages.length > 0 ? `By choice of the panel: ${ages.join('; ')}.` : '';
}
