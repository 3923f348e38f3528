/** What must hold of the rows of a set before anything reads them: columns, ages, strata, limits. */
import { compare, exact } from '../interpret/exact.ts';
import { SEXES, type SummaryKind } from '../interpret/measurement.ts';
import type { LimitRow, RowHand, Stratum } from '../interpret/reference-set.ts';
import { NormsFault } from './read-norms.ts';
import type { TableFile } from './schema.ts';

/**
 * The columns are those of the hand convention and the summary (each sex; each hand where the summary is per
 * hand), cover the same ages without gap or overlap, the strata of an age touch without gap or overlap, centiles
 * rise, and every known limit is above zero.
 */
export function checkRows(
  path: string,
  rows: readonly LimitRow[],
  summary: SummaryKind,
  hands: TableFile['handConvention'],
): readonly LimitRow[] {
  checkOneMeasure(path, rows);
  const spans = new Set<string>();
  let found = 0;
  for (const sex of SEXES) {
    for (const hand of columnsOf(summary, hands, rows)) {
      const bands = rows.filter((row) => row.sex === sex && row.hand === hand);
      spans.add(checkColumn(`${path}: ${sex} ${hand ?? 'either hand'}`, bands));
      found += bands.length;
    }
  }
  if (found !== rows.length)
    throw new NormsFault(`${path}: has rows of a hand that its summary does not have`);
  if (spans.size !== 1) {
    throw new NormsFault(`${path}: columns cover different ages (${[...spans].join('; ')})`);
  }
  return rows;
}

/** The person is placed once for the whole set: one measure, rounded to the decimals of every printed end. */
function checkOneMeasure(path: string, rows: readonly LimitRow[]): void {
  const strata = rows.flatMap(({ stratum }) => (stratum ? [stratum] : []));
  const [first] = strata;
  if (strata.some(({ by, digits }) => by !== first?.by || digits !== first.digits))
    throw new NormsFault(`${path}: its strata are not all by one measure with the same decimals`);
  const ends = strata.flatMap(({ min, max }) => [min ?? '', max ?? '']);
  const finer = ends.find((end) => (end.split('.')[1]?.length ?? 0) > (first?.digits ?? 0));
  if (finer) throw new NormsFault(`${path}: the end ${finer} of a stratum has more decimals than its digits`);
}

/** A set may be printed for the dominant hand alone. */
function columnsOf(
  summary: SummaryKind,
  hands: TableFile['handConvention'],
  rows: readonly LimitRow[],
): readonly RowHand[] {
  const perHand = summary === 'mean-per-hand' || summary === 'highest-per-hand';
  if (!perHand) return [null];
  if (hands !== 'dominant-nondominant') return ['right', 'left'];
  const dominantOnly = rows.every(({ hand }) => hand === 'dominant');
  return dominantOnly ? ['dominant'] : ['dominant', 'nondominant'];
}

/** @returns the ages covered, e.g. `20 to null` for an open upper band */
function checkColumn(column: string, rows: readonly LimitRow[]): string {
  const starts = [...new Set(rows.map(({ ageMin }) => ageMin))].sort((a, b) => a - b);
  const bands = starts.map((start) => rows.filter(({ ageMin }) => ageMin === start));
  const first = bands[0]?.[0];
  if (!first) throw new NormsFault(`${column} is missing`);
  for (const [index, band] of bands.entries()) checkBand(column, band, bands[index + 1]);
  return `${first.ageMin} to ${bands.at(-1)?.[0]?.ageMax}`;
}

function checkBand(column: string, band: readonly LimitRow[], next: readonly LimitRow[] | undefined): void {
  const [first, ...others] = band;
  if (!first) return;
  const where = `${column} from ${first.ageMin}`;
  if (others.some(({ ageMax }) => ageMax !== first.ageMax) || (others.length > 0 && !first.stratum))
    throw new NormsFault(`${column} bands from ${first.ageMin} and ${first.ageMin} overlap or leave a gap`);
  if (next?.[0] && first.ageMax !== next[0].ageMin - 1) {
    throw new NormsFault(`${column} bands from ${first.ageMin} and ${next[0].ageMin} overlap or leave a gap`);
  }
  if (first.ageMax !== null && first.ageMax < first.ageMin)
    throw new NormsFault(`${where}: ends before it begins`);
  checkStrata(where, band);
  for (const row of band) checkFigures(where, row);
}

/** Neighbours touch at the step of their printed decimals, e.g. 24.0 and 24.1, or 164 and 165. */
function checkStrata(where: string, band: readonly LimitRow[]): void {
  const strata = band.flatMap(({ stratum }) => (stratum ? [stratum] : []));
  if (strata.length === 0) return;
  if (strata.length < band.length) throw new NormsFault(`${where}: some rows have a stratum and some do not`);
  const sorted = strata.toSorted((a, b) => compare(exact(a.min ?? '0'), exact(b.min ?? '0')));
  for (const [index, stratum] of sorted.entries()) {
    const next = sorted[index + 1];
    if (stratum.min !== null && stratum.max !== null && compare(exact(stratum.max), exact(stratum.min)) < 0)
      throw new NormsFault(`${where}: the stratum from ${stratum.min} ends before it begins`);
    if (next && !touch(stratum, next))
      throw new NormsFault(
        `${where}: strata from ${stratum.min ?? 'below'} and ${next.min} overlap or leave a gap`,
      );
  }
}

function touch(stratum: Stratum, next: Stratum): boolean {
  if (stratum.by !== next.by || stratum.digits !== next.digits) return false;
  if (stratum.max === null || next.min === null) return false;
  const steps = (text: string) => Math.round(Number(text) * 10 ** stratum.digits);
  return steps(next.min) - steps(stratum.max) === 1;
}

function checkFigures(where: string, row: LimitRow): void {
  const { limit, norm, centiles = [], verification, intermediateBelow } = row;
  if (intermediateBelow && (!limit || compare(intermediateBelow, limit) <= 0))
    throw new NormsFault(`${where}: intermediate ends at or below its limit, or has none`);
  if (limit && limit.num <= 0n) throw new NormsFault(`${where}: the limit is not above zero`);
  if (norm && exact(norm.sd).num <= 0n) throw new NormsFault(`${where}: SD is zero`);
  const isKnown = limit !== null || norm !== null || centiles.length > 0;
  if (verification === 'from-memory' && isKnown)
    throw new NormsFault(`${where}: a figure from memory never ships; leave the cell null`);
  for (const [index, { rank, value }] of centiles.entries()) {
    const before = centiles[index - 1];
    if (before && compare(before.value, value) > 0)
      throw new NormsFault(`${where}: centile ${rank} is below centile ${before.rank}`);
  }
}
