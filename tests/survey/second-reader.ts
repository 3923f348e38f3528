/**
 * Reads a person of the survey a second way: from the transcriptions of tests/outside, in whole numbers, with no code
 * of src/. Figures are kept as a fraction of two whole numbers and compared by multiplying out.
 */
import type { SurveyPerson } from '../../tools/survey/microdata.ts';
import { OUTSIDE_CUT_POINTS, OUTSIDE_TABLES } from '../reference/outside.ts';
import { millionths, type OutsideLimit, outsideLimits } from '../reference/outside-limits.ts';
import type { StatedEntry } from '../reference/stated-panels.ts';

/** `hand outcome`, e.g. `right reduced`; hand `-` where the set speaks of the person. */
export type SecondReading = readonly string[];

type Fraction = readonly [num: bigint, den: bigint];

const HANDS = ['right', 'left'] as const;

export function secondReader(entry: StatedEntry): (person: SurveyPerson) => SecondReading {
  const limits = outsideLimits(entry.id, entry.rule, entry.ageMin);
  const { facts = {} } = (entry.rule ? OUTSIDE_TABLES : OUTSIDE_CUT_POINTS)[entry.id] ?? {};
  const byColumn = new Map<string, OutsideLimit[]>();
  for (const limit of limits) byColumn.set(limit.column, [...(byColumn.get(limit.column) ?? []), limit]);
  const summary = facts.summary ?? entry.summary ?? '';
  return (person) =>
    figuresOf(person, summary).flatMap(([hand, kilograms]) => {
      const column = columnFor(person, hand, facts.hands === 'dominant-nondominant');
      const stratum = stratumOf(person, entry.id);
      if (column === undefined || stratum === undefined) return [];
      const row = byColumn
        .get(`${person.sex}${column}${stratum}`)
        ?.find(
          ({ ageMin, ageMax }) => person.ageYears >= ageMin && (ageMax === null || person.ageYears <= ageMax),
        );
      const figure = divided(inUnit(kilograms, facts.unit ?? ''), facts.quantity ?? null, person);
      if (!row || row.limit === null || !figure) return [];
      return [`${hand ?? '-'} ${isReduced(figure, row.limit, row.operator) ? 'reduced' : 'not-reduced'}`];
    });
}

/** Tenths of a kilogram: every reading of the survey has at most one place. */
function tenths(readings: readonly number[]): readonly bigint[] {
  return readings.filter((reading) => reading > 0).map((reading) => BigInt(Math.round(reading * 10)));
}

function figuresOf(
  { trials }: SurveyPerson,
  summary: string,
): readonly (readonly [string | null, Fraction])[] {
  const hands = HANDS.map((hand) => [hand, tenths(trials[hand])] as const).filter(
    ([, own]) => own.length > 0,
  );
  const best = (own: readonly bigint[]) => own.toSorted((a, b) => (a < b ? -1 : 1)).at(-1) ?? 0n;
  const sum = (own: readonly bigint[]) => own.reduce((a, b) => a + b, 0n);
  if (summary === 'mean-per-hand')
    return hands.map(([hand, own]) => [hand, [sum(own), 10n * BigInt(own.length)]]);
  if (summary === 'highest-per-hand') return hands.map(([hand, own]) => [hand, [best(own), 10n]]);
  const bests = hands.map(([, own]) => best(own));
  if (summary === 'highest-of-either-hand') return bests.length > 0 ? [[null, [best(bests), 10n]]] : [];
  return bests.length === 2 ? [[null, [sum(bests), 20n]]] : [];
}

function columnFor(
  { dominant }: SurveyPerson,
  hand: string | null,
  byDominance: boolean,
): string | undefined {
  if (hand === null) return '';
  if (!byDominance) return ` ${hand}`;
  if (dominant === null) return undefined;
  return hand === dominant ? ' dominant' : ' nondominant';
}

/** The printed stratum that the person falls into; empty where the set has none, undefined where none fits. */
function stratumOf({ sex, heightCm, weightKg }: SurveyPerson, id: string): string | undefined {
  const { rows } = OUTSIDE_TABLES[id] ?? OUTSIDE_CUT_POINTS[id] ?? { rows: [] };
  const [by] = rows[0]?.stratum?.split(' ') ?? [];
  if (by === undefined) return '';
  if (heightCm === null || (by === 'bmi' && weightKg === null)) return undefined;
  const height = BigInt(Math.round(heightCm * 10));
  // Height to a whole centimetre, body mass index to a tenth, halves upwards.
  const placed =
    by === 'bmi'
      ? Number(halvesUp(BigInt(Math.round((weightKg ?? 0) * 10)) * 1_000_000n, height ** 2n)) / 10
      : Number(halvesUp(height, 10n));
  const fit = rows.find((row) => {
    const [, min = '', max = ''] = /^\w+ (\S+) to (\S+)$/.exec(row.stratum ?? '') ?? [];
    const above = min === 'any' || placed >= Number(min);
    return row.sex === sex && above && (max === 'any' || placed <= Number(max));
  });
  return fit && ` ${fit.stratum}`;
}

function halvesUp(num: bigint, den: bigint): bigint {
  return (2n * num + den) / (2n * den);
}

/** 1 lb = 0.45359237 kg. */
function inUnit([num, den]: Fraction, unit: string): Fraction {
  return unit === 'lb' ? [num * 100_000_000n, den * 45_359_237n] : [num, den];
}

function divided(
  [num, den]: Fraction,
  quantity: string | null,
  { heightCm, weightKg }: SurveyPerson,
): Fraction | undefined {
  if (quantity === null) return [num, den];
  if (heightCm === null) return undefined;
  const square = BigInt(Math.round(heightCm * 10)) ** 2n;
  // Height in tenths of a centimetre: its square is a million times that in metres.
  if (quantity === 'force-over-height-squared') return [num * 1_000_000n, den * square];
  if (weightKg === null) return undefined;
  return [num * square * 10n, den * BigInt(Math.round(weightKg * 10)) * 1_000_000n];
}

function isReduced([num, den]: Fraction, limit: bigint, operator: string): boolean {
  const [left, right] = [num * millionths('1'), limit * den];
  return operator === '<=' ? left <= right : left < right;
}
