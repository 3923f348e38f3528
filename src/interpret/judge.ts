/** Reads every set of a panel for one session: one verdict for each hand or person, or why there is none. */
import { divisorOf, MEASURES_FOR } from './figure.ts';
import {
  agesOf,
  columnOf,
  findRow,
  isByDominance,
  placingFor,
  possibleRows,
  sexesOf,
  stratumOf,
} from './find-row.ts';
import { type Refusal, refuse, type Verdict } from './finding.ts';
import { HANDS, type Subject, type SummaryKind } from './measurement.ts';
import type { Panel } from './panel.ts';
import { coversAge, type LimitRow, type ReadySet, type RowHand } from './reference-set.ts';
import type { ExactSummary } from './summarise.ts';
import { type About, writeVerdict } from './verdict.ts';

/** Every set of the panel, in the panel's order; per-hand sets answer once for each tested hand. */
export function judgePanel(
  panel: Panel,
  summaries: readonly ExactSummary[],
  subject: Subject,
): readonly (Verdict | Refusal)[] {
  if (summaries.length === 0) return [];
  return panel.sets.flatMap((set) => {
    if (!agesOf(subject).some((age) => set.rows.some((row) => coversAge(row, age))))
      return [ageRefusal(set, panel, subject)];
    return judgeSet(set, summaries, subject);
  });
}

/** One set: a verdict or refusal for each summary that it reads, or one refusal. */
export function judgeSet(
  set: ReadySet,
  summaries: readonly ExactSummary[],
  subject: Subject,
): readonly (Verdict | Refusal)[] {
  const { ref } = set;
  const missing = whatIsMissing(set, subject);
  if (missing) return [missing];
  const own = summaries.filter(({ kind }) => kind === set.summary);
  const read = own.flatMap((summary) => {
    const column = columnOf(set, summary.hand, subject);
    if (column === undefined || !set.rows.some(({ hand }) => hand === column)) return [];
    if (summary.ownBaseline) return [refuse('OWN_BASELINE', { set: ref, hand: summary.hand })];
    return [judgeSummary(set, summary, subject, column)];
  });
  const lacking = notCharted(set, summaries, subject);
  if (read.length + lacking.length > 0) return [...read, ...lacking];
  // The figure of both hands is missing because one of them is its own norm.
  if (set.summary === 'mean-of-both-hands' && summaries.some(({ ownBaseline }) => ownBaseline))
    return [refuse('OWN_BASELINE', { set: ref })];
  return [refuse('HAND_NOT_MEASURED', { set: ref, facts: handFacts(set) })];
}

/** Hands, or the person, of which another figure is charted than this set is read from: it is never guessed. */
function notCharted(set: ReadySet, summaries: readonly ExactSummary[], subject: Subject): readonly Refusal[] {
  const wanted = set.summary;
  const isPerHand = wanted === 'mean-per-hand' || wanted === 'highest-per-hand';
  const kindOfHand = isPerHand ? wanted : 'highest-per-hand';
  const lacking = HANDS.flatMap((hand) => {
    const own = summaries.filter((summary) => summary.hand === hand);
    const [first] = own;
    return first && own.every(({ kind }) => kind !== kindOfHand) ? [first] : [];
  });
  const refuseFor = ({ kind, ownBaseline }: ExactSummary, hand: ExactSummary['hand']) =>
    ownBaseline
      ? refuse('OWN_BASELINE', { set: set.ref, hand })
      : refuse('SUMMARY_NOT_CHARTED', { set: set.ref, hand, facts: notChartedFacts(wanted, kind) });
  if (isPerHand)
    return lacking.flatMap((summary) => {
      const column = columnOf(set, summary.hand, subject);
      const isRead = column !== undefined && set.rows.some(({ hand }) => hand === column);
      return isRead ? [refuseFor(summary, summary.hand)] : [];
    });
  const needsBoth = wanted === 'mean-of-both-hands';
  if (summaries.some(({ kind }) => kind === wanted)) return [];
  if (needsBoth && HANDS.some((hand) => summaries.every((summary) => summary.hand !== hand))) return [];
  if (needsBoth && summaries.some(({ ownBaseline }) => ownBaseline)) return [];
  const [first] = lacking;
  return first ? [refuseFor(lacking.find(({ ownBaseline }) => !ownBaseline) ?? first, null)] : [];
}

const NEEDED: Readonly<Record<SummaryKind, string>> = {
  'mean-per-hand': 'the mean of the hand',
  'highest-per-hand': 'the highest of the hand',
  'highest-of-either-hand': 'the highest of either hand',
  'mean-of-both-hands': 'the highest of both hands',
};

function notChartedFacts(wanted: SummaryKind, charted: SummaryKind): Readonly<Record<string, string>> {
  return { needs: NEEDED[wanted], charted: charted === 'mean-per-hand' ? 'mean' : 'highest' };
}

/** What the record must hold for this set and does not. */
function whatIsMissing(set: ReadySet, subject: Subject): Refusal | undefined {
  const { ref, quantity = 'force' } = set;
  const known = subject.dominant === 'right' || subject.dominant === 'left';
  if (isByDominance(set) && !known)
    return refuse('HANDEDNESS_UNKNOWN', { set: ref, facts: { dominant: subject.dominant ?? '' } });
  if (quantity !== 'force' && !divisorOf(quantity, subject))
    return refuse('MEASURE_MISSING', { set: ref, facts: { needs: MEASURES_FOR[quantity] } });
  const stratum = stratumOf(set);
  if (stratum && !placingFor(stratum.by, stratum.digits, subject)) {
    const needs = stratum.by === 'bmi' ? MEASURES_FOR['force-over-bmi'] : 'height';
    return refuse('MEASURE_MISSING', { set: ref, facts: { needs } });
  }
  return undefined;
}

function handFacts({ rows, summary }: ReadySet): Readonly<Record<string, string>> {
  if (summary === 'mean-of-both-hands') return { needs: 'both hands' };
  return { needs: rows.some(({ hand }) => hand === 'dominant') ? 'the dominant hand' : 'a hand' };
}

function judgeSummary(
  set: ReadySet,
  summary: ExactSummary,
  subject: Subject,
  column: RowHand,
): Verdict | Refusal {
  const { quantity = 'force' } = set;
  const stratum = stratumOf(set);
  const placing = stratum && placingFor(stratum.by, stratum.digits, subject);
  const divisor = quantity === 'force' ? undefined : divisorOf(quantity, subject);
  const rows = possibleRows(set, subject, column, placing);
  const about = { set, summary, subject, divisor, placing };
  const [only] = rows;
  if (rows.length === 1 && only) return readRow(only, about);
  const columns = rows.flatMap((row) => {
    const read = row && readRow(row, about);
    return read?.kind === 'verdict' ? [read] : [];
  });
  const unknown = rows.find((row) => row?.limit === null);
  if (columns.length === 0) return unknown ? readRow(unknown, about) : noRow(about);
  const code = subject.sex ? 'AGE_UNCERTAIN' : 'SEX_NOT_USABLE';
  const facts = { ...agesFacts(subject), ...gapFacts(about, column) };
  return refuse(code, { set: set.ref, hand: summary.hand, facts, columns });
}

/** Possibilities that no column stands for: an age that the set does not cover, a sex without a figure. */
function gapFacts({ set, subject, placing }: About, column: RowHand): Readonly<Record<string, string>> {
  const ages = agesOf(subject);
  const outside = ages.filter((age) => !set.rows.some((row) => coversAge(row, age)));
  const covered = ages.filter((age) => !outside.includes(age));
  const lacking = sexesOf(subject).filter((sex) =>
    covered.some((ageYears) => !findRow(set, { ageYears, sex, hand: column, placing })?.limit),
  );
  const words = lacking.map((sex) => (sex === 'male' ? 'men' : 'women'));
  return {
    ...(outside.length > 0 ? { notCovered: outside.join(' and ') } : {}),
    ...(words.length > 0 ? { unknown: words.join(' and ') } : {}),
  };
}

function readRow(row: LimitRow, about: About): Verdict | Refusal {
  const { set, summary } = about;
  const { limit } = row;
  if (limit === null)
    return refuse('FIGURE_UNKNOWN', { set: set.ref, hand: summary.hand, facts: rowFacts(row) });
  return writeVerdict({ ...row, limit }, about);
}

function rowFacts({ note }: LimitRow): Readonly<Record<string, string>> {
  return note ? { note } : {};
}

/** The age is covered, the person is not: an age of another column, or a measure outside every stratum. */
function noRow({ set, summary, subject, placing }: About): Refusal {
  const { hand } = summary;
  if (placing) {
    const { kind, value } = placing.measure;
    return refuse('MEASURE_OUTSIDE_SET', { set: set.ref, hand, facts: { measure: kind, value } });
  }
  return refuse('AGE_OUTSIDE_SET', { set: set.ref, hand, facts: { ageYears: String(subject.ageYears) } });
}

/** Only where the age is uncertain. */
function agesFacts(subject: Subject): Readonly<Record<string, string>> {
  const ages = agesOf(subject);
  return ages.length > 1 ? { ages: ages.join(' or ') } : {};
}

function ageRefusal(set: ReadySet, panel: Panel, subject: Subject): Refusal {
  const others = panel.sets.filter(
    (other) => other !== set && agesOf(subject).every((age) => other.rows.some((row) => coversAge(row, age))),
  );
  const next = set.ref.kind === 'table' ? others.find((other) => other.ref.kind === 'table') : undefined;
  return refuse('AGE_OUTSIDE_SET', {
    set: set.ref,
    facts: {
      ageYears: agesOf(subject).join(' or '),
      covers: agesText(set.rows),
      ...(next ? { next: next.ref.id, nextVersion: next.ref.version } : {}),
    },
  });
}

/** The ages a set covers, e.g. `20 and over` or `50 to 64`. */
function agesText(rows: readonly LimitRow[]): string {
  const from = Math.min(...rows.map((row) => row.ageMin));
  const closed = rows.flatMap((row) => (row.ageMax === null ? [] : [row.ageMax]));
  return closed.length < rows.length ? `${from} and over` : `${from} to ${Math.max(...closed)}`;
}
