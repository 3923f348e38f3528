/**
 * Each shape in which hospitals chart grip strength, from a file through the whole service. The figures were worked
 * out by hand: right 31, 32 and 30 kg (mean 31, highest 32), left 28, 29 and 28.5 kg (mean 28.5, highest 29).
 */
import { readdirSync, readFileSync } from 'node:fs';
import type { Observation, Provenance } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { replay } from '../../src/replay.ts';
import { FHIR_DOOR } from '../fixtures.ts';
import {
  codesOf,
  issuesOf,
  observationsOf,
  openForTests,
  type Recorded,
  refusalsOf,
  resourcesOf,
  type TestService,
} from '../service-for-tests.ts';

interface Expected {
  /** Of each session: its day, and every figure in kg. */
  readonly sessions: readonly (readonly [day: string, figures: string])[];
  /** Code and FHIRPath of what could not be read. */
  readonly refusals?: readonly string[];
  /** Code and set of what the sets say. */
  readonly sets?: readonly string[];
  /** In the order of the sessions. */
  readonly cautions?: readonly string[];
  readonly notices?: readonly string[];
}

const SIX = 'right 31.000/32.000, left 28.500/29.000, either 32.000';
const USUAL: Expected = { sessions: [['2026-11-16', SIX]] };
const NEEDS_HIGHEST = ['ewgsop2-2019', 'sdoc-2020', 'fnih-2014'].map((set) => `SUMMARY_NOT_CHARTED ${set}`);

const SHAPES: Readonly<Record<string, Expected>> = {
  'trial-per-observation': USUAL,
  'components-per-hand': {
    // The third of the left hand is charted as not performed.
    ...USUAL,
    refusals: ['VALUE_ABSENT Bundle.entry[2].resource.component[2].dataAbsentReason'],
    cautions: ['TRIALS_FEWER left'],
  },
  'averaged-per-hand': {
    sessions: [['2026-11-16', 'right 31.300/-, left 28.900/-']],
    sets: NEEDS_HIGHEST,
    cautions: ['SUMMARY_UNVERIFIED right', 'SUMMARY_UNVERIFIED left'],
  },
  'panel-with-members': {
    ...USUAL,
    refusals: ['MEMBER_MISSING Bundle.entry[1].resource.hasMember[6]'],
  },
  // Right 18, 30 and 31 by their numbers: the mean of the last two is 30.5, and four fifths of it 24.4.
  'local-codes': {
    sessions: [['2026-11-16', 'right 26.333/31.000, left 28.500/-']],
    sets: NEEDS_HIGHEST,
    cautions: ['TRIALS_SCATTER right', 'FIRST_TRIAL_LOW right', 'SUMMARY_UNVERIFIED left'],
    notices: Array(5).fill('LOCAL_CODE_READ'),
  },
  // Left at 15:10 (60 minutes after the last of the right hand), 16:09 (59 after) and 17:10 (61 after).
  'minutes-apart': {
    sessions: [
      ['2026-11-16', SIX],
      ['2026-11-16', 'left 28.500/28.500, either 28.500'],
    ],
    cautions: ['TRIALS_FEWER left', 'HAND_NOT_TESTED right', 'TRIALS_FEWER left'],
  },
  amended: { ...USUAL, cautions: ['TRIAL_PRELIMINARY -'] },
  // Right 31 and 32, left 28 and 29 are left.
  'entered-in-error': {
    sessions: [['2026-11-16', 'right 31.500/32.000, left 28.500/29.000, either 32.000']],
    refusals: [
      'STATUS_NOT_USABLE Bundle.entry[1].resource.status',
      'STATUS_NOT_USABLE Bundle.entry[4].resource.status',
      'STATUS_NOT_USABLE Bundle.entry[7].resource.status',
    ],
    cautions: ['TRIALS_FEWER right', 'TRIALS_FEWER left'],
  },
  'several-sessions': {
    sessions: [
      ['2026-09-14', 'right 28.000/29.000, left 26.000/27.000, either 29.000'],
      ['2026-10-12', 'right 29.500/-, left 27.000/-'],
      ['2026-11-16', SIX],
    ],
    sets: NEEDS_HIGHEST,
    cautions: ['SUMMARY_UNVERIFIED right', 'SUMMARY_UNVERIFIED left'],
  },
  'searchset-with-paging': { ...USUAL, notices: ['MORE_PAGES', 'SEARCH_OUTCOME'] },
  parameters: { ...USUAL, sets: ['HANDEDNESS_UNKNOWN fried-2001'] },
  'parameters-with-bundle': { ...USUAL, sets: ['HANDEDNESS_UNKNOWN fried-2001'] },
  'contained-patient': USUAL,
  'referenced-patient-by-fullurl': USUAL,
};

const FOLDER = new URL('../fixtures/charted/', import.meta.url);
const read = (name: string) => readFileSync(new URL(`${name}.json`, FOLDER), 'utf8');

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

const post = (name: string) => service.post(FHIR_DOOR.path, read(name)).expect(200);

function figuresOf({ content }: Recorded): readonly (readonly [string, string])[] {
  return content.findings.map(({ testedOn, summaries }) => {
    const of = (kind: string, hand: string | null) =>
      summaries.find((each) => each.kind === kind && each.hand === hand)?.charted.value;
    const hands = ['right', 'left'].flatMap((hand) => {
      const [mean, highest] = [of('mean-per-hand', hand), of('highest-per-hand', hand)];
      return (mean ?? highest) ? [`${hand} ${mean ?? '-'}/${highest ?? '-'}`] : [];
    });
    const either = of('highest-of-either-hand', null);
    return [testedOn, [...hands, ...(either ? [`either ${either}`] : [])].join(', ')] as const;
  });
}

describe('a chart', () => {
  it('has a file for each shape, and an expectation for each file', () => {
    const files = readdirSync(FOLDER).map((file) => file.replace(/\.json$/, ''));
    expect(files.toSorted()).toEqual(Object.keys(SHAPES).toSorted());
  });

  it.each(Object.entries(SHAPES))('as in %s gives the figures worked out by hand', async (name, expected) => {
    const reply = await post(name);
    const recorded = service.last();
    expect(figuresOf(recorded)).toEqual(expected.sessions);
    const refusals = refusalsOf(recorded);
    const ofTrials = refusals.filter(({ set }) => set === null);
    expect(ofTrials.map(({ code, expression }) => `${code} ${expression}`)).toEqual(expected.refusals ?? []);
    const ofSets = refusals.flatMap(({ code, set }) =>
      set === null ? [] : [`${code} ${set.split('|')[0]}`],
    );
    expect(ofSets).toEqual(expected.sets ?? []);
    const cautions = recorded.content.findings.flatMap((found) => found.cautions);
    expect(cautions.map(({ code, hand }) => `${code} ${hand ?? '-'}`)).toEqual(expected.cautions ?? []);
    const notices = codesOf(reply).filter((code) =>
      /^(MORE_PAGES|SEARCH_OUTCOME|LOCAL_CODE_READ)$/.test(code ?? ''),
    );
    expect(notices).toEqual(expected.notices ?? []);
  });

  it.each(Object.keys(SHAPES))('as in %s is written again from its record, to the byte', async (name) => {
    await post(name);
    const recorded = service.last();
    const { version } = recorded.content.engine;
    expect(replay(recorded, service.library, version)).toEqual({ outcome: 'same', replyCompared: true });
  });

  it.each(Object.keys(SHAPES))('as in %s is marked as invented', (name) => {
    expect(read(name)).toContain('(invented)');
  });
});

describe('references of the answer', () => {
  it('name the whole Observation once where its components were read', async () => {
    const reply = await post('components-per-hand');
    const summary = observationsOf(reply).find(({ code }) => code.coding?.[0]?.code === 'mean-per-hand');
    expect(summary?.derivedFrom).toEqual([{ reference: 'Observation/right-hand' }]);
    const provenance = resourcesOf(reply).find(
      (resource): resource is Provenance => resource.resourceType === 'Provenance',
    );
    const sources = provenance?.entity?.map(({ what }) => what.reference);
    expect(sources?.filter((source) => source?.startsWith('Observation/'))).toEqual([
      'Observation/right-hand',
    ]);
    expect(sources?.filter((source) => source?.includes('#'))).toEqual([]);
  });

  it('name what charted a mean, which is not charted again', async () => {
    const written = observationsOf(await post('averaged-per-hand'));
    expect(written.map(({ code }) => code.coding?.[0]?.code)).not.toContain('mean-per-hand');
    const right = written.find(({ bodySite }) => bodySite?.coding?.[0]?.code === '78791008');
    expect(right?.derivedFrom).toEqual([{ reference: 'Observation/right-mean' }]);
  });

  it('name a version that was amended', async () => {
    const reply = await post('amended');
    const sources = observationsOf(reply).flatMap(({ derivedFrom }) => derivedFrom ?? []);
    expect(sources).toContainEqual({ reference: 'Observation/trial-1/_history/2' });
  });

  it('name a contained Patient by a URN that holds no name', async () => {
    const reply = await post('contained-patient');
    const [first] = observationsOf(reply) as [Observation];
    expect(first.subject?.reference).toMatch(/^urn:uuid:[0-9a-f-]{36}$/);
    expect(service.last().patient).toBe(first.subject?.reference);
    expect(service.last().record).not.toContain('Bramblewick');
  });

  it('name a Patient by the fullUrl of its entry where it has no id', async () => {
    const reply = await post('referenced-patient-by-fullurl');
    const [first] = observationsOf(reply) as [Observation];
    expect(first.subject?.reference).toBe('urn:uuid:5b0c1f4e-7d0a-4b5e-9c53-2f6d1b7a9e10');
  });
});

describe('what is said of the request', () => {
  it('names the page that was not sent, and where the search said something', async () => {
    const said = issuesOf(await post('searchset-with-paging')).filter(({ code }) => code === 'incomplete');
    expect(said.map(({ severity, expression }) => [severity, expression?.[0]])).toEqual([
      ['warning', 'Bundle.link[1]'],
      ['warning', 'Bundle.entry[7].resource'],
    ]);
    expect(JSON.stringify(said)).not.toContain('An invented warning');
  });

  it('names the place in a Bundle within Parameters', async () => {
    const parameters = JSON.parse(read('parameters-with-bundle'));
    parameters.parameter[0].resource = JSON.parse(read('searchset-with-paging'));
    const reply = await service.post(FHIR_DOOR.path, parameters).expect(200);
    expect(JSON.stringify(issuesOf(reply))).toContain('Parameters.parameter[0].resource.link[1]');
  });
});

describe('the examples of docs/charting.md', () => {
  const guide = readFileSync(new URL('../../docs/charting.md', import.meta.url), 'utf8');
  const blocks = [...guide.matchAll(/```json\n([\s\S]*?)```/g)].map(([, json = '']) => JSON.parse(json));
  const examples = blocks.filter(({ resourceType }) => resourceType === 'Observation');
  const patient = { resourceType: 'Patient', id: 'example', gender: 'female', birthDate: '1950-01-01' };

  it.each(examples)('$id is read whole', async (example) => {
    expect(examples.length).toBeGreaterThan(2);
    const entry = [patient, example].map((resource) => ({ resource }));
    await service.post(FHIR_DOOR.path, { resourceType: 'Bundle', type: 'collection', entry }).expect(200);
    expect(refusalsOf(service.last()).filter(({ set }) => set === null)).toEqual([]);
    expect(figuresOf(service.last())).toHaveLength(1);
  });
});
