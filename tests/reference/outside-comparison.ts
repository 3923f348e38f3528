/** A released file beside its transcription, as parsed JSON: what differs, one line for each row. */
import {
  type Json,
  OUTSIDE_CUT_POINTS,
  OUTSIDE_TABLES,
  type OutsideRow,
  type OutsideSet,
} from './outside.ts';

export function transcriptionOf({ kind, id }: { kind: string; id: string }): OutsideSet {
  const found = (kind === 'table' ? OUTSIDE_TABLES : OUTSIDE_CUT_POINTS)[id];
  if (!found) throw new Error(`no transcription of ${kind} ${id}`);
  return found;
}

const text = (value: number | string | null | undefined) =>
  value === null || value === undefined ? null : String(value);

/** Until 1.1.0 the band that FNIH calls intermediate was said in words, for the whole set. */
const IN_WORDS = /to (?<male>\d+) kg in men and \d+ to (?<female>\d+) kg in women was called intermediate$/;

/** A row of a released file in the form of the transcriptions. */
export function releasedRow(row: Json, remark: string | null = null): OutsideRow {
  const { by, min, max } = row.stratum ?? {};
  const shared = {
    sex: row.sex,
    hand: row.hand ?? null,
    ageMin: text(row.ageMin),
    ageMax: text(row.ageMax),
    stratum: by ? `${by} ${min ?? 'any'} to ${max ?? 'any'}` : null,
    verification: row.verification,
  };
  if ('operator' in row) {
    const { operator, value } = row;
    const intermediateBelow = row.intermediateBelow ?? IN_WORDS.exec(remark ?? '')?.groups?.[row.sex] ?? null;
    return { ...shared, operator, value, intermediateBelow };
  }
  return {
    ...shared,
    mean: row.mean,
    sd: row.sd,
    oneSdBelow: row.oneSdBelow ?? null,
    n: text(row.n),
    percentiles: row.percentiles ?? {},
  };
}

/** Every cell of a row in one order; percentiles by rank, so that none may be missing or too many. */
function lineOf(row: OutsideRow): string {
  const ranks = Object.entries(row.percentiles ?? {}).sort(([a], [b]) => Number(a) - Number(b));
  const { sex, hand, ageMin, ageMax, stratum, mean, sd, oneSdBelow, n, operator, value, verification } = row;
  const { intermediateBelow = null } = row;
  return JSON.stringify([
    [sex, hand, ageMin, ageMax, stratum, mean, sd, oneSdBelow, n, operator, value, verification],
    intermediateBelow,
    ranks,
  ]);
}

/** Kept for each row: a file with one row changed has all its other rows in common with the released one. */
const lines = new WeakMap<object, string>();

function releasedLine(row: Json, remark: string | null): string {
  const line = lines.get(row) ?? lineOf(releasedRow(row, remark));
  lines.set(row, line);
  return line;
}

const known = new Map<OutsideSet, ReadonlySet<string>>();

function transcribedLines(set: OutsideSet): ReadonlySet<string> {
  const transcribed = known.get(set) ?? new Set(set.rows.map(lineOf));
  known.set(set, transcribed);
  return transcribed;
}

/** One line for each row that is not in both, and for each fact of the whole set that is not the same. */
export function differencesFromOutside(file: Json): readonly string[] {
  const set = transcriptionOf(file);
  const transcribed = transcribedLines(set);
  const released = new Set<string>(
    file.rows.map((row: Json) => releasedLine(row, file.meaning?.remark ?? null)),
  );
  const facts: OutsideSet['facts'] = {
    unit: file.unit,
    quantity: file.quantity ?? null,
    hands: file.handConvention,
    summary: file.summary.kind,
    ages: file.ages ?? null,
  };
  return [
    ...[...released].filter((line) => !transcribed.has(line)).map((line) => `released only: ${line}`),
    ...[...transcribed].filter((line) => !released.has(line)).map((line) => `transcribed only: ${line}`),
    ...(released.size === file.rows.length ? [] : ['a row is there twice']),
    ...Object.entries(facts)
      .filter(([fact, value]) => value !== set.facts[fact])
      .map(([fact, value]) => `${fact}: ${value} released, ${set.facts[fact]} transcribed`),
    ...digitsOfStrata(file),
  ];
}

/** A measure is rounded to as many places as the ends of its strata are printed with. */
function digitsOfStrata({ rows }: Json): readonly string[] {
  return rows.flatMap(({ stratum }: Json) => {
    if (!stratum) return [];
    const ends: string[] = [stratum.min, stratum.max].filter((end) => end !== null);
    const right = ends.every((end) => (end.split('.')[1] ?? '').length === stratum.digits);
    return right ? [] : [`strata rounded to ${stratum.digits} places: ${ends.join(' to ')}`];
  });
}
