/** What a readiness card says as it is read aloud before a test: first things first, and never more than is recorded. */
import type { FhirResource } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { SNOMED } from '../../src/fhir/codes.ts';
import type { Card } from '../../src/hooks/cards.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { replayAssessment } from '../../src/replay-assessment.ts';
import { broken, PATIENT, SIX_TRIALS, sitting } from '../fixtures.ts';
import { NORMS } from '../interpret/build.ts';
import { openForTests, type TestService } from '../service-for-tests.ts';
import {
  type Chart,
  cardOf,
  clinical,
  condition,
  DUE_GRIP,
  ICD,
  LEFT_SITE,
  line,
  procedure,
  RIGHT_SITE,
} from './readiness-for-tests.ts';

const OPERATIONS = 'https://alder-reach.example/procedure';
const LIBRARY = loadLibrary(NORMS);

let service: TestService;
beforeAll(async () => {
  service = await openForTests();
});
afterAll(() => service.close());

/** Every card of this file replays to the byte, has a summary of less than 140 characters, and no HTML. */
async function given(chart: Chart): Promise<Card | undefined> {
  const card = await cardOf(service, chart);
  expect(replayAssessment(service.last(), LIBRARY, '0.3.0')).toEqual({
    outcome: 'same',
    replyCompared: true,
  });
  if (card) expect(card.summary.length).toBeLessThan(140);
  if (card) expect(card.detail).not.toContain('<');
  return card;
}

/** With a measurement due. */
async function due(chart: Chart): Promise<Card> {
  const card = await given({ grip: DUE_GRIP, ...chart });
  if (!card) throw new Error('no card');
  return card;
}

const plain = (detail: string) => detail.replace(/\\(?=[^\w\s])/g, '');
const titles = ({ detail }: Card) => [...detail.matchAll(/^\*\*([^*]+)\*\*$/gm)].map(([, title]) => title);
function section({ detail }: Card, title: string): string {
  const parts = plain(detail).split(/\n\n/);
  const at = parts.indexOf(`**${title}**`);
  return at < 0 ? '' : (parts[at + 1] ?? '');
}

const handOp = (more: object) => procedure(OPERATIONS, 'HAND-OP', { bodySite: [RIGHT_SITE], ...more });
const ACCESS = procedure(SNOMED, '48765000', { bodySite: [LEFT_SITE], performedDateTime: '2022-05-10' });
const BOTH =
  'Both arms are cautioned: no arm is free by this record. Decide with the team; if no test is done, chart why.';

describe('a planned operation', () => {
  it('whose day has come is asked about under its arm, and is no all-clear', async () => {
    const card = await due({
      procedures: [handOp({ status: 'preparation', performedDateTime: '2026-11-01' })],
    });
    expect(section(card, 'Right arm')).toBe(
      '- Ask: surgery of the hand, wrist or forearm was planned for 1 Nov 2026 (24 days ago) (charted here as HAND-OP, Procedure/p-HAND-OP). ' +
        'The record does not say whether it was done. If it was: leave this hand out until 3 months after it.',
    );
    expect(card.summary).toContain('Before it, see: hand surgery planned for 1 Nov 2026 (done?).');
    expect(card.detail).not.toContain('not done');
    expect(card.indicator).toBe('info');
  });

  it('of a later day stands under a heading of its own, and says once that it is planned', async () => {
    const card = await due({
      procedures: [handOp({ status: 'preparation', performedDateTime: '2026-12-02' })],
    });
    expect(section(card, 'Planned')).toBe(
      '- Surgery of the hand, wrist or forearm, right arm: charted here as HAND-OP, planned for 2 Dec 2026 (Procedure/p-HAND-OP).',
    );
    expect(section(card, 'Past')).toBe('');
  });

  it('of long ago is past, and still nobody knows whether it was done', async () => {
    const card = await due({
      procedures: [handOp({ status: 'on-hold', performedDateTime: '2026-02-01' })],
    });
    expect(section(card, 'Past')).toContain(
      'planned for 1 Feb 2026 (Procedure/p-HAND-OP): more than 3 months. The record does not say whether it was done. Ask about pain.',
    );
  });
});

describe('two arms', () => {
  const CHART: Chart = { lines: [line('IV-ARM-L')], conditions: [condition(ICD, 'S62.101A')] };

  it('that are both cautioned: said first, and no practice sends the reader to the other', async () => {
    const card = await due(CHART);
    expect(card.summary).toBe(BOTH);
    expect(plain(card.detail).startsWith(`${BOTH}\n\n`)).toBe(true);
    expect(card.detail).not.toMatch(/other (arm|hand)|the other|unaffected/i);
    expect(section(card, 'Right arm')).toContain('until then leave this hand out (');
    expect(section(card, 'Left arm')).toContain('Usual: wait until the line is out (');
    expect(card.indicator).toBe('warning');
  });

  it('of which one is only to be asked about: the other is not free for it', async () => {
    const card = await due({ conditions: [condition(ICD, 'G56.01'), condition(ICD, 'S62.102A')] });
    expect(card.summary).toContain('left arm: fracture');
    expect(section(card, 'Right arm')).not.toContain('use the other');
    expect(section(card, 'Left arm')).toContain('test the other hand');
  });

  it('without a hand: neither can be tested', async () => {
    const card = await due({ conditions: [condition(ICD, 'Z89.111'), condition(ICD, 'Z89.112')] });
    expect(card.summary).toBe('Neither hand can be tested. Chart that.');
    expect(card.detail.startsWith('Neither hand can be tested. Chart that.\n\n')).toBe(true);
    expect(card.detail).not.toMatch(/test the other hand|squeezing/);
  });

  it('with carpal tunnel syndrome: each hand is compared with its own earlier figures', async () => {
    const card = await due({ conditions: [condition(ICD, 'G56.03')] });
    for (const arm of ['Right arm', 'Left arm']) {
      expect(section(card, arm)).toContain('compare each hand with its own earlier figures');
      expect(section(card, arm)).not.toContain('use the other');
    }
  });
});

describe('a caution of the whole person', () => {
  it.each([
    ['F05', 'delirium or drowsiness'],
    ['I21.9', 'myocardial infarction'],
    ['I16.0', 'hypertensive crisis'],
  ])('(%s) comes first, and no arm is called free beside it', async (code, short) => {
    const alone = await due({ conditions: [condition(ICD, code)] });
    expect(titles(alone).slice(0, 2)).toEqual(['The person', 'Either arm']);
    expect(section(alone, 'Either arm')).toBe('- No record names an arm.');
    const beside = await due({ conditions: [condition(ICD, code), condition(ICD, 'S52.501A')] });
    expect(titles(beside).slice(0, 3)).toEqual(['The person', 'Right arm', 'Left arm']);
    expect(beside.summary).toContain(`Before a grip test: ${short}; right arm: fracture. `);
    expect(section(beside, 'Left arm')).toBe('- No record names this arm.');
  });

  it('comes before two arms that are cautioned', async () => {
    const conditions = [condition(ICD, 'F05'), condition(ICD, 'M79.642'), condition(ICD, 'S52.501A')];
    const card = await due({ conditions });
    expect(card.summary).toBe(
      'Before a grip test: delirium or drowsiness. Both arms are cautioned: no arm is free by this record. Decide with the team.',
    );
    expect(titles(card)[0]).toBe('The person');
  });
});

describe('what is past', () => {
  it.each([
    ['I63.9', 'Cerebral infarction, unspecified, onset', 'Ask whether an arm stayed weak.', 'stroke'],
    ['S52.501A', 'Unspecified fracture of the lower end', 'Ask whether it has healed.', 'fracture'],
  ])('(%s) says how it is charted and what to ask, and is no all-clear', async (code, said, ask, short) => {
    const card = await due({ conditions: [condition(ICD, code, clinical('resolved'))] });
    expect(section(card, 'Past')).toContain(`- ${said}`);
    expect(section(card, 'Past')).toContain(
      `onset 10 Nov 2026 (15 days ago), charted as resolved (Condition/c-${code}). ${ask}`,
    );
    expect(section(card, 'Either arm')).toBe('- Nothing current found that speaks against testing it.');
    expect(card.summary).toBe(
      `Grip strength: next measurement due since 25 Nov 2026; nothing current found; past records: ${short}.`,
    );
  });

  it('by an abatement is said to have ended', async () => {
    const card = await due({ conditions: [condition(ICD, 'I63.9', { abatementDateTime: '2026-11-20' })] });
    expect(section(card, 'Past')).toContain('charted as ended');
  });

  it('by its window is listed from the day after, and asks about pain', async () => {
    const card = await due({ procedures: [handOp({ performedDateTime: '2026-08-24' })] });
    expect(section(card, 'Past')).toContain(
      'performed 24 Aug 2026 (93 days ago) (Procedure/p-HAND-OP): more than 3 months. Ask about pain.',
    );
    expect(card.summary).toContain('past records: hand surgery.');
  });

  it('is an operation of the abdomen of years ago', async () => {
    const op = (performedDateTime: string) => procedure(OPERATIONS, 'BOWEL-OP', { performedDateTime });
    expect(section(await due({ procedures: [op('2012-11-11')] }), 'Past')).toContain('Surgery of the eye');
    expect(section(await due({ procedures: [op('2026-11-11')] }), 'The person')).toContain('With care');
  });
});

describe('of a date that is known in part', () => {
  it.each([
    ['2026', 'year', 'hand surgery (2026)'],
    ['2026-08', 'month', 'hand surgery (2026)'],
  ])('(%s) it is asked whether it is recent', async (performedDateTime, part, short) => {
    const card = await due({ procedures: [handOp({ performedDateTime })] });
    expect(section(card, 'Right arm')).toMatch(/^- Ask: /);
    expect(section(card, 'Right arm')).toContain(
      `Only the ${part} is recorded: ask whether it was in the past 3 months.`,
    );
    expect(card.summary).toContain(`see: ${short}.`);
    expect(card.indicator).toBe('info');
  });
});

describe('measurements', () => {
  const UNREADABLE = SIX_TRIALS.map((trial) => broken(trial, 'valueQuantity', { value: 30, unit: 'lb' }));

  it('that could not be read are charted all the same: their number and newest day', async () => {
    const card = await given({ grip: UNREADABLE });
    const said = 'harted, but not in a form that could be read (6 readings, newest 16 Nov 2026)';
    expect(section(card as Card, 'Last measured')).toBe(`- C${said}.`);
    expect(card?.summary).toBe(`Grip strength: c${said}; nothing found that speaks against it.`);
    expect((await given({ grip: UNREADABLE, procedures: [ACCESS] }))?.summary).toBe(
      'Before a grip test: left arm: dialysis access. Grip charted, but not in a form that could be read.',
    );
  });

  it('that are not there are not said never to have been made', async () => {
    const card = await given({ grip: [] });
    expect(section(card as Card, 'Last measured')).toBe('- No measurement found in what was sent.');
    expect(card?.detail).not.toMatch(/never/i);
  });
});

describe('a summary', () => {
  it.each<[string, Chart, string]>([
    ['a vascular implant', { conditions: [condition(ICD, 'Z95.828')] }, 'vascular implant (an access?)'],
    [
      'a procedure at a hand',
      { procedures: [procedure('https://x.example', 'X1', { bodySite: [LEFT_SITE] })] },
      'a procedure at the left hand',
    ],
    [
      'surgery without a date',
      { procedures: [handOp({ performedDateTime: undefined })] },
      'hand surgery, no date',
    ],
    ['gout', { conditions: [condition(ICD, 'M10.9')] }, 'gout'],
    [
      'an infarction of years ago',
      { conditions: [condition(ICD, 'I21.9', { onsetDateTime: '2018-11-12' })] },
      'myocardial infarction (2018)',
    ],
  ])('of %s says no more than the record', async (_name, chart, short) => {
    expect((await due(chart)).summary).toBe(
      `Grip strength: next measurement due since 25 Nov 2026. Before it, see: ${short}.`,
    );
  });

  it('of dialysis without a side asks for an access', async () => {
    const card = await due({ conditions: [condition(ICD, 'Z99.2')] });
    expect(card.summary).toBe(
      'Before a grip test: dialysis; ask whether an arm has an access. Next measurement due since 25 Nov 2026.',
    );
    expect(section(card, 'Side not recorded: ask')).toContain(
      'Ask whether an arm has an access, and use the',
    );
  });

  it('is short enough for any five cautions', async () => {
    const codes = (LIBRARY.findCautions()?.cautions ?? []).flatMap(({ codes: own }) => own);
    for (let start = 0; start < codes.length; start += 2) {
      const chosen = [0, 7, 19, 31, 53].map((step) => codes[(start + step) % codes.length]);
      const conditions: FhirResource[] = chosen.flatMap((code, index) =>
        code ? [condition(code.system, code.code, { id: `c${index}` })] : [],
      );
      await due({ conditions, grip: start % 4 === 0 ? UNREADABLE_ONE : DUE_GRIP });
    }
  });
  const UNREADABLE_ONE = sitting([31], [28]).map((trial) => broken(trial, 'valueQuantity.code', 'st'));
});

describe('a record that names no arm', () => {
  it('of dialysis beside a fistula on the left: the right arm has no access on record', async () => {
    const card = await given({ conditions: [condition(ICD, 'Z99.2')], procedures: [ACCESS] });
    expect(section(card as Card, 'Right arm')).toBe('- No access recorded here.');
    expect(section(card as Card, 'Side not recorded')).toContain(
      'Says nothing of an arm; the access is recorded on the left.',
    );
    expect(card?.summary).toBe(
      'Before a grip test: left arm: dialysis access. Next measurement from 30 Nov 2026.',
    );
  });

  it('of lymphoedema is spelled one way, and says what to do if it is an arm', async () => {
    const said = section(
      await due({ conditions: [condition(SNOMED, '234097001')] }),
      'Side not recorded: ask',
    );
    expect(said).toMatch(/^- Ask: Lymphoedema, since 10 Nov 2026 .*If it is an arm, use the other \(/);
    expect(said).not.toMatch(/lymphedema/i);
  });
});

describe('a charted line', () => {
  it('of an earlier day: look whether it is still in', async () => {
    const old = await due({ lines: [line('IV-ARM-R', { effectiveDateTime: '2026-11-04T08:00:00Z' })] });
    expect(section(old, 'Right arm')).toContain('charted here as IV-ARM-R, charted 4 Nov 2026 (21 days ago)');
    expect(section(old, 'Right arm')).toContain('Look whether it is still in.');
    expect((await due({ lines: [line('IV-ARM-R')] })).detail).not.toContain('still in');
  });

  it('that was not asked for may not be found: nothing is said of how the installation is set up', async () => {
    const said = section(await due({ lines: null }), 'Not looked at');
    expect(said).toContain('Lines in the arm may not be found in this call: look at the arms.');
    expect(said).not.toContain('installation');
  });
});

describe('no card', () => {
  const child = (birthDate: string) => ({ ...PATIENT, birthDate });

  it('below the lowest age of the sets of the panel, unless something speaks against a test', async () => {
    expect(await given({ patient: child('2025-06-01'), grip: [] })).toBeUndefined();
    expect(await given({ patient: child('2008-01-01'), grip: [] })).toBeDefined();
    const chart = { patient: child('2025-06-01'), grip: [], conditions: [condition(ICD, 'S52.501A')] };
    expect((await given(chart))?.indicator).toBe('warning');
  });

  it('is lost for a person whose age is not known', async () => {
    expect(await given({ patient: broken(PATIENT, 'birthDate', undefined), grip: [] })).toBeDefined();
  });

  it.each<[string, Chart]>([
    [
      'a hand that is absent',
      { conditions: [condition(ICD, 'Z89.112', { onsetDateTime: '1988', ...clinical('inactive') })] },
    ],
    ['an old fracture', { conditions: [condition(ICD, 'S52.501A', { onsetDateTime: '2023-10-01' })] }],
    ['an old infarction', { conditions: [condition(ICD, 'I21.9', { onsetDateTime: '2018-11-12' })] }],
    ['a delirium of years ago', { conditions: [condition(ICD, 'F05', { onsetDateTime: '2024-01-24' })] }],
    [
      'a hypertensive crisis of years ago',
      { conditions: [condition(ICD, 'I16.0', { onsetDateTime: '2020' })] },
    ],
  ])('of its own while nothing is due: %s', async (_name, chart) => {
    expect(await given(chart)).toBeUndefined();
    expect((await due(chart)).summary).not.toContain('nothing found');
  });

  it('but a question when a test is due: since when, and whether it is still so', async () => {
    const card = await due({ conditions: [condition(ICD, 'F05', { onsetDateTime: '2024-01-24' })] });
    expect(section(card, 'The person')).toMatch(
      /^- Ask: .* since 24 Jan 2024 \(Condition\/c-F05\)\. Is it still so\? /,
    );
    expect(card.indicator).toBe('info');
  });

  it('and an absent hand is named as soon as there is a card for something else', async () => {
    const card = await given({ conditions: [condition(ICD, 'Z89.112'), condition(ICD, 'F05')] });
    expect(card?.summary).toContain('delirium or drowsiness; left arm: hand absent');
  });
});

it('the footer names the rule by twelve characters of its digest, which the record has whole', async () => {
  const card = await due({});
  const { rule } = service.last().content as unknown as { rule: { digest: string } };
  expect(card.detail).toContain(`sha256 ${rule.digest.slice(0, 12)}; panel`);
  expect(card.detail).not.toContain(rule.digest);
  expect(rule.digest).toMatch(/^[0-9a-f]{64}$/);
});
