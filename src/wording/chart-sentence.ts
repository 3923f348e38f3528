/** One session as a sentence for the chart, to stand alone where it is copied to. Plain text. */
import type { Caution, Change, Interpretation, Refusal, Summary, Verdict } from '../interpret/finding.ts';
import type { Hand, HandFigure, Sex } from '../interpret/measurement.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { declineOf } from './change-statements.ts';
import {
  ageText,
  openFor,
  ownBaselineHands,
  provisionalReasons,
  stopOf,
  tally,
  unitsInDoubt,
} from './session-statements.ts';
import {
  capital,
  dateText,
  lowerFirst,
  oneDecimal,
  provisionalText,
  refusalSentence,
  rowText,
  SUMMARY_WORDS,
  withKilograms,
} from './statements.ts';
import { hasBothParts } from './verdict-statements.ts';

/** What the record says besides the findings; what is absent is not spoken of. */
export interface ChartFacts {
  /** The sex used and the element it came from. */
  readonly sex?: { readonly sex: Sex | null; readonly source: string } | undefined;
  /** The trials used. */
  readonly trials?: readonly HandFigure[] | undefined;
  /** Measurements that could not be read. */
  readonly refusals?: readonly Refusal[] | undefined;
  /** A loss beyond the published sizes over a longer time than since the last session. */
  readonly decline?: Change | undefined;
  /** Day of newer trials that could not be used, `YYYY-MM-DD`. */
  readonly unread?: string | undefined;
}

/** Trials, figures, what each set says, what speaks against it, what it is not. */
export function chartSentence(
  interpretation: Interpretation,
  panel: AppliedPanel,
  facts: ChartFacts = {},
): string {
  const { testedOn, ageYears, summaries } = interpretation;
  const stop = stopOf(interpretation);
  const age = ageYears === null ? '' : `, age ${ageText(interpretation)}`;
  const when = `Grip strength ${dateText(testedOn)}${age}`;
  if (stop) return `${when}: ${lowerFirst(refusalSentence(stop))}`;
  if (summaries.length === 0) return `${when}: not interpreted; no trial of it could be used.`;
  return [
    `${when}${sexReadText(facts.sex, ageYears)}: ${figuresText(summaries)}.`,
    resultsText(interpretation, panel),
    ...bothPartsText(interpretation, panel),
    provisionalText(provisionalReasons(interpretation)),
    declineText(facts.decline ?? declineOf(interpretation)),
    ...notesOf(interpretation, facts),
    facts.unread ? `Newer trials of ${dateText(facts.unread)} could not be read.` : '',
    'One item of the assessment; not a diagnosis.',
  ]
    .filter(Boolean)
    .join(' ');
}

/** e.g. `, read as a man (administrative gender)`; empty where no one sex was read. */
function sexReadText(used: ChartFacts['sex'], ageYears: number | null): string {
  if (!used?.sex) return '';
  const from = used.source === 'administrative-gender' ? ' (administrative gender)' : '';
  return `, read ${asOne(used.sex, ageYears !== null && ageYears < 18)}${from}`;
}

function asOne(sex: Sex, isMinor: boolean): string {
  if (sex === 'male') return isMinor ? 'as a boy' : 'as a man';
  return isMinor ? 'as a girl' : 'as a woman';
}

function figuresText(summaries: readonly Summary[]): string {
  const hasMean = (hand: Hand | null) =>
    summaries.some(({ kind, hand: own }) => kind === 'mean-per-hand' && own === hand);
  return summaries
    .filter(({ kind, hand }) => kind !== 'highest-per-hand' || !hasMean(hand))
    .map(figureText)
    .join(', ');
}

function figureText(summary: Summary): string {
  const { kind, hand, trials, provisional } = summary;
  const both = withKilograms(summary);
  if (!hand) return `${SUMMARY_WORDS[kind]} ${both}`;
  const count = trials.length === 1 ? '1 trial' : `${trials.length} trials`;
  const from = provisional.includes('SUMMARY_CHARTED') ? 'as charted' : `of ${count}`;
  return `${hand} ${SUMMARY_WORDS[kind]} ${both} ${from}`;
}

function resultsText(interpretation: Interpretation, panel: AppliedPanel): string {
  const { reduced, notReduced, open } = tally(interpretation, panel);
  const outcomes = open.map((title) => `${title}${outcomesText(title, interpretation, panel)}`);
  const said = [
    reduced.length > 0 ? `Reduced by ${reduced.join(', ')}.` : '',
    notReduced.length > 0 ? `Not reduced by ${notReduced.join(', ')}.` : '',
    open.length > 0 ? `Depends on ${DEPENDS_ON[openFor(interpretation)]}: ${outcomes.join(', ')}.` : '',
  ];
  return said.filter(Boolean).join(' ') || 'No reference set of this panel applies.';
}

const DEPENDS_ON = {
  sex: 'the sex read, not usable in the record',
  age: 'the age, known in part only',
} as const;

/** Of an open set, what it says for each possibility, e.g. ` (women not reduced; men reduced)`; hands alike once. */
function outcomesText(title: string, { results }: Interpretation, panel: AppliedPanel): string {
  const own = results.filter(
    (result): result is Refusal =>
      result.kind === 'refusal' && result.set !== null && panel.describe(result.set).shortTitle === title,
  );
  const byHand = new Map(own.map((result) => [result.hand, columnsText(result)]));
  const alike = new Set(byHand.values()).size === 1;
  const said = alike
    ? [...byHand.values()].slice(0, 1)
    : [...byHand].map(([hand, text]) => `${hand} hand: ${text}`);
  return said.some(Boolean) ? ` (${said.filter(Boolean).join('; ')})` : '';
}

function columnsText({ columns, facts }: Refusal): string {
  const sexes = new Set(columns.map(({ sex }) => sex));
  const areSexes = sexes.size === columns.length && sexes.size > 1;
  const who = (column: Verdict) =>
    areSexes ? asOne(column.sex, (column.row.ageMax ?? 18) < 18) : rowText(column);
  const said = columns.map(
    (column) => `${who(column)} ${column.outcome === 'reduced' ? 'reduced' : 'not reduced'}`,
  );
  return [
    ...said,
    ...(facts.unknown ? [`${facts.unknown} not known here`] : []),
    ...(facts.notCovered ? [`${facts.notCovered} not covered`] : []),
  ].join(', ');
}

/** Said, not judged: no set diagnoses here. */
function bothPartsText({ results }: Interpretation, panel: AppliedPanel): readonly string[] {
  const titles = results.flatMap((result) => {
    if (result.kind !== 'verdict') return [];
    const about = panel.describe(result.set);
    return hasBothParts(result, about) ? [about.shortTitle] : [];
  });
  return [...new Set(titles)].map(
    (title) => `Both parts of the definition of ${title} are in the record; the clinician judges.`,
  );
}

function declineText(decline: Change | undefined): string {
  if (!decline) return '';
  const { hand, difference, percent, since } = decline;
  const size = `${oneDecimal(difference.value.replace('-', ''))} ${difference.unit}`;
  return `${capital(hand)} mean down ${size}${percent ? ` (${percent}%)` : ''} since ${dateText(since.slice(0, 10))}, beyond the published sizes of change.`;
}

function notesOf(interpretation: Interpretation, facts: ChartFacts): readonly string[] {
  const units = unitsInDoubt(interpretation);
  const postures = new Set((facts.trials ?? []).flatMap(({ protocol }) => protocol?.posture ?? []));
  return [
    units ? `Unit to be checked (${units}).` : '',
    ...interpretation.cautions.flatMap((caution) => cautionNote(caution, interpretation, facts)),
    [...postures].some((posture) => posture !== 'seated') ? `Posture ${[...postures].join(' and ')}.` : '',
    ...ownBaselineHands(interpretation).map(
      (hand) => `${capital(hand)} hand: norms do not fit, own baseline.`,
    ),
  ];
}

/** Cautions that the chart must carry, in few words. */
function cautionNote(
  { code, hand, facts }: Caution,
  interpretation: Interpretation,
  { refusals = [] }: ChartFacts,
): readonly string[] {
  if (code === 'TRIALS_SCATTER')
    return [`${capital(hand)}-hand trials inconsistent (CV ${facts.cvPercent}%).`];
  if (code === 'SUMMARY_DISAGREES')
    return [
      `${capital(hand)}-hand ${facts.kind} charted as ${facts.charted} ${facts.unit}, which the trials do not give.`,
    ];
  if (code === 'TRIAL_PRELIMINARY') return ['Some trials not yet verified.'];
  if (code === 'HAND_NOT_TESTED') return [handNotTested(hand, interpretation, refusals)];
  return [];
}

/** e.g. `Left hand not tested: charted as not performed.`; without a charted reason it may have been tested. */
export function handNotTested(
  hand: Hand | null,
  interpretation: Interpretation,
  refusals: readonly Refusal[],
): string {
  const why = reasonsFor(hand, interpretation, refusals);
  return why.length > 0
    ? `${capital(hand)} hand not tested: charted as ${why.join(', ')}.`
    : `${capital(hand)} hand: no usable trial.`;
}

/** Why no reading of the hand was charted for the day, in words; of a refusal that names no day it is taken to be of it. */
export function reasonsFor(
  hand: Hand | null,
  { testedOn }: Interpretation,
  refusals: readonly Refusal[],
): readonly string[] {
  const own = refusals.filter(
    ({ code, hand: of, facts }) =>
      code === 'VALUE_ABSENT' && of === hand && (facts.testedOn === undefined || facts.testedOn === testedOn),
  );
  return [...new Set(own.flatMap(({ facts }) => (facts.reason ? [facts.reason.replaceAll('-', ' ')] : [])))];
}
