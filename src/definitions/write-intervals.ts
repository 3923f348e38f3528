/** Rows of a table or of cut-points -> intervals of an ObservationDefinition; rows without a known limit are left out. */
import type { ObservationDefinitionQualifiedInterval, Quantity, Range } from 'fhir/r4.js';
import { SEX_SNOMED, SNOMED, UCUM, ucumOf } from '../fhir/codes.ts';
import { type Exact, toDecimalText } from '../interpret/exact.ts';
import { figureUnit } from '../interpret/figure.ts';
import type { FigureUnit } from '../interpret/finding.ts';
import type { LimitRow, RowHand, Stratum } from '../interpret/reference-set.ts';
import type { Release } from '../reference/read-norms.ts';
import { cutPointsAlone, tableAlone } from '../reference/ready-alone.ts';
import type { ReadingRule } from '../reference/ready-table.ts';
import { VERIFIED_ENOUGH } from '../reference/released-form.ts';
import type { CutPointsFile, TableFile } from '../reference/schema.ts';
import { limitText } from '../wording/statements.ts';

type TableRow = TableFile['rows'][number];
type CutPoint = CutPointsFile['rows'][number];
type Interval = ObservationDefinitionQualifiedInterval;

export function tableIntervals(table: Release<TableFile>, rule: ReadingRule): Interval[] {
  const { file } = table;
  const unit = figureUnit(file);
  const ready = tableAlone(table, rule).rows.filter(({ betweenAges }) => !betweenAges);
  return file.rows.flatMap((row) => {
    const read = ready.find((each) => isSameRow(each, row));
    if (!read?.limit) return [];
    const { limit, operator } = read;
    const age = file.ages === 'exact' ? `Exact age ${row.ageMin}` : ageText(row);
    return [
      intervalOf({ ...row, limit, operator, unit, said: [age, ...figureTexts(row, unit)], note: row.note }),
    ];
  });
}

export function cutPointIntervals(set: Release<CutPointsFile>): Interval[] {
  const { file } = set;
  const unit = figureUnit(file);
  const ready = cutPointsAlone(set).rows;
  return file.rows.flatMap((row, index) => {
    const limit = ready[index]?.limit;
    if (!limit) return [];
    const said = [ageText(row), ...intermediateText(row, unit)];
    return [intervalOf({ ...row, hand: row.hand ?? null, limit, unit, said, note: row.note })];
  });
}

function isSameRow(read: LimitRow, row: TableRow): boolean {
  return (
    read.sex === row.sex &&
    read.hand === row.hand &&
    read.ageMin === row.ageMin &&
    JSON.stringify(read.stratum) === JSON.stringify(row.stratum)
  );
}

interface Row extends Pick<LimitRow, 'sex' | 'hand' | 'stratum' | 'operator' | 'verification'> {
  readonly ageMin: number | null;
  readonly ageMax: number | null;
  readonly limit: Exact;
  readonly unit: FigureUnit;
  /** Ages and figures, as printed. */
  readonly said: readonly string[];
  readonly note: string | undefined;
}

/**
 * Below a strict limit is reduced, so the limit is the low end. R4's `low` belongs to the range: where the limit
 * itself counts as reduced, only the condition can say it, as in the referenceRange of our Observations.
 */
function intervalOf(row: Row): Interval {
  const { sex, operator, unit } = row;
  const value = printed(row.limit);
  const low: Quantity = { value: Number(value), unit, system: UCUM, code: ucumOf(unit) };
  return {
    category: 'reference',
    ...(operator === '<' ? { range: { low } } : {}),
    appliesTo: [{ coding: [{ system: SNOMED, ...SEX_SNOMED[sex] }] }],
    gender: sex,
    ...ageRange(row),
    condition: [
      ...handText(row.hand),
      ...stratumText(row.stratum),
      ...row.said,
      `Reduced is ${limitText({ value, unit, operator })}`,
      `Verification: ${row.verification}${VERIFIED_ENOUGH.has(row.verification) ? '' : ', which drives a result only where a panel takes it on purpose'}`,
      ...(row.note ? [row.note] : []),
    ].join('. '),
  };
}

/** The digits of a fraction of powers of ten, none lost: a printed row is never divided. */
function printed(limit: Exact): string {
  return toDecimalText(limit, limit.den.toString().length - 1);
}

function ageRange({ ageMin, ageMax }: Pick<Row, 'ageMin' | 'ageMax'>): { age?: Range } {
  const years = (value: number): Quantity => ({ value, unit: 'years', system: UCUM, code: 'a' });
  if (ageMin === null && ageMax === null) return {};
  return {
    age: {
      ...(ageMin === null ? {} : { low: years(ageMin) }),
      ...(ageMax === null ? {} : { high: years(ageMax) }),
    },
  };
}

function ageText({ ageMin, ageMax }: Pick<Row, 'ageMin' | 'ageMax'>): string {
  if (ageMin === null) return ageMax === null ? 'The set gives no age' : `Up to ${ageMax} completed years`;
  return ageMax === null ? `${ageMin} completed years and over` : `${ageMin} to ${ageMax} completed years`;
}

function figureTexts(row: TableRow, unit: FigureUnit): readonly string[] {
  const { mean, sd, oneSdBelow, n, percentiles = {} } = row;
  const ranks = Object.entries(percentiles).sort(([a], [b]) => Number(a) - Number(b));
  const parts = [
    ...(mean === null ? [] : [`mean ${mean}`]),
    ...(sd === null ? [] : [`SD ${sd}`]),
    ...(oneSdBelow ? [`mean less one SD ${oneSdBelow}`] : []),
    ...ranks.map(([rank, value]) => `centile ${rank}: ${value}`),
  ];
  return [`In ${unit}: ${parts.join(', ')}${n === null ? '' : ` (n ${n})`}`];
}

function intermediateText({ intermediateBelow }: CutPoint, unit: FigureUnit): readonly string[] {
  return intermediateBelow ? [`Not reduced and below ${intermediateBelow} ${unit} is intermediate`] : [];
}

function handText(hand: RowHand): readonly string[] {
  if (hand === null) return [];
  return [
    hand === 'nondominant'
      ? 'Other than the dominant hand'
      : `${hand.charAt(0).toUpperCase()}${hand.slice(1)} hand`,
  ];
}

function stratumText(stratum: Stratum | undefined): readonly string[] {
  if (!stratum) return [];
  const { by, min, max } = stratum;
  const [name, unit] = by === 'bmi' ? ['Body mass index', 'kg/m2'] : ['Height', 'cm'];
  const span = min === null ? `up to ${max}` : max === null ? `${min} and over` : `${min} to ${max}`;
  return [`${name} ${span} ${unit}`];
}
