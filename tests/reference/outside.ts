/** The transcriptions made outside this code (tests/outside), and the comparison of a released file with them. */
import { readFileSync } from 'node:fs';
import type { CutPointsFile, TableFile } from '../../src/reference/schema.ts';

export interface OutsideRow {
  readonly ageMin: number;
  readonly ageMax: number | null;
  readonly sex: string;
  readonly hand: string | null;
  readonly mean: number;
  readonly sd: number;
  readonly n: number | null;
  readonly nRangeImpliedBySdAndSe?: readonly [number, number];
  readonly [percentile: `p${number}`]: number;
}

export interface OutsideTable {
  readonly rows: readonly OutsideRow[];
  readonly nativeUnit?: string;
  readonly unit?: string;
  readonly allAgesRow?: readonly { sex: string; hand: string; mean: number | null; sd: number | null }[];
}

interface Limit {
  readonly op: string;
  readonly value: number;
}

export interface OutsideSet {
  readonly id: string;
  readonly grip_kg?: Readonly<Record<string, Limit>>;
  readonly bands?: readonly { readonly age: string; readonly grip_kg: Readonly<Record<string, Limit>> }[];
  readonly summary_statistic: string | null;
  readonly verification: { readonly grip: string };
}

function outside<T>(name: string): T {
  return JSON.parse(readFileSync(new URL(`../outside/${name}`, import.meta.url), 'utf8')) as T;
}

export const US_1985 = outside<OutsideTable>('mathiowetz-1985-us-adults.json');
export const US_SURVEY = outside<OutsideTable>('nhanes-2011-2014-right-left-mean-of-3.json');
const { sets: CUT_POINTS } = outside<{ sets: readonly OutsideSet[] }>('cutpoints.json');

/** Each table with the decimals its source prints and the percentiles it gives. */
export const OUTSIDE_TABLES: Readonly<
  Record<string, { given: OutsideTable; decimals: number; percentiles: readonly string[] }>
> = {
  'mathiowetz-1985-us-adults': { given: US_1985, decimals: 1, percentiles: [] },
  ...Object.fromEntries(
    (
      [
        ['nhanes-2011-2014-right-left-mean-of-3', US_SURVEY],
        [
          'nhanes-2011-2014-right-left-best-of-3',
          outside<OutsideTable>('nhanes-2011-2014-right-left-best-of-3.json'),
        ],
        [
          'nhanes-2011-2014-best-either-hand',
          outside<OutsideTable>('nhanes-2011-2014-best-either-hand.json'),
        ],
      ] as const
    ).map(([id, given]) => [
      id,
      { given, decimals: 2, percentiles: ['5', '10', '20', '25', '50', '75', '80', '90', '95'] },
    ]),
  ),
};

export function outsideSet(id: string): OutsideSet | undefined {
  return CUT_POINTS.find((set) => set.id === id.toUpperCase());
}

/** The rows that a file must have for a transcribed set of cut-points. */
export function cutPointRows(
  set: OutsideSet,
): readonly Omit<CutPointsFile['rows'][number], 'verification'>[] {
  const bands = set.bands ?? [{ age: '', grip_kg: set.grip_kg ?? {} }];
  return bands.flatMap(({ age, grip_kg }) => {
    const [from, to] = age.match(/\d+/g) ?? [];
    return Object.entries(grip_kg).map(([sex, { op, value }]) => ({
      sex: sex as 'female' | 'male',
      ageMin: from ? Number(from) : null,
      ageMax: to ? Number(to) : null,
      operator: op as '<' | '<=',
      value: String(value),
    }));
  });
}

/** One line for each row as released and as transcribed; rows that are not in both, in any order. */
export function differencesFromOutside(file: TableFile | CutPointsFile): readonly string[] {
  const released = new Set(
    file.kind === 'table' ? file.rows.map(tableLine(file)) : file.rows.map(cutPointLine(file)),
  );
  const transcribed = transcribedLines(file);
  return [
    ...[...released].filter((line) => !transcribed.has(line)).map((line) => `released only: ${line}`),
    ...[...transcribed].filter((line) => !released.has(line)).map((line) => `transcribed only: ${line}`),
    ...(released.size === file.rows.length ? [] : ['a row is there twice']),
  ];
}

const known = new Map<string, ReadonlySet<string>>();

function transcribedLines({ kind, id }: TableFile | CutPointsFile): ReadonlySet<string> {
  const lines = known.get(id) ?? new Set(kind === 'table' ? transcribedTable(id) : transcribedSet(id));
  known.set(id, lines);
  return lines;
}

/** Every cell of a row, in one order; percentiles by rank, so that none may be missing or too many. */
const lineOf = (cells: readonly unknown[], percentiles: Readonly<Record<string, string>>) =>
  JSON.stringify([...cells, Object.entries(percentiles).sort(([a], [b]) => Number(a) - Number(b))]);

const tableLine =
  ({ unit }: TableFile) =>
  (row: TableFile['rows'][number]) =>
    lineOf([row.ageMin, row.ageMax, row.sex, row.hand, row.mean, row.sd, row.n, unit], row.percentiles ?? {});

function transcribedTable(id: string): readonly string[] {
  const table = OUTSIDE_TABLES[id];
  if (!table) throw new Error(`no transcription of ${id}`);
  const { given, decimals, percentiles } = table;
  const unit = given.nativeUnit ?? given.unit;
  return given.rows.map((row) => {
    const cells = percentiles.map((rank) => [rank, row[`p${Number(rank)}`]?.toFixed(decimals)]);
    const [mean, sd] = [row.mean.toFixed(decimals), row.sd.toFixed(decimals)];
    return lineOf(
      [row.ageMin, row.ageMax, row.sex, row.hand, mean, sd, row.n, unit],
      Object.fromEntries(cells),
    );
  });
}

const cutPointLine =
  ({ unit }: { unit: string }) =>
  (row: ReturnType<typeof cutPointRows>[number]) =>
    lineOf([row.ageMin, row.ageMax, row.sex, row.operator, row.value, unit], {});

function transcribedSet(id: string): readonly string[] {
  const given = outsideSet(id);
  if (!given) throw new Error(`no transcription of ${id}`);
  return cutPointRows(given).map(cutPointLine({ unit: 'kg' }));
}
