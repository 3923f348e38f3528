/** The Parameters form of `$interpret-grip` (STANDARDS O7): patient, observation, prior, panel, asOf. */
import type { ParametersParameter } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  broken,
  bundleOf,
  FHIR_DOOR,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
  sitting,
  TRIAL,
} from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const send = (more: ParametersParameter[] = [], observations = SIX_TRIALS) =>
  service.post(FHIR_DOOR.path, parametersOf(PATIENT, observations, more));

/** An earlier sitting of three trials on the right hand, mean 25 kg. */
const EARLIER = sitting([24, 25, 26], [], { id: 'earlier', at: '2026-08-20T10:00:00Z' });
const prior = EARLIER.map((resource): ParametersParameter => ({ name: 'prior', resource }));

describe('Parameters', () => {
  it('give the same findings as a Bundle of the same data', async () => {
    await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS));
    const fromBundle = service.last().content;
    expect((await send()).status).toBe(200);
    const fromParameters = service.last().content;
    expect(fromParameters.findings).toEqual(fromBundle.findings);
    expect(fromParameters.input).toEqual(fromBundle.input);
  });

  it('name an element at fault by its place among them', async () => {
    const reply = await send([], [broken(TRIAL, 'valueQuantity.value', '31.5')]);
    expect(reply.status).toBe(400);
    expect(issuesOf(reply)[0]?.expression).toEqual(['Parameters.parameter[1].resource.value.value']);
  });

  it.each([
    ['a name that is not known', [{ name: 'observations', resource: TRIAL }], 'Parameters.parameter[7].name'],
    [
      'a name in other letters',
      [{ name: 'Panel', valueCode: 'all-published' }],
      'Parameters.parameter[7].name',
    ],
    ['an observation without a resource', [{ name: 'observation' }], 'Parameters.parameter[7].resource'],
    [
      'a prior that is a text',
      [{ name: 'prior', valueString: 'Observation/1' }],
      'Parameters.parameter[7].resource',
    ],
    [
      'two panels',
      [
        { name: 'panel', valueCode: 'all-published' },
        { name: 'panel', valueCode: 'all-published' },
      ],
      "Parameters.parameter.where(name='panel')",
    ],
    [
      'a panel that is a date',
      [{ name: 'panel', valueDate: '2026-11-20' }],
      "Parameters.parameter.where(name='panel').value",
    ],
    [
      'two asOf',
      [
        { name: 'asOf', valueDate: '2026-11-20' },
        { name: 'asOf', valueDate: '2026-11-20' },
      ],
      "Parameters.parameter.where(name='asOf')",
    ],
    [
      'an asOf of a month',
      [{ name: 'asOf', valueDate: '2026-11' }],
      "Parameters.parameter.where(name='asOf').value",
    ],
    [
      'an asOf on no day',
      [{ name: 'asOf', valueDate: '2026-02-30' }],
      "Parameters.parameter.where(name='asOf').value",
    ],
    [
      'an asOf with a time',
      [{ name: 'asOf', valueDateTime: '2026-11-20T10:00:00Z' }],
      "Parameters.parameter.where(name='asOf').value",
    ],
  ] as [string, ParametersParameter[], string][])('refuse %s with 400', async (_what, more, expression) => {
    const before = service.store.head().seq;
    const reply = await send(more);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)).toEqual(['BODY_INVALID']);
    expect(issuesOf(reply)[0]?.expression).toEqual([expression]);
    expect(service.store.head().seq).toBe(before);
  });

  it('refuse a Parameters without a list, without a patient and with two', async () => {
    expect(codesOf(await service.post(FHIR_DOOR.path, { resourceType: 'Parameters' }))).toEqual([
      'BODY_INVALID',
    ]);
    const none = await service.post(FHIR_DOOR.path, { resourceType: 'Parameters', parameter: [] });
    expect([none.status, codesOf(none)]).toEqual([400, ['PATIENT_MISSING']]);
    const two = await send([{ name: 'patient', resource: PATIENT }]);
    expect([two.status, codesOf(two)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(two)[0]?.expression).toEqual(['Parameters.parameter[7].resource']);
  });
});

describe('panel', () => {
  it.each(['valueCode', 'valueString', 'valueUri'] as const)(
    'all-published as %s adds the Asian sets',
    async (member) => {
      await send([{ name: 'panel', [member]: 'all-published' }]);
      expect(service.last().content.panel).toMatchObject({ id: 'all-published', version: '1.1.0' });
      // Highest 32 kg at 72: not below 28 kg (AWGS 2019, and AWGS 2025 from 65).
      const asian = verdictsOf(service.last()).filter(({ set }) => set.startsWith('awgs'));
      expect(asian).toMatchObject([
        { set: 'awgs-2019|1.1.0', limit: { value: '28', operator: '<' }, outcome: 'not-reduced' },
        { set: 'awgs-2025|1.1.0', limit: { value: '28', operator: '<' }, outcome: 'not-reduced' },
      ]);
    },
  );

  it('that is not given is the installation’s own', async () => {
    await send();
    expect(service.last().content.panel.id).toBe('adult-inpatient-us');
  });

  it.each(['european', '', '__proto__', 'adult-inpatient-us|1.0.0'])(
    '%j is unknown: 400 with the list',
    async (panel) => {
      const reply = await send([{ name: 'panel', valueString: panel }]);
      expect([reply.status, codesOf(reply)]).toEqual([400, ['PANEL_UNKNOWN']]);
      expect(issuesOf(reply)[0]?.expression).toEqual(["Parameters.parameter.where(name='panel').value"]);
      expect(issuesOf(reply)[0]?.diagnostics).toContain('adult-inpatient-us, all-published');
    },
  );
});

describe('asOf', () => {
  it('refuses what was measured after it, and keeps what was measured on it', async () => {
    const later = sitting([40, 41, 42], [], { id: 'later', at: '2026-11-17' });
    const reply = await send([{ name: 'asOf', valueDate: '2026-11-16' }], [...SIX_TRIALS, ...later]);
    expect(codesOf(reply).filter((code) => code === 'TIME_IN_FUTURE')).toHaveLength(3);
    expect(service.last().content.findings.map(({ testedOn }) => testedOn)).toEqual(['2026-11-16']);
  });

  it('is on record', async () => {
    await send([{ name: 'asOf', valueDate: '2026-11-16' }]);
    expect(service.last().content).toMatchObject({ asOf: '2026-11-16' });
  });
});

describe('prior', () => {
  it('makes the change appear, and is not interpreted itself', async () => {
    const without = await send();
    expect(without.text).not.toContain('since 20 Aug 2026');
    const reply = await send(prior);
    const texts = issuesOf(reply).map(({ details }) => details?.text ?? '');
    // Mean 25 to 31 kg: +6 kg, 24%.
    expect(texts.find((text) => text.includes('since 20 Aug 2026'))).toBe(
      'Right hand since 20 Aug 2026 10:00: mean 25.0 kg to 31.0 kg (+6.0 kg, +24.0%). Beyond measurement error (3.5 kg); at least the smallest important change (5.0 kg).',
    );
    expect(texts.some((text) => text.startsWith('Left hand since'))).toBe(false);
    expect(new Set(observationsOf(reply).map(({ effectiveDateTime }) => effectiveDateTime))).toEqual(
      new Set(['2026-11-16T14:05:00Z', '2026-11-16T14:08:00Z']),
    );
    expect(service.last().content.findings).toMatchObject([{ changes: [{ since: '2026-08-20T10:00:00Z' }] }]);
    expect(service.last().content.input.sessions.map((session) => session.prior)).toEqual([true, false]);
  });

  it('is converted exactly when it was charted in another unit', async () => {
    const pounds = sitting([55, 55, 55], [], { id: 'earlier', at: '2026-08-20T10:00:00Z', unit: '[lb_av]' });
    const reply = await send(pounds.map((resource) => ({ name: 'prior', resource })));
    // 55 lb = 24.948 kg; 31 - 24.948 = 6.052 kg, 24.3%.
    expect(reply.text).toContain(
      'mean 55.0 lb (24.9 kg) to 31.0 kg (+6.1 kg, +24.3%). The unit changed between the sessions: lb then, kg now.',
    );
  });

  it('of another patient refuses the whole call', async () => {
    const stranger = broken(EARLIER[0] ?? TRIAL, 'subject.reference', 'Patient/invented-2');
    const reply = await send([{ name: 'prior', resource: stranger }]);
    expect([reply.status, codesOf(reply)]).toEqual([400, ['PATIENT_MISMATCH']]);
    expect(issuesOf(reply)[0]?.expression).toEqual(['Parameters.parameter[7].resource.subject.reference']);
  });

  it('that repeats a current trial is counted once, as current', async () => {
    const reply = await send([{ name: 'prior', resource: SIX_TRIALS[0] ?? TRIAL }]);
    expect(codesOf(reply)).toContain('DUPLICATE_OBSERVATION');
    expect(service.last().content.input.sessions).toMatchObject([{ prior: false }]);
  });
});

describe('sittings in one Bundle', () => {
  const dates = () => service.last().content.findings.map(({ testedOn }) => testedOn);

  it('on two days give two sets of results, oldest first, and the change between them', async () => {
    const reply = await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, ...EARLIER]);
    expect(dates()).toEqual(['2026-08-20', '2026-11-16']);
    const days = observationsOf(reply).map(({ effectiveDateTime = '' }) => effectiveDateTime.slice(0, 10));
    expect(new Set(days)).toEqual(new Set(['2026-08-20', '2026-11-16']));
    expect(days).toEqual(days.toSorted());
    expect(reply.text).toContain('since 20 Aug 2026');
  });

  it.each([
    ['60 minutes after the last trial before, are one', '2026-11-16T15:10:00Z', 1],
    ['61 minutes after the last trial before, are two', '2026-11-16T15:11:00Z', 2],
    ['in another time zone at the same time, are one', '2026-11-16T09:11:00-05:00', 1],
    ['with the date only on a day with one timed sitting, join it', '2026-11-16', 1],
  ])('%s', async (_what, at, count) => {
    // The six trials end at 14:10.
    await service.call(FHIR_DOOR, PATIENT, [...SIX_TRIALS, ...sitting([30], [], { id: 'more', at })]);
    expect(dates()).toHaveLength(count);
  });
});
