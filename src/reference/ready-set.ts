/** From a released table or set of cut-points to rows with exact limits, checked before anything reads them. */
import { compare, exact } from '../interpret/exact.ts';
import { findRow, isReduced } from '../interpret/judge.ts';
import type { SummaryKind } from '../interpret/measurement.ts';
import { type LimitRow, limitBelowMean, type ReadySet } from '../interpret/reference-set.ts';
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
    trialsPerHand: table.file.protocol.trialsPerHand,
    rows: checkRows(table.path, rows),
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
    trialsPerHand: set.file.protocol.trialsPerHand,
    rows: checkRows(set.path, rows),
  };
}

/** Runs a file's own worked examples through the reading that results will use. */
export function checkExamples(
  path: string,
  set: ReadySet,
  examples: readonly (TableFile | CutPointsFile)['examples'][number][],
): void {
  for (const [index, { given, expect }] of examples.entries()) {
    const row = findRow(set, given);
    const where = `norms/${path} example ${index + 1}`;
    if (!row) throw new NormsFault(`${where}: no row for this person`);
    if (compare(row.limit, exact(expect.limit)) !== 0)
      throw new NormsFault(`${where}: the limit is not ${expect.limit}`);
    const value = convertForce(exact(given.value), given.unit, set.unit);
    const outcome = isReduced(value, row.limit, row.operator) ? 'reduced' : 'not-reduced';
    if (outcome !== expect.outcome)
      throw new NormsFault(`${where}: the outcome is ${outcome}, not ${expect.outcome}`);
  }
}

/**
 * Every column (sex and hand) covers the same ages without gap or overlap; limits are above zero; each
 * figure is verified well enough to drive a result.
 */
function checkRows(path: string, rows: readonly LimitRow[]): readonly LimitRow[] {
  const columnOf = (row: LimitRow) => `${row.sex} ${row.hand ?? 'either hand'}`;
  const spans = new Set<string>();
  for (const column of new Set(rows.map(columnOf))) {
    const bands = rows.filter((row) => columnOf(row) === column).sort((a, b) => a.ageMin - b.ageMin);
    for (const [index, band] of bands.entries())
      checkBand(`norms/${path}: ${column}`, band, bands[index + 1]);
    spans.add(`${bands[0]?.ageMin} to ${bands.at(-1)?.ageMax}`);
  }
  if (spans.size !== 1)
    throw new NormsFault(`norms/${path}: columns cover different ages (${[...spans].join('; ')})`);
  return Object.freeze(rows.map((row) => Object.freeze(row)));
}

function checkBand(where: string, band: LimitRow, next: LimitRow | undefined): void {
  if (next && band.ageMax !== next.ageMin - 1) {
    throw new NormsFault(`${where} bands from ${band.ageMin} and ${next.ageMin} overlap or leave a gap`);
  }
  if (band.limit.num <= 0n) throw new NormsFault(`${where} from ${band.ageMin}: the limit is not above zero`);
  if (band.norm && exact(band.norm.sd).num <= 0n)
    throw new NormsFault(`${where} from ${band.ageMin}: SD is zero`);
  if (!VERIFIED_ENOUGH.has(band.verification)) {
    throw new NormsFault(`${where} from ${band.ageMin} is ${band.verification}: it may not drive a result`);
  }
}
