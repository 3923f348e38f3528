/** What the record holds around the trials, through the doors: half a date of birth, other measures, earlier sessions. */
import type { Bundle, Observation, Provenance } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { broken, FHIR_DOOR, HOOK_DOOR, PATIENT, parametersOf, SIX_TRIALS, sitting } from '../fixtures.ts';
import { HEIGHT, measureOf, WEIGHT } from '../measure-fixtures.ts';
import { cardsOf, observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const cardOf = async (patient: typeof PATIENT, observations: readonly Observation[]) => {
  const [card] = cardsOf(await service.call(HOOK_DOOR, patient, observations));
  if (!card) throw new Error('no card');
  return card;
};
const about = (own: readonly Observation[], set: string) =>
  own.find(({ code }) => code.text === `Grip strength against ${set}`);

describe('a date of birth of which only the year is known', () => {
  // 64 or 65 on 16 Nov 2026; highest 26 kg: below 27 kg (EWGSOP2) and 35.5 kg (SDOC), both read from 65.
  const patient = broken(PATIENT, 'birthDate', '1961');
  const trials = sitting([26, 26, 26], [25, 25, 25]);

  it('leaves a set open that is read at one of the two ages only', async () => {
    const own = about(observationsOf(await service.call(FHIR_DOOR, patient, trials)), 'EWGSOP2 2019');
    expect(own?.valueCodeableConcept).toBeUndefined();
    expect(own?.component).toHaveLength(1);
    expect(own?.component?.[0]?.referenceRange?.[0]?.age?.low?.value).toBe(65);
    expect(own?.dataAbsentReason?.text).toContain('the age was 64 or 65. At 64 this set is not read');
  });

  it('is never said to be reduced by it', async () => {
    const card = await cardOf(patient, trials);
    expect(card.summary).toMatch(/: date of birth known in part only, and /);
    expect(card.detail).toMatch(
      /\*\*For the chart:\*\* .*Depends on the age, known in part only: .*EWGSOP2 2019/,
    );
    expect(card.detail).not.toMatch(/Reduced by [^.]*(EWGSOP2|SDOC)/);
    expect(card.detail).toContain('By EWGSOP2 2019, if read for men 65 and over, low grip strength');
  });
});

describe('measures of the record', () => {
  const ALL = { name: 'panel', valueCode: 'all-published' };
  const ask = (measures: readonly Observation[]) =>
    service.post(FHIR_DOOR.path, parametersOf(PATIENT, [...SIX_TRIALS, ...measures], [ALL]));

  it('are among the sources of what rests on them, and of nothing else', async () => {
    const reply = await ask([HEIGHT, WEIGHT]);
    const sources = (set: string) =>
      about(observationsOf(reply), set)?.derivedFrom?.flatMap(({ reference }) => reference ?? []);
    expect(sources('FNIH 2014 by BMI')).toEqual(
      expect.arrayContaining(['Observation/height', 'Observation/weight', 'Observation/trial-1']),
    );
    expect(sources('FNIH 2014')).not.toContain('Observation/weight');
    const entries = (reply.body as Bundle).entry ?? [];
    const id = about(observationsOf(reply), 'FNIH 2014 by BMI')?.id;
    const provenances = entries.flatMap(({ resource }): readonly Provenance[] =>
      resource?.resourceType === 'Provenance' ? [resource as Provenance] : [],
    );
    const provenance = provenances.find(({ target }) => target[0]?.reference === `Observation/${id}`);
    expect(provenance?.entity?.map(({ what }) => what.reference)).toEqual(
      expect.arrayContaining(['Observation/height', 'Observation/weight']),
    );
  });

  it('that contradict each other on one day are not used, in whatever order they come, and it is said', async () => {
    const on = (value: number, id: string) => ({
      ...measureOf('weight', value, 'kg'),
      id,
      effectiveDateTime: '2026-11-08',
    });
    const weights = [on(70, 'w1'), on(100, 'w2')];
    for (const order of [weights, weights.toReversed()]) {
      const reply = await ask([HEIGHT, ...order]);
      expect(about(observationsOf(reply), 'FNIH 2014 by BMI')?.valueCodeableConcept).toBeUndefined();
      expect(reply.text).toContain('Different figures of weight are charted for the same day');
    }
  });

  it('that a set does not use leave its identifier as it was', async () => {
    const identifierOf = async (measures: readonly Observation[]) =>
      about(observationsOf(await ask(measures)), 'EWGSOP2 2019')?.identifier?.[0]?.value;
    expect(await identifierOf([WEIGHT])).toBe(await identifierOf([]));
    const gait = measureOf('gait-speed', 0.7, 'm/s');
    expect(await identifierOf([gait])).not.toBe(await identifierOf([]));
  });
});

describe('an earlier session', () => {
  const now = sitting([24, 24, 24], [23, 23, 23]);
  const then = sitting([24, 24, 24], [23, 23, 23], { id: 'then', at: '2026-03-10T14:05:00Z' });

  it('that makes it chronic gives the Observation another identifier', async () => {
    const own = async (trials: readonly Observation[]) => {
      const all = observationsOf(await service.call(FHIR_DOOR, PATIENT, trials));
      return all.filter(({ effectiveDateTime }) => effectiveDateTime?.startsWith('2026-11'));
    };
    const [alone, after] = [
      about(await own(now), 'EWGSOP2 2019'),
      about(await own([...then, ...now]), 'EWGSOP2 2019'),
    ];
    expect(after?.text?.div).toContain('chronic in its words (the months are from memory, unverified)');
    expect(alone?.text?.div).not.toContain('chronic');
    expect(after?.identifier).not.toEqual(alone?.identifier);
  });

  it('that the figure is about twice of stops it, and the summary says only what was found', async () => {
    const before = sitting([30, 30, 30], [27, 27, 27], { id: 'then', at: '2026-10-10T14:05:00Z' });
    const card = await cardOf(PATIENT, [...before, ...sitting([57, 57, 57], [27, 27, 27])]);
    expect(card.summary).toMatch(
      /not interpreted\. Check the unit: 57\.0 kg (after 30\.0 kg last time|is implausible, 57\.0 lb would be ordinary)\.$/,
    );
  });

  it('that makes the unit doubtful puts the doubt into the sentence for the chart too', async () => {
    const before = sitting([48, 48, 48], [44, 44, 44], { id: 'then', at: '2026-10-10T14:05:00Z' });
    const { detail, indicator } = await cardOf(PATIENT, [...before, ...sitting([21, 21, 21], [20, 20, 20])]);
    expect(indicator).toBe('warning');
    expect(detail).toMatch(/\*\*For the chart:\*\* .* Unit to be checked \(kg or lb\)\./);
  });
});

describe('a sex that is not usable', () => {
  it('does not make the meaning of one column flat', async () => {
    const unknown = broken(PATIENT, 'gender', undefined);
    const { detail } = await cardOf(unknown, sitting([24, 24, 24], [24, 24, 24]));
    expect(detail).toContain(
      'By EWGSOP2 2019, if read for men 65 and over, low grip strength: "probable sarcopenia"',
    );
  });
});
