/** Which measures of the record go with a test: of each kind the nearest in time, within the panel's window. */
import type { Measure } from './measurement.ts';
import type { TrialRules } from './panel.ts';

const DAY = 86_400_000;

/** Undefined when there are none, or the panel has no such rule. Of two as near, the earlier. */
export function measuresNear(
  testedOn: string,
  every: readonly Measure[],
  { recordWindow }: TrialRules,
): readonly Measure[] | undefined {
  if (!recordWindow) return undefined;
  const apart = ({ measuredOn }: Measure) => Math.abs(Date.parse(testedOn) - Date.parse(measuredOn)) / DAY;
  const nearest = new Map<string, Measure>();
  const inTime = every.filter((measure) => apart(measure) <= recordWindow.days[measure.kind]);
  for (const measure of inTime.toSorted((a, b) => a.measuredOn.localeCompare(b.measuredOn))) {
    const known = nearest.get(measure.kind);
    if (!known || apart(measure) < apart(known)) nearest.set(measure.kind, measure);
  }
  return nearest.size > 0 ? [...nearest.values()] : undefined;
}
