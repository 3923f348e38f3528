/** From a released table or set of cut-points to rows with exact limits, checked before anything reads them. */
import { compare, exact } from '../interpret/exact.ts';
import { isReduced } from '../interpret/judge.ts';
import { HANDS, SEXES, type SummaryKind } from '../interpret/measurement.ts';
import { findRow, type LimitRow, limitBelowMean, type ReadySet } from '../interpret/reference-set.ts';
import { convertForce } from '../interpret/units.ts';
import { NormsFault, type Release } from './read-norms.ts';
import { type CutPointsFile, type RuleFile, type TableFile, VERIFIED_ENOUGH } from './schema.ts';

export type SdRule = Release<Extract<RuleFile, { form: 'sd-below-mean' }>>;

/** A norm table read by a rule, e.g. two SD below the mean. */
export function readyTable(table: Release<TableFile>, rule: SdRule): ReadySet {
  const { sdBelow, operator } = rule.file.parameters;
  const rows = table.file.rows.map(
    (row): LimitRow => ({
      sex: row.sex,
      hand: row.hand,
      ageMin: row.ageMin,
      ageMax: row.ageMax,
      limit: limitBelowMean(row.mean, row.sd, sdBelow),
      operator,
      norm: { mean: row.mean, sd: row.sd },
      verification: row.verification,
    }),
  );
  return {
    ref: table.ref,
    rule: rule.ref,
    unit: table.file.unit,
    summary: table.file.summary.kind,
    rows: checkRows(table.path, rows, table.file.summary.kind),
  };
}

/**
 * @param ageMin lowest age at which the panel applies the set
 * @param summary used where the set does not state one
 */
export function readyCutPoints(
  set: Release<CutPointsFile>,
  ageMin: number,
  summary: SummaryKind | undefined,
): ReadySet {
  const kind = set.file.summary.kind ?? summary;
  if (!kind)
    throw new NormsFault(`norms/${set.path} states no summary: the panel must give summaryWhenUnstated`);
  const rows = set.file.rows
    .map(
      (row): LimitRow => ({
        sex: row.sex,
        hand: null,
        ageMin: Math.max(row.ageMin ?? 0, ageMin),
        ageMax: row.ageMax,
        limit: exact(row.value),
        operator: row.operator,
        norm: null,
        verification: row.verification,
      }),
    )
    .filter((row) => row.ageMax === null || row.ageMax >= row.ageMin);
  return {
    ref: set.ref,
    rule: null,
    unit: set.file.unit,
    summary: kind,
    rows: checkRows(set.path, rows, kind),
  };
}

/**
 * Runs a file's own worked example through the reading that results will use.
 * @param number of the example in its file, from 1
 */
export function checkExample(
  path: string,
  set: ReadySet,
  { given, expect }: (TableFile | CutPointsFile)['examples'][number],
  number: number,
): void {
  const where = `norms/${path} example ${number}`;
  const row = findRow(set, given);
  if (!row) throw new NormsFault(`${where}: no row for this person`);
  if (compare(row.limit, exact(expect.limit)) !== 0) {
    throw new NormsFault(`${where}: the limit is not ${expect.limit}`);
  }
  const value = convertForce(exact(given.value), given.unit, set.unit);
  const outcome = isReduced(value, row.limit, row.operator) ? 'reduced' : 'not-reduced';
  if (outcome !== expect.outcome) {
    throw new NormsFault(`${where}: the outcome is ${outcome}, not ${expect.outcome}`);
  }
}

/** Refuses a set with a figure that is not verified well enough to drive a result. */
export function checkVerification(path: string, set: ReadySet): void {
  for (const { sex, hand, ageMin, verification } of set.rows) {
    if (VERIFIED_ENOUGH.has(verification)) continue;
    const column = `${sex} ${hand ?? 'either hand'} from ${ageMin}`;
    throw new NormsFault(`norms/${path}: ${column} is ${verification}: it may not drive a result`);
  }
}

/**
 * The columns are those of the summary (each sex; each hand where the summary is per hand), cover the same
 * ages without gap or overlap, and every limit is above zero.
 */
function checkRows(path: string, rows: readonly LimitRow[], summary: SummaryKind): readonly LimitRow[] {
  const hands = summary === 'highest-of-either-hand' ? [null] : HANDS;
  const spans = new Set<string>();
  let found = 0;
  for (const sex of SEXES) {
    for (const hand of hands) {
      const bands = rows.filter((row) => row.sex === sex && row.hand === hand);
      const column = `norms/${path}: ${sex} ${hand ?? 'either hand'}`;
      spans.add(checkColumn(column, bands));
      found += bands.length;
    }
  }
  if (found !== rows.length)
    throw new NormsFault(`norms/${path}: has rows of a hand that its summary does not have`);
  if (spans.size !== 1) {
    throw new NormsFault(`norms/${path}: columns cover different ages (${[...spans].join('; ')})`);
  }
  return rows;
}

/** @returns the ages covered, e.g. `20 to null` for an open upper band */
function checkColumn(column: string, rows: readonly LimitRow[]): string {
  const bands = rows.toSorted((a, b) => a.ageMin - b.ageMin);
  const [first] = bands;
  if (!first) throw new NormsFault(`${column} is missing`);
  for (const [index, band] of bands.entries()) checkBand(column, band, bands[index + 1]);
  return `${first.ageMin} to ${bands.at(-1)?.ageMax}`;
}

function checkBand(column: string, band: LimitRow, next: LimitRow | undefined): void {
  const where = `${column} from ${band.ageMin}`;
  if (next && band.ageMax !== next.ageMin - 1) {
    throw new NormsFault(`${column} bands from ${band.ageMin} and ${next.ageMin} overlap or leave a gap`);
  }
  if (band.ageMax !== null && band.ageMax < band.ageMin)
    throw new NormsFault(`${where}: ends before it begins`);
  if (band.limit.num <= 0n) throw new NormsFault(`${where}: the limit is not above zero`);
  if (band.norm && exact(band.norm.sd).num <= 0n) throw new NormsFault(`${where}: SD is zero`);
}
