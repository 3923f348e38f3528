/** The valid instances are valid by every judge: without it, a mutant might be caught for what it did not break. */
import { describe, expect, it } from 'vitest';
import type { ProfileId } from './definitions.ts';
import { expectValid } from './judges.ts';
import { VALID_HAND_SUMMARIES } from './valid-hand-summaries.ts';
import { VALID_INTERPRETATIONS } from './valid-interpretations.ts';
import { VALID_TRIALS } from './valid-trials.ts';

const VALID = {
  'grip-trial': VALID_TRIALS,
  'grip-hand-summary': VALID_HAND_SUMMARIES,
  'grip-interpretation': VALID_INTERPRETATIONS,
} as const;

describe.each(Object.entries(VALID))('%s', (profile, instances) => {
  it.each(Object.entries(instances))('takes %s as valid', (name, observation) => {
    expect.hasAssertions();
    expectValid(observation, profile as ProfileId, name);
  });
});
