/** How many hands the rule about the order of the trials marks, by its limits. */
import { patternCautions } from '../../src/interpret/check-pattern.ts';
import { HANDS, ofHand } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { SurveyPerson } from './microdata.ts';
import { charted, complete } from './unit-rates.ts';

export interface PatternRates {
  readonly hands: number;
  readonly firstLow: number;
  readonly falling: number;
}

/** Adults with three trials of a hand above zero; both limits set to the same percentage. */
export function measurePattern(people: readonly SurveyPerson[], panel: Panel, percent: string): PatternRates {
  const { trialPattern } = panel.rules;
  if (!trialPattern) throw new Error('the panel has no rule about the order of trials');
  const rules = {
    ...panel.rules,
    trialPattern: { ...trialPattern, firstBelowPercent: percent, fallPercent: percent },
  };
  const adults = complete(people).filter(({ ageYears }) => ageYears >= 20);
  const marks = adults.flatMap((person) => {
    const trials = charted(person, 'kg', 'kg');
    return HANDS.map((hand) => ofHand(trials, hand))
      .filter((own) => own.length === 3)
      .map((own) => patternCautions(own[0]?.hand ?? 'right', own, rules).map(({ code }) => code));
  });
  return {
    hands: marks.length,
    firstLow: marks.filter((codes) => codes.includes('FIRST_TRIAL_LOW')).length,
    falling: marks.filter((codes) => codes.includes('TRIALS_FALLING')).length,
  };
}
