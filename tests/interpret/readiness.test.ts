/** The core of readiness: which arm, which records still count, and whether the next measurement is due. */
import { describe, expect, it } from 'vitest';
import { daysFromTo, latestDayOf } from '../../src/interpret/age.ts';
import { assessReadiness, type GripSession, type ReadinessInput } from '../../src/interpret/readiness.ts';
import type { CautionRead } from '../../src/interpret/testing-caution.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS, US } from './build.ts';

const SNOMED = 'http://snomed.info/sct';
const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const found = loadLibrary(NORMS).findCautions();
if (!found) throw new Error('no rule of cautions');
const RULE = found;

const BOTH = ['right', 'left'] as const;
const TODAY = '2026-11-25';

function read(caution: string, parts: Partial<CautionRead> & { code?: [string, string] } = {}): CautionRead {
  const { code, ...rest } = parts;
  return {
    caution,
    reference: 'Condition/a',
    codes: code ? [{ system: code[0], code: code[1] }] : [],
    site: null,
    date: '2026-11-01',
    dateOf: 'onset',
    state: 'current',
    ...rest,
  };
}

const assess = (cautions: readonly CautionRead[], more: Partial<ReadinessInput> = {}) =>
  assessReadiness({ today: TODAY, cautions, sessions: [], ...more }, RULE, US.rules);
const places = (...args: Parameters<typeof assess>) =>
  assess(...args).findings.map(({ place, noSide }) => (noSide ? `${place} ${noSide}` : place));

describe('the arm', () => {
  it.each<[string, CautionRead, string[]]>([
    ['of a code that names a side', read('stroke-affected-side', { code: [ICD, 'G81.92'] }), ['left']],
    ['of a code that names both', read('carpal-tunnel', { code: [ICD, 'G56.03'] }), ['right', 'left']],
    ['of a body site', read('carpal-tunnel', { code: [SNOMED, '57406009'], site: 'right' }), ['right']],
    ['of two body sites', read('lymphoedema', { code: [ICD, 'I97.2'], site: 'both' }), ['right', 'left']],
    [
      'of a code and the same body site',
      read('carpal-tunnel', { code: [ICD, 'G56.01'], site: 'right' }),
      ['right'],
    ],
    [
      'of a code for both and one body site',
      read('carpal-tunnel', { code: [ICD, 'G56.03'], site: 'left' }),
      ['left'],
    ],
    ['where nothing names one', read('lymphoedema', { code: [ICD, 'I97.2'] }), ['side-unknown none']],
    [
      'of a body site that is not read',
      read('lymphoedema', { code: [ICD, 'I97.2'], siteUnread: true }),
      ['side-unknown unread'],
    ],
    [
      'of a code and another body site',
      read('carpal-tunnel', { code: [ICD, 'G56.01'], site: 'left' }),
      ['side-unknown contradiction'],
    ],
    [
      'of a lesion of the brain is not that of its body site',
      read('stroke-affected-side', { code: [ICD, 'I63.9'], site: 'right' }),
      ['side-unknown lesion'],
    ],
    [
      'of a lesion without a side',
      read('stroke-affected-side', { code: [SNOMED, '230690007'] }),
      ['side-unknown none'],
    ],
    ['of a finding of the whole person', read('delirium-or-sedation', { code: [ICD, 'F05'] }), ['person']],
  ])('%s', (_name, record, expected) => {
    expect(places([record])).toEqual(expected);
  });

  it('of a record with a lesion and a side by another code is that of the other code', () => {
    const codes = [
      { system: ICD, code: 'I63.9' },
      { system: ICD, code: 'G81.94' },
    ];
    expect(places([read('stroke-affected-side', { codes, site: 'right' })])).toEqual([
      'side-unknown contradiction',
    ]);
    expect(places([read('stroke-affected-side', { codes })])).toEqual(['left']);
  });

  it.each([
    ['442676003', 'right', ['right']],
    ['442676003', 'left', ['left']],
    ['442668000', 'right', ['left']],
    ['442668000', 'left', ['right']],
    ['442676003', 'both', ['side-unknown handedness']],
    ['442676003', undefined, ['side-unknown handedness']],
  ] as const)(
    'by dominance: SNOMED CT %s of a person whose dominant hand is %s',
    (code, dominant, expected) => {
      const cautions = [read('stroke-affected-side', { code: [SNOMED, code] })];
      const result = assess(cautions, { dominant });
      expect(places(cautions, { dominant })).toEqual(expected);
      expect(result.findings[0]?.byHandedness).toBe(
        expected[0] === 'right' || expected[0] === 'left' ? true : undefined,
      );
    },
  );

  it.each([
    ['G81.91', 'left', true],
    ['G81.91', 'right', undefined],
    ['G81.93', 'right', true],
    ['I69.354', 'left', true],
    ['I69.354', 'right', undefined],
    ['I69.354', 'both', undefined],
  ] as const)(
    'stays that of the code where %s and a recorded %s hand differ, and that is marked',
    (code, dominant, marked) => {
      const [finding] = assess([read('stroke-affected-side', { code: [ICD, code] })], { dominant }).findings;
      expect(finding?.place).toBe(code === 'I69.354' ? 'left' : 'right');
      expect(finding?.handednessDiffers).toBe(marked);
    },
  );
});

describe('surgery of a hand', () => {
  const operated = (date: string | null) =>
    assess([read('recent-hand-surgery', { site: 'left', date, dateOf: date ? 'performed' : null })]).findings;

  it.each([
    ['2026-11-25', 0],
    ['2026-08-25', 92],
  ])('on %s still counts', (date, daysAgo) => {
    expect(operated(date)).toMatchObject([{ place: 'left', weight: 'against', daysAgo }]);
  });

  it.each(['2026-08-24', '2025-11-25', '2026-07', '2025'])('on %s is past, and still listed', (date) => {
    expect(operated(date)).toMatchObject([{ state: 'past', olderThan: 'window', date }]);
  });

  it.each([
    ['2026-08', 'month'],
    ['2026', 'year'],
  ])('of which only %s is known may still be recent: that is asked', (date, dateCoarse) => {
    expect(operated(date)).toMatchObject([{ state: 'current', weight: 'ask', date, dateCoarse }]);
    expect(operated(date)[0]?.daysAgo).toBeUndefined();
  });

  it('of which the month is known, and all of it is recent, counts as it is', () => {
    expect(operated('2026-10')).toMatchObject([{ state: 'current', weight: 'against' }]);
    expect(operated('2026-10')[0]?.dateCoarse).toBeUndefined();
  });

  it('without a date asks', () => {
    expect(operated(null)).toMatchObject([{ weight: 'ask', dateMissing: true }]);
  });
});

describe('a record', () => {
  it.each<[string, string, string[]]>([
    ['absent-hand', 'Z89.112', ['current']],
    ['recent-hand-fracture', 'S52.502A', ['past']],
    ['hand-wrist-pain', 'M79.642', []],
    ['neuromuscular-disease', 'G35', ['past']],
    ['delirium-or-sedation', 'F05', []],
  ])('that is past: %s', (caution, code, states) => {
    const { findings } = assess([read(caution, { code: [ICD, code], state: 'past' })]);
    expect(findings.map(({ state }) => state)).toEqual(states);
  });

  it('of an old date still counts where the rule does not ask about it for its age', () => {
    expect(
      assess([read('stroke-affected-side', { code: [ICD, 'G81.92'], date: '1999-05-01' })]).findings,
    ).toMatchObject([{ weight: 'against', daysAgo: daysFromTo('1999-05-01', TODAY) }]);
  });

  it.each<[string, [string, string] | undefined]>([
    ['recent-hand-fracture', [ICD, 'S52.502A']],
    ['recent-mi', [ICD, 'I21.9']],
    ['delirium-or-sedation', [ICD, 'F05']],
    ['uncontrolled-hypertension', [ICD, 'I16.0']],
  ])('of acute illness (%s) is asked about after a year, and warns until then', (caution, code) => {
    const on = (date: string) => assess([read(caution, { ...(code ? { code } : {}), date })]).findings;
    expect(on('2025-11-25')).toMatchObject([{ weight: 'against', daysAgo: 365 }]);
    expect(on('2025-11-25')[0]?.olderThan).toBeUndefined();
    expect(on('2025-11-24')).toMatchObject([{ weight: 'ask', olderThan: 'long-past', state: 'current' }]);
    // The end of the year may be within it.
    expect(on('2025')).toMatchObject([{ weight: 'against' }]);
    expect(on('2024')).toMatchObject([{ weight: 'ask' }]);
  });

  it('of an operation of eye or abdomen is past after a year', () => {
    const on = (date: string) =>
      assess([read('recent-eye-or-abdominal-surgery', { date, dateOf: 'performed' })]).findings[0]?.state;
    expect([on('2025-11-25'), on('2025-11-24')]).toEqual(['current', 'past']);
  });

  it.each([
    ['2026-11-26', 'planned'],
    ['2026-11-25', 'maybe-done'],
    ['2026-11-01', 'maybe-done'],
    ['2026-11', 'maybe-done'],
    ['2026-12', 'planned'],
    ['2026-08-24', 'past'],
    [null, 'planned'],
  ])('that was planned for %s is %s', (date, state) => {
    const [finding] = assess([
      read('recent-hand-surgery', {
        site: 'right',
        state: 'planned',
        date,
        dateOf: date ? 'performed' : null,
      }),
    ]).findings;
    expect(finding).toMatchObject({ state, weight: 'ask', wasPlanned: true });
  });

  it('that is planned, of a value that is not read or known by its body site only asks', () => {
    for (const parts of [{ state: 'planned' }, { valueUnread: true }, { bySiteOnly: true }] as const)
      expect(
        assess([read('dialysis-access', { code: [SNOMED, '48765000'], ...parts })]).findings[0]?.weight,
      ).toBe('ask');
  });

  it('of several codes has the weight of the one that says most', () => {
    const codes = [
      { system: ICD, code: 'M06.9' },
      { system: SNOMED, code: '201791009' },
    ];
    expect(assess([read('arthritis-flare', { codes })]).findings).toMatchObject([
      { weight: 'against', code: { code: '201791009' } },
    ]);
  });

  it('that says the same as a newer one of the same code and place is named with it', () => {
    const sessions = ['2026-11-19', '2026-11-23', '2026-11-21'].map((date, index) =>
      read('dialysis-access', { code: [SNOMED, '302497006'], reference: `Procedure/${index}`, date }),
    );
    expect(assess(sessions).findings).toMatchObject([
      { reference: 'Procedure/1', others: ['Procedure/2', 'Procedure/0'] },
    ]);
  });
});

describe('the answer', () => {
  it('has what speaks against a test first, then care, then what asks', () => {
    const cautions = [
      read('arthritis-flare', { code: [ICD, 'M10.9'] }),
      read('neuromuscular-disease', { code: [ICD, 'G35'] }),
      read('delirium-or-sedation', { code: [ICD, 'F05'] }),
    ];
    expect(assess(cautions).findings.map(({ weight }) => weight)).toEqual(['against', 'care', 'ask']);
  });

  it('does not depend on the order of the records', () => {
    const cautions = ['M10.9', 'M06.9', 'M19.041'].map((code, index) =>
      read('arthritis-flare', {
        code: [ICD, code],
        reference: `Condition/${index}`,
        date: index === 1 ? null : '2026-01',
      }),
    );
    const same = cautions.map((each) => ({ ...each, reference: `${each.reference}-b` }));
    const all = [...cautions, ...same];
    const sorted = (list: readonly CautionRead[]) =>
      assess(list)
        .findings.map((finding) => JSON.stringify(finding))
        .sort();
    expect(sorted([...all].reverse())).toEqual(sorted(all));
  });
});

describe('the next measurement', () => {
  const due = (sessions: readonly GripSession[] | null, rules = US.rules) => {
    const { last, next, isDue } = assessReadiness({ today: TODAY, cautions: [], sessions }, RULE, rules);
    return { last, next, isDue };
  };

  it.each([
    ['2026-11-11', '2026-11-25', true],
    ['2026-11-12', '2026-11-26', false],
    ['2026-11-25', '2026-12-09', false],
    ['2025-11-25', '2025-12-09', true],
  ])('after one of %s is suggested from %s: due is %s', (testedOn, from, isDue) => {
    const daysAgo = daysFromTo(testedOn, TODAY);
    expect(due([{ testedOn, hands: BOTH }])).toEqual({
      last: { testedOn, hands: ['right', 'left'], daysAgo },
      next: { from, isDue },
      isDue,
    });
  });

  it('is due where nothing was measured yet, and not known where nothing could be read', () => {
    expect(due([])).toEqual({ last: null, next: null, isDue: true });
    expect(due(null)).toEqual({ last: null, next: null, isDue: false });
  });

  it('is not spoken of where the panel has no such rule', () => {
    const { nextMeasurement: _, ...others } = US.rules;
    expect(due([{ testedOn: '2020-01-01', hands: ['right'] }], others)).toMatchObject({
      next: null,
      isDue: false,
    });
  });

  it('counts from the latest day, with the hands of all its sessions', () => {
    const sessions: GripSession[] = [
      { testedOn: '2026-11-01', hands: BOTH },
      { testedOn: '2026-11-20', hands: ['left'] },
      { testedOn: '2026-11-20', hands: ['right'] },
    ];
    expect(due(sessions).last).toEqual({ testedOn: '2026-11-20', hands: ['right', 'left'], daysAgo: 5 });
  });
});

describe('days', () => {
  it.each([
    ['2026-02-28', '2026-03-01', 1],
    ['2024-02-28', '2024-03-01', 2],
    ['1999-12-31', '2000-03-01', 61],
    ['2026-03-01', '2026-02-28', -1],
    ['2000-02-29', '2026-11-25', (Date.parse('2026-11-25') - Date.parse('2000-02-29')) / 86_400_000],
  ])('from %s to %s are %s', (from, to, days) => {
    expect(daysFromTo(from, to)).toBe(days);
  });

  it.each([
    ['2026', '2026-12-31'],
    ['2024-02', '2024-02-29'],
    ['2026-02-30', undefined],
    ['2026-13', undefined],
    ['', undefined],
  ])('%s may be as late as %s', (text, day) => {
    expect(latestDayOf(text)).toBe(day);
  });
});
