/** Reads one reference set for one session: row, exact comparison at the limit, z-score, verdict or refusal. */
import { compare, type Exact, exact, toDecimalText, toNumber } from './exact.ts';
import { type Refusal, refuse, type Verdict } from './finding.ts';
import { SEXES, type Sex, type Subject } from './measurement.ts';
import {
  coversAge,
  findRow,
  type LimitOperator,
  type LimitRow,
  type Panel,
  type ReadySet,
} from './reference-set.ts';
import { type ExactSummary, SUMMARY_DIGITS } from './summarise.ts';
import { conversionText, convertForce } from './units.ts';
import { percentileOf, zScore } from './z-score.ts';

/** Every set of the panel, in the panel's order; per-hand sets answer once for each tested hand. */
export function judgePanel(
  panel: Panel,
  summaries: readonly ExactSummary[],
  subject: Subject,
): readonly (Verdict | Refusal)[] {
  if (summaries.length === 0) return [];
  return panel.sets.flatMap((set) => {
    if (!set.rows.some((row) => coversAge(row, subject.ageYears)))
      return [ageRefusal(set, panel, subject.ageYears)];
    return summaries
      .filter((summary) => summary.kind === set.summary)
      .map((summary) => judgeSet(set, summary, subject));
  });
}

function judgeSet(set: ReadySet, summary: ExactSummary, subject: Subject): Verdict | Refusal {
  if (subject.sex) return judgeForSex(set, summary, subject.ageYears, subject.sex);
  const columns = SEXES.map((sex) => judgeForSex(set, summary, subject.ageYears, sex));
  return refuse('SEX_NOT_USABLE', {
    set: set.ref,
    hand: summary.hand,
    columns: columns.filter((column) => column.kind === 'verdict'),
  });
}

function judgeForSex(set: ReadySet, summary: ExactSummary, ageYears: number, sex: Sex): Verdict | Refusal {
  const row = findRow(set, { ageYears, sex, hand: summary.hand });
  if (!row)
    return refuse('AGE_OUTSIDE_SET', {
      set: set.ref,
      hand: summary.hand,
      facts: { ageYears: String(ageYears) },
    });
  const value = convertForce(summary.value, summary.unit, set.unit);
  const z = row.norm ? zScore(toNumber(value), Number(row.norm.mean), Number(row.norm.sd)) : null;
  return {
    kind: 'verdict',
    set: set.ref,
    rule: set.rule,
    sex,
    hand: summary.hand,
    summary: set.summary,
    charted: { value: toDecimalText(summary.value, SUMMARY_DIGITS), unit: summary.unit },
    compared: { value: toDecimalText(value, SUMMARY_DIGITS), unit: set.unit },
    conversion: conversionText(summary.unit, set.unit),
    limit: { value: limitText(row.limit), unit: set.unit, operator: row.operator },
    row: {
      ageMin: row.ageMin,
      ageMax: row.ageMax,
      mean: row.norm?.mean ?? null,
      sd: row.norm?.sd ?? null,
      verification: row.verification,
    },
    outcome: isReduced(value, row.limit, row.operator) ? 'reduced' : 'not-reduced',
    zScore: z,
    percentile: z === null ? null : percentileOf(z),
    provisional: summary.provisional,
  };
}

/** At the limit counts only where the operator includes it. Exact: no rounding, no tolerance. */
export function isReduced(value: Exact, limit: Exact, operator: LimitOperator): boolean {
  const order = compare(value, limit);
  return order < 0 || (order === 0 && operator === '<=');
}

/** Limits come from figures with at most two decimals, so they are shown whole: 41.4, 5.44, 27. */
function limitText(limit: Exact): string {
  for (const digits of [0, 1, 2]) {
    const text = toDecimalText(limit, digits);
    if (compare(exact(text), limit) === 0) return text;
  }
  return toDecimalText(limit, SUMMARY_DIGITS);
}

function ageRefusal(set: ReadySet, panel: Panel, ageYears: number): Refusal {
  const others = panel.sets.filter(
    (other) => other !== set && other.rows.some((row) => coversAge(row, ageYears)),
  );
  const next = set.ref.kind === 'table' ? others.find((other) => other.ref.kind === 'table') : undefined;
  return refuse('AGE_OUTSIDE_SET', {
    set: set.ref,
    facts: {
      ageYears: String(ageYears),
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
