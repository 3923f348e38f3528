/** Which measures of the record go with a test: of each kind the nearest in time, within the panel's window. */
import type { Measure, MeasureKind } from './measurement.ts';
import type { TrialRules } from './panel.ts';

const DAY = 86_400_000;

interface Near {
  readonly measures?: readonly Measure[] | undefined;
  readonly conflicting?: readonly MeasureKind[] | undefined;
}

/**
 * Nothing when there are none, or the panel has no such rule. Of two days as near, the earlier; of several figures of
 * one day the latest by its time, and none where that does not tell.
 * @param ageYears null: not known, and then no height is taken from the years of growth
 */
export function measuresNear(
  testedOn: string,
  ageYears: number | null,
  every: readonly Measure[],
  { recordWindow }: TrialRules,
): Near {
  if (!recordWindow) return {};
  const { days, growing } = recordWindow;
  const isGrowing = ageYears === null || ageYears < growing.belowAge;
  const windowOf = (kind: MeasureKind) => (kind === 'height' && isGrowing ? growing.heightDays : days[kind]);
  const apart = ({ measuredOn }: Measure) => Math.abs(Date.parse(testedOn) - Date.parse(measuredOn)) / DAY;
  const inTime = every
    .filter((measure) => apart(measure) <= windowOf(measure.kind))
    .toSorted((a, b) => apart(a) - apart(b) || compareText(orderOf(a), orderOf(b)));
  const kinds = [...new Set(inTime.map(({ kind }) => kind))].sort();
  const found = kinds.map((kind) => {
    const [nearest, ...others] = inTime.filter((measure) => measure.kind === kind);
    const sameDay = others.filter(({ measuredOn }) => measuredOn === nearest?.measuredOn);
    return { kind, measure: nearest && latestOf([nearest, ...sameDay]) };
  });
  const measures = found.flatMap(({ measure }) => measure ?? []);
  const conflicting = found.flatMap(({ kind, measure }) => (measure ? [] : [kind]));
  return {
    ...(measures.length > 0 ? { measures } : {}),
    ...(conflicting.length > 0 ? { conflicting } : {}),
  };
}

/** The same whatever the order of the request: by day, then by what tells two of one day apart. */
function orderOf({ measuredOn, measuredAt = '', reference, value }: Measure): string {
  return [measuredOn, measuredAt, reference, value].join(' ');
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

/** Undefined where figures of one day differ and their times do not tell which is the latest. */
function latestOf(sameDay: readonly Measure[]): Measure | undefined {
  const [first, ...others] = sameDay;
  if (others.every(({ value }) => value === first?.value)) return first;
  const moments = sameDay.map(({ measuredAt }) => Date.parse(measuredAt ?? ''));
  const latest = Math.max(...moments);
  const [last, ...asLate] = sameDay.filter((_, index) => moments[index] === latest);
  return asLate.every(({ value }) => value === last?.value) ? last : undefined;
}
