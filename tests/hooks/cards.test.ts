/** Cards for every demo patient, member by member (STANDARDS C1 to C8, C11, C12, J2 to J4, L1). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import type { Card } from '../../src/hooks/cards.ts';
import { INTENDED_USE } from '../../src/statements.ts';
import { broken, HOOK_DOOR, PATIENT, SIX_TRIALS, sitting, TRIAL } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
const replies: { readonly id: string; readonly text: string; readonly card: Card }[] = [];

beforeAll(async () => {
  service = await openForTests();
  for (const { patient, observations } of DEMO_PATIENTS) {
    const reply = await service.call(HOOK_DOOR, patient, observations);
    const [card, ...more] = cardsOf(reply);
    if (!card || more.length > 0) throw new Error('one card is expected for each demo patient');
    replies.push({ id: patient.id ?? '', text: reply.text, card });
  }
});
afterAll(() => service.close());

const cards = () => replies.map(({ card }) => card);
const cardOf = (id: string) => replies.find((reply) => reply.id === id)?.card as Card;

/** Paths of members that are null or empty. */
function empties(value: unknown, path = '$'): string[] {
  const isEmpty =
    value === null || value === '' || (typeof value === 'object' && Object.keys(value).length === 0);
  if (isEmpty) return [path];
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, member]) => empties(member, `${path}.${key}`));
}

describe('the reply', () => {
  it('R1: is an object of cards, without system actions (S7)', () => {
    for (const { text } of replies) expect(Object.keys(JSON.parse(text))).toEqual(['cards']);
  });

  it('J2 to J4: has no null, nothing empty and no member without a value', () => {
    for (const { id, text } of replies) expect(empties(JSON.parse(text)), id).toEqual([]);
  });
});

describe('a card', () => {
  it('C1: has a summary of one sentence below 140 characters', () => {
    for (const { summary } of cards()) {
      expect(summary.length).toBeLessThan(140);
      expect(summary).not.toMatch(/[\n<>]|undefined|NaN/);
      expect(summary).toMatch(/^Grip strength \d{1,2} [A-Z][a-z]{2} 2026: .*\.$/);
    }
  });

  it.each([
    [
      'demo-octave',
      'Grip strength 16 Nov 2026: reference sets disagree: reduced by SDOC 2020; not by 4 others.',
    ],
    [
      'demo-linnea',
      'Grip strength 17 Nov 2026: reference sets disagree: reduced by US adults 1985 (right hand); not by US survey 2011-14.',
    ],
    [
      'demo-perpetua',
      'Grip strength 18 Nov 2026: reference sets disagree: reduced by EWGSOP2 2019, SDOC 2020 and FNIH 2014; not by 2 others. Provisional.',
    ],
    [
      'demo-casimir',
      'Grip strength 18 Nov 2026: the hands differ: reduced by US adults 1985 (right hand) and US survey 2011-14 (right hand).',
    ],
    [
      'demo-river',
      'Grip strength 19 Nov 2026: sex not usable in the record; 2 reference sets read for both sexes, to choose from.',
    ],
    ['demo-juniper', 'Grip strength 19 Nov 2026: not reduced by US survey 2011-14.'],
    [
      'demo-augusta',
      'Grip strength 19 Nov 2026: reference sets disagree: reduced by SDOC 2020; not by 4 others.',
    ],
  ])('C1: says of %s: %s', (id, summary) => {
    expect(cardOf(id).summary).toBe(summary);
  });

  it('C1: asks for the unit where pounds were charted as kilograms', () => {
    expect(cardOf('demo-barnaby').summary).toBe(
      'Grip strength 20 Nov 2026: not interpreted. Check the unit: 84.0 kg is implausible, 84.0 lb would be ordinary.',
    );
  });

  it('C2: is info or warning, never critical; a warning where something is reduced, open or stopped', () => {
    const indicators = Object.fromEntries(replies.map(({ id, card }) => [id, card.indicator]));
    expect(indicators).toEqual({
      'demo-octave': 'warning',
      'demo-linnea': 'warning',
      'demo-perpetua': 'warning',
      'demo-casimir': 'warning',
      'demo-river': 'warning',
      'demo-juniper': 'info',
      'demo-barnaby': 'warning',
      'demo-augusta': 'warning',
    });
  });

  it('C3 to C6: has a source that names the software and the panel with their versions', () => {
    for (const { source } of cards())
      expect(source).toEqual({
        label: expect.stringMatching(/^grip-strength-cds \d+\.\d+\.\d+, panel adult-inpatient-us 1\.0\.0$/),
      });
  });

  it('C7: has a uuid of its own, which is on record', () => {
    const uuids = cards().map(({ uuid }) => uuid);
    expect(new Set(uuids).size).toBe(uuids.length);
    for (const uuid of uuids) expect(uuid).toMatch(/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/);
    const recorded = service
      .all()
      .slice(0, uuids.length)
      .flatMap(({ content }) => content.returned.cards ?? []);
    expect(recorded.map(({ uuid }) => uuid)).toEqual(uuids);
  });

  it('C8: has a detail without HTML or links, with the intended use and the evaluation on record', () => {
    for (const [index, { detail }] of cards().entries()) {
      expect(detail.match(/(?<!\\)[<>[\]`]/g), 'markup that is not escaped').toBeNull();
      expect(detail).not.toMatch(/undefined|NaN|\[object/);
      expect(detail).toContain(INTENDED_USE);
      expect(detail).toContain(`On record as evaluation ${service.all()[index]?.id}`);
    }
  });

  it('C8: has a table with the same number of cells in every row', () => {
    for (const { detail } of cards()) {
      const rows = detail.split('\n').filter((line) => line.startsWith('|'));
      for (const row of rows) expect(row.match(/(?<!\\)\|/g)).toHaveLength(6);
    }
  });

  it('C11 and E2: offers reasons to override, each with code, system and display', () => {
    for (const { overrideReasons } of cards()) {
      expect(overrideReasons.length).toBeGreaterThan(0);
      for (const reason of overrideReasons)
        expect(reason).toEqual({
          code: expect.stringMatching(/^[a-z-]+$/),
          system: expect.stringMatching(/^https:\/\//),
          display: expect.stringMatching(/\S/),
        });
    }
  });

  it('has no member beyond those of the specification, and no link (C12, L1)', () => {
    const allowed = [
      'uuid',
      'summary',
      'detail',
      'indicator',
      'source',
      'suggestions',
      'selectionBehavior',
      'overrideReasons',
    ];
    for (const card of cards()) for (const member of Object.keys(card)) expect(allowed).toContain(member);
  });
});

describe('a card about more than the figures', () => {
  it('shows the change since the session before, and says how many are not shown', () => {
    const { detail } = cardOf('demo-augusta');
    // Means 18.667 and 16.833 kg on the right, 17.167 and 15.667 kg on the left.
    expect(detail).toContain('Right hand since 22 Oct 2026: mean 16.8 kg to 18.7 kg (+1.8 kg, +10.9%)');
    expect(detail).toContain('Left hand since 22 Oct 2026: mean 15.7 kg to 17.2 kg (+1.5 kg, +9.6%)');
    expect(detail).toContain('3 earlier sessions are on record and not shown here.');
  });

  it('names the trial not done and the hand not tested', () => {
    const { detail } = cardOf('demo-perpetua');
    expect(detail).toContain('Left hand: No reading: charted as not-performed.');
    expect(detail).toContain('Left hand: no usable trial.');
    expect(detail).toContain('Provisional: one hand only.');
  });

  it('says that trials scatter, and that this says nothing about effort', () => {
    // 12, 18 and 9 kg: mean 13, sample SD 4.58, 35.3%.
    expect(cardOf('demo-casimir').detail).toContain('coefficient of variation 35.3%, limit 15%');
    expect(cardOf('demo-casimir').detail).toContain('it says nothing about effort');
  });

  it('is given when no trial of any session could be used', async () => {
    const trials = SIX_TRIALS.slice(0, 2).map((trial) => broken(trial, 'valueQuantity.code', 'lb'));
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, trials));
    expect(card?.summary).toBe('Grip strength: not interpreted; none of the 2 trials could be used.');
    expect(card?.indicator).toBe('warning');
    expect(card?.detail.match(/"lb" is not one of the UCUM codes/g)).toHaveLength(2);
    const [one] = cardsOf(await service.call(HOOK_DOOR, PATIENT, trials.slice(0, 1)));
    expect(one?.summary).toBe('Grip strength: not interpreted; its one trial could not be used.');
  });

  it('says first that newer trials could not be used', async () => {
    const newer = SIX_TRIALS.map((trial, index) => ({
      ...broken(broken(trial, 'valueQuantity.code', 'lb'), 'effectiveDateTime', '2026-11-20T14:00:00Z'),
      id: `newer-${index}`,
    }));
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, [...SIX_TRIALS, ...newer]));
    expect(card?.summary).toMatch(
      /^Newer grip trials \(20 Nov 2026\) could not be used\. Grip strength 16 Nov 2026: /,
    );
    expect(card?.indicator).toBe('warning');
  });

  it('warns when every reading of the session was refused, and does not speak of the sets', async () => {
    const zeros = SIX_TRIALS.map((trial) => broken(trial, 'valueQuantity.value', 0));
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, zeros));
    expect(card?.summary).toBe('Grip strength 16 Nov 2026: not interpreted; no trial of it could be used.');
    expect(card?.indicator).toBe('warning');
    expect(card?.detail).toContain('not interpreted; no trial of it could be used.');
    expect(card?.detail).not.toContain('No reference set');
  });

  it('shows pounds as charted with kilograms beside them, and the factor', () => {
    const { detail } = cardOf('demo-octave');
    expect(detail).toContain('mean 62.3 lb (28.3 kg), highest 64.0 lb (29.0 kg)');
    expect(detail).toContain('1 lb = 0.45359237 kg, exactly');
  });

  it('of trials charted as preliminary says so', async () => {
    const trials = sitting([31, 32, 30], [28, 29, 28.5]).map((trial) =>
      broken(trial, 'status', 'preliminary'),
    );
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, trials));
    expect(card?.detail).toContain('6 of the trials charted as preliminary.');
  });

  it('marks the results of one trial as provisional', async () => {
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, [TRIAL]));
    expect(card?.summary).toMatch(/ Provisional\.$/);
    expect(card?.detail).toContain('Right hand: 1 of 3 trials, so its results are provisional.');
  });
});
