/** Puts every person of the survey through the interpretation that the service uses, with one panel. */
import type { Interpretation } from '../../src/interpret/finding.ts';
import { interpret, type SessionInput } from '../../src/interpret/interpret.ts';
import { HANDS, type Measure, type Trial } from '../../src/interpret/measurement.ts';
import type { Panel } from '../../src/interpret/panel.ts';
import type { SurveyPerson } from './microdata.ts';
import { momentOf } from './unit-rates.ts';

/** Any date serves: the age is given. */
const TESTED_ON = '2014-01-01';

export interface Outcome {
  readonly person: SurveyPerson;
  readonly interpretation: Interpretation;
}

/** People without a single reading are left out. */
export function runPanel(people: readonly SurveyPerson[], panel: Panel): readonly Outcome[] {
  return people.flatMap((person) => {
    const session = sessionOf(person);
    if (session.trials.length === 0) return [];
    const { sex, dominant } = person;
    const [interpretation] = interpret({ sex, dominant: dominant ?? undefined, sessions: [session] }, panel);
    return interpretation ? [{ person, interpretation }] : [];
  });
}

/** The trials in kg, hands in turn and a minute apart, with height and weight of the same visit. */
export function sessionOf(person: SurveyPerson): SessionInput {
  const trials = HANDS.flatMap((hand, place) =>
    person.trials[hand].map(
      (kilograms, index): Trial => ({
        reference: `${person.sequence}-${hand}-${index + 1}`,
        hand,
        reading: String(kilograms),
        unit: 'kg',
        effective: momentOf(2 * index + place),
        testedOn: TESTED_ON,
        testedAtMinute: 2 * index + place,
        preliminary: false,
      }),
    ),
  );
  const measures = [
    ...measureOf('height', person.heightCm, 'cm'),
    ...measureOf('weight', person.weightKg, 'kg'),
  ];
  return { testedOn: TESTED_ON, age: { ageYears: person.ageYears }, prior: false, trials, measures };
}

function measureOf(kind: 'height' | 'weight', value: number | null, unit: string): readonly Measure[] {
  if (value === null) return [];
  const text = String(value);
  return [{ kind, value: text, charted: `${text} ${unit}`, reference: kind, measuredOn: TESTED_ON }];
}
