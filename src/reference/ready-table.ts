/** From a released table of norms, and the rule it is read by, to rows with exact limits. */
import {
  add,
  divide,
  type Exact,
  exact,
  multiply,
  subtract,
  toDecimalText,
  wholeNumber,
} from '../interpret/exact.ts';
import type { SummaryKind } from '../interpret/measurement.ts';
import { type LimitRow, limitBelowMean, type ReadySet } from '../interpret/reference-set.ts';
import { checkRows } from './check-rows.ts';
import { NormsFault, type Release } from './read-norms.ts';
import { VERIFIED_ENOUGH } from './released-form.ts';
import type { RuleFile } from './rule-forms.ts';
import type { TableFile } from './schema.ts';

/** The rules that a table can be read by. */
export type ReadingRule = Release<Extract<RuleFile, { form: 'sd-below-mean' | 'centile' }>>;

type TableRow = TableFile['rows'][number];

/**
 * @param summary used where the table does not state one
 * @param ageMin lowest age at which the panel applies the table
 */
export function readyTable(
  table: Release<TableFile>,
  rule: ReadingRule,
  { summary, ageMin = 0 }: { summary?: SummaryKind | undefined; ageMin?: number | undefined } = {},
): ReadySet {
  const { file, path } = table;
  const kind = file.summary.kind ?? summary;
  if (!kind) throw new NormsFault(`${path} states no summary: the panel must give summaryWhenUnstated`);
  const read = (row: TableRow) => readRow(row, rule, path);
  const rows = file.ages === 'exact' ? betweenExactAges(file.rows, read) : file.rows.map(read);
  const applied = rows
    .filter((row) => row.ageMax === null || row.ageMax >= ageMin)
    .map((row) => ({ ...row, ageMin: Math.max(row.ageMin, ageMin) }));
  const bands = rule.file.form === 'centile' ? rule.file.parameters.bands : [];
  checkBands(path, rule, rows);
  return {
    ref: table.ref,
    rule: rule.ref,
    unit: file.unit,
    quantity: file.quantity,
    summary: kind,
    rows: checkRows(path, applied, kind, file.handConvention),
    bands: bands.length > 0 ? bands : undefined,
    built: file.built,
  };
}

/** A row as printed; its limit is null where the rule needs a figure that is not known. */
function readRow(row: TableRow, rule: ReadingRule, path: string): LimitRow {
  const { ageMin, ageMax, sex, hand, stratum, verification, note } = row;
  const shared = { sex, hand, ageMin, ageMax, stratum, verification, note, ...provenState(verification) };
  if (rule.file.form === 'centile') {
    const { reducedBelow, operator } = rule.file.parameters;
    const centiles = Object.entries(row.percentiles ?? {})
      .map(([rank, value]) => ({ rank: Number(rank), value: exact(value) }))
      .sort((a, b) => a.rank - b.rank);
    const limit = centiles.find(({ rank }) => rank === reducedBelow)?.value ?? null;
    if (centiles.length > 0 && limit === null)
      throw new NormsFault(`${path}: ${sex} from ${ageMin} has no centile ${reducedBelow} to be read by`);
    return { ...shared, limit, operator, norm: null, centiles: limit ? centiles : undefined };
  }
  const { sdBelow, operator } = rule.file.parameters;
  const sd = row.sd ?? sdFromOneBelow(row);
  if (row.mean === null || sd === null) return { ...shared, limit: null, operator, norm: null };
  const limit = limitBelowMean(row.mean, sd, sdBelow);
  return { ...shared, limit, operator, norm: { mean: row.mean, sd } };
}

export function provenState(verification: string): { unproven?: true } {
  return VERIFIED_ENOUGH.has(verification) ? {} : { unproven: true };
}

/** Some sources print the mean less one SD instead of the SD. */
function sdFromOneBelow({ mean, oneSdBelow }: TableRow): string | null {
  if (mean === null || oneSdBelow === undefined) return null;
  const digits = Math.max(...[mean, oneSdBelow].map((text) => text.split('.')[1]?.length ?? 0));
  return toDecimalText(subtract(exact(mean), exact(oneSdBelow)), digits);
}

/**
 * Rows for exact ages become one row for each completed year, its centiles linear between the two exact ages around
 * it. Between a known row and an unknown one nothing is known.
 */
function betweenExactAges(
  printed: readonly TableRow[],
  read: (row: TableRow) => LimitRow,
): readonly LimitRow[] {
  const nameOf = ({ sex, hand }: TableRow) => `${sex} ${hand}`;
  const columns = [...new Set(printed.map(nameOf))];
  return columns.flatMap((name) => {
    const column = printed.filter((row) => nameOf(row) === name);
    const rows = column.toSorted((a, b) => a.ageMin - b.ageMin).map(read);
    return rows.flatMap((row, index) => {
      const next = rows[index + 1];
      if (!next) return [row];
      const years = Array.from({ length: next.ageMin - row.ageMin - 1 }, (_, year) => row.ageMin + 1 + year);
      return [row, ...years.map((age) => interpolated(age, row, next))];
    });
  });
}

function interpolated(age: number, from: LimitRow, to: LimitRow): LimitRow {
  const share = divide(wholeNumber(age - from.ageMin), wholeNumber(to.ageMin - from.ageMin));
  const between = (a: Exact, b: Exact) => add(a, multiply(share, subtract(b, a)));
  const weaker = from.unproven ? from : to;
  const known = from.limit !== null && to.limit !== null;
  const unknown = from.limit === null ? from : to;
  return {
    ...weaker,
    ageMin: age,
    ageMax: age,
    limit: from.limit && to.limit ? between(from.limit, to.limit) : null,
    centiles: known
      ? from.centiles?.flatMap(({ rank, value }) => {
          const other = to.centiles?.find((centile) => centile.rank === rank);
          return other ? [{ rank, value: between(value, other.value) }] : [];
        })
      : undefined,
    betweenAges: [from.ageMin, to.ageMin],
    note: known ? weaker.note : unknown.note,
  };
}

/** A named range of centiles must end at centiles that the table prints. */
function checkBands(path: string, rule: ReadingRule, rows: readonly LimitRow[]): void {
  if (rule.file.form !== 'centile') return;
  const ends = rule.file.parameters.bands.flatMap(({ below }) => below ?? []);
  const lacking = rows.find(
    ({ centiles }) => centiles && !ends.every((end) => centiles.some(({ rank }) => rank === end)),
  );
  if (lacking) {
    const column = `${lacking.sex} from ${lacking.ageMin}`;
    throw new NormsFault(`${path}: ${column} lacks a centile at which a range of its rule ends`);
  }
}
