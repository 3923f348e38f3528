/** Sex and age through the doors: which was used is said and recorded; what cannot be decided is shown both ways. */
import type { Extension, Patient } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { intendedUse } from '../../src/wording/intended-use.ts';
import { broken, DOORS, FHIR_DOOR, PATIENT, SIX_TRIALS, sitting, TRIAL } from '../fixtures.ts';
import {
  cardsOf,
  issuesOf,
  observationsOf,
  openForTests,
  refusalsOf,
  type TestService,
  verdictsOf,
} from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const forClinicalUse = (code: string): Extension => ({
  url: 'http://hl7.org/fhir/StructureDefinition/patient-sexParameterForClinicalUse',
  extension: [
    {
      url: 'value',
      valueCodeableConcept: {
        coding: [{ system: 'http://terminology.hl7.org/CodeSystem/sex-parameter-for-clinical-use', code }],
      },
    },
  ],
});

const race: Extension = {
  url: 'http://hl7.org/fhir/us/core/StructureDefinition/us-core-race',
  extension: [{ url: 'text', valueString: 'not used' }],
};

/** Highest 32 kg: below 35.5 kg (men) and not below 20 kg (women); not reduced by any other set for either. */
const OF_EITHER_SEX =
  'Not reduced by US adults 1985, US survey 2011-14, EWGSOP2 2019, FNIH 2014. Depends on the sex read, not usable in the record: SDOC 2020 (as a woman not reduced, as a man reduced).';

describe.each(DOORS)('the %s', (_name, door) => {
  it('reads the column of the sex parameter on one trial for the whole sitting (FS1)', async () => {
    const [first = TRIAL, ...rest] = SIX_TRIALS;
    const trials = [broken(first, 'extension', [forClinicalUse('female-typical')]), ...rest];
    await service.call(door, PATIENT, trials);
    const { content } = service.last();
    expect(content.sex).toEqual({ sex: 'female', source: 'sex-parameter-for-clinical-use' });
    expect(new Set(verdictsOf(service.last()).map(({ sex }) => sex))).toEqual(new Set(['female']));
  });

  it('says which source was used (FS1)', async () => {
    const reply = await service.call(door, PATIENT, SIX_TRIALS);
    if (door === FHIR_DOOR)
      expect(issuesOf(reply)[0]?.details?.text).toMatch(/\. Sex: male, from Patient\.gender\.$/);
    else
      expect(cardsOf(reply)[0]?.detail).toMatch(
        /^Tested 16 Nov 2026 \(9 days ago\), age 72 at the test, male \(administrative gender\)\.\n/,
      );
  });

  it.each([
    [
      'is other',
      broken(PATIENT, 'gender', 'other'),
      'administrative-gender',
      'sex not usable: Patient.gender says neither male nor female',
    ],
    [
      'is unknown',
      broken(PATIENT, 'gender', 'unknown'),
      'administrative-gender',
      'sex not usable: Patient.gender says neither male nor female',
    ],
    ['is not recorded', broken(PATIENT, 'gender', undefined), 'not-recorded', 'sex not recorded'],
    [
      'is specified',
      broken(PATIENT, 'extension', [forClinicalUse('specified')]),
      'sex-parameter-for-clinical-use',
      'sex not usable: the sex parameter for clinical use gives no one sex for the tests',
    ],
    [
      'is said differently by two sources',
      broken(PATIENT, 'extension', [
        { url: 'http://hl7.org/fhir/us/core/StructureDefinition/us-core-birthsex', valueCode: 'F' },
      ]),
      'sources-disagree',
      'sex not usable: its sources in the record disagree',
    ],
  ] as [string, Patient, string, string][])(
    'shows both columns when sex %s (FS2)',
    async (_what, patient, source, words) => {
      const reply = await service.call(door, patient, SIX_TRIALS);
      const record = service.last();
      expect(record.content.sex).toEqual({ sex: null, source });
      expect(verdictsOf(record)).toEqual([]);
      const open = refusalsOf(record);
      expect(open).toHaveLength(7);
      for (const { code, columns } of open) {
        expect(code).toBe('SEX_NOT_USABLE');
        expect(columns.map(({ sex }) => sex)).toEqual(['female', 'male']);
      }
      if (door === FHIR_DOOR) {
        const withColumns = observationsOf(reply).filter(({ component }) => component);
        expect(withColumns).toHaveLength(7);
        expect(issuesOf(reply)[0]?.details?.text?.endsWith(` Sex: ${words}.`)).toBe(true);
        expect(issuesOf(reply)[1]?.details?.text).toContain(` kg. ${OF_EITHER_SEX} One item`);
      } else {
        const [card] = cardsOf(reply);
        expect(card?.summary).toBe(
          'Grip strength 16 Nov 2026: sex not usable in the record, and the result of SDOC 2020 depends on it.',
        );
        expect(card?.indicator).toBe('warning');
        expect(
          card?.detail.startsWith(
            // In the words of a ward: an element of FHIR says nothing there.
            `Tested 16 Nov 2026 (9 days ago), age 72 at the test, ${words.replace('Patient.gender', 'administrative gender')}.\n`,
          ),
        ).toBe(true);
        expect(card?.detail).toContain(` kg. ${OF_EITHER_SEX} One item`);
        expect(card?.detail).toContain('women 65 and over');
        expect(card?.detail).toContain('men 65 and over');
        const offered = card?.suggestions?.[0]?.actions.map(({ resource }) => resource.code.text) ?? [];
        expect(offered.every((text) => !text?.includes('against'))).toBe(true);
      }
    },
  );

  it('does not look at other extensions', async () => {
    await service.call(door, broken(PATIENT, 'extension', [race]), SIX_TRIALS);
    expect(service.last().content.sex).toEqual({ sex: 'male', source: 'administrative-gender' });
  });

  /** Born 9 March 1954. */
  it.each([
    ['2026-03-08', 71],
    ['2026-03-09', 72],
    ['2026-03-08T23:30:00-05:00', 71], // the 9th in UTC: the calendar date of the chart counts
    ['2026-03-09T00:30:00+14:00', 72], // the 8th in UTC
  ])('counts completed years on the day as charted: %s is age %i (FS4)', async (at, age) => {
    const charted = [broken(TRIAL, 'effectiveDateTime', at)];
    await service.call(door, PATIENT, charted);
    expect(service.last().content.findings).toMatchObject([{ ageYears: age, testedOn: at.slice(0, 10) }]);
  });

  it('reads a 15-year-old against what covers the age, and names the rest as not applied', async () => {
    const girl: Patient = { ...PATIENT, gender: 'female', birthDate: '2011-02-21' };
    const reply = await service.call(door, girl, sitting([26, 27, 26.5], [24, 24.5, 25]));
    expect(verdictsOf(service.last()).map(({ set, outcome }) => [set, outcome])).toEqual([
      ['nhanes-2011-2014-right-left-mean-of-3|1.1.0', 'not-reduced'],
      ['nhanes-2011-2014-right-left-mean-of-3|1.1.0', 'not-reduced'],
    ]);
    const outside = refusalsOf(service.last());
    expect(outside.map(({ code }) => code)).toEqual(Array(4).fill('AGE_OUTSIDE_SET'));
    expect(outside[0]?.facts).toMatchObject({ ageYears: '15', covers: '20 and over' });
    if (door !== FHIR_DOOR) {
      const [card] = cardsOf(reply);
      expect(card?.summary).toBe('Grip strength 16 Nov 2026: not reduced by US survey 2011-14.');
      expect(card?.indicator).toBe('info');
      expect(card?.detail).toContain(
        '\n- US adults 1985: read for 20 and over. For this age see US survey 2011-14.\n',
      );
      expect(card?.detail).toContain(
        '\n- EWGSOP2 2019, SDOC 2020, FNIH 2014: read for 65 and over by this panel.\n',
      );
      expect(card?.detail).toContain(intendedUse(15));
    }
  });

  it('says so when no set covers the age', async () => {
    const child = broken(PATIENT, 'birthDate', '2022-01-01');
    const reply = await service.call(door, child, sitting([4, 4, 4], [4, 4, 4]));
    expect(verdictsOf(service.last())).toEqual([]);
    expect(reply.status).toBe(200);
    if (door === FHIR_DOOR) {
      const texts = issuesOf(reply).map(({ details }) => details?.text ?? '');
      expect(texts[1]).toContain(' kg. No reference set of this panel applies. One item');
      const readFor = (ages: string) => `Not applied at age 4: it is read for ${ages} and over.`;
      expect(texts.filter((text) => text.startsWith('Not applied'))).toEqual(
        ['20', '6', '65', '65', '65'].map(readFor),
      );
    } else {
      expect(cardsOf(reply)[0]?.summary).toBe(
        'Grip strength 16 Nov 2026: no reference set of this panel applies to this person.',
      );
    }
  });
});
