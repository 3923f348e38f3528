/** The unit trap: pounds read as kilograms, or the other way round. Never converted, only stopped or said. */
import { add, compare, type Exact, exact, mean, multiply, toDecimalText } from './exact.ts';
import { type Caution, type Refusal, refuse } from './finding.ts';
import { isReduced } from './judge.ts';
import {
  forceOf,
  HANDS,
  type Hand,
  ofHand,
  SEXES,
  type Subject,
  scaleOf,
  type Trial,
} from './measurement.ts';
import { findRow, type LimitRow, type Panel, type ReadySet } from './reference-set.ts';
import { convertForce, type ForceUnit } from './units.ts';

/** Refuses a whole session whose trials are charted on different scales: one of them is probably misread. */
export function checkMixedUnits(trials: readonly Trial[]): Refusal | undefined {
  const scales = [...new Set(trials.map(scaleOf))];
  if (scales.length < 2) return undefined;
  return refuse('UNITS_MIXED', { facts: { units: scales.sort().join(', ') } });
}

/**
 * Holds a session charted in kilograms in which a hand is more than `aboveSd` SD above the norm: its mean by some
 * table of the panel, or one reading (pounds among kilograms) by every table that covers the person. The facts
 * say whether the figure would be ordinary in pounds.
 */
export function checkUnitPlausibility(
  trials: readonly Trial[],
  subject: Subject,
  panel: Panel,
): Refusal | undefined {
  if (chartedIn(trials) !== 'kg') return undefined;
  const { aboveSd, withinSd } = panel.rules.unitPlausibility;
  const isHigh = ({ asCharted, row }: Reading) => compare(asCharted, atSd(row, aboveSd)) > 0;
  const isOrdinary = ({ asOther, row }: Reading) =>
    compare(asOther, atSd(row, withinSd)) <= 0 && compare(asOther, atSd(row, `-${withinSd}`)) >= 0;
  for (const hand of HANDS) {
    const forces = ofHand(trials, hand).map(forceOf);
    if (forces.length === 0) continue;
    const about = { charted: 'kg' as const, tables: normTables(panel, subject, hand) };
    const average = mean(forces);
    const high = someTable({ ...about, figure: average }, isHigh)
      ? average
      : forces.find((figure) => everyTable({ ...about, figure }, isHigh));
    if (!high) continue;
    const facts = factsOf(trials, high);
    const ordinary = someTable({ ...about, figure: high }, isOrdinary);
    return refuse('UNIT_IMPLAUSIBLE', { hand, facts: ordinary ? facts : { ...facts, otherUnit: '' } });
  }
  return undefined;
}

/**
 * Hands whose figure is possible in either unit, where the unit decides the result: kilograms well above the
 * norm that would be reduced as pounds; pounds or newtons that are reduced and would not be as kilograms.
 */
export function unitDoubts(trials: readonly Trial[], subject: Subject, panel: Panel): readonly Caution[] {
  const { cautionAboveSd, withinSd } = panel.rules.unitPlausibility;
  return HANDS.flatMap((hand) => {
    const forces = ofHand(trials, hand).map(forceOf);
    if (forces.length === 0) return [];
    const figure = mean(forces);
    const about = { charted: chartedIn(trials), tables: normTables(panel, subject, hand) };
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
    return doubtful ? [{ code: 'UNIT_DOUBTFUL' as const, hand, facts: factsOf(trials, figure) }] : [];
  });
}

/** The unit that a figure is most likely mistaken for. */
const OTHER_UNIT: Readonly<Record<ForceUnit, ForceUnit>> = { kg: 'lb', lb: 'kg', N: 'kg' };

function chartedIn([first]: readonly Trial[]): ForceUnit {
  return first ? scaleOf(first) : 'kg';
}

function factsOf(trials: readonly Trial[], figure: Exact): Readonly<Record<string, string>> {
  const unit = chartedIn(trials);
  return { figure: toDecimalText(figure, 1), unit, otherUnit: OTHER_UNIT[unit] };
}

/** One figure of a hand, in the unit of one norm row, as charted and as if charted in the other unit. */
interface Reading {
  readonly charted: ForceUnit;
  readonly asCharted: Exact;
  readonly asOther: Exact;
  readonly row: NormRow;
}

type NormRow = LimitRow & { readonly norm: NonNullable<LimitRow['norm']> };

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

/** Cut-points have no norm and are left out. */
function normTables(panel: Panel, { ageYears, sex }: Subject, hand: Hand): readonly NormTable[] {
  return panel.sets.flatMap((set) => {
    const rows = (sex ? [sex] : SEXES).flatMap((possible) => {
      const row = findRow(set, { ageYears, sex: possible, hand });
      return row && hasNorm(row) ? [row] : [];
    });
    return rows.length > 0 ? [{ set, rows }] : [];
  });
}

function hasNorm(row: LimitRow): row is NormRow {
  return row.norm !== null;
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
