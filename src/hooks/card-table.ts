/** The table of a card: every set that was read, and the notes under it. */
import type { Evaluation } from '../evaluation.ts';
import type { Interpretation, Verdict } from '../interpret/finding.ts';
import type { SummaryKind } from '../interpret/measurement.ts';
import { verdictsIn } from '../wording/session-statements.ts';
import {
  comparedText,
  divisorText,
  forceText,
  limitText,
  lowerFirst,
  outcomeText,
  placeText,
  rowText,
} from '../wording/statements.ts';
import { supersededText } from '../wording/verdict-statements.ts';
import { markdown } from './markdown.ts';

type SetDescription = ReturnType<Evaluation['panel']['describe']>;

/** Four narrow columns: a side bar is some 40 characters wide. The figure as charted comes first. */
export function resultTable(evaluation: Evaluation, interpretation: Interpretation): string {
  const rows = interpretation.results.flatMap((result) =>
    result.kind === 'verdict'
      ? [tableRow(evaluation, result, '')]
      : result.columns.map((column) => tableRow(evaluation, column, `, ${rowText(column)}`)),
  );
  if (rows.length === 0) return '';
  return [
    '| Reference set | Figure | Reduced is | Result |',
    '|---|---|---|---|',
    ...rows.map((cells) => `| ${cells.join(' | ')} |`),
  ].join('\n');
}

/** @param row where it matters which one was read: a sex or an age that is not known */
function tableRow({ panel }: Evaluation, verdict: Verdict, row: string): readonly string[] {
  const about = panel.describe(verdict.set);
  const outcome = outcomeText(verdict);
  const place = placeText(verdict);
  return [
    markdown(`${about.shortTitle}${supersededText(about)}${verdict.hand ? `, ${verdict.hand}` : ''}${row}`),
    markdown(`${FIGURE_WORDS[verdict.summary]} ${figureText(verdict)}`),
    limitText(verdict.limit),
    `${verdict.outcome === 'reduced' ? `**${outcome}**` : outcome}${place ? ` (${markdown(place)})` : ''}`,
  ];
}

const FIGURE_WORDS: Readonly<Record<SummaryKind, string>> = {
  'mean-per-hand': 'mean',
  'highest-per-hand': 'highest',
  'highest-of-either-hand': 'highest',
  'mean-of-both-hands': 'mean of both',
};

/** As charted; in brackets as compared, where that is another figure. */
function figureText(verdict: Verdict): string {
  const { charted, compared, divisor } = verdict;
  const isSame = charted.unit === compared.unit && !divisor;
  return isSame ? comparedText(verdict) : `${forceText(charted)} (${comparedText(verdict)})`;
}

/** What the table rests on: rules, the panel's ages, exact ages, measures, the normal distribution. */
export function tableNotes({ panel }: Evaluation, interpretation: Interpretation): string {
  const verdicts = interpretation.results.flatMap(verdictsIn);
  const read = new Set(verdicts.map(({ set }) => set.id));
  const sets = panel.panel.sets
    .filter(({ ref }) => read.has(ref.id))
    .map((set) => ({ ...set, ...panel.describe(set.ref) }));
  const between = sets.flatMap(({ shortTitle, interpolates }) => (interpolates ? [shortTitle] : []));
  const measures = new Set(verdicts.map(divisorText).filter(Boolean));
  return [
    rowsText(interpretation, panel),
    rulesText(sets, verdicts, interpretation.ageYears),
    between.length > 0
      ? `${between.join(', ')}: centiles are printed for exact ages; those of the completed year are linear between them.`
      : '',
    measures.size > 0 ? `Force ${[...measures].join('; force ')}.` : '',
    unprovenText(verdicts, panel),
    choicesText(sets),
  ]
    .filter(Boolean)
    .join(' ');
}

/** The rows that were read, sets of the same row together; those of open results stand in the table. */
function rowsText({ results }: Interpretation, panel: Evaluation['panel']): string {
  const titles = new Map<string, Set<string>>();
  for (const result of results) {
    if (result.kind !== 'verdict') continue;
    const row = rowText(result);
    titles.set(row, (titles.get(row) ?? new Set()).add(panel.describe(result.set).shortTitle));
  }
  const said = [...titles].map(([row, sets]) => `${row} (${[...sets].join(', ')})`);
  return said.length > 0 ? `Read for ${said.join('; ')}.` : '';
}

type Described = Pick<SetDescription, 'shortTitle' | 'rule' | 'ageReason' | 'summaryReason'> & {
  readonly rows: readonly { readonly ageMin: number }[];
};

/** Two SD below the mean is a low limit in older people: said where the age is one of theirs. */
function rulesText(
  sets: readonly Described[],
  verdicts: readonly Verdict[],
  ageYears: number | null,
): string {
  const rules = new Set(
    sets.flatMap(({ rule }) => (rule ? [`${lowerFirst(rule.title)} (${rule.basis})`] : [])),
  );
  if (rules.size === 0) return '';
  const hasMeans = verdicts.some(({ zScore }) => zScore !== null);
  const isOlder = ageYears === null || ageYears >= OLDER;
  return `Limits of the tables: ${[...rules].join('; ')}.${
    hasMeans && isOlder ? ' In older people two SD below the mean is a low limit.' : ''
  }${hasMeans ? ' Percentiles take the row as normally distributed.' : ''}`;
}

/** From which the consensus groups on sarcopenia speak of older people. */
const OLDER = 65;

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

/** From which age the panel applies a set that gives none, and which figure it takes where the set names none. */
function choicesText(sets: readonly Described[]): string {
  const from = new Map<number, string[]>();
  for (const { shortTitle, ageReason, rows } of sets) {
    const age = Math.min(...rows.map(({ ageMin }) => ageMin));
    if (ageReason) from.set(age, [...(from.get(age) ?? []), shortTitle]);
  }
  const ages = [...from].map(([age, titles]) => `${titles.join(', ')} from age ${age}`);
  const figures = sets.flatMap(({ shortTitle, summaryReason }) => (summaryReason ? [shortTitle] : []));
  const chosen = figures.length > 0 ? [`which figure ${figures.join(', ')} is read from`] : [];
  const choices = [...ages, ...chosen];
  return choices.length > 0 ? `By choice of the panel: ${choices.join('; ')}.` : '';
}
