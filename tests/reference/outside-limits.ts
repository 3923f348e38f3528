/**
 * The limits that follow from the transcriptions, in whole millionths of the printed unit: no fraction, no float and
 * no code of the core. Every printed figure, a fifth of a difference and twice an SD are whole there.
 */
import { OUTSIDE_CUT_POINTS, OUTSIDE_TABLES, type OutsideRow } from './outside.ts';

const PLACES = 6;

/** Decimal text as a whole number of millionths. */
export function millionths(text: string): bigint {
  const [whole = '0', fraction = ''] = text.split('.');
  if (fraction.length > PLACES) throw new Error(`more than ${PLACES} places: ${text}`);
  return BigInt(whole + fraction.padEnd(PLACES, '0'));
}

/** How each rule turns a row into a limit; stated here as in rules.test.ts. */
const READ_BY: Readonly<
  Record<string, { readonly sds?: bigint; readonly centile?: string; operator: string }>
> = {
  'two-sd-below-mean': { sds: 2n, operator: '<=' },
  'one-sd-below-mean': { sds: 1n, operator: '<' },
  'below-10th-centile': { centile: '10', operator: '<' },
  'below-25th-centile': { centile: '25', operator: '<' },
  'quintile-bands': { centile: '20', operator: '<' },
};

export interface OutsideLimit {
  /** Sex, hand and stratum. */
  readonly column: string;
  readonly ageMin: number;
  readonly ageMax: number | null;
  /** Null: the transcription has no figure. */
  readonly limit: bigint | null;
  readonly operator: string;
}

export const columnOf = ({ sex, hand, stratum }: Pick<OutsideRow, 'sex' | 'hand' | 'stratum'>) =>
  [sex, hand, stratum].filter((part) => part !== null).join(' ');

/** @param lowestAge of the panel: bands that end below it are left out, one that holds it starts there */
export function outsideLimits(
  id: string,
  rule: string | null,
  lowestAge: number | null,
): readonly OutsideLimit[] {
  const set = rule === null ? OUTSIDE_CUT_POINTS[id] : OUTSIDE_TABLES[id];
  if (!set) throw new Error(`no transcription of ${id}`);
  const limits = set.rows.map((row) => (rule === null ? cutPoint(row) : normLimit(row, rule)));
  return (set.facts.ages === 'exact' ? everyYear(limits) : limits)
    .filter(({ ageMax }) => ageMax === null || lowestAge === null || ageMax >= lowestAge)
    .map((each) => ({ ...each, ageMin: Math.max(each.ageMin, lowestAge ?? 0) }));
}

const agesOf = ({ ageMin, ageMax }: OutsideRow) => ({
  ageMin: ageMin === null ? 0 : Number(ageMin),
  ageMax: ageMax === null ? null : Number(ageMax),
});

function cutPoint(row: OutsideRow): OutsideLimit {
  const limit = row.value === null || row.value === undefined ? null : millionths(row.value);
  return { column: columnOf(row), ...agesOf(row), limit, operator: row.operator ?? '' };
}

function normLimit(row: OutsideRow, rule: string): OutsideLimit {
  const how = READ_BY[rule];
  if (!how) throw new Error(`not known: rule ${rule}`);
  const limit = how.centile === undefined ? belowMean(row, how.sds ?? 0n) : atCentile(row, how.centile);
  return { column: columnOf(row), ...agesOf(row), limit, operator: how.operator };
}

/** Where one SD below the mean is printed instead of the SD, the SD is their difference. */
function belowMean({ mean, sd, oneSdBelow }: OutsideRow, sds: bigint): bigint | null {
  if (!mean) return null;
  if (sd) return millionths(mean) - sds * millionths(sd);
  if (oneSdBelow) return millionths(mean) - sds * (millionths(mean) - millionths(oneSdBelow));
  return null;
}

function atCentile({ percentiles = {} }: OutsideRow, rank: string): bigint | null {
  const printed = percentiles[rank];
  return printed === undefined ? null : millionths(printed);
}

/** Figures for exact ages five years apart; for the years between, so many fifths of the way. */
function everyYear(exact: readonly OutsideLimit[]): readonly OutsideLimit[] {
  return exact.flatMap((row) => {
    const next = exact.find(({ column, ageMin }) => column === row.column && ageMin === row.ageMin + 5);
    if (!next) return [row];
    const between = [1, 2, 3, 4].map((years) => {
      const age = row.ageMin + years;
      const both = row.limit !== null && next.limit !== null;
      const fifths = both ? row.limit * BigInt(5 - years) + next.limit * BigInt(years) : null;
      return { ...row, ageMin: age, ageMax: age, limit: fifths === null ? null : fifths / 5n };
    });
    return [row, ...between];
  });
}
