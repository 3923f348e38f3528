/** What an Observation carries so that it can stand alone in a record: an identifier, and the cautions of its hand. */
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cautionSentence } from '../../src/wording/caution-statements.ts';
import {
  broken,
  FHIR_DOOR,
  HOOK_DOOR,
  minutesAfter,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
  sitting,
} from '../fixtures.ts';
import { cardsOf, codesOf, observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const identifierOf = ({ identifier = [] }: Observation) => {
  expect(identifier).toEqual([
    {
      system: 'urn:ietf:rfc:3986',
      value: expect.stringMatching(
        /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/,
      ),
    },
  ]);
  return identifier[0]?.value;
};
const read = async (trials: readonly Observation[], patient = PATIENT) =>
  observationsOf(await service.call(FHIR_DOOR, patient, trials));
const identifiers = (own: readonly Observation[]) => own.map(identifierOf);

describe('the identifier', () => {
  it('is one of its own for each Observation of an answer', async () => {
    const earlier = sitting([30, 30, 30], [28, 28, 28], { id: 'earlier', at: '2026-08-20T10:00:00Z' });
    const unknown = await read([...SIX_TRIALS, ...earlier], broken(PATIENT, 'gender', 'unknown'));
    for (const own of [await read([...SIX_TRIALS, ...earlier]), unknown])
      expect(new Set(identifiers(own)).size).toBe(own.length);
  });

  it('is the same when the same trials are read again, at another time or through the other door', async () => {
    const first = identifiers(await read(SIX_TRIALS));
    expect(identifiers(await read(SIX_TRIALS))).toEqual(first);
    const later = await openForTests(() => new Date('2026-12-24T08:00:00Z'));
    const again = observationsOf(await later.call(FHIR_DOOR, PATIENT, SIX_TRIALS));
    await later.close();
    expect(identifiers(again)).toEqual(first);
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, SIX_TRIALS));
    const offered = card?.suggestions?.[0]?.actions.map(({ resource }) => resource) ?? [];
    expect(identifiers(offered)).toEqual(first);
  });

  it('is another for other trials, another version of a trial, another patient and another panel', async () => {
    const first = new Set(identifiers(await read(SIX_TRIALS)));
    const other = { ...PATIENT, id: 'invented-2' };
    const panel = { name: 'panel', valueCode: 'all-published' };
    const elsewhere = await Promise.all([
      read(SIX_TRIALS.filter((_trial, index) => index !== 0 && index !== 3)),
      read(SIX_TRIALS.map((trial) => broken(trial, 'meta', { versionId: '2' }))),
      read(sitting([31, 32, 30], [28, 29, 28.5], { subject: 'Patient/invented-2' }), other),
      service.post(FHIR_DOOR.path, parametersOf(PATIENT, SIX_TRIALS, [panel])).then(observationsOf),
    ]);
    for (const own of elsewhere)
      expect(identifiers(own).filter((value) => first.has(value ?? ''))).toEqual([]);
  });

  it('is the same for a hand whose trials are the same, whatever the other hand did', async () => {
    const first = new Set(identifiers(await read(SIX_TRIALS)));
    const withoutOneRight = await read(SIX_TRIALS.slice(1));
    const left = withoutOneRight.filter(({ bodySite }) => bodySite?.coding?.[0]?.code === '85151006');
    expect(left.length).toBeGreaterThan(1);
    for (const own of withoutOneRight)
      expect(identifiers([own]).every((value) => first.has(value ?? ''))).toBe(left.includes(own));
  });

  it('is another for another sitting of trials without ids, which their place in the request does not tell apart', async () => {
    const nameless = (value: number, at: string) =>
      sitting([value, value, value], [], { at }).map((trial) => broken(trial, 'id', undefined));
    const monday = identifiers(await read(nameless(31, '2026-11-16T14:05:00Z')));
    const friday = identifiers(await read(nameless(20, '2026-11-20T14:05:00Z')));
    expect(friday.filter((value) => monday.includes(value))).toEqual([]);
  });
});

describe('the cautions', () => {
  const SCATTER = cautionSentence({
    ...{ code: 'TRIALS_SCATTER', hand: 'right' },
    facts: { cvPercent: '35.3', maxCvPercent: '15' },
  });
  const DOUBT =
    'Right hand: a mean of 45.0 kg is strong for this person, and 45.0 lb would be reduced. Check the unit on the instrument.';
  const PRELIMINARY = '6 of the trials charted as preliminary.';
  const handOf = ({ bodySite }: Observation) => bodySite?.coding?.[0]?.display?.match(/right|left/)?.[0];

  /** What an Observation of this hand says of these. */
  async function said(trials: readonly Observation[], texts: readonly string[]) {
    const own = await read(trials);
    expect(own).toHaveLength(10);
    const byHand = (hand: string | undefined) => [
      ...new Set(
        own
          .filter((each) => handOf(each) === hand)
          .map(({ note = [] }) => note.map(({ text }) => text).filter((text) => texts.includes(text)))
          .map((found) => found.join(' & ')),
      ),
    ];
    return { right: byHand('right'), left: byHand('left'), either: byHand(undefined) };
  }

  it('of one hand are in the notes of that hand and of either hand, not of the other', async () => {
    // 12, 18 and 9 kg: mean 13, sample SD 4.58, 35.3%.
    expect(await said(sitting([12, 18, 9], [30, 30, 30]), [SCATTER])).toEqual({
      right: [SCATTER],
      left: [''],
      either: [SCATTER],
    });
    expect(await said(sitting([45, 45, 45], [30, 30, 30]), [DOUBT])).toEqual({
      right: [DOUBT],
      left: [''],
      either: [DOUBT],
    });
  });

  it('of the session are in every note', async () => {
    const trials = SIX_TRIALS.map((trial) => broken(trial, 'status', 'preliminary'));
    expect(await said(trials, [PRELIMINARY])).toEqual({
      right: [PRELIMINARY],
      left: [PRELIMINARY],
      either: [PRELIMINARY],
    });
  });

  it('of a doubtful unit are a warning of the outcome', async () => {
    const reply = await service.call(FHIR_DOOR, PATIENT, sitting([45, 45, 45], [30, 30, 30]));
    expect(codesOf(reply)).toContain('UNIT_DOUBTFUL');
    expect(codesOf(await service.call(FHIR_DOOR, PATIENT, SIX_TRIALS))).not.toContain('UNIT_DOUBTFUL');
  });

  it('name the earlier of two sittings on one day by its time', async () => {
    const later = sitting([32], [], { id: 'later', at: minutesAfter('2026-11-16T14:10:00Z', 61) });
    const reply = await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, ...later]);
    expect(reply.text).toContain(
      'Right hand since 16 Nov 2026 14:05: mean 31.0 kg to 32.0 kg (+1.0 kg, +3.2%).',
    );
  });
});
