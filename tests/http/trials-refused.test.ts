/**
 * One trial of a session broken one way, through both doors: the answer says which, why and at which element,
 * and the other trials are read without it.
 */
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { GRIP_SNOMED, LOINC, SNOMED } from '../../src/fhir/codes.ts';
import { markdown } from '../../src/hooks/markdown.ts';
import type { RefusalCode } from '../../src/interpret/finding.ts';
import { REFUSALS } from '../../src/wording/refusals.ts';
import { broken, coded, DOORS, type Door, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import { cardsOf, issuesOf, openForTests, refusalsOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  expect(service.verify()).toMatchObject({ ok: true });
  await service.close();
});

const SEVENTH: Observation = broken(TRIAL, 'id', 'trial-7');
const absent = coded(['http://terminology.hl7.org/CodeSystem/data-absent-reason', 'not-performed']);
const SNOMED_GRIP = broken(SEVENTH, 'code', coded([SNOMED, GRIP_SNOMED]));

/** What is broken, the trial, the code it is refused with, and the element at fault. */
const BROKEN: readonly (readonly [string, Observation, RefusalCode, string])[] = [
  [
    'status entered-in-error (FT1)',
    broken(SEVENTH, 'status', 'entered-in-error'),
    'STATUS_NOT_USABLE',
    'status',
  ],
  ['status cancelled (FT1)', broken(SEVENTH, 'status', 'cancelled'), 'STATUS_NOT_USABLE', 'status'],
  ['status unknown (FT1)', broken(SEVENTH, 'status', 'unknown'), 'STATUS_NOT_USABLE', 'status'],
  ['status registered (FT1)', broken(SEVENTH, 'status', 'registered'), 'STATUS_NOT_USABLE', 'status'],
  [
    'implicitRules (FT1)',
    broken(SEVENTH, 'implicitRules', 'https://rules.example/1'),
    'MODIFIER_UNKNOWN',
    'implicitRules',
  ],
  [
    'a modifierExtension (FT1)',
    broken(SEVENTH, 'modifierExtension', [{ url: 'https://rules.example/not', valueBoolean: true }]),
    'MODIFIER_UNKNOWN',
    'modifierExtension',
  ],
  ['no subject (FT3)', broken(SEVENTH, 'subject', undefined), 'SUBJECT_MISSING', 'subject'],
  [
    'a subject that is only a name',
    broken(SEVENTH, 'subject', { display: 'somebody' }),
    'SUBJECT_MISSING',
    'subject',
  ],
  ['no time (FT3)', broken(SEVENTH, 'effectiveDateTime', undefined), 'TIME_MISSING', 'effectiveDateTime'],
  [
    'a time without the day (FT3)',
    broken(SEVENTH, 'effectiveDateTime', '2026-11'),
    'TIME_MISSING',
    'effectiveDateTime',
  ],
  [
    'a day that is in no calendar',
    broken(SEVENTH, 'effectiveDateTime', '2026-02-30'),
    'TIME_MISSING',
    'effectiveDateTime',
  ],
  [
    'a time in the future (FS5)',
    broken(SEVENTH, 'effectiveDateTime', '2027-01-01T09:00:00Z'),
    'TIME_IN_FUTURE',
    'effectiveDateTime',
  ],
  [
    'a period that starts in the future',
    broken(broken(SEVENTH, 'effectiveDateTime', undefined), 'effectivePeriod', { start: '2027-01-01' }),
    'TIME_IN_FUTURE',
    'effectivePeriod.start',
  ],
  [
    'the code of a score, not of a force (FC2)',
    broken(SEVENTH, 'code', coded([LOINC, '83176-8'])),
    'CODE_NOT_GRIP',
    'code',
  ],
  [
    'a right LOINC code of another system',
    broken(SEVENTH, 'code', coded([SNOMED, '83174-3'])),
    'CODE_NOT_GRIP',
    'code',
  ],
  ['SNOMED CT without a body site (FT2)', SNOMED_GRIP, 'SIDE_MISSING', 'bodySite'],
  [
    'SNOMED CT with a body site of no side',
    broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, '85562004'])),
    'SIDE_MISSING',
    'bodySite',
  ],
  [
    'SNOMED CT with a body site named like an object member',
    broken(SNOMED_GRIP, 'bodySite', coded([SNOMED, 'toString'])),
    'SIDE_MISSING',
    'bodySite',
  ],
  [
    'a body site that contradicts the code (FT2)',
    broken(SEVENTH, 'bodySite', coded([SNOMED, '85151006'])),
    'SIDE_CONTRADICTION',
    'bodySite',
  ],
  [
    'codes of both hands (FT2)',
    broken(SEVENTH, 'code', coded([LOINC, '83174-3'], [LOINC, '83173-5'])),
    'SIDE_CONTRADICTION',
    'code',
  ],
  ['no value', broken(SEVENTH, 'valueQuantity', undefined), 'VALUE_ABSENT', 'valueQuantity.value'],
  [
    'not performed',
    broken(broken(SEVENTH, 'valueQuantity', undefined), 'dataAbsentReason', absent),
    'VALUE_ABSENT',
    'dataAbsentReason',
  ],
  [
    'a reason for absence beside a value (obs-6)',
    broken(SEVENTH, 'dataAbsentReason', absent),
    'VALUE_ABSENT',
    'dataAbsentReason',
  ],
  [
    'a focus on somebody else',
    broken(SEVENTH, 'focus', [{ reference: 'Patient/x' }]),
    'MODIFIER_UNKNOWN',
    'focus',
  ],
  [
    'two moments',
    broken(SEVENTH, 'effectiveInstant', '2026-11-16T14:05:00.000Z'),
    'TIME_MISSING',
    'effectiveInstant',
  ],
  [
    'a unit but no value',
    broken(SEVENTH, 'valueQuantity.value', undefined),
    'VALUE_ABSENT',
    'valueQuantity.value',
  ],
  [
    'a comparator (FT4)',
    broken(SEVENTH, 'valueQuantity.comparator', '>'),
    'VALUE_COMPARATOR',
    'valueQuantity.comparator',
  ],
  [
    'the unit code lb (FU1)',
    broken(SEVENTH, 'valueQuantity.code', 'lb'),
    'UNIT_UNKNOWN',
    'valueQuantity.code',
  ],
  [
    'the unit code lbs (FU1)',
    broken(SEVENTH, 'valueQuantity.code', 'lbs'),
    'UNIT_UNKNOWN',
    'valueQuantity.code',
  ],
  [
    'a unit of pressure (FU1)',
    broken(SEVENTH, 'valueQuantity.code', 'mm[Hg]'),
    'UNIT_UNKNOWN',
    'valueQuantity.code',
  ],
  [
    'a unit code in capitals',
    broken(SEVENTH, 'valueQuantity.code', 'KG'),
    'UNIT_UNKNOWN',
    'valueQuantity.code',
  ],
  [
    'a unit code named like an object member',
    broken(SEVENTH, 'valueQuantity.code', 'toString'),
    'UNIT_UNKNOWN',
    'valueQuantity.code',
  ],
  [
    'kg of another system',
    broken(SEVENTH, 'valueQuantity.system', 'https://units.example'),
    'UNIT_MISSING',
    'valueQuantity.system',
  ],
  [
    'a unit without a system (FU1)',
    broken(SEVENTH, 'valueQuantity.system', undefined),
    'UNIT_MISSING',
    'valueQuantity.system',
  ],
  [
    'a unit in words only (FU1)',
    broken(SEVENTH, 'valueQuantity', { value: 31.5, unit: 'kg' }),
    'UNIT_MISSING',
    'valueQuantity.system',
  ],
  [
    'the system of UCUM without a code (FU1)',
    broken(SEVENTH, 'valueQuantity.code', undefined),
    'UNIT_MISSING',
    'valueQuantity.code',
  ],
  [
    'a reading below zero',
    broken(SEVENTH, 'valueQuantity.value', -31.5),
    'VALUE_NOT_POSITIVE',
    'valueQuantity.value',
  ],
  [
    'a reading of zero',
    broken(SEVENTH, 'valueQuantity.value', 0),
    'VALUE_NOT_POSITIVE',
    'valueQuantity.value',
  ],
  [
    'a reading above the bound',
    broken(SEVENTH, 'valueQuantity.value', 100.01),
    'VALUE_OVER_BOUND',
    'valueQuantity.value',
  ],
  ['the same Observation again', SIX_TRIALS[0] as typeof TRIAL, 'DUPLICATE_OBSERVATION', ''],
];

async function refusalAt(door: Door, trial: Observation) {
  const reply = await service.call(door, PATIENT, [...SIX_TRIALS, trial]);
  expect(reply.status, reply.text).toBe(200);
  const record = service.last();
  const refused = refusalsOf(record).filter(({ set }) => set === null);
  return { reply, record, refused };
}

describe.each(DOORS)('the %s refuses a trial with', (_name, door) => {
  it.each(BROKEN)('%s', async (_what, trial, code, element) => {
    const { reply, record, refused } = await refusalAt(door, trial);
    // FHIRPath names a choice element without its type.
    const path = element.replace('valueQuantity', 'value').replace(/^effective[A-Z]\w*/, 'effective');
    const expression = `${door.observation(6)}${path === '' ? '' : `.${path}`}`;
    expect(refused).toMatchObject([{ code, trial: `Observation/${trial.id}` }]);
    const text = REFUSALS[code].text(refused[0]?.facts ?? {});
    expect(text).not.toContain('undefined');

    const right = record.content.findings[0]?.summaries.find(({ kind }) => kind === 'mean-per-hand');
    expect(right, 'the other trials are read').toMatchObject({ hand: 'right', charted: { value: '31.000' } });

    if ('resourceType' in reply.body) {
      const issue = issuesOf(reply).find(({ details }) => details?.coding?.[0]?.code === code);
      expect(issue).toMatchObject({ severity: REFUSALS[code].severity, code: REFUSALS[code].issue });
      expect(issue).toMatchObject({ details: { text }, expression: [expression] });
    } else {
      const detail = cardsOf(reply)[0]?.detail ?? '';
      // What is not a grip trial, or came twice, is no business of the reader of a card.
      if (code === 'CODE_NOT_GRIP' || code === 'DUPLICATE_OBSERVATION')
        expect(detail).not.toContain(markdown(text));
      // On a card in plain words; the codes stand on the page and in the OperationOutcome.
      else if (code === 'UNIT_UNKNOWN' || code === 'UNIT_MISSING') {
        expect(detail).toMatch(/Not used: the unit .* a unit is never guessed\./);
        expect(detail).toContain(markdown(`Observation/${trial.id}`));
      } else expect(detail).toContain(markdown(text));
    }
  });
});
