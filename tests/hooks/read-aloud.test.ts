/** Cards as a dietitian reads them aloud: what must be said, and what must not be missed. Invented people. */
import type { Observation, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BODY_POSITION_URL, SNOMED } from '../../src/fhir/codes.ts';
import { broken, coded, hookCallOf, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { cardsOf, openForTests, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const READING = '/cds-services/grip-interpretation';
const DISCHARGE = '/cds-services/grip-interpretation-discharge';

async function cardFor(observations: readonly Observation[], patient: Patient = PATIENT) {
  const [card] = cardsOf(await service.post(READING, hookCallOf(patient, observations)));
  return { summary: '', detail: '', indicator: '', ...card };
}

async function dischargeCard(observations: readonly Observation[], patient: Patient = PATIENT) {
  const call = hookCallOf(patient, observations);
  const encounter = {
    ...{ resourceType: 'Encounter', id: 'stay', status: 'in-progress', class: { code: 'IMP' } },
    ...{ subject: { reference: 'Patient/invented-1' }, period: { start: '2026-11-01' } },
  };
  const [card] = cardsOf(
    await service.post(DISCHARGE, {
      ...call,
      hook: 'encounter-discharge',
      context: { ...call.context, encounterId: 'stay' },
      prefetch: { ...call.prefetch, encounter },
    }),
  );
  return { summary: '', detail: '', indicator: '', ...card };
}

const at = (id: string, day: string, parts = {}) => ({ id, at: `${day}T10:00:00Z`, ...parts });
const chartOf = (detail: string) => /\*\*For the chart:\*\* (.*)/.exec(detail)?.[1] ?? '';
const plain = (text: string) => text.replace(/\\(?=[^\w\s])/g, '');

describe('a unit in doubt', () => {
  const pounds = sitting([31, 32, 31], [29, 29, 28], { unit: '[lb_av]' });
  const inKilograms = sitting([31, 32, 30], [29, 29, 28], at('earlier', '2026-10-19'));

  it('C1: is in the summary for pounds too, before the result', async () => {
    const woman = broken(broken(PATIENT, 'birthDate', '1956-01-05'), 'gender', 'female') as Patient;
    const { summary } = await cardFor(sitting([22, 23, 22], [21, 21, 20], { unit: '[lb_av]' }), woman);
    expect(summary).toBe(
      'Grip strength 16 Nov 2026: check the unit (lb or kg) first. As charted, reduced by 5 reference sets.',
    );
  });

  it('C8: shows the earlier figure as charted, with its conversion, and that the unit changed', async () => {
    const { detail } = await cardFor([...pounds, ...inKilograms]);
    // 31 kg / 0.45359237 = 68.343 lb.
    expect(detail).toContain(
      '**Right hand: 31.0 kg (68.3 lb) last time, 31.3 lb now: almost the same number under another unit. Check the unit of both.**',
    );
    expect(detail).toContain(
      'mean 31.0 kg (68.3 lb) to 31.3 lb (-37.0 lb, -54.2%). The unit changed between the sessions: kg then, lb now.',
    );
  });

  it('C8: prints published sizes of change in the unit charted as well', async () => {
    const { detail } = await cardFor([...pounds, ...inKilograms]);
    // 3.5 / 0.45359237 = 7.716 lb; 5.0 / 0.45359237 = 11.023 lb.
    expect(detail).toContain('measurement error (7.7 lb = 3.5 kg)');
    expect(detail).toContain('smallest important change (11.0 lb = 5.0 kg)');
  });

  it('C8: stands once in the sentence for the chart, and the patient is told no number', async () => {
    const { detail } = await cardFor([...pounds, ...inKilograms]);
    expect(chartOf(detail).match(/Unit to be checked/g)).toHaveLength(1);
    expect(detail).not.toContain('For the patient');
  });

  it('C1: one wild reading beside ordinary ones asks for the readings, not for the unit of all', async () => {
    const { summary, detail } = await cardFor(sitting([38, 40, 85], [36, 37, 36]));
    expect(summary).toBe(
      'Grip strength 16 Nov 2026: not interpreted. Check the readings: right hand, 85 kg beside 38 and 40 kg.',
    );
    expect(detail).toContain('Check each reading, then its unit, and correct the chart.');
  });
});

describe('at a discharge', () => {
  const man = broken(PATIENT, 'birthDate', '1986-01-05') as Patient;
  const step = (force: number, day: string) =>
    sitting([force, force, force], [force - 2, force - 2, force - 2], at(`day-${day}`, day));

  it('C1, C2: small steps that add up to a loss beyond every published size are a warning', async () => {
    const steps = [
      step(40, '2026-11-23'),
      step(45, '2026-11-16'),
      step(50, '2026-11-09'),
      step(55, '2026-11-02'),
    ];
    const { summary, indicator, detail } = await dischargeCard(steps.flat(), man);
    expect(indicator).toBe('warning');
    expect(summary).toMatch(/ Right hand down 15\.0 kg since 2 Nov 2026\.$/);
    expect(plain(chartOf(detail))).toContain(
      'Right mean down 15.0 kg (-27.3%) since 2 Nov 2026, beyond the published sizes of change.',
    );
    expect(detail.match(/55\.0 kg to 40\.0 kg/g), 'the change over the stay once').toHaveLength(1);
  });

  it('C8: a last session that was stopped does not hide the figures that can be handed over', async () => {
    const older = broken(PATIENT, 'birthDate', '1966-01-05') as Patient;
    const stopped = sitting([84, 85, 84], [80, 81, 80], at('stopped', '2026-11-23'));
    const usable = sitting([38, 39, 38], [36, 36, 36], at('usable', '2026-11-02'));
    const { detail } = await dischargeCard([...stopped, ...usable], older);
    expect(detail).toContain(
      '- Last figures of this stay that can be used, 2 Nov 2026: right hand mean 38.3 kg; left hand mean 36.0 kg.',
    );
  });
});

describe('the sentence for the chart', () => {
  it('C8: stands alone: sex read, posture, newer trials that could not be read', async () => {
    // SNOMED CT 102538003, recumbent body position.
    const valueCodeableConcept = coded([SNOMED, '102538003']);
    const extension = [{ url: BODY_POSITION_URL, valueCodeableConcept }];
    const lying = SIX_TRIALS.map((trial) => ({ ...trial, extension }));
    const unread = sitting([30], [], at('newer', '2026-11-20')).map((trial) =>
      broken(trial, 'valueQuantity.code', 'lb'),
    );
    const { detail } = await cardFor([...lying, ...unread]);
    expect(chartOf(detail)).toContain(', age 72, read as a man (administrative gender): right mean 31.0 kg');
    expect(chartOf(detail)).toContain(' Posture recumbent. ');
    expect(chartOf((await cardFor(SIX_TRIALS)).detail)).not.toContain('Posture');
    expect(chartOf(detail)).toContain(' Newer trials of 20 Nov 2026 could not be read. ');
  });
});

describe('a card', () => {
  it('C8: says that the consensus gives no figure, and keeps unverified months to the page', async () => {
    const weak = sitting([18, 19, 18], [17, 17, 16]);
    const strong = sitting([31, 32, 31], [29, 29, 28], at('strong', '2026-10-19'));
    const { detail } = await cardFor([...weak, ...strong]);
    expect(detail).toContain('It gives no figure: which set counts is local policy.');
    expect(detail).toContain(
      'Not reduced by it on 19 Oct 2026. Not known here: muscle quantity or quality (confirms)',
    );
    expect(detail).not.toMatch(/months|from memory/);
  });

  it('C8: gives the patient the day, no needless decimal, and kilograms beside newtons', async () => {
    expect((await cardFor(SIX_TRIALS)).detail).toContain(
      'On 16 Nov 2026 your strongest squeeze was 32 kg, and',
    );
    const newtons = sitting([300, 310, 305], [280, 285, 290], { unit: 'N' });
    expect(plain((await cardFor(newtons)).detail)).toContain('squeeze was 310 N (31.6 kg), and');
  });

  it('R2: none is given about a person who is recorded as deceased', async () => {
    const deceased = broken(PATIENT, 'deceasedDateTime', '2026-11-20') as Patient;
    const reply = await service.post(READING, hookCallOf(deceased, SIX_TRIALS));
    expect([reply.status, reply.body]).toEqual([200, { cards: [] }]);
  });
});
