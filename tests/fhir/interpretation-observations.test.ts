/** The Observations that come out, requirement by requirement (STANDARDS 3.3, FI1 to FI9). */
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  GRIP_CODE_DISPLAYS,
  GRIP_CODES,
  LOINC,
  OBSERVATION_INTERPRETATION,
  OBSERVATION_VALUE,
  SNOMED,
  UCUM,
} from '../../src/fhir/codes.ts';
import { narrative } from '../../src/fhir/observation-parts.ts';
import { INTENDED_USE_SHORT, NOT_READ } from '../../src/wording/intended-use.ts';
import { broken, FHIR_DOOR, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { observationsOf, openForTests, resourcesOf, type TestService } from '../service-for-tests.ts';

let service: TestService;
/** A man of 72: means 31 and 28.5 kg, highest 32 kg. Reduced by one set of five. */
let written: readonly Observation[];
/** The same man with 62, 64, 61 and 58, 57, 60 lb. */
let inPounds: readonly Observation[];
/** A person of 72 whose sex is not recorded. */
let bothColumns: readonly Observation[];

beforeAll(async () => {
  service = await openForTests();
  written = observationsOf(await service.call(FHIR_DOOR, PATIENT, SIX_TRIALS));
  const pounds = sitting([62, 64, 61], [58, 57, 60], { unit: '[lb_av]' });
  inPounds = observationsOf(await service.call(FHIR_DOOR, PATIENT, pounds));
  const unknown = broken(PATIENT, 'gender', 'unknown');
  bothColumns = observationsOf(await service.call(FHIR_DOOR, unknown, SIX_TRIALS));
});
afterAll(() => service.close());

const codeOf = ({ code }: Observation) => code.coding?.[0]?.code ?? '';
const isSummary = (own: Observation) => own.valueQuantity !== undefined;
const isVerdict = (own: Observation) => own.valueCodeableConcept !== undefined;
const against = (title: string, all = written) => {
  const found = all.find(({ code }) => code.text?.startsWith(`Grip strength against ${title}`));
  if (!found) throw new Error(`nothing against ${title}`);
  return found;
};

const notesOf = ({ note = [] }: Observation) => note.map(({ text }) => text);

describe('every Observation that comes out', () => {
  it('FI1: is new, and preliminary until a clinician accepts it', () => {
    expect(written).toHaveLength(10);
    for (const own of [...written, ...inPounds, ...bothColumns]) {
      expect(own.status).toBe('preliminary');
      expect(own.id).toMatch(/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/);
      expect(service.all()[0]?.content.input.sessions[0]?.trials).not.toContainEqual({ reference: own.id });
    }
  });

  it('FI2: is coded in the code system of this service with a text, never in LOINC', () => {
    for (const own of [...written, ...bothColumns]) {
      expect(own.code.coding).toHaveLength(1);
      expect(own.code.coding?.[0]?.system).toBe(GRIP_CODES);
      expect(Object.keys(GRIP_CODE_DISPLAYS)).toContain(codeOf(own));
      expect(own.code.text).toBeTruthy();
      expect(JSON.stringify(own)).not.toContain(LOINC);
    }
  });

  it('FI3: is derived from every trial used, and from the summary it was read from', async () => {
    const hands = { right: ['1', '2', '3'], left: ['4', '5', '6'] };
    for (const own of written) {
      const site = own.bodySite?.coding?.[0]?.display;
      const used = site?.includes('right')
        ? hands.right
        : site?.includes('left')
          ? hands.left
          : [...hands.right, ...hands.left];
      const references = (own.derivedFrom ?? []).map(({ reference }) => reference);
      const trials = used.map((number) => `Observation/trial-${number}`);
      expect(references.slice(-trials.length)).toEqual(trials);
      expect(references.length).toBe(trials.length + (isSummary(own) ? 0 : 1));
    }
  });

  it('FI3: names the version of a trial where the record gives one', async () => {
    const versioned = SIX_TRIALS.map((trial) => broken(trial, 'meta', { versionId: '7' }));
    const [mean] = observationsOf(await service.call(FHIR_DOOR, PATIENT, versioned));
    expect(mean?.derivedFrom?.[0]?.reference).toBe('Observation/trial-1/_history/7');
  });

  it('FI4: has a figure in UCUM force units, a coded outcome, or a reason and a note why not', () => {
    for (const own of [...written, ...inPounds, ...bothColumns]) {
      const values = [own.valueQuantity, own.valueCodeableConcept, own.dataAbsentReason];
      expect(values.filter((value) => value !== undefined)).toHaveLength(1);
      if (own.valueQuantity)
        expect(own.valueQuantity).toMatchObject({ value: expect.any(Number), system: UCUM });
      if (own.dataAbsentReason) expect(own.note?.length).toBeGreaterThan(0);
    }
    expect(written.filter(isSummary).map(({ valueQuantity }) => valueQuantity)).toEqual([
      { value: 31, unit: 'kg', system: UCUM, code: 'kgf' },
      { value: 28.5, unit: 'kg', system: UCUM, code: 'kgf' },
      { value: 32, unit: 'kg', system: UCUM, code: 'kgf' },
    ]);
    expect(inPounds.find(isSummary)?.valueQuantity).toEqual({
      value: 62.333,
      unit: 'lb',
      system: UCUM,
      code: '[lbf_av]',
    });
  });

  it('FI4: codes low as L and not low as N, never as a critical value (3.1)', () => {
    const outcomes = written
      .filter(isVerdict)
      .map(
        (own) =>
          [
            own.valueCodeableConcept?.coding?.[0]?.code,
            own.interpretation?.[0]?.coding?.[0],
            own.code.coding?.[0]?.code,
          ] as const,
      );
    expect(outcomes).toHaveLength(7);
    for (const [outcome, interpretation, about] of outcomes) {
      // Not below a consensus cut-point is not normal: no code then.
      if (outcome === 'not-reduced' && about === 'strength-against-cut-point') {
        expect(interpretation).toBeUndefined();
        continue;
      }
      const code = outcome === 'reduced' ? 'L' : 'N';
      expect(interpretation).toEqual({ system: OBSERVATION_INTERPRETATION, code });
    }
    expect(outcomes.filter(([outcome]) => outcome === 'reduced')).toHaveLength(1);
  });

  it('FI4: gives z-score and percentile as components of a table of norms, of nothing else', () => {
    // (31 - 36.61) / 7.30 = -0.768; (31 kg = 68.343 lb - 75.3) / 21.5 = -0.324.
    expect(against('US survey').component).toMatchObject([
      { code: { coding: [{ code: 'z-score' }] }, valueQuantity: { value: -0.768, code: '{z-score}' } },
      { code: { coding: [{ code: 'percentile' }] }, valueQuantity: { value: 22.11, code: '%' } },
    ]);
    expect(against('US adults').component?.[0]?.valueQuantity?.value).toBe(-0.324);
    expect(against('EWGSOP2').component).toBeUndefined();
  });

  it('FI5: states the limit in the unit as charted, with sex, age, citation and version', () => {
    const [range] = against('EWGSOP2').referenceRange ?? [];
    expect(range).toMatchObject({
      low: { value: 27, unit: 'kg', code: 'kgf', system: UCUM },
      type: { coding: [{ code: 'normal' }] },
      appliesTo: [{ coding: [{ system: SNOMED, code: '248153007' }] }],
      age: { low: { value: 65, code: 'a', system: UCUM } },
    });
    expect(range?.age?.high).toBeUndefined();
    expect(range?.text).toBe(
      'men 65 and over: reduced is below 27 kg. Cruz-Jentoft AJ, et al. ' +
        'Sarcopenia: revised European consensus on definition and diagnosis. ' +
        'Age Ageing 2019;48(1):16-31. doi:10.1093/ageing/afy169 (ewgsop2-2019|1.1.0)',
    );

    // 27 kg / 0.45359237 = 59.525 lb.
    expect(against('EWGSOP2', inPounds).referenceRange?.[0]?.low).toMatchObject({
      value: 59.525,
      code: '[lbf_av]',
    });
    const [survey] = against('US survey', inPounds).referenceRange ?? [];
    // At the limit is reduced, and R4's low is inclusive: only the text can say it.
    expect(survey).not.toHaveProperty('low');
    expect(survey?.age).toMatchObject({ low: { value: 70 }, high: { value: 74 } });
    expect(survey?.text).toContain('men 70 to 74 (mean 36.61, SD 7.30 kg): reduced is at or below 22.01 kg.');
    expect(against('US adults').referenceRange?.[0]?.text).toContain(
      'Grip and pinch strength: normative data for adults. Arch Phys Med Rehabil 1985;66(2):69-74.',
    );
  });

  it('FI5: gives a low end for a strict limit only', () => {
    for (const own of [...written, ...inPounds].filter(isVerdict)) {
      const [range, ...more] = own.referenceRange ?? [];
      expect(more).toEqual([]);
      expect(range).not.toHaveProperty('high');
      expect(range?.low !== undefined, range?.text).toBe(!range?.text?.includes('at or below'));
    }
    const lows = [...written, ...inPounds].flatMap(({ referenceRange }) => referenceRange?.[0]?.low ?? []);
    expect(lows).toHaveLength(6);
  });

  it('FI6: has the software as device, never as performer', async () => {
    const resources = resourcesOf(await service.call(FHIR_DOOR, PATIENT, SIX_TRIALS));
    const device = resources.find(({ resourceType }) => resourceType === 'Device');
    expect(device).toMatchObject({
      deviceName: [{ name: 'grip-strength-cds' }],
      version: [{ value: expect.any(String) }],
    });
    for (const own of written) {
      expect(own.performer).toBeUndefined();
      expect(own.device?.reference).toBe(`Device/${device?.id}`);
    }
  });

  it('FI7: is labelled as asserted by an algorithm', () => {
    for (const own of [...written, ...bothColumns])
      expect(own.meta?.security).toEqual([{ system: OBSERVATION_VALUE, code: 'AIAST' }]);
  });

  it('FI8: says when it was tested, when computed, by what, and in words', () => {
    for (const own of written) {
      // Of the first trial that it rests on: the left hand was tested from 14:08 on.
      const isLeft = own.bodySite?.coding?.[0]?.code === '85151006';
      expect(own.effectiveDateTime).toBe(`2026-11-16T14:0${isLeft ? 8 : 5}:00Z`);
      expect(own.issued).toBe('2026-11-25T12:00:00.000Z');
      expect(own.text?.status).toBe('generated');
    }
    const { method, note, text } = against('US survey');
    expect(method?.text).toMatch(
      /^grip-strength-cds \d+\.\d+\.\d+; panel adult-inpatient-us\|1\.1\.0 sha256:[0-9a-f]{64}/,
    );
    expect(method?.text).toMatch(/table nhanes-2011-2014-right-left-mean-of-3\|1\.1\.0 sha256:[0-9a-f]{64}/);
    expect(method?.text).toMatch(/rule two-sd-below-mean\|1\.0\.0 sha256:[0-9a-f]{64}/);
    expect(note?.map((each) => each.text)).toContain(INTENDED_USE_SHORT);
    expect(note?.map((each) => each.text)).toContain(
      'Sex of the row: male, from Patient.gender. Figures of the row: derived-from-microdata.',
    );
    expect(notesOf(against('US adults'))).toContain(
      'Sex of the row: male, from Patient.gender. Figures of the row: two-sources.',
    );
    expect(text?.div).toContain('right hand, mean 31.0 kg; reduced is at or below 22.01 kg: not reduced');
    const paragraph = (own: Observation | undefined) => own?.text?.div.match(/<p>(.*)<\/p>/)?.[1];
    expect(paragraph(written.find(isSummary))).toBe('Grip strength, right hand, mean: 31.0 kg.');
    expect(paragraph(inPounds.find(isSummary))).toBe('Grip strength, right hand, mean: 62.3 lb (28.3 kg).');
  });

  it('FI8: says what was not read where the result is reduced, and there only', () => {
    for (const own of written.filter(isVerdict)) {
      const reduced = own.valueCodeableConcept?.coding?.[0]?.code === 'reduced';
      expect(notesOf(own).filter((text) => text === NOT_READ)).toHaveLength(reduced ? 1 : 0);
    }
    expect(notesOf(against('SDOC'))).toContain(NOT_READ);
  });

  it('FI8: has a narrative of escaped XHTML: one div, paragraphs of text, nothing else', () => {
    const form =
      /^<div xmlns="http:\/\/www\.w3\.org\/1999\/xhtml">(<p>([^<>&]|&(amp|lt|gt);)+<\/p>)+<\/div>$/;
    for (const own of [...written, ...inPounds, ...bothColumns]) expect(own.text?.div).toMatch(form);
    const hostile = narrative(['a < b & c > d', '<img src=x onerror="alert(1)">', ']]>&lt;']);
    expect(hostile).toMatch(form);
    expect(hostile).toContain('<p>a &lt; b &amp; c &gt; d</p>');
    expect(hostile).not.toContain('<img');
    expect(hostile).toContain(']]&gt;&amp;lt;');
  });

  it('FI9: is the same for the same request to another instance, the ids of the evaluation aside', async () => {
    const other = await openForTests();
    const again = await other.call(FHIR_DOOR, PATIENT, SIX_TRIALS);
    const one = await openForTests();
    const first = await one.call(FHIR_DOOR, PATIENT, SIX_TRIALS);
    await other.close();
    await one.close();
    const withoutIds = (text: string) => text.replaceAll(/[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}/g, 'id');
    expect(again.body.identifier).not.toEqual(first.body.identifier);
    expect(withoutIds(again.text)).toBe(withoutIds(first.text));
  });

  it('is categorised as an exam and as functional status, not as a vital sign (FT5)', () => {
    for (const own of written)
      expect(own.category?.map(({ coding }) => coding?.[0]?.code)).toEqual(['exam', 'functional-status']);
  });
});
