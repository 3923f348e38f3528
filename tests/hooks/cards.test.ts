/** Cards for every demo patient, member by member (STANDARDS C1 to C8, C11, C12, J2 to J4, L1). */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DEMO_PATIENTS } from '../../src/demo/patients.ts';
import type { Card } from '../../src/hooks/cards.ts';
import { intendedUse, NOT_READ } from '../../src/wording/intended-use.ts';
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

/** How the footer names what the panel applies. */
const SETS =
  ' Panel adult-inpatient-us 1.1.0: mathiowetz-1985-us-adults 1.1.0, nhanes-2011-2014-right-left-mean-of-3 1.1.0, ewgsop2-2019 1.1.0, sdoc-2020 1.1.0, fnih-2014 1.1.0.';

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

/** The lines of one section of a detail. */
function sectionOf(detail: string, title: string): readonly string[] {
  const parts = detail.split('\n\n');
  const at = parts.indexOf(`**${title}**`);
  return at < 0 ? [] : (parts[at + 1] ?? '').split('\n');
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
      'Grip strength 17 Nov 2026: check the unit (lb or kg) first. As charted, the hands differ: reduced by US adults 1985 (right hand).',
    ],
    [
      'demo-perpetua',
      'Grip strength 18 Nov 2026: reference sets disagree: reduced by EWGSOP2 2019, SDOC 2020 and FNIH 2014; not by 2 others. Provisional.',
    ],
    [
      'demo-casimir',
      'Grip strength 18 Nov 2026: not reduced by US adults 1985 (left hand) and US survey 2011-14 (left hand). Right hand: own baseline.',
    ],
    [
      'demo-river',
      'Grip strength 19 Nov 2026: sex not usable in the record, and the result of US adults 1985 and US survey 2011-14 depends on it.',
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
      'demo-casimir': 'info',
      'demo-river': 'warning',
      'demo-juniper': 'info',
      'demo-barnaby': 'warning',
      'demo-augusta': 'warning',
    });
  });

  it('C3 to C6: has a source that names the software and the panel with their versions', () => {
    for (const { source } of cards())
      expect(source).toEqual({
        label: expect.stringMatching(/^grip-strength-cds \d+\.\d+\.\d+, panel adult-inpatient-us 1\.1\.0$/),
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
      const { id, content } = service.all()[index] as ReturnType<TestService['last']>;
      const { ageYears = null } = content.findings[0] ?? {};
      const read = cards()[index] !== cardOf('demo-barnaby');
      expect(
        detail.endsWith(`\n\n${intendedUse(ageYears)}\n\nOn record as evaluation ${id}.${read ? SETS : ''}`),
      ).toBe(true);
    }
    expect(cardOf('demo-juniper').detail).toContain('does not apply below 18');
    expect(cardOf('demo-linnea').detail).toContain('Academy/ASPEN 2012: reduced grip is one of six');
    expect(cardOf('demo-casimir').detail).not.toContain('Academy/ASPEN');
  });

  it('says what was not read, unless the session was stopped', () => {
    for (const { id, card } of replies)
      expect(card.detail.split(`\n\n${NOT_READ}`), id).toHaveLength(id === 'demo-barnaby' ? 1 : 2);
  });

  it('C8: has a table with the same number of cells in every row', () => {
    for (const { detail } of cards()) {
      const rows = detail.split('\n').filter((line) => line.startsWith('|'));
      for (const row of rows) expect(row.match(/(?<!\\)\|/g)).toHaveLength(5);
    }
  });

  it('C11 and E2: offers reasons to override, each with code, system and display', () => {
    for (const { overrideReasons } of cards()) {
      expect(overrideReasons.length, 'a list that can be scanned').toBeLessThanOrEqual(8);
      expect(overrideReasons).toHaveLength(8);
      for (const reason of overrideReasons)
        expect(reason).toEqual({
          code: expect.stringMatching(/^[a-z-]+$/),
          system: expect.stringMatching(/^https?:\/\//),
          display: expect.stringMatching(/\S/),
        });
    }
  });

  it('C11: takes three reasons from the published list, in its own words, beside ours', () => {
    // Displays of the trial-use code system, as seen in print beside CDS Hooks 3.0.0-ballot.
    expect(
      cards()[0]?.overrideReasons.filter(({ system }) => system.includes('terminology.hl7.org')),
    ).toEqual(
      [
        { code: 'cds-not-applicable', display: 'PC CDS does not apply to patient' },
        {
          code: 'recipient-disagrees-evidence',
          display: 'Recipient disagrees with recommendation because of issues with the evidence',
        },
        { code: 'cds-suboptimal-context', display: 'PC CDS delivered in suboptimal context' },
      ].map((each) => ({
        system: 'http://terminology.hl7.org/CodeSystem/non-adherence-reason-codes',
        ...each,
      })),
    );
  });

  it('has no member beyond those of the specification (C12)', () => {
    const allowed = [
      'uuid',
      'summary',
      'detail',
      'indicator',
      'source',
      'suggestions',
      'selectionBehavior',
      'overrideReasons',
      'links',
    ];
    for (const card of cards()) for (const member of Object.keys(card)) expect(allowed).toContain(member);
  });
});

describe('a card about more than the figures', () => {
  it('shows the change since the session before, and in whom the sizes were found that it is put beside', async () => {
    // Means 18.667 and 16.833 kg on the right, 17.167 and 15.667 kg on the left.
    expect(sectionOf(cardOf('demo-augusta').detail, 'Over time')).toEqual([
      '- Right hand since 22 Oct 2026 14:00: mean 16.8 kg to 18.7 kg (+1.8 kg, +10.9%). Within measurement error (3.5 kg); less than the smallest important change (5.0 kg).',
      '- Right hand since the first comparable session, 27 Aug 2026 14:00: mean 13.2 kg to 18.7 kg (+5.5 kg, +41.8%). Beyond measurement error (3.5 kg); at least the smallest important change (5.0 kg).',
      '- Left hand since 22 Oct 2026 14:00: mean 15.7 kg to 17.2 kg (+1.5 kg, +9.6%). Within measurement error (3.5 kg); less than the smallest important change (5.0 kg).',
      '- Left hand since the first comparable session, 27 Aug 2026 14:00: mean 12.2 kg to 17.2 kg (+5.0 kg, +41.1%). Beyond measurement error (3.5 kg); at least the smallest important change (5.0 kg).',
      expect.stringMatching(
        /^- These sizes were found elsewhere: 3\.5 kg in users of nursing homes aged 65 and over .*; 5\.0 kg in adults of several conditions/,
      ),
      '- By the rule of this panel the next measurement is suggested from 3 Dec 2026.',
    ]);
    expect(cardOf('demo-augusta').detail).not.toContain('**Cautions**');
    const earlier = sitting([30], [], { id: 'earlier', at: '2026-11-02' });
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, [...SIX_TRIALS, ...earlier]));
    expect(sectionOf(card?.detail ?? '', 'Over time')).toEqual([
      '- Right hand since 2 Nov 2026: mean 30.0 kg to 31.0 kg (+1.0 kg, +3.3%). Provisional: fewer trials than the protocol asks for. Within measurement error (3.5 kg); less than the smallest important change (5.0 kg).',
      expect.stringMatching(/^- These sizes were found elsewhere: /),
      '- By the rule of this panel the next measurement is suggested from 30 Nov 2026.',
    ]);
  });

  it('C1, C2: warns of a loss beyond every published size, even where no set calls the strength reduced', async () => {
    // 52 and 45 kg are not reduced by any set; 7 kg is beyond 3.5 kg (error) and 5.0 kg (smallest important change).
    const earlier = sitting([52, 52, 52], [46, 46, 46], { id: 'earlier', at: '2026-10-19' });
    const now = sitting([45, 45, 45], [44, 44, 44]);
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, [...now, ...earlier]));
    // 45 kg raises a doubt about the unit: nothing is said of a loss then.
    expect(card?.summary).toContain('check the unit (kg or lb) first. As charted, ');
    expect(card?.summary).not.toContain('down');
    const clear = sitting([43, 43, 43], [40, 40, 40], { id: 'earlier', at: '2026-10-19' });
    const less = sitting([36, 36, 36], [38, 38, 38]);
    const [loss] = cardsOf(await service.call(HOOK_DOOR, PATIENT, [...less, ...clear]));
    expect(loss?.summary).toMatch(
      /^Grip strength 16 Nov 2026: not reduced by .*\. Right hand down 7\.0 kg since 19 Oct 2026\.$/,
    );
    expect(loss?.indicator).toBe('warning');
    const [gain] = cardsOf(
      await service.call(HOOK_DOOR, PATIENT, [
        ...sitting([43, 43, 43], [40, 40, 40]),
        ...sitting([36, 36, 36], [38, 38, 38], { id: 'earlier', at: '2026-10-19' }),
      ]),
    );
    expect(gain?.summary).not.toContain('down');
    expect(gain?.indicator).toBe('info');
  });

  it('names the trial not done and the hand not tested', () => {
    const { detail } = cardOf('demo-perpetua');
    expect(detail).toContain(
      '- Left hand not tested: charted as not performed. The highest of either hand is provisional.',
    );
    expect(detail).not.toContain('No reading: ');
    expect(detail).toContain(
      ' Not reduced by US adults 1985 (right hand), US survey 2011-14 (right hand). Provisional: one hand only. Left hand not tested: charted as not performed. One item',
    );
  });

  it('says that trials scatter, and that this says nothing about effort', () => {
    // 12, 18 and 9 kg: mean 13, sample SD 4.58, 35.3%.
    expect(cardOf('demo-casimir').detail).toContain('coefficient of variation 35.3%, limit 15%');
    expect(cardOf('demo-casimir').detail).toContain('it says nothing about effort');
    expect(cardOf('demo-casimir').detail).toContain(
      ' Not reduced by US adults 1985 (left hand), US survey 2011-14 (left hand). Right-hand trials inconsistent (CV 35.3%). Right hand: norms do not fit, own baseline. One item',
    );
  });

  it('is given when no trial of any session could be used', async () => {
    const trials = SIX_TRIALS.slice(0, 2).map((trial) => broken(trial, 'valueQuantity.code', 'lb'));
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, trials));
    expect(card?.summary).toBe('Grip strength: not interpreted; none of the 2 trials could be used.');
    expect(card?.indicator).toBe('warning');
    // Once for both, with what the record calls them.
    expect(card?.detail.match(/the unit "lb" does not come in a form that is read/g)).toHaveLength(1);
    expect(card?.detail).toMatch(
      /- Right hand, 2 trials: Not used: .* \(Observation\/trial-1, Observation\/trial-2\)/,
    );
    expect(card?.detail).not.toContain(NOT_READ);
    expect(card?.detail).toMatch(/\n\nOn record as evaluation [0-9a-f-]+\.$/);
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
    expect(card?.detail).toMatch(
      /^\*\*Trials of 20 Nov 2026 could not be used \(see Cautions\)\. What follows is of 16 Nov 2026\.\*\*\n\n/,
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

  it('names no sets and nothing not read where nothing was read', async () => {
    const zeros = SIX_TRIALS.map((trial) => broken(trial, 'valueQuantity.value', 0));
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, zeros));
    expect(card?.detail).not.toContain(NOT_READ);
    expect(card?.detail).toMatch(/\n\nOn record as evaluation [0-9a-f-]+\.$/);
  });

  it('shows pounds as charted with kilograms beside them, and the factor', () => {
    expect(cardOf('demo-octave').detail).toContain(
      [
        '',
        '- Right: 62, 64, 61 lb; mean 62.3 lb (28.3 kg); highest 64.0 lb (29.0 kg)',
        '- Left: 58, 57, 60 lb; mean 58.3 lb (26.5 kg); highest 60.0 lb (27.2 kg)',
        '- Charted in \\[lb\\_av\\], read as the force on the instrument',
        '',
      ].join('\n'),
    );
    expect(cardOf('demo-octave').detail).toContain('\n\nConverted by 1 lb = 0.45359237 kg, exactly.\n\n');
  });

  it('shows every unit of a session that was stopped for it', async () => {
    const more = sitting([66], [], { unit: '[lb_av]', id: 'more', at: '2026-11-16T14:12:00Z' });
    const trials = [...sitting([30, 31], [28]), ...more];
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, trials));
    expect(card?.detail).toContain(
      [
        '',
        '- Right: 30 kg, 31 kg, 66 lb',
        '- Left: 28 kg',
        '- Charted in kgf, \\[lb\\_av\\], read as the force on the instrument',
        '',
      ].join('\n'),
    );
  });

  it('names the factor only where one was used, and each once', async () => {
    expect(cardOf('demo-juniper').detail).toContain(
      '\n- Charted in kg, read as the force on the instrument\n',
    );
    expect(cardOf('demo-juniper').detail).not.toContain('Converted by');
    const inNewton = sitting([304, 314, 294], [275, 284, 279], { unit: 'N' });
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, inNewton));
    expect(card?.detail).toContain(
      '\n- Right: 304, 314, 294 N; mean 304.0 N (31.0 kg); highest 314.0 N (32.0 kg)\n',
    );
    expect(card?.detail).toContain('\n\nConverted by 1 lb = 0.45359237 kg; 1 kg = 9.80665 N, exactly.\n\n');
  });

  it('says once that a unit of mass was read as force: among the readings, not among the cautions', () => {
    for (const { card } of replies) expect(card.detail).not.toContain('a unit of mass');
    expect(cardOf('demo-augusta').detail).toContain(
      '\n- Charted in kg, read as the force on the instrument\n',
    );
  });

  it('asks for the unit where it decides the result', async () => {
    // 41.4 lb is the limit of the right hand; 41.4 kg is within 3 SD of the mean.
    const linnea = cardOf('demo-linnea').detail;
    const doubt =
      '**Right hand: a mean of 41.4 lb is reduced, and 41.4 kg would not be out of range. Check the unit on the instrument before acting.**';
    expect(linnea.indexOf(doubt), 'above the results that it puts in doubt').toBeGreaterThan(0);
    expect(linnea.indexOf(doubt)).toBeLessThan(linnea.indexOf('| Reference set'));
    expect(linnea).toContain(' Unit to be checked (lb or kg). One item');
    // 45 kg is above 36.61 + 7.30 kg; 45 lb is 20.4 kg, below 36.61 - 2 x 7.30 kg.
    const [card] = cardsOf(await service.call(HOOK_DOOR, PATIENT, sitting([45, 45, 45], [30, 30, 30])));
    expect(card?.detail).toContain(
      '**Right hand: a mean of 45.0 kg is strong for this person, and 45.0 lb would be reduced. Check the unit on the instrument.**',
    );
    expect(card?.detail).toContain(' Unit to be checked (kg or lb). One item');
  });

  it('counts sets that say the same for either sex, and asks for the sex only where it matters', async () => {
    const unknown = broken(PATIENT, 'gender', undefined);
    const [weak] = cardsOf(await service.call(HOOK_DOOR, unknown, sitting([15, 15, 15], [15, 15, 15])));
    // 15 kg = 33.07 lb. 1985: women 26.2 and 21.1, men 32.3 and 28.6 lb. Survey: women 13.24 and 12.53, men 22.01
    // and 21.65 kg. Consensus: women 16, 20 and 16, men 27, 35.5 and 26 kg.
    expect(weak?.summary).toBe(
      'Grip strength 16 Nov 2026: sex not usable in the record, and the result of US survey 2011-14 depends on it.',
    );
    expect(weak?.detail).toContain(
      ' Reduced by EWGSOP2 2019, SDOC 2020, FNIH 2014. Not reduced by US adults 1985. Depends on the sex read, not usable in the record: US survey 2011-14 (as a woman not reduced, as a man reduced). One item',
    );
    expect(weak?.indicator).toBe('warning');
    const [strong] = cardsOf(await service.call(HOOK_DOOR, unknown, sitting([37, 37, 37], [36, 36, 36])));
    expect(strong?.summary).toBe(
      'Grip strength 16 Nov 2026: not reduced by US adults 1985, US survey 2011-14, EWGSOP2 2019, SDOC 2020 and FNIH 2014.',
    );
    expect(strong?.indicator).toBe('info');
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
