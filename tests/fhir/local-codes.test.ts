/** A site's own codes through its ConceptMap: read before anything else, on record, and checked at the start. */
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { CodeableConcept, ConceptMap, Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ConfigFault } from '../../src/config.ts';
import {
  GRIP_CODE_DISPLAYS,
  GRIP_CODES,
  GRIP_LOINC,
  HAND_STRUCTURE,
  LOINC,
  OBSERVATION_STATISTICS,
  SNOMED,
} from '../../src/fhir/codes.ts';
import { BODY_SITE_PROPERTY, TRIAL_NUMBER_PROPERTY } from '../../src/fhir/read-concept-map.ts';
import { openLocalCodes } from '../../src/service.ts';
import { broken, bundleOf, coded, DOORS, FHIR_DOOR, PATIENT, SIX_TRIALS, TRIAL } from '../fixtures.ts';
import {
  cardsOf,
  codesOf,
  issuesOf,
  openForTests,
  refusalsOf,
  type TestService,
} from '../service-for-tests.ts';

const SHIPPED = new URL('../../terminology/ConceptMap-local-grip-codes.json', import.meta.url);
const shippedText = readFileSync(SHIPPED, 'utf8');
const MAP: ConceptMap = JSON.parse(shippedText);
const FLOWSHEET = MAP.group?.[0]?.source ?? '';
const folder = mkdtempSync(join(tmpdir(), 'grip-codes-'));

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(async () => {
  await service.close();
  rmSync(folder, { recursive: true });
});

const local = (...codes: readonly string[]): CodeableConcept =>
  coded(...codes.map((code) => [FLOWSHEET, code] as const));
const withCode = (code: CodeableConcept, parts: Partial<Observation> = {}): Observation => ({
  ...TRIAL,
  code,
  ...parts,
});

/** What became of one Observation, and what was said of its codes. */
async function read(observation: Observation) {
  const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [observation])).expect(200);
  const { content } = service.last();
  const figures = content.findings.flatMap(({ summaries }) =>
    summaries.map(({ kind, hand }) => `${kind} ${hand ?? '-'}`),
  );
  const refusals = refusalsOf(service.last()).flatMap(({ code, set }) => (set === null ? [code] : []));
  const said = issuesOf(reply).flatMap(({ details }) =>
    details?.coding?.[0]?.code === 'LOCAL_CODE_READ' ? [details.text] : [],
  );
  return { figures, refusals, said, content: content as typeof content & { localCodes?: unknown } };
}

const RIGHT_HAND = ['mean-per-hand right', 'highest-per-hand right', 'highest-of-either-hand -'];

describe('a local code', () => {
  it('is read as the code that the map gives, which is said with the map', async () => {
    const { figures, said } = await read(withCode(local('GRIP-R-T2')));
    expect(figures).toEqual(RIGHT_HAND);
    expect(said).toEqual([
      `Local code GRIP-R-T2 read as 83174-3, trial 2 by ConceptMap ${MAP.url}|${MAP.version}.`,
    ]);
  });

  it('puts the map with its digest on record, where it read something and only there', async () => {
    const { content } = await read(withCode(local('GRIP-R')));
    const sha256 = createHash('sha256').update(shippedText).digest('hex');
    expect(content.localCodes).toEqual({ url: MAP.url, version: MAP.version, sha256 });
    const other = await read(TRIAL);
    expect('localCodes' in other.content).toBe(false);
    expect('notices' in other.content).toBe(false);
  });

  it('is said once, however often it is charted', async () => {
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, code: local('GRIP-R') }));
    const reply = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, trials)).expect(200);
    expect(JSON.stringify(reply.body).match(/LOCAL_CODE_READ/g)).toHaveLength(1);
  });

  it('of a mean gives its hand', async () => {
    expect((await read(withCode(local('GRIP-L-MEAN')))).figures).toEqual(['mean-per-hand left']);
    expect((await read(withCode(local('GRIP-L-BEST')))).figures).toEqual([
      'highest-per-hand left',
      'highest-of-either-hand -',
    ]);
  });

  it('is read in components', async () => {
    const component = ['GRIP-R-T1', 'GRIP-R-T2', 'GRIP-HANDLE'].map((code) => ({
      code: local(code),
      ...(code === 'GRIP-HANDLE' ? { valueInteger: 2 } : { valueQuantity: TRIAL.valueQuantity }),
    }));
    const sheet = { ...broken(TRIAL, 'valueQuantity', undefined), code: { text: 'Grip sheet' }, component };
    const { figures, content } = await read(sheet as Observation);
    expect(figures).toEqual(RIGHT_HAND);
    const trials = content.input.sessions[0]?.trials;
    expect(trials).toMatchObject([1, 2].map((number) => ({ number, protocol: { handle: '2' } })));
  });

  it('is read through the hook too, and the card says so', async () => {
    const [, door] = DOORS[1] ?? [];
    const trials = SIX_TRIALS.map((trial) => ({ ...trial, code: local('GRIP-R') }));
    const reply = await service.call(door ?? FHIR_DOOR, PATIENT, trials).expect(200);
    expect(cardsOf(reply)[0]?.detail).toContain('Local code GRIP');
  });

  it.each<[string, Observation, string]>([
    [
      'another hand by LOINC',
      withCode(coded([FLOWSHEET, 'GRIP-R'], [LOINC, GRIP_LOINC.left])),
      'CODE_CONTRADICTION',
    ],
    [
      'another LOINC code that is not read',
      withCode(coded([FLOWSHEET, 'GRIP-R'], [LOINC, '8480-6'])),
      'CODE_CONTRADICTION',
    ],
    ['another local code', withCode(local('GRIP-R', 'GRIP-L')), 'CODE_CONTRADICTION'],
    ['another number', withCode(local('GRIP-R-T1', 'GRIP-R-T2')), 'CODE_CONTRADICTION'],
    ['trial and mean', withCode(local('GRIP-R-T1', 'GRIP-R-MEAN')), 'CODE_CONTRADICTION'],
    ['grip and height', withCode(local('GRIP-R', 'HT-MEASURED')), 'CODE_CONTRADICTION'],
    [
      'another hand by the body site',
      withCode(local('GRIP-L-MEAN'), { bodySite: coded([SNOMED, HAND_STRUCTURE.right.code]) }),
      'SIDE_CONTRADICTION',
    ],
    [
      'a mean by its method, and the number of a trial',
      withCode(local('GRIP-R-T1'), { method: coded([OBSERVATION_STATISTICS, 'average']) }),
      'CODE_CONTRADICTION',
    ],
  ])('that contradicts the rest of what is charted (%s) is refused', async (_name, observation, code) => {
    const { figures, refusals } = await read(observation);
    expect(refusals).toEqual([code]);
    expect(figures).toEqual([]);
  });

  it('beside the code that it is read as changes nothing', async () => {
    expect(await read(withCode(coded([FLOWSHEET, 'GRIP-R'], [LOINC, GRIP_LOINC.right])))).toMatchObject({
      figures: RIGHT_HAND,
      refusals: [],
    });
  });

  it.each([
    ['of another system', coded(['https://elsewhere.example/flowsheet', 'GRIP-R'])],
    ['without a system', { coding: [{ code: 'GRIP-R' }] }],
    ['as text only', { text: 'GRIP-R' }],
  ])('%s is not read', async (_name, code) => {
    expect(await read(withCode(code))).toMatchObject({ refusals: ['CODE_NOT_GRIP'], said: [] });
  });

  it.each([
    ['that the map does not have', local('GRIP-X')],
    ['in another case', local('grip-r')],
  ])('%s is not read, and it is said that the map lacks it', async (_name, code) => {
    expect(await read(withCode(code))).toMatchObject({ refusals: ['LOCAL_CODE_UNKNOWN'], said: [] });
  });
});

describe('the map of a site', () => {
  const file = join(folder, 'codes.json');
  const faultOf = (map: unknown): Error => {
    writeFileSync(file, typeof map === 'string' ? map : JSON.stringify(map));
    try {
      openLocalCodes(file);
    } catch (fault) {
      return fault as Error;
    }
    throw new Error('accepted');
  };
  const first = 'group.0.element.0';
  const charted = (code: string) => ({ coding: [{ system: FLOWSHEET, code }] });

  it('takes the place of the shipped one', async () => {
    writeFileSync(
      file,
      JSON.stringify(broken(broken(MAP, 'url', 'https://site.example/map'), `${first}.code`, 'OWN-R')),
    );
    const own = openLocalCodes(file)?.codes;
    expect(own?.ref.url).toBe('https://site.example/map');
    expect(own?.within(charted('OWN-R'))).toMatchObject([
      { target: { system: LOINC, code: GRIP_LOINC.right } },
    ]);
    expect(own?.within(charted('GRIP-R'))).toEqual([]);
  });

  it('that lacks a code of its own system says so with a warning; a code of another system is no matter', async () => {
    const reply = await service
      .post(FHIR_DOOR.path, bundleOf(PATIENT, [withCode(local('GRIP-R-T9'))]))
      .expect(200);
    const issue = issuesOf(reply).find(({ details }) => details?.coding?.[0]?.code === 'LOCAL_CODE_UNKNOWN');
    expect(issue).toMatchObject({ severity: 'warning' });
    expect(reply.text).not.toContain('GRIP-R-T9');
    const other = { coding: [{ system: 'http://loinc.org', code: '8867-4' }] };
    const elsewhere = await service.post(FHIR_DOOR.path, bundleOf(PATIENT, [withCode(other)])).expect(200);
    expect(codesOf(elsewhere)).toContain('CODE_NOT_GRIP');
  });

  it('can be none', async () => {
    expect(openLocalCodes('none')).toBeUndefined();
    const without = await openForTests(undefined, undefined, { localCodes: 'none' });
    const charted = bundleOf(PATIENT, [withCode(local('GRIP-R'))]);
    const reply = await without.post(FHIR_DOOR.path, charted).expect(200);
    expect(codesOf(reply)).toContain('CODE_NOT_GRIP');
    await without.close();
  });

  it.each<[string, unknown, RegExp]>([
    ['is no JSON', '{', /is not JSON$/],
    [
      'is another resource',
      { resourceType: 'ValueSet' },
      /ConceptMap\.resourceType must be one of: ConceptMap/,
    ],
    ['has no version', broken(MAP, 'version', undefined), /ConceptMap\.version is required/],
    ['is retired', broken(MAP, 'status', 'retired'), /ConceptMap\.status must be one of: active/],
    [
      'has implicit rules',
      broken(MAP, 'implicitRules', 'https://x.example'),
      /ConceptMap\.implicitRules may change/,
    ],
    ['maps nothing', broken(MAP, 'group', []), /ConceptMap\.group/],
    [
      'maps to what is not read',
      broken(MAP, `${first}.target.0.code`, '8480-6'),
      /ConceptMap\.group\[0\]\.element\[0\]\.target\[0\]\.code is not a code that this service reads/,
    ],
    [
      'maps loosely',
      broken(MAP, `${first}.target.0.equivalence`, 'wider'),
      /element\[0\]\.target\[0\]\.equivalence must be one of: equal, equivalent/,
    ],
    [
      'maps one code to two',
      broken(MAP, `${first}.target.1`, MAP.group?.[0]?.element[0]?.target?.[0]),
      /element\[0\]\.target/,
    ],
    [
      'maps one code twice',
      broken(MAP, 'group.0.element.1.code', 'GRIP-R'),
      /element\[1\]\.code is mapped more than once/,
    ],
    [
      'maps under a condition',
      broken(MAP, `${first}.target.0.dependsOn`, []),
      /target\[0\] has a member that is not known here/,
    ],
    [
      'maps the rest by a rule',
      broken(MAP, 'group.0.unmapped', { mode: 'provided' }),
      /group\[0\] has a member/,
    ],
    [
      'maps a standard system',
      broken(MAP, 'group.0.source', SNOMED),
      /group\[0\]\.source is a system that is read as it is/,
    ],
    [
      'numbers a trial with no number',
      broken(MAP, 'group.0.element.1.target.0.product.0.value', 'two'),
      /element\[1\]\.target\[0\]\.product\[0\] must be a whole number/,
    ],
    [
      'numbers a mean',
      broken(MAP, 'group.1.element.0.target.0.product.0', { property: TRIAL_NUMBER_PROPERTY, value: '1' }),
      /product\[0\] is the number of a trial, and the target is no trial/,
    ],
    [
      'names a hand by another code',
      broken(MAP, 'group.1.element.0.target.0.product.0.value', '368209003'),
      /product\[0\] must be a code of .* that names a side/,
    ],
    [
      'names another hand than its target',
      broken(MAP, `${first}.target.0.product`, [
        { property: BODY_SITE_PROPERTY, system: SNOMED, value: HAND_STRUCTURE.left.code },
      ]),
      /product\[0\] is not the hand of the target/,
    ],
    [
      'has another product',
      broken(MAP, `${first}.target.0.product`, [{ property: 'https://x.example', value: '1' }]),
      /product\[0\] has a property that is not one of/,
    ],
  ])('that %s stops the start and is named', (_name, map, words) => {
    const fault = faultOf(map);
    expect(fault).toBeInstanceOf(ConfigFault);
    expect(fault.message).toMatch(words);
    expect(fault.message).toContain(`GRIP_CDS_LOCAL_CODES: ${file}`);
  });

  it('that is not there stops the start and is named', () => {
    expect(() => openLocalCodes(join(folder, 'gone.json'))).toThrow(
      /GRIP_CDS_LOCAL_CODES: .*gone\.json is not a file/,
    );
    expect(() => openLocalCodes(folder)).toThrow(ConfigFault);
  });
});

describe('the shipped map', () => {
  it('has the version of the package and only displays of our codes that we publish', () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8'));
    expect(MAP.version).toBe(version);
    const ours = (MAP.group ?? []).filter(({ target }) => target === GRIP_CODES);
    for (const { code, display } of ours.flatMap(({ element }) =>
      element.flatMap(({ target }) => target ?? []),
    ))
      expect(display).toBe(GRIP_CODE_DISPLAYS[code as keyof typeof GRIP_CODE_DISPLAYS]);
  });

  it('is invented, and says so', () => {
    expect(FLOWSHEET).toMatch(/^https:\/\/[a-z-]+\.example\//);
    expect(MAP.experimental).toBe(true);
    expect(MAP.description).toContain('invented');
  });
});
