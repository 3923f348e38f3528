/** One summary beside one row: exact comparison, z-score or centile, companions, and the evidence for all of it. */
import { compare, divide, type Exact, exact, toDecimalText, toNumber } from './exact.ts';
import { type ExactDivisor, figureUnit, measureOf, usedMeasure } from './figure.ts';
import type { Placing } from './find-row.ts';
import type { CentilePlace, CompanionResult, Mismatch, Verdict } from './finding.ts';
import { exactText, isReduced } from './limit.ts';
import { type HandFigure, PROTOCOL_PARTS, type Subject } from './measurement.ts';
import type { Companion, LimitRow, ReadySet } from './reference-set.ts';
import { type ExactSummary, SUMMARY_DIGITS } from './summarise.ts';
import { conversionText, convertForce } from './units.ts';
import { percentileOf, zScore } from './z-score.ts';

/** What a verdict is written from besides its row. */
export interface About {
  readonly set: ReadySet;
  readonly summary: ExactSummary;
  readonly subject: Subject;
  readonly divisor: ExactDivisor | undefined;
  readonly placing: Placing | undefined;
}

export function writeVerdict(row: LimitRow & { readonly limit: Exact }, about: About): Verdict {
  const { set, summary, divisor } = about;
  const inUnit = convertForce(summary.value, summary.unit, set.unit);
  const value = divisor ? divide(inUnit, divisor.value) : inUnit;
  const unit = figureUnit(set);
  const z = row.norm ? zScore(toNumber(value), Number(row.norm.mean), Number(row.norm.sd)) : null;
  const centile = row.centiles && placeAmong(row.centiles, value);
  const outcome = isReduced(value, row.limit, row.operator) ? 'reduced' : 'not-reduced';
  const isBetween = row.intermediateBelow && compare(value, row.intermediateBelow) < 0;
  return {
    kind: 'verdict',
    set: set.ref,
    rule: set.rule,
    sex: row.sex,
    hand: summary.hand,
    summary: set.summary,
    charted: { value: toDecimalText(summary.value, SUMMARY_DIGITS), unit: summary.unit },
    compared: { value: toDecimalText(value, SUMMARY_DIGITS), unit },
    divisor: divisor?.written,
    conversion: conversionText(summary.unit, set.unit),
    limit: { value: exactText(row.limit), unit, operator: row.operator },
    row: writeRow(row, about),
    outcome,
    zScore: z,
    percentile: z === null ? null : percentileOf(z),
    centile,
    band: centile
      ? bandOf(set, centile)
      : isBetween && outcome === 'not-reduced'
        ? 'intermediate'
        : undefined,
    companions: companionsOf(set, about.subject),
    mismatches: mismatchesOf(set, summary.trials),
    provisional: [...summary.provisional, ...(row.unproven ? (['FIGURES_UNPROVEN'] as const) : [])],
  };
}

function writeRow(row: LimitRow, { placing }: About): Verdict['row'] {
  const byDominance = row.hand === 'dominant' || row.hand === 'nondominant';
  const { stratum } = row;
  return {
    ageMin: row.ageMin,
    ageMax: row.ageMax,
    hand: byDominance ? row.hand : undefined,
    stratum:
      stratum && placing
        ? { by: stratum.by, min: stratum.min, max: stratum.max, measure: placing.measure }
        : undefined,
    betweenAges: row.betweenAges,
    mean: row.norm?.mean ?? null,
    sd: row.norm?.sd ?? null,
    verification: row.verification,
  };
}

/** At a centile counts as having reached it. */
function placeAmong(centiles: NonNullable<LimitRow['centiles']>, value: Exact): CentilePlace {
  const reached = centiles.filter((centile) => compare(value, centile.value) >= 0);
  return { atLeast: reached.at(-1)?.rank ?? null, below: centiles[reached.length]?.rank ?? null };
}

/** The source's name for where the figure lies; its ends are centiles of the table (the loader sees to it). */
function bandOf({ bands }: ReadySet, { atLeast }: CentilePlace): string | undefined {
  return bands?.find(({ below }) => below === null || (atLeast ?? 0) < below)?.name;
}

function companionsOf({ companions }: ReadySet, subject: Subject): readonly CompanionResult[] | undefined {
  const found = (companions ?? []).flatMap((companion) => {
    const measure = measureOf(subject, companion.measure);
    if (!measure) return [];
    const met = isMet(exact(measure.value), companion);
    return [{ name: companion.name, ...usedMeasure(measure), met }];
  });
  return found.length > 0 ? found : undefined;
}

function isMet(value: Exact, { operator, value: limit }: Companion): boolean {
  const order = compare(value, exact(limit));
  if (order === 0) return operator === '<=' || operator === '>=';
  return operator === '<' || operator === '<=' ? order < 0 : order > 0;
}

/** What is charted of the protocol and differs from how the set was built. */
function mismatchesOf({ built }: ReadySet, trials: readonly HandFigure[]): readonly Mismatch[] | undefined {
  if (!built) return undefined;
  const found = PROTOCOL_PARTS.flatMap((part) => {
    const own = built[part];
    const charted = [...new Set(trials.flatMap(({ protocol }) => protocol?.[part] ?? []))];
    return charted
      .filter((each) => own !== null && each !== own)
      .map((each) => ({ part, charted: each, built: own ?? '' }));
  });
  return found.length > 0 ? found : undefined;
}
