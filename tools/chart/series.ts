/** The lower limit of each set of a panel by age, in kg, for one sex: what the chart draws. */
import { toNumber } from '../../src/interpret/exact.ts';
import type { Sex } from '../../src/interpret/measurement.ts';
import type { LimitRow, ReadySet, RowHand } from '../../src/interpret/reference-set.ts';
import { convertForce } from '../../src/interpret/units.ts';
import type { AppliedPanel } from '../../src/reference/library.ts';

export interface Point {
  readonly age: number;
  readonly kilograms: number;
  /** A printed figure, as against one worked out between two exact ages or the end of an open band. */
  readonly printed: boolean;
}

export interface Series {
  readonly id: string;
  readonly label: string;
  readonly kind: 'table' | 'cut-points';
  /** Among the drawn sets of its kind, in the panel's order: the same for both sexes. */
  readonly place: number;
  /** Most of its figures for this sex rest on one copy only. */
  readonly unproven: boolean;
  readonly points: readonly Point[];
}

/** Open bands and cut-points are drawn to this age. */
export const LAST_AGE = 95;

/** Sets that need a measure of the body besides grip are left out: their limits are of no one line. */
export function isDrawn({ quantity = 'force', rows }: ReadySet): boolean {
  return quantity === 'force' && rows.every(({ stratum }) => !stratum);
}

export function seriesOf({ panel, describe }: AppliedPanel, sex: Sex): readonly Series[] {
  const drawn = panel.sets.filter(isDrawn);
  return drawn.flatMap((set) => {
    const { ref } = set;
    const rows = set.rows
      .filter((row) => row.sex === sex && row.hand === drawnHand(set) && row.limit !== null)
      .toSorted((a, b) => a.ageMin - b.ageMin);
    if (rows.length === 0) return [];
    const isCutPoint = ref.kind === 'cut-points';
    return [
      {
        id: ref.id,
        label: describe(ref).shortTitle,
        kind: isCutPoint ? 'cut-points' : 'table',
        place: drawn.filter((each) => each.ref.kind === ref.kind).indexOf(set),
        unproven: rows.filter(({ unproven }) => unproven).length > rows.length / 2,
        points: rows.flatMap((row) => (isCutPoint ? level(set, row) : norm(set, row))),
      } satisfies Series,
    ];
  });
}

/** The right hand, or the dominant one, where a set has a column for each. */
function drawnHand({ rows }: ReadySet): RowHand {
  const hands = new Set(rows.map(({ hand }) => hand));
  return hands.has('right') ? 'right' : hands.has('dominant') ? 'dominant' : null;
}

function kilogramsOf({ unit }: ReadySet, { limit }: LimitRow): number {
  if (limit === null) throw new Error('a row without a limit is not drawn');
  return toNumber(convertForce(limit, unit, 'kg'));
}

/** A cut-point holds over all its ages. */
function level(set: ReadySet, row: LimitRow): readonly Point[] {
  const kilograms = kilogramsOf(set, row);
  const end = row.ageMax === null ? LAST_AGE : row.ageMax + 1;
  return [row.ageMin, end].map((age) => ({ age, kilograms, printed: false }));
}

/** A band stands in its middle; an exact age where it is; an open band runs on from five years' middle. */
function norm(set: ReadySet, row: LimitRow): readonly Point[] {
  const kilograms = kilogramsOf(set, row);
  const isExact = set.rows.some(({ betweenAges }) => betweenAges);
  if (isExact) return [{ age: row.ageMin, kilograms, printed: !row.betweenAges }];
  if (row.ageMin >= LAST_AGE) return [];
  const { ageMin, ageMax } = row;
  const middle = ageMax === null ? ageMin + 2.5 : Math.min((ageMin + ageMax + 1) / 2, LAST_AGE);
  const start = { age: middle, kilograms, printed: true };
  return ageMax === null ? [start, { age: LAST_AGE, kilograms, printed: false }] : [start];
}
