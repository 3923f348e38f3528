/** Shapes of a charted figure, each broken one way: what is read, what is refused and where. */
import type { CodeableConcept, Observation, ObservationComponent, Parameters, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  DATA_ABSENT_REASON,
  GRIP_CODES,
  GRIP_LOINC,
  GRIP_SNOMED,
  HAND_STRUCTURE,
  LOINC,
  OBSERVATION_STATISTICS,
  SNOMED,
  UCUM,
} from '../../src/fhir/codes.ts';
import type { Hand } from '../../src/interpret/measurement.ts';
import {
  broken,
  bundleOf,
  coded,
  collection,
  DOORS,
  FHIR_DOOR,
  PATIENT,
  parametersOf,
  SIX_TRIALS,
  TRIAL,
} from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  refusalsOf,
  type TestService,
} from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const kilograms = (value: number) => ({ value, unit: 'kg', system: UCUM, code: 'kgf' });
const side = (hand: Hand) => coded([SNOMED, HAND_STRUCTURE[hand].code]);
const RIGHT = coded([LOINC, GRIP_LOINC.right]);
const LEFT = coded([LOINC, GRIP_LOINC.left]);
const SQUEEZE = coded([GRIP_CODES, 'grip-trial']);
const statistic = (code: string) => coded([OBSERVATION_STATISTICS, code]);
const component = (code: CodeableConcept, value: number): ObservationComponent => ({
  code,
  valueQuantity: kilograms(value),
});

/** Three squeezes of the right hand in one Observation. */
const ONE_HAND: Observation = {
  ...broken(TRIAL, 'valueQuantity', undefined),
  id: 'hand',
  component: [31, 32, 30].map((value) => component(SQUEEZE, value)),
};
/** Already averaged, right hand. */
const MEAN: Observation = { ...TRIAL, id: 'mean', method: statistic('average') };

async function read(...observations: readonly Observation[]) {
  await service.post(FHIR_DOOR.path, bundleOf(PATIENT, observations)).expect(200);
  const recorded = service.last();
  return {
    figures: recorded.content.findings.flatMap(({ summaries }) =>
      summaries.map(({ kind, hand, charted }) => `${kind} ${hand ?? '-'} ${charted.value}`),
    ),
    refusals: refusalsOf(recorded).flatMap(({ set, code, expression }) =>
      set === null ? [`${code} ${expression?.replace('Bundle.entry[1].resource.', '') ?? '-'}`] : [],
    ),
    cautions: recorded.content.findings.flatMap(({ cautions }) => cautions.map(({ code }) => code)),
    trials: recorded.content.input.sessions.flatMap(({ trials }) => trials.map(({ reference }) => reference)),
  };
}

const THREE = [
  'mean-per-hand right 31.000',
  'highest-per-hand right 32.000',
  'highest-of-either-hand - 32.000',
];

describe('a component', () => {
  it('is a trial with a reference of its own', async () => {
    const { figures, refusals, trials } = await read(ONE_HAND);
    expect(figures).toEqual(THREE);
    expect(refusals).toEqual([]);
    expect(trials).toEqual([0, 1, 2].map((index) => `Observation/hand#component[${index}]`));
    const versioned = await read(broken(ONE_HAND, 'meta.versionId', '2'));
    expect(versioned.trials[0]).toBe('Observation/hand/_history/2#component[0]');
    const { trials: named } = await read(broken(ONE_HAND, 'id', undefined));
    expect(named[0]).toBe('#Bundle.entry[1].resource.component[0]');
  });

  it('takes its hand from its code, whatever the Observation is called', async () => {
    const person = {
      ...ONE_HAND,
      code: { text: 'Grip strength' },
      component: [component(RIGHT, 31), component(LEFT, 29)],
    };
    const { figures, refusals } = await read(person);
    expect(figures).toContain('mean-per-hand right 31.000');
    expect(figures).toContain('mean-per-hand left 29.000');
    expect(refusals).toEqual([]);
  });

  it.each([
    ['the code', { code: RIGHT }],
    ['the body site', { code: coded([SNOMED, GRIP_SNOMED]), bodySite: side('right') }],
    ['the body site beside a code of its own', { code: { text: 'Grip' }, bodySite: side('right') }],
  ])('takes its hand from %s of the Observation where its own code names none', async (_name, parts) => {
    expect((await read({ ...ONE_HAND, ...parts })).figures).toEqual(THREE);
  });

  it.each([
    ['names another hand than the code of the Observation', { component: [component(LEFT, 29)] }],
    [
      'names another hand than the body site',
      { code: { text: 'Grip' }, bodySite: side('right'), component: [component(LEFT, 29)] },
    ],
  ])('that %s is refused', async (_name, parts) => {
    expect((await read({ ...ONE_HAND, ...parts })).refusals).toEqual([
      'SIDE_CONTRADICTION component[0].code',
    ]);
  });

  it('whose hand nothing names is refused', async () => {
    const { refusals } = await read({
      ...ONE_HAND,
      code: { text: 'Grip' },
      component: [component(SQUEEZE, 29)],
    });
    expect(refusals).toEqual(['SIDE_MISSING component[0].code']);
  });

  it.each<[string, Partial<ObservationComponent>, string]>([
    ['without a value', { valueQuantity: undefined }, 'VALUE_ABSENT component[3].valueQuantity.value'],
    [
      'not performed',
      { valueQuantity: undefined, dataAbsentReason: coded([DATA_ABSENT_REASON, 'not-performed']) },
      'VALUE_ABSENT component[3].dataAbsentReason',
    ],
    ['without a unit', { valueQuantity: { value: 29 } }, 'UNIT_MISSING component[3].valueQuantity.system'],
    ['above the physical bound', { valueQuantity: kilograms(101) }, 'VALUE_OVER_BOUND -'],
    [
      'with a modifier',
      { modifierExtension: [{ url: 'https://alder-reach.example/modifier', valueBoolean: true }] },
      'MODIFIER_UNKNOWN component[3].modifierExtension',
    ],
    [
      'with contradicting codes',
      { code: coded([GRIP_CODES, 'grip-trial'], [GRIP_CODES, 'mean-per-hand']) },
      'CODE_CONTRADICTION component[3].code',
    ],
  ])('%s is refused, and the others are read', async (_name, parts, refusal) => {
    const fourth = { ...component(SQUEEZE, 29), ...parts };
    const { figures, refusals } = await read({
      ...ONE_HAND,
      component: [...(ONE_HAND.component ?? []), fourth],
    });
    expect(refusals).toEqual([refusal]);
    expect(figures).toEqual(THREE);
  });

  it('that is a mean or a highest by its code stands beside the trials and is compared with them', async () => {
    const mean = component(coded([GRIP_CODES, 'mean-per-hand']), 31);
    const withMean = { ...ONE_HAND, component: [...(ONE_HAND.component ?? []), mean] };
    expect(await read(withMean)).toMatchObject({ figures: THREE, cautions: ['HAND_NOT_TESTED'] });
    mean.valueQuantity = kilograms(33);
    expect((await read(withMean)).cautions).toContain('SUMMARY_DISAGREES');
  });

  it('is a mean where the Observation has no value of its own and its method says so', async () => {
    const { figures, cautions } = await read({
      ...ONE_HAND,
      code: { text: 'Grip strength' },
      method: statistic('average'),
      component: [component(RIGHT, 31.3), component(LEFT, 28.9)],
    });
    expect(figures).toEqual(['mean-per-hand right 31.300', 'mean-per-hand left 28.900']);
    expect(cautions).toEqual(['SUMMARY_UNVERIFIED', 'SUMMARY_UNVERIFIED']);
  });

  it('of an Observation that cannot be used is not read, which is said once', async () => {
    for (const [path, value, refusal] of [
      ['status', 'entered-in-error', 'STATUS_NOT_USABLE status'],
      ['subject', undefined, 'SUBJECT_MISSING subject'],
      ['effectiveDateTime', '2026-11', 'TIME_MISSING effectiveDateTime'],
      ['method', statistic('median'), 'STATISTIC_NOT_READ method'],
    ] as const)
      expect(await read(broken(ONE_HAND, path, value))).toMatchObject({ refusals: [refusal], figures: [] });
  });

  it.each(DOORS)(
    'with a value of the wrong type refuses the call and repairs nothing (%s)',
    async (_name, door) => {
      const wrong = broken(ONE_HAND, 'component.1.valueQuantity.value', '32');
      const reply = await service.call(door, PATIENT, [wrong]).expect(400);
      expect(JSON.stringify(reply.body)).toContain(`${door.observation(0)}.component[1].valueQuantity.value`);
    },
  );

  it('of more than a chart holds refuses the call', async () => {
    const many = { ...ONE_HAND, component: Array(601).fill(component(SQUEEZE, 30)) };
    const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [many])).expect(400);
    expect(codesOf(reply)).toEqual(['BODY_INVALID']);
  });
});

describe('a value beside other trials', () => {
  it('of an Observation with components is refused when nothing says what it is', async () => {
    const { refusals, figures } = await read({ ...ONE_HAND, valueQuantity: kilograms(31) });
    expect(refusals).toEqual(['VALUE_AMBIGUOUS value']);
    expect(figures).toEqual([]);
  });

  it.each([
    ['method', { method: statistic('average') }],
    ['code', { code: coded([GRIP_CODES, 'mean-per-hand'], [LOINC, GRIP_LOINC.right]) }],
  ])('is a charted mean where its %s says so', async (_name, parts) => {
    const own = { ...ONE_HAND, ...parts };
    expect(await read({ ...own, valueQuantity: kilograms(31) })).toMatchObject({
      figures: THREE,
      refusals: [],
      cautions: ['HAND_NOT_TESTED'],
    });
    const differs = await read({ ...own, valueQuantity: kilograms(32) });
    expect(differs.cautions).toEqual(['HAND_NOT_TESTED', 'SUMMARY_DISAGREES']);
  });

  it.each(['hasMember', 'derivedFrom'] as const)('of %s is not counted as another trial', async (element) => {
    const sources = SIX_TRIALS.map(({ id }) => ({ reference: `Observation/${id}` }));
    const summary = { ...TRIAL, id: 'summary', valueQuantity: kilograms(31), [element]: sources };
    const { refusals, figures } = await read(summary, ...SIX_TRIALS);
    expect(refusals).toEqual(['VALUE_AMBIGUOUS value']);
    expect(figures[0]).toBe('mean-per-hand right 31.000');
    expect((await read({ ...summary, method: statistic('average') }, ...SIX_TRIALS)).cautions).toEqual([]);
  });
});

describe('an already averaged value', () => {
  it('is a highest where its method is a maximum', async () => {
    expect((await read({ ...MEAN, method: statistic('maximum') })).figures).toEqual([
      'highest-per-hand right 31.500',
      'highest-of-either-hand - 31.500',
    ]);
  });

  it.each(['median', 'minimum', 'count', 'std-dev', 'invented'])(
    'is refused by the statistic %s',
    async (code) => {
      expect(await read({ ...MEAN, method: statistic(code) })).toMatchObject({
        refusals: ['STATISTIC_NOT_READ method'],
        figures: [],
      });
    },
  );

  it.each<[string, Partial<Observation>]>([
    ['a trial by its code', { code: coded([LOINC, GRIP_LOINC.right], [GRIP_CODES, 'grip-trial']) }],
    ['a highest by its code', { code: coded([LOINC, GRIP_LOINC.right], [GRIP_CODES, 'highest-per-hand']) }],
    [
      'a maximum by its method too',
      { method: coded([OBSERVATION_STATISTICS, 'average'], [OBSERVATION_STATISTICS, 'maximum']) },
    ],
  ])('that is %s is refused', async (_name, parts) => {
    expect((await read({ ...MEAN, ...parts })).refusals).toEqual(['CODE_CONTRADICTION code']);
  });

  it('needs a hand', async () => {
    const own = { ...MEAN, method: undefined, code: coded([GRIP_CODES, 'mean-per-hand']) };
    expect((await read(own)).refusals).toEqual(['SIDE_MISSING bodySite']);
    expect((await read({ ...own, bodySite: side('left') })).figures).toEqual(['mean-per-hand left 31.500']);
  });
});

describe('a panel', () => {
  const panel: Observation = {
    ...broken(TRIAL, 'valueQuantity', undefined),
    id: 'panel',
    hasMember: [{ reference: `Observation/${TRIAL.id}` }],
  };

  it.each([
    ['the code of a trial', { code: TRIAL.code }],
    ['another code', { code: { text: 'Grip strength panel' } }],
    ['no subject', { subject: undefined }],
    ['a versioned member', { hasMember: [{ reference: `Observation/${TRIAL.id}/_history/1` }] }],
    [
      'a member of another type',
      { hasMember: [{ reference: `Observation/${TRIAL.id}` }, { reference: 'QuestionnaireResponse/1' }] },
    ],
    [
      'a member by its URL',
      { hasMember: [{ reference: `https://fhir.example/r4/Observation/${TRIAL.id}` }] },
    ],
  ])('with %s is no refusal, and its members are read', async (_name, parts) => {
    const { refusals, trials } = await read({ ...panel, ...parts }, TRIAL);
    expect(refusals).toEqual([]);
    expect(trials).toEqual([`Observation/${TRIAL.id}`]);
  });

  it('of somebody else refuses the call', async () => {
    const other = broken(panel, 'subject.reference', 'Patient/invented-2');
    const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [other, TRIAL])).expect(400);
    expect(codesOf(reply)).toEqual(['PATIENT_MISMATCH']);
  });

  it('says a missing member by its reference, but repeats no free text', async () => {
    const missing = [
      { reference: 'Observation/gone' },
      { reference: 'Thaddeus Bramblewick' },
      { display: 'x' },
    ];
    const { refusals } = await read({ ...panel, hasMember: missing }, TRIAL);
    expect(refusals).toEqual([0, 1, 2].map((index) => `MEMBER_MISSING hasMember[${index}]`));
    expect(service.last().record).toContain('Observation/gone');
    expect(service.last().record).not.toContain('Bramblewick');
  });

  it('that cannot be used is said, once, and its members are read by their own status', async () => {
    const wrong = { ...panel, status: 'entered-in-error' as const };
    const { refusals, trials } = await read(wrong, TRIAL);
    expect(refusals).toEqual(['STATUS_NOT_USABLE status']);
    expect(trials).toEqual([`Observation/${TRIAL.id}`]);
    const withComponents = await read({ ...wrong, component: [component(SQUEEZE, 30)] }, TRIAL);
    expect(withComponents).toMatchObject({ refusals: ['STATUS_NOT_USABLE status'], trials });
  });

  it('with components of its own has them read too', async () => {
    const { trials } = await read({ ...panel, component: [component(SQUEEZE, 30)] }, TRIAL);
    expect(trials.toSorted()).toEqual(['Observation/panel#component[0]', `Observation/${TRIAL.id}`]);
  });
});

describe('what this service wrote', () => {
  it('comes back with the chart and changes nothing', async () => {
    const first = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS)).expect(200);
    const before = service.last().content.findings;
    const written = observationsOf(first).map((own, index) => ({ ...own, id: `own-${index}` }));
    const again = await service
      .post(FHIR_DOOR.path, bundleOf(PATIENT, [...SIX_TRIALS, ...written]))
      .expect(200);
    expect(service.last().content.findings).toEqual(before);
    const refusals = refusalsOf(service.last()).filter(({ set }) => set === null);
    expect(new Set(refusals.map(({ code }) => code))).toEqual(new Set(['RESULT_LEFT_ASIDE']));
    const said = issuesOf(again).filter(({ details }) => details?.coding?.[0]?.code === 'RESULT_LEFT_ASIDE');
    expect(new Set(said.map(({ severity }) => severity))).toEqual(new Set(['information']));
  });

  it('stands for its trials where they do not come with it', async () => {
    const first = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, SIX_TRIALS)).expect(200);
    const written = observationsOf(first).map((own, index) => ({ ...own, id: `own-${index}` }));
    const { figures, cautions } = await read(...written);
    expect(figures).toEqual(['mean-per-hand right 31.000', 'mean-per-hand left 28.500']);
    expect(cautions).toEqual(['SUMMARY_UNVERIFIED', 'SUMMARY_UNVERIFIED', 'TRIAL_PRELIMINARY']);
  });

  it('is no reason for a card', async () => {
    const result = { ...TRIAL, id: 'own', code: coded([GRIP_CODES, 'strength-against-norm']) };
    const reply = await service.call(DOORS[1]?.[1] ?? FHIR_DOOR, PATIENT, [result]).expect(200);
    expect(reply.body).toEqual({ cards: [] });
  });
});

describe('a Patient that Observations contain', () => {
  const contained: Patient = { ...PATIENT, id: 'p' };
  const holding = (patient: Patient, observation: Observation = TRIAL): Observation => ({
    ...observation,
    contained: [patient],
    subject: { reference: `#${patient.id}` },
  });
  const post = (observations: readonly Observation[]) =>
    service.post(FHIR_DOOR.path, collection([...observations]));

  it('is one patient where the copies are equal, whatever their ids and the order of their members', async () => {
    const reordered = Object.fromEntries(Object.entries(contained).reverse()) as unknown as Patient;
    const [first, second, ...others] = SIX_TRIALS as readonly [Observation, Observation, ...Observation[]];
    const observations = [
      holding(contained, first),
      holding({ ...reordered, id: 'q' }, second),
      ...others.map((other) => holding(contained, other)),
    ];
    await post(observations).expect(200);
    const patient = service.last().patient;
    await post([holding(contained)]).expect(200);
    expect(service.last().patient).toBe(patient);
    await post([holding(broken(contained, 'birthDate', '1954-03-10'))]).expect(200);
    expect(service.last().patient).not.toBe(patient);
  });

  it.each<[string, readonly Observation[], string]>([
    [
      'other content in another Observation',
      [holding(contained), holding(broken(contained, 'gender', 'female'), { ...TRIAL, id: 'trial-2' })],
      'PATIENT_MISMATCH',
    ],
    [
      'an Observation of a patient who is elsewhere beside it',
      [holding(contained), { ...TRIAL, id: 'trial-2' }],
      'PATIENT_MISMATCH',
    ],
    [
      'nothing under the name that the subject has',
      [broken(holding(contained), 'contained', [])],
      'PATIENT_MISSING',
    ],
  ])('is refused with %s', async (_name, observations, code) => {
    expect(new Set(codesOf(await post(observations).expect(400)))).toEqual(new Set([code]));
  });

  it('is not the Patient of the request', async () => {
    const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [holding(contained)])).expect(400);
    expect(codesOf(reply)).toEqual(['PATIENT_MISMATCH']);
  });
});

describe('the parameter bundle', () => {
  const given = { name: 'bundle', resource: bundleOf(PATIENT, SIX_TRIALS) };
  const post = (parameter: NonNullable<Parameters['parameter']>) =>
    service.post(FHIR_DOOR.path, { resourceType: 'Parameters', parameter });

  it('goes with panel and asOf', async () => {
    const panel = { name: 'panel', valueCode: 'all-published' };
    await post([given, panel, { name: 'asOf', valueDate: '2026-11-15' }]).expect(200);
    expect(service.last().content.panel.id).toBe('all-published');
    expect(refusalsOf(service.last()).map(({ code }) => code)).toEqual(Array(6).fill('TIME_IN_FUTURE'));
  });

  it.each(['patient', 'observation', 'prior', 'device'])('does not go with %s', async (name) => {
    const reply = await post([given, { name, resource: PATIENT }]).expect(400);
    expect(issuesOf(reply).map(({ expression }) => expression)).toEqual([['Parameters.parameter[1]']]);
  });

  it.each([
    ['twice', [given, given]],
    ['without a resource', [{ name: 'bundle' }]],
    ['with another resource', [{ name: 'bundle', resource: PATIENT }]],
  ])('is refused %s', async (_name, parameter) => {
    expect(new Set(codesOf(await post(parameter).expect(400)))).toEqual(new Set(['BODY_INVALID']));
  });

  it('is not needed: resources one by one give the same', async () => {
    await post([given]).expect(200);
    const before = service.last().content.findings;
    await service.post(FHIR_DOOR.path, parametersOf(PATIENT, SIX_TRIALS)).expect(200);
    expect(service.last().content.findings).toEqual(before);
  });
});
