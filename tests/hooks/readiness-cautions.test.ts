/** Each caution by each of its codes through the door of grip-test-readiness: which card, which arm, from which record. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { SNOMED } from '../../src/fhir/codes.ts';
import type { Card } from '../../src/hooks/cards.ts';
import type { TestingCaution } from '../../src/interpret/testing-caution.ts';

import { loadLibrary } from '../../src/reference/library.ts';
import { capital } from '../../src/wording/statements.ts';
import { coded } from '../fixtures.ts';
import { NORMS } from '../interpret/build.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import {
  type Chart,
  cardOf,
  clinical,
  condition,
  DUE_GRIP,
  device,
  handed,
  ICD,
  LEFT_SITE,
  line,
  OWN,
  procedure,
  RIGHT_SITE,
  verified,
} from './readiness-for-tests.ts';

const CAUTIONS = loadLibrary(NORMS).findCautions()?.cautions ?? [];
const OPERATIONS = 'https://alder-reach.example/procedure';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

/** A measurement is due, so that every caution has a card to stand on. */
const card = async (chart: Chart): Promise<Card> => {
  const found = await cardOf(service, { grip: DUE_GRIP, ...chart });
  if (!found) throw new Error('no card');
  return found;
};

/** The lines of a section of the detail, without the escapes of Markdown. */
function section({ detail }: Pick<Card, 'detail'>, title: string): string {
  const parts = detail.split(/\n\n/);
  const at = parts.indexOf(`**${title}**`);
  return at < 0 ? '' : (parts[at + 1] ?? '').replace(/\\(?=[^\w\s])/g, '');
}

const UNSIDED = 'Side not recorded: ask';
const PLACES = { right: 'Right arm', left: 'Left arm', both: 'Right arm' } as const;

const all = CAUTIONS.flatMap((caution) =>
  caution.codes.map(
    (code) =>
      [
        `${caution.id}: ${code.system === SNOMED ? 'SNOMED CT' : 'ICD-10-CM'} ${code.code}`,
        caution,
        code,
      ] as const,
  ),
);

describe('a Condition', () => {
  it.each(all)('of %s is named with its record, its date and what is usual', async (_name, caution, code) => {
    const given = await card({ conditions: [condition(code.system, code.code)] });
    const weight = code.weight ?? caution.weight;
    expect(given.indicator).toBe(weight === 'against' ? 'warning' : 'info');
    expect(given.summary).toContain(code.short ?? caution.short);
    const byDominance = code.dominance && !code.hand;
    const place =
      caution.scope === 'person' ? 'The person' : code.hand && !byDominance ? PLACES[code.hand] : UNSIDED;
    const said = section(given, place);
    expect(said).toContain(caution.title);
    expect(said).toContain(`since 10 Nov 2026 (15 days ago) (Condition/c-${code.code})`);
    const unsided = place === UNSIDED ? caution.practiceUnsided : null;
    const usual = code.hand === 'both' ? caution.practiceAlone : (unsided ?? caution.practice);
    expect(said).toContain(unsided ? `${capital(unsided)} (` : `Usual: ${usual} (`);
    if (code.remark) expect(said).toContain(`The code ${code.remark}.`);
    if (code.hand === 'both') expect(section(given, 'Left arm')).toContain(caution.title);
  });

  it.each(CAUTIONS.map((caution) => [caution.id, caution] as const))(
    "of this service's own code %s is named too",
    async (_id, caution: TestingCaution) => {
      const given = await card({ conditions: [condition(OWN, caution.id, { bodySite: [LEFT_SITE] })] });
      expect(section(given, caution.scope === 'person' ? 'The person' : 'Left arm')).toContain(caution.title);
      expect(given.indicator).toBe(caution.weight === 'against' ? 'warning' : 'info');
    },
  );

  it.each([
    ['plain hypertension', ICD, 'I10'],
    ['plain hypertension', SNOMED, '38341003'],
    ['an old infarction', ICD, 'I25.2'],
    ['a state after some operation', ICD, 'Z98.890'],
    ['sarcopenia, which is an outcome', ICD, 'M62.84'],
    ['malnutrition, which is an outcome', ICD, 'E43'],
  ])('of %s (%s %s) is no caution', async (_name, system, code) => {
    const given = await card({ conditions: [condition(system, code)] });
    expect(given.indicator).toBe('info');
    expect(given.summary).toContain('nothing found that speaks against it');
    expect(given.detail).not.toContain('Condition/');
  });

  it.each([
    ['a code of another system', 'http://hl7.org/fhir/sid/icd-10', 'F05'],
    ['a code of an unknown system', 'urn:oid:2.16.840.1.113883.6.90', 'G81.94'],
  ])('under %s was not looked at, and that is said', async (_name, system, code) => {
    const given = await card({ conditions: [condition(system, code)] });
    expect(given.summary).toContain('part of the record was not read');
    expect(given.summary).not.toContain('nothing found');
    expect(section(given, 'Not looked at')).toContain(
      'One Condition that may matter was not used: under no code of SNOMED CT or ICD-10-CM',
    );
  });

  it('in words alone was not looked at; one that is past is not missed', async () => {
    const left = { ...condition(ICD, 'G81.94'), code: { text: 'Left hemiplegia' } };
    expect((await card({ conditions: [left] })).summary).not.toContain('nothing found');
    const resolved = coded(['http://terminology.hl7.org/CodeSystem/condition-clinical', 'resolved']);
    const past = { ...left, clinicalStatus: resolved };
    expect((await card({ conditions: [past] })).summary).toContain('nothing found');
  });

  it.each(['G8194', 'g81.94'])('is read in the spelling %s of ICD-10-CM', async (code) => {
    const given = await card({ conditions: [condition(ICD, code)] });
    expect(given.indicator).toBe('warning');
    expect(section(given, 'Left arm')).toContain('Hemiplegia');
  });

  it('that says one code thousands of times is on record with it once', async () => {
    const coding = Array.from({ length: 8_000 }, () => ({ system: ICD, code: 'G81.94' }));
    const given = await card({ conditions: [{ ...condition(ICD, 'G81.94'), code: { coding } }] });
    expect(section(given, 'Left arm')).toContain('Hemiplegia');
    expect(service.last().record.match(/G81\.94/g)?.length).toBeLessThan(5);
  });

  it.each([
    ['right', RIGHT_SITE, 'Right arm'],
    ['left', LEFT_SITE, 'Left arm'],
    ['left', coded([SNOMED, '7771000']), 'Left arm'],
  ])('takes the %s arm from its body site', async (_hand, bodySite, title) => {
    const given = await card({ conditions: [condition(SNOMED, '57406009', { bodySite: [bodySite] })] });
    expect(section(given, title)).toContain('Carpal tunnel syndrome');
  });

  it('with a body site that is not read says so, and asks', async () => {
    const bodySite = [coded([SNOMED, 'not-read-here'])];
    const said = section(await card({ conditions: [condition(ICD, 'I97.2', { bodySite })] }), UNSIDED);
    expect(said).toContain('It names a body site that is not read here: see the record.');
  });

  it('of a stroke with a side does not give that side to the arm: a lesion on the right weakens the left', async () => {
    const given = await card({
      conditions: [condition(SNOMED, '432504007', { bodySite: [coded([SNOMED, '24028007'])] })],
    });
    expect(section(given, UNSIDED)).toContain('Its side may be that of the lesion and not of the weak arm.');
    expect(given.summary).toContain('side not recorded: stroke');
  });

  it.each([
    ['87683000', 'Left arm'],
    ['46669005', 'Right arm'],
    ['23088002', UNSIDED],
  ] as const)('of hemiplegia of the dominant side needs the writing hand (%s)', async (code, title) => {
    const conditions = [condition(SNOMED, '442676003')];
    expect(section(await card({ conditions, handedness: [handed(code)] }), title)).toContain(
      'Hemiplegia of dominant side',
    );
  });

  it('of hemiplegia of the dominant side without handedness says what is missing', async () => {
    const said = section(await card({ conditions: [condition(SNOMED, '442676003')] }), UNSIDED);
    expect(said).toContain('the record does not say which hand writes');
  });

  it.each([
    ['refuted', verified('refuted')],
    ['entered in error', verified('entered-in-error')],
    ['resolved', clinical('resolved')],
    ['inactive', clinical('inactive')],
    ['in remission', clinical('remission')],
    ['with an abatement in the past', { abatementDateTime: '2026-11-20' }],
    ['with an abatement told in words', { abatementString: 'last week' }],
  ])('of pain that is %s is left out', async (_name, more) => {
    const given = await card({ conditions: [condition(ICD, 'M79.641', more)] });
    expect(given.detail).not.toContain('Pain');
  });

  it.each([
    ['active', clinical('active')],
    ['a relapse', clinical('relapse')],
    ['without a status', { clinicalStatus: undefined as never }],
    ['to abate later', { abatementDateTime: '2026-12-24' }],
  ])('of pain that is %s is named', async (_name, more) => {
    expect(section(await card({ conditions: [condition(ICD, 'M79.641', more)] }), 'Right arm')).toContain(
      'Pain in right hand',
    );
  });

  it.each(['unconfirmed', 'provisional', 'differential'])(
    'that is %s is said to be not confirmed',
    async (code) => {
      const given = await card({ conditions: [condition(ICD, 'S52.501A', verified(code))] });
      expect(section(given, 'Right arm')).toContain('not confirmed (Condition/c-S52.501A)');
      expect(given.indicator).toBe('warning');
    },
  );

  it('of a fracture that is resolved is listed as past, with its date, and warns of nothing', async () => {
    const more = { ...clinical('resolved'), onsetDateTime: '2020-02' };
    const given = await card({ conditions: [condition(ICD, 'S62.102A', more)] });
    expect(section(given, 'Past')).toContain('Fracture of unspecified carpal bone, left wrist');
    expect(section(given, 'Past')).toContain(
      'onset Feb 2020, charted as resolved (Condition/c-S62.102A). Ask whether it has healed.',
    );
    expect(given.indicator).toBe('info');
  });

  it('of an absent hand counts whatever its status: it does not grow back', async () => {
    const given = await card({ conditions: [condition(ICD, 'Z89.111', clinical('inactive'))] });
    expect(given.summary).toContain('right arm: hand absent');
  });

  it.each([
    [
      'onsetPeriod',
      { onsetDateTime: undefined as never, onsetPeriod: { start: '2026-10' } },
      'since Oct 2026',
    ],
    [
      'recordedDate',
      { onsetDateTime: undefined as never, recordedDate: '2026-11-02' },
      'recorded 2 Nov 2026',
    ],
    ['no date', { onsetDateTime: undefined as never }, 'no date in the record'],
    ['onsetString', { onsetDateTime: undefined as never, onsetString: 'years' }, 'no date in the record'],
  ])('says since when, from %s', async (_name, more, text) => {
    expect(section(await card({ conditions: [condition(ICD, 'G35', more)] }), 'The person')).toContain(text);
  });
});

describe('a Procedure', () => {
  it.each([
    ['2026-11-25', true],
    ['2026-08-25', true],
    ['2026-08-24', false],
  ])('of the hand on %s is recent: %s', async (performedDateTime, isRecent) => {
    const given = await card({
      procedures: [procedure(OPERATIONS, 'HAND-OP', { performedDateTime, bodySite: [LEFT_SITE] })],
    });
    expect(section(given, 'Left arm').includes('charted here as HAND-OP')).toBe(isRecent);
    expect(given.indicator).toBe(isRecent ? 'warning' : 'info');
  });

  it('at a hand by its body site only asks whether it was surgery', async () => {
    const given = await card({
      procedures: [procedure('https://codes.example', 'X1', { bodySite: [RIGHT_SITE] })],
    });
    expect(section(given, 'Right arm')).toContain('of which only the body site was read');
    expect(section(given, 'Right arm')).toContain('Ask whether it was surgery.');
    expect(given.indicator).toBe('info');
  });

  it('on a side that is no hand is nothing', async () => {
    const given = await card({
      procedures: [procedure('https://codes.example', 'X1', { bodySite: [coded([SNOMED, '24028007'])] })],
    });
    expect(given.detail).not.toContain('recent hand surgery');
    expect(section(given, 'Not looked at')).toContain('One Procedure that may matter was not used');
  });

  it('counts from its end', async () => {
    const performedPeriod = { start: '2026-08-01', end: '2026-09-01' };
    const more = { performedDateTime: undefined as never, performedPeriod, bodySite: [LEFT_SITE] };
    expect(
      section(await card({ procedures: [procedure(OPERATIONS, 'HAND-OP', more)] }), 'Left arm'),
    ).toContain('performed 1 Sep 2026');
  });

  it.each(['entered-in-error', 'not-done'] as const)('that is %s is left out', async (status) => {
    const given = await card({
      procedures: [procedure(SNOMED, '48765000', { status, bodySite: [LEFT_SITE] })],
    });
    expect(given.detail).not.toContain('fistula');
  });

  it.each(['preparation', 'on-hold'] as const)(
    'in %s is said to be planned, and warns of nothing',
    async (status) => {
      const more = { status, performedDateTime: '2026-12-04', bodySite: [LEFT_SITE] };
      const given = await card({ procedures: [procedure(SNOMED, '48765000', more)] });
      expect(section(given, 'Planned')).toContain('planned for 4 Dec 2026 (Procedure/p-48765000), left arm.');
      expect(given.indicator).toBe('info');
    },
  );

  it.each(['in-progress', 'stopped', 'completed'] as const)('that is %s counts', async (status) => {
    const given = await card({
      procedures: [procedure(SNOMED, '48765000', { status, bodySite: [LEFT_SITE] })],
    });
    expect(given.summary).toContain('left arm: dialysis access');
  });

  it('of every dialysis is one line: the latest, and how many before it', async () => {
    const procedures = [20, 22, 24].map((day) =>
      procedure(SNOMED, '302497006', { id: `hd-${day}`, performedDateTime: `2026-11-${day}T08:00:00Z` }),
    );
    expect(section(await card({ procedures }), UNSIDED)).toContain(
      'Hemodialysis, performed 24 Nov 2026 (1 day ago) (Procedure/hd-24; 2 older records say the same)',
    );
  });
});

describe('a Device', () => {
  const access = (more = {}) => device('https://alder-reach.example/flowsheet', 'DIAL-ACCESS-L', more);

  it('under a code of the site is named with the arm of its map', async () => {
    const given = await card({ devices: [access()] });
    expect(section(given, 'Left arm')).toContain(
      'charted here as DIAL-ACCESS-L, no date in the record (Device/d-DIAL-ACCESS-L)',
    );
    expect(given.indicator).toBe('warning');
  });

  it.each(['inactive', 'entered-in-error'] as const)('that is %s is left out', async (status) => {
    expect((await card({ devices: [access({ status })] })).detail).not.toContain('Device/');
  });

  it.each(['unknown', undefined] as const)('of status %s is not confirmed', async (status) => {
    expect(section(await card({ devices: [access({ status })] }), 'Left arm')).toContain('not confirmed');
  });
});

describe('a charted line', () => {
  it.each([
    ['IV-ARM-R', 'Right arm', 'Intravenous line in the arm'],
    ['IV-ARM-L', 'Left arm', 'Intravenous line in the arm'],
    ['DIAL-ACCESS-R', 'Right arm', 'Dialysis or its access'],
  ])('%s is named under %s', async (code, title, caution) => {
    expect(section(await card({ lines: [line(code)] }), title)).toContain(
      `${caution}: charted here as ${code}, charted 25 Nov 2026 (today)`,
    );
  });

  it('counts by its newest entry: one that says no takes it away, one that says it is there again brings it back', async () => {
    const at = (hour: number, valueBoolean: boolean) =>
      line('IV-ARM-R', { id: `l-${hour}`, effectiveDateTime: `2026-11-24T0${hour}:00:00Z`, valueBoolean });
    expect((await card({ lines: [at(6, true), at(8, false)] })).detail).not.toContain('Intravenous');
    expect((await card({ lines: [at(8, false), at(6, true)] })).detail).not.toContain('Intravenous');
    expect((await card({ lines: [at(6, false), at(8, true)] })).detail).toContain('Observation/l-8');
    expect((await card({ lines: [at(8, false), { ...at(8, true), id: 'l-8b' }] })).detail).toContain(
      'Observation/l-8b',
    );
  });

  it('with a value that is not read only asks', async () => {
    const more = { valueBoolean: undefined as never, valueString: 'out since noon' };
    const given = await card({ lines: [line('IV-ARM-R', more)] });
    expect(section(given, 'Right arm')).toContain('Ask: Intravenous line in the arm');
    expect(section(given, 'Right arm')).toContain('Its value is not read here: look at the arm.');
    expect(given.detail).not.toContain('noon');
    expect(given.indicator).toBe('info');
  });

  it.each(['entered-in-error', 'cancelled'] as const)('that is %s is left out', async (status) => {
    expect((await card({ lines: [line('IV-ARM-R', { status })] })).detail).not.toContain('Intravenous');
  });

  it.each<[string, object, string]>([
    ['malformed', { effectiveDateTime: 'noon' }, 'it is malformed'],
    ['registered only', { status: 'registered' }, 'of its status'],
    ['of the future', { effectiveDateTime: '2026-12-24T08:00:00Z' }, 'its date is in the future'],
    ['without a subject', { subject: undefined }, 'it does not say whose it is'],
    ['without a date', { effectiveDateTime: undefined }, 'it is malformed'],
  ])('that is %s is not used, and that is said', async (_name, more, why) => {
    const given = await card({ lines: [{ ...line('IV-ARM-R'), ...more } as never] });
    expect(section(given, 'Not looked at')).toContain(`One Observation that may matter was not used: ${why}`);
    expect(given.detail).not.toContain('Intravenous');
  });

  it('that was not looked at or is of another code is nothing', async () => {
    const absent = line('IV-ARM-R', {
      dataAbsentReason: { text: 'not seen' },
      valueBoolean: undefined as never,
    });
    const other = { ...line('GRIP-R'), effectiveDateTime: 'noon' } as never;
    const given = await card({ lines: [absent, other] });
    expect(given.detail).not.toContain('Intravenous');
    expect(given.detail).not.toContain('Not looked at');
  });

  it('under a standard code of a finding is not read: its value may say that there is none', async () => {
    const pain = line('x', { code: coded([SNOMED, '53057004']), valueBoolean: false });
    expect((await card({ lines: [pain] })).detail).not.toContain('Pain');
  });
});

describe('several records', () => {
  it('of one caution, with and without a side: the arm is named, and that the other may be the same is asked', async () => {
    const conditions = [condition(ICD, 'G81.91'), condition(ICD, 'I63.9')];
    const given = await card({ conditions });
    expect(given.summary).toMatch(/^Before a grip test: right arm: stroke\. /);
    expect(section(given, 'Left arm')).toBe('- No record names this arm; see below what names no side.');
    expect(section(given, UNSIDED)).toContain('Another record names an arm: ask whether this is the same.');
    expect(section(given, UNSIDED)).not.toContain('Usual:');
  });

  it('of both arms and of the person are said in one summary', async () => {
    const conditions = [condition(ICD, 'F05'), condition(ICD, 'M79.642'), condition(ICD, 'S52.501A')];
    const { summary } = await card({ conditions });
    expect(summary).toMatch(
      /^Before a grip test: delirium or drowsiness\. Both arms are cautioned: no arm is free by this record\./,
    );
  });

  it('C2: of every caution at once stay within the length of a summary', async () => {
    const conditions = all.map(([, , code], index) => condition(code.system, code.code, { id: `c${index}` }));
    const { summary, detail } = await card({ conditions });
    expect(summary.length).toBeLessThan(140);
    expect(summary).toContain('Neither hand can be tested.');
    expect(detail.length).toBeLessThan(16_000);
  });
});
