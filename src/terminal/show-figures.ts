/** The figures of a table of norms or a set of cut-points, as lines for a terminal. */
import { toDecimalText } from '../interpret/exact.ts';
import { figureUnit } from '../interpret/figure.ts';
import type { LimitRow, RowHand, Stratum } from '../interpret/reference-set.ts';
import type { Release, Releases } from '../reference/read-norms.ts';
import { firstRule, tableAlone } from '../reference/ready-alone.ts';
import type { ReadingRule } from '../reference/ready-table.ts';
import { VERIFIED_ENOUGH } from '../reference/released-form.ts';
import type { CutPointsFile, TableFile } from '../reference/schema.ts';
import { type Column, tableOf } from './columns.ts';

type TableRow = TableFile['rows'][number];
type CutPoint = CutPointsFile['rows'][number];
/** A printed row, with the limit that a rule makes of it. */
type Read = TableRow & { readonly limit?: LimitRow['limit'] | undefined };

/** Figures as printed, one line for each row; `-` where the source prints one that is not known here. */
export function tableLines(table: Release<TableFile>, releases: Releases): readonly string[] {
  const { file } = table;
  const rule = firstRule(table, releases);
  const isExact = file.ages === 'exact';
  const limits = isExact ? [] : tableAlone(table, rule).rows;
  const rows: readonly Read[] = file.rows.map((row, index) => ({ ...row, limit: limits[index]?.limit }));
  const ranks = [...new Set(rows.flatMap(({ percentiles = {} }) => Object.keys(percentiles)))];
  const columns: readonly Column<Read>[] = [
    ['age', ({ ageMin, ageMax }) => ageText(ageMin, ageMax)],
    ['sex', ({ sex }) => sex],
    ['hand', ({ hand }) => handText(hand)],
    ...stratumColumns(rows),
    ['mean', ({ mean }) => mean],
    ['SD', ({ sd }) => sd],
    ['mean - 1 SD', ({ oneSdBelow }) => oneSdBelow ?? null],
    ...limitColumns(rule, rows),
    ...ranks
      .sort((a, b) => Number(a) - Number(b))
      .map((rank): Column<Read> => [`P${rank}`, ({ percentiles }) => percentiles?.[rank] ?? null]),
    ['n', ({ n }) => (n === null ? null : String(n))],
    ['verified', ({ verification }) => verification],
    ['note', ({ note }) => note ?? ''],
  ];
  return [
    ...tableOf(columns, rows),
    ...(ranks.length > 0 ? [`Columns P${ranks[0]} to P${ranks.at(-1)} are centiles.`] : []),
    ...(isExact
      ? ['Each row is for one exact age. Figures between two of them are interpolated, in a straight line.']
      : []),
    `Its worked examples read it by ${rule.ref.id} ${rule.ref.version}: ${rule.file.title}.`,
    ...unprovenLines(rows),
  ];
}

/** The limit by the rule of the examples, where it is no printed figure itself. */
function limitColumns({ file }: ReadingRule, rows: readonly Read[]): readonly Column<Read>[] {
  if (file.form !== 'sd-below-mean') return [];
  const { sdBelow } = file.parameters;
  if (sdBelow === '1' && rows.some(({ oneSdBelow }) => oneSdBelow !== undefined)) return [];
  return [[`mean - ${sdBelow} SD`, ({ limit }) => (limit ? toDecimalText(limit, 2) : null)]];
}

/** Limits with their strictness, what they mean, and what the set asks for besides grip. */
export function cutPointLines(file: CutPointsFile): readonly string[] {
  const unit = figureUnit(file);
  const { meaning, chronicFromMonths } = file;
  const columns: readonly Column<CutPoint>[] = [
    ['age', ({ ageMin, ageMax }) => ageText(ageMin, ageMax)],
    ['sex', ({ sex }) => sex],
    ['hand', ({ hand }) => (hand ? handText(hand) : null)],
    ...stratumColumns(file.rows),
    ['reduced is', ({ operator, value }) => (value === null ? null : `${operator} ${value} ${unit}`)],
    ...(file.rows.some(({ intermediateBelow }) => intermediateBelow)
      ? ([
          ['intermediate below', ({ intermediateBelow: end }) => (end ? `${end} ${unit}` : null)],
        ] satisfies Column<CutPoint>[])
      : []),
    ['verified', ({ verification }) => verification],
    ['note', ({ note }) => note ?? ''],
  ];
  return [
    ...tableOf(columns, file.rows),
    ...unprovenLines(file.rows),
    `Reduced: ${meaning.reduced}`,
    `Not reduced: ${meaning.notReduced}`,
    ...(meaning.remark ? [`Remark: ${meaning.remark}`] : []),
    ...(chronicFromMonths ? [`Chronic: from ${chronicFromMonths} months`] : []),
    ...file.companions.map(
      ({ name, rule, use, figure }) =>
        `Also asked: ${name}, ${rule} (${use})${figure ? ', read from the record' : ''}`,
    ),
  ];
}

function ageText(min: number | null, max: number | null): string {
  if (min === null) return max === null ? 'any' : `up to ${max}`;
  if (max === null) return `${min}+`;
  return min === max ? String(min) : `${min}-${max}`;
}

function handText(hand: RowHand): string {
  if (hand === null) return 'either';
  return hand === 'nondominant' ? 'other' : hand;
}

const STRATUM_TITLES: Readonly<Record<Stratum['by'], string>> = {
  bmi: 'BMI, kg/m2',
  height: 'height, cm',
};

function stratumColumns<R extends { stratum?: Stratum | undefined }>(
  rows: readonly R[],
): readonly Column<R>[] {
  const kinds = [...new Set(rows.flatMap(({ stratum }) => stratum?.by ?? []))];
  return kinds.map((by) => [
    STRATUM_TITLES[by],
    ({ stratum }) => (stratum?.by === by ? stratumText(stratum) : null),
  ]);
}

function stratumText({ min, max }: Stratum): string {
  if (min === null) return max === null ? 'any' : `up to ${max}`;
  return max === null ? `${min}+` : `${min}-${max}`;
}

function unprovenLines(rows: readonly { verification: string }[]): readonly string[] {
  const unproven = rows.filter(({ verification }) => !VERIFIED_ENOUGH.has(verification)).length;
  if (unproven === 0) return [];
  return [
    `${unproven} of ${rows.length} rows are not verified well enough: they drive a result only where a panel takes them on purpose.`,
  ];
}
