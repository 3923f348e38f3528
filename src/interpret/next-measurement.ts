/** When the panel's rule suggests to measure again. Calendar arithmetic only: no clock. */
import { addDays } from './age.ts';
import type { TrialRules } from './panel.ts';

/** `YYYY-MM-DD`; undefined where the panel has no such rule. */
export function nextFrom(testedOn: string, { nextMeasurement }: TrialRules): string | undefined {
  return nextMeasurement && addDays(testedOn, nextMeasurement.afterDays);
}
