/** The limits of two sets side by side, as results read them: one figure for each age, hand and sex. */
import { compare, type Exact, subtract, toDecimalText } from '../interpret/exact.ts';
import { figureUnit } from '../interpret/figure.ts';
import { SEXES, type Sex } from '../interpret/measurement.ts';
import {
  coversAge,
  type LimitOperator,
  type LimitRow,
  type Quantity,
  type ReadySet,
  type RowHand,
} from '../interpret/reference-set.ts';
import { convertForce } from '../interpret/units.ts';
import { requireRelease } from '../reference/find-release.ts';
import type { ReferenceLibrary } from '../reference/library.ts';
import { NormsFault, type Release } from '../reference/read-norms.ts';
import { cutPointsAlone, firstRule, tableAlone } from '../reference/ready-alone.ts';
import type { CutPointsFile, TableFile } from '../reference/schema.ts';
import { tableOf } from './columns.ts';

export interface Comparison {
  readonly a: Side;
  readonly b: Side;
  /** Of every limit, e.g. `kg` or `kg/m2`. */
  readonly unit: string;
  readonly lines: readonly ComparedLimit[];
  /** Lines whose limits are not the same. */
  readonly changed: number;
}

interface Side {
  readonly id: string;
  readonly version: string;
  /** Null where the set states none. */
  readonly summary: string | null;
  /** The rule that its worked examples read it by, as `id version`; null for cut-points. */
  readonly rule: string | null;
}

/** For a run of ages within one row of each set. */
interface ComparedLimit {
  readonly sex: Sex;
  readonly hand: RowHand;
  readonly from: number;
  /** Null: without end. */
  readonly to: number | null;
  readonly a: LimitText | null;
  readonly b: LimitText | null;
  readonly changed: boolean;
  /** B less A, two decimals; null where either is missing. */
  readonly difference: string | null;
}

/** Two decimals; the limit is null where no copy of the source gives it. */
interface LimitText {
  readonly operator: LimitOperator;
  readonly limit: string | null;
}

interface Compared {
  readonly side: Side;
  readonly set: ReadySet;
}

/**
 * @param first, second `id` or `id@version`
 * @throws NormsFault for what cannot be put side by side
 */
export function compareSets(library: ReferenceLibrary, first: string, second: string): Comparison {
  const [a, b] = [readSide(library, first), readSide(library, second)];
  const quantities = [a, b].map(({ set }) => quantityOf(set));
  if (quantities[0] !== quantities[1]) {
    throw new NormsFault(
      `${a.side.id} compares ${QUANTITIES[quantityOf(a.set)]}, ${b.side.id} ${QUANTITIES[quantityOf(b.set)]}: their limits cannot be put side by side`,
    );
  }
  const lines = SEXES.flatMap((sex) =>
    handsOf([a.set, b.set]).flatMap((hand) => runs(a.set, b.set, sex, hand)),
  );
  return {
    a: a.side,
    b: b.side,
    unit: figureUnit({ unit: 'kg', quantity: a.set.quantity }),
    lines,
    changed: lines.filter(({ changed }) => changed).length,
  };
}

const QUANTITIES: Readonly<Record<Quantity, string>> = {
  force: 'grip',
  'force-over-bmi': 'grip over body mass index',
  'force-over-height-squared': 'grip over height squared',
};

function quantityOf({ quantity = 'force' }: ReadySet): Quantity {
  return quantity;
}

function readSide(library: ReferenceLibrary, name: string): Compared {
  const [id = '', wanted] = name.split('@');
  const release = requireRelease(library, id, wanted);
  const { file, ref } = release;
  if (file.kind !== 'table' && file.kind !== 'cut-points')
    throw new NormsFault(`${id} is a ${file.kind}: only tables and cut-points can be compared`);
  const set = readySet(release as Release<TableFile | CutPointsFile>, library);
  const by = set.rows.find(({ stratum }) => stratum)?.stratum?.by;
  if (by) {
    const measure = by === 'bmi' ? 'body mass index' : 'height';
    throw new NormsFault(
      `${id} has limits by ${measure}, not one for each age, so it cannot be compared; see: references show ${id}`,
    );
  }
  const rule = set.rule && `${set.rule.id} ${set.rule.version}`;
  return { set, side: { id, version: ref.version, summary: file.summary.kind, rule } };
}

function readySet(release: Release<TableFile | CutPointsFile>, { releases }: ReferenceLibrary): ReadySet {
  if (release.file.kind === 'cut-points') return cutPointsAlone(release as Release<CutPointsFile>);
  const table = release as Release<TableFile>;
  return tableAlone(table, firstRule(table, releases));
}

const HANDS_IN_ORDER: readonly RowHand[] = ['right', 'left', 'dominant', 'nondominant'];

/** The hands that either set has columns for; where neither has, one column for the person. */
function handsOf(sets: readonly ReadySet[]): readonly RowHand[] {
  const named = HANDS_IN_ORDER.filter((hand) =>
    sets.some(({ rows }) => rows.some((row) => row.hand === hand)),
  );
  return named.length > 0 ? named : [null];
}

/** The highest age that a file may name: only a band without end goes so far. */
const OLDEST = 130;

/** One line for each run of ages in which both sets keep to one row. */
function runs(a: ReadySet, b: ReadySet, sex: Sex, hand: RowHand): readonly ComparedLimit[] {
  const found: { from: number; to: number; rowA: LimitRow | undefined; rowB: LimitRow | undefined }[] = [];
  for (let age = 0; age <= OLDEST; age += 1) {
    const [rowA, rowB] = [a, b].map(({ rows }) => rowAt(rows, sex, hand, age));
    const last = found.at(-1);
    if (last && last.rowA === rowA && last.rowB === rowB) last.to = age;
    else found.push({ from: age, to: age, rowA, rowB });
  }
  return found
    .filter(({ rowA, rowB }) => rowA || rowB)
    .map(({ from, to, rowA, rowB }) => {
      const [limitA, limitB] = [inKg(rowA, a), inKg(rowB, b)];
      return {
        sex,
        hand,
        from,
        to: to === OLDEST ? null : to,
        a: limitText(rowA, limitA),
        b: limitText(rowB, limitB),
        changed: rowA?.operator !== rowB?.operator || !isSame(limitA, limitB),
        difference: limitA && limitB ? toDecimalText(subtract(limitB, limitA), 2) : null,
      };
    });
}

/** A row of the person stands for each hand. */
function rowAt(rows: readonly LimitRow[], sex: Sex, hand: RowHand, age: number): LimitRow | undefined {
  return rows.find(
    (row) => row.sex === sex && (row.hand === null || row.hand === hand) && coversAge(row, age),
  );
}

function inKg(row: LimitRow | undefined, { unit }: ReadySet): Exact | null {
  return row?.limit ? convertForce(row.limit, unit, 'kg') : null;
}

function isSame(a: Exact | null, b: Exact | null): boolean {
  return a && b ? compare(a, b) === 0 : a === b;
}

function limitText(row: LimitRow | undefined, limit: Exact | null): LimitText | null {
  return row ? { operator: row.operator, limit: limit && toDecimalText(limit, 2) } : null;
}

/** Changed lines are marked with `*`; `-` is a limit that no copy gives, a blank an age that the set does not cover. */
export function comparisonLines({ a, b, unit, lines, changed }: Comparison): readonly string[] {
  const cell = (text: LimitText | null) =>
    text === null ? '' : text.limit === null ? '-' : `${text.operator} ${text.limit}`;
  return [
    `Limits in ${unit}: what counts as reduced.`,
    `A: ${sideText(a)}`,
    `B: ${sideText(b)}`,
    '',
    ...tableOf<ComparedLimit>(
      [
        ['', (line) => (line.changed ? '*' : '')],
        ['sex', ({ sex }) => sex],
        ['hand', ({ hand }) => (hand === 'nondominant' ? 'other' : (hand ?? 'either'))],
        ['age', ({ from, to }) => (to === null ? `${from}+` : from === to ? `${from}` : `${from}-${to}`)],
        ['A', (line) => cell(line.a)],
        ['B', (line) => cell(line.b)],
        ['B - A', ({ difference }) => difference ?? ''],
      ],
      lines,
    ),
    '',
    a.id === b.id ? `${changed} of ${lines.length} limits differ.` : 'Marked *: the limits are not the same.',
  ];
}

function sideText({ id, version, summary, rule }: Side): string {
  const readBy = rule ? `, read by ${rule} as in its worked examples` : '';
  return `${id} ${version}, ${summary ?? 'summary not stated'}${readBy}`;
}
