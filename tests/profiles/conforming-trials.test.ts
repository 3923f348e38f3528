/**
 * What conforms to the profile of a trial is read as a trial, and all that the profile names of it is used; a summary
 * that a hospital charts is read as one figure.
 */
import type { Bundle, Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FHIR_DOOR, PATIENT } from '../fixtures.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import { VALID_HAND_SUMMARIES } from './valid-hand-summaries.ts';
import { VALID_TRIALS } from './valid-trials.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

/** The patient under the very reference that the trial names. */
function bundleWith(trial: Observation): Bundle {
  const fullUrl = trial.subject?.reference ?? '';
  const patient: Patient = PATIENT;
  return {
    resourceType: 'Bundle',
    type: 'collection',
    entry: [
      { ...(/^(?:https?|urn):/.test(fullUrl) ? { fullUrl } : {}), resource: patient },
      { resource: JSON.parse(JSON.stringify(trial)) },
    ],
  };
}

async function recorded(trial: Observation) {
  expect((await service.post(FHIR_DOOR.path, bundleWith(trial))).status).toBe(200);
  const { input, refusals } = service.last().content;
  const trials = input.sessions.flatMap((session) => session.trials) as readonly object[];
  return { trials, refusals };
}

describe('a trial that conforms is read', () => {
  const { noReading, ...readings } = VALID_TRIALS;

  it.each(Object.entries(readings))('%s', async (_name, trial) => {
    const { trials, refusals } = await recorded(trial);
    expect(refusals).toEqual([]);
    expect(trials).toMatchObject([
      { reading: String(trial.valueQuantity?.value), unit: trial.valueQuantity?.code },
    ]);
  });

  it('with its number, posture, arm, handle, instrument, calibration and own baseline', async () => {
    const { trials } = await recorded(readings.whole);
    expect(trials).toMatchObject([
      {
        hand: 'left',
        number: 2,
        ownBaseline: true,
        protocol: {
          posture: 'seated',
          arm: 'elbow-90-unsupported',
          handle: '2',
          instrument: 'hydraulic',
          calibratedOn: '2026-06-02',
        },
      },
    ]);
  });

  it('and one without a reading is answered with the reason', async () => {
    const { trials, refusals } = await recorded(noReading);
    expect(trials).toEqual([]);
    expect(refusals).toMatchObject([{ code: 'VALUE_ABSENT', facts: { reason: 'not-performed' } }]);
  });
});

describe('a hand summary that a hospital charts is read as one figure', () => {
  const { charted, chartedWhole } = VALID_HAND_SUMMARIES;

  it.each(Object.entries({ charted, chartedWhole }))('%s', async (_name, summary) => {
    expect((await service.post(FHIR_DOOR.path, bundleWith(summary))).status).toBe(200);
    const { input, refusals } = service.last().content;
    expect(refusals).toEqual([]);
    expect(input.sessions).toMatchObject([
      {
        trials: [],
        charted: [
          {
            kind: summary.code.coding?.at(-1)?.code,
            hand: 'left',
            reading: String(summary.valueQuantity?.value),
          },
        ],
      },
    ]);
  });
});
