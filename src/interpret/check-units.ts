/** The unit trap: pounds read as kilograms, or the other way round. Never converted, only stopped or said. */
import { type WholeFigure, wholeFigure } from './charted.ts';
import { add, compare, divide, type Exact, exact, multiply, toDecimalText } from './exact.ts';
import { columnOf, possibleRows } from './find-row.ts';
import { type Caution, type Refusal, refuse } from './finding.ts';
import { type EarlierSession, figuresOfHand } from './history.ts';
import { isReduced } from './limit.ts';
import { forceOf, HANDS, type Hand, type HandFigure, ofHand, type Subject, scaleOf } from './measurement.ts';
import type { Panel } from './panel.ts';
import type { LimitRow, ReadySet } from './reference-set.ts';
import { convertForce, type ForceUnit } from './units.ts';

/** Refuses a whole session whose figures are charted on different scales: one of them is probably misread. */
export function checkMixedUnits(figures: readonly HandFigure[]): Refusal | undefined {
  const scales = [...new Set(figures.map(scaleOf))];
  if (scales.length < 2) return undefined;
  return refuse('UNITS_MIXED', { facts: { units: scales.sort().join(', ') } });
}

/**
 * Holds a session charted in kilograms in which a hand is more than `aboveSd` SD above the norm: its mean by some
 * table of the panel, or one reading (pounds among kilograms) by every table that covers the person. The facts
 * say whether the figure would be ordinary in pounds.
 */
export function checkUnitPlausibility(
  figures: readonly HandFigure[],
  subject: Subject,
  panel: Panel,
  history: readonly EarlierSession[] = [],
): Refusal | undefined {
  if (chartedIn(figures) !== 'kg') return undefined;
  const { aboveSd, withinSd, cautionAboveSd } = panel.rules.unitPlausibility;
  const isAbove =
    (sds: string) =>
    ({ asCharted, row }: Reading) =>
      compare(asCharted, atSd(row, sds)) > 0;
  const isHigh = isAbove(aboveSd);
  const isOrdinary = ({ asOther, row }: Reading) =>
    compare(asOther, atSd(row, withinSd)) <= 0 && compare(asOther, atSd(row, `-${withinSd}`)) >= 0;
  for (const hand of HANDS) {
    const own = fitForNorms(figures, hand);
    const whole = wholeFigure(own);
    if (!whole) continue;
    const about = { charted: 'kg' as const, tables: normTables(panel, subject, hand) };
    const average = whole.value;
    const high = someTable({ ...about, figure: average }, isHigh)
      ? average
      : own.map(forceOf).find((figure) => everyTable({ ...about, figure }, isHigh));
    if (!high) {
      // About twice the last time, and strong for the person: what pounds charted as kilograms look like.
      const previous = multipleOfPrevious(hand, whole, figures, panel, history);
      const isStrong = () => someTable({ ...about, figure: average }, isAbove(cautionAboveSd));
      if (previous?.direction !== 'up' || !isStrong()) continue;
      return refuse('UNIT_IMPLAUSIBLE', { hand, facts: { ...factsOf(figures, average), ...previous.facts } });
    }
    const facts = factsOf(figures, high);
    const ordinary = someTable({ ...about, figure: high }, isOrdinary);
    return refuse('UNIT_IMPLAUSIBLE', { hand, facts: ordinary ? facts : { ...facts, otherUnit: '' } });
  }
  return undefined;
}

/**
 * Hands whose figure is possible in either unit, where the unit decides the result: kilograms well above the
 * norm that would be reduced as pounds; pounds or newtons that are reduced and would not be as kilograms.
 */
export function unitDoubts(
  figures: readonly HandFigure[],
  subject: Subject,
  panel: Panel,
): readonly Caution[] {
  const { cautionAboveSd, withinSd } = panel.rules.unitPlausibility;
  return HANDS.flatMap((hand) => {
    const whole = wholeFigure(fitForNorms(figures, hand));
    if (!whole) return [];
    const figure = whole.value;
    const about = { charted: chartedIn(figures), tables: normTables(panel, subject, hand) };
    const doubtful = someTable({ ...about, figure }, ({ charted, asCharted, asOther, row }) => {
      if (charted === 'kg') {
        return (
          compare(asCharted, atSd(row, cautionAboveSd)) > 0 && isReduced(asOther, row.limit, row.operator)
        );
      }
      return (
        isReduced(asCharted, row.limit, row.operator) &&
        !isReduced(asOther, row.limit, row.operator) &&
        compare(asOther, atSd(row, withinSd)) <= 0
      );
    });
    return doubtful
      ? [{ code: 'UNIT_DOUBTFUL' as const, hand, facts: { ...factsOf(figures, figure), ...kindFact(whole) } }]
      : [];
  });
}

/**
 * A figure that differs from the previous one of the same hand by a factor near that of the two units: cautioned,
 * since a hand can also have recovered or failed.
 */
export function changeDoubts(
  figures: readonly HandFigure[],
  panel: Panel,
  history: readonly EarlierSession[],
): readonly Caution[] {
  return HANDS.flatMap((hand) => {
    const whole = wholeFigure(ofHand(figures, hand));
    const previous = whole && multipleOfPrevious(hand, whole, figures, panel, history);
    if (!previous) return [];
    const facts = { ...factsOf(figures, whole.value), ...kindFact(whole), ...previous.facts };
    return [{ code: 'CHANGE_LIKE_UNIT' as const, hand, facts }];
  });
}

interface Multiple {
  readonly direction: 'up' | 'down';
  readonly facts: Readonly<Record<string, string>>;
}

/** From an earlier session to this one. */
function daysBetween(earlier: string, [first]: readonly HandFigure[]): number {
  return (Date.parse(first?.testedOn ?? earlier) - Date.parse(earlier)) / 86_400_000;
}

/** Where the rule has a factor, and the previous figure of the hand (of the same kind) is that many times smaller or larger. */
function multipleOfPrevious(
  hand: Hand,
  { kind, value: average }: WholeFigure,
  figures: readonly HandFigure[],
  panel: Panel,
  history: readonly EarlierSession[],
): Multiple | undefined {
  const { previousFactor } = panel.rules.unitPlausibility;
  const last = figuresOfHand(history, hand, kind).at(-1);
  if (!previousFactor || !last || daysBetween(last.testedOn, figures) > previousFactor.maxDays)
    return undefined;
  const before = last.summary;
  const unit = chartedIn(figures);
  const previous = convertForce(before.value, before.unit, unit);
  const facts = { previous: toDecimalText(previous, 1) };
  const isNear = (ratio: Exact) =>
    compare(ratio, exact(previousFactor.from)) >= 0 && compare(ratio, exact(previousFactor.to)) <= 0;
  if (isNear(divide(average, previous))) return { direction: 'up', facts };
  return isNear(divide(previous, average)) ? { direction: 'down', facts } : undefined;
}

/** None of a hand that norms do not fit: only its own earlier figures can put its unit in doubt. */
function fitForNorms(figures: readonly HandFigure[], hand: Hand): readonly HandFigure[] {
  const own = ofHand(figures, hand);
  return own.some(({ ownBaseline }) => ownBaseline) ? [] : own;
}

/** The unit that a figure is most likely mistaken for. */
const OTHER_UNIT: Readonly<Record<ForceUnit, ForceUnit>> = { kg: 'lb', lb: 'kg', N: 'kg' };

function chartedIn([first]: readonly HandFigure[]): ForceUnit {
  return first ? scaleOf(first) : 'kg';
}

function factsOf(figures: readonly HandFigure[], figure: Exact): Readonly<Record<string, string>> {
  const unit = chartedIn(figures);
  return { figure: toDecimalText(figure, 1), unit, otherUnit: OTHER_UNIT[unit] };
}

/** Only where it is not a mean. */
function kindFact({ kind }: WholeFigure): Readonly<Record<string, string>> {
  return kind === 'mean-per-hand' ? {} : { of: 'highest' };
}

/** One figure of a hand, in the unit of one norm row, as charted and as if charted in the other unit. */
interface Reading {
  readonly charted: ForceUnit;
  readonly asCharted: Exact;
  readonly asOther: Exact;
  readonly row: NormRow;
}

type NormRow = LimitRow & { readonly norm: NonNullable<LimitRow['norm']>; readonly limit: Exact };

/** A figure of one hand, and the norm tables that cover the person. */
interface Figure {
  readonly charted: ForceUnit;
  readonly figure: Exact;
  readonly tables: readonly NormTable[];
}

/** A norm table and its rows for this person and hand, one for each sex that is possible. */
interface NormTable {
  readonly set: ReadySet;
  readonly rows: readonly NormRow[];
}

/** Whether some norm table of the panel says so with every row that is possible for the person's sex. */
function someTable(figure: Figure, says: (reading: Reading) => boolean): boolean {
  return readingsByTable(figure).some((rows) => rows.every(says));
}

/** The same of every norm table that covers the person; false when none does. */
function everyTable(figure: Figure, says: (reading: Reading) => boolean): boolean {
  const tables = readingsByTable(figure);
  return tables.length > 0 && tables.every((rows) => rows.every(says));
}

/** For each table, the figure beside each possible row. */
function readingsByTable({ charted, figure, tables }: Figure): readonly (readonly Reading[])[] {
  return tables.map(({ set, rows }) => {
    const asCharted = convertForce(figure, charted, set.unit);
    const asOther = convertForce(figure, OTHER_UNIT[charted], set.unit);
    return rows.map((row) => ({ charted, asCharted, asOther, row }));
  });
}

/**
 * Tables of the mean of one hand, of the panel or kept for this check only, with figures that may drive a result.
 * Cut-points and centiles have no norm and are left out.
 */
function normTables(panel: Panel, subject: Subject, hand: Hand): readonly NormTable[] {
  return [...panel.sets, ...(panel.unitGuards ?? [])].flatMap((set) => {
    const column = columnOf(set, hand, subject);
    const isMeanForce = set.summary === 'mean-per-hand' && set.quantity === undefined;
    if (!isMeanForce || !column) return [];
    const rows = possibleRows(set, subject, column).flatMap((row) => (row && hasNorm(row) ? [row] : []));
    return rows.length > 0 ? [{ set, rows }] : [];
  });
}

function hasNorm(row: LimitRow): row is NormRow {
  return row.norm !== null && row.limit !== null && !row.unproven;
}

/** `sds` SD above the mean of a row, exactly; `-3` for three below. */
function atSd(row: NormRow, sds: string): Exact {
  const known = levels.get(row)?.get(sds);
  if (known) return known;
  const level = add(exact(row.norm.mean), multiply(exact(sds), exact(row.norm.sd)));
  levels.set(row, (levels.get(row) ?? new Map<string, Exact>()).set(sds, level));
  return level;
}

/** Each level is worked out once for each row: the rows are frozen. */
const levels = new WeakMap<LimitRow, Map<string, Exact>>();
