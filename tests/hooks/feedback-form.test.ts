/** The body of a feedback call: what is read and what is refused (STANDARDS F1, F2, F5, E2, J2, J6). */
import fhirpath from 'fhirpath';
import { describe, expect, it } from 'vitest';
import { RequestError } from '../../src/errors.ts';
import { LONGEST_COMMENT, MOST_ENTRIES, readFeedback, readUtc } from '../../src/hooks/feedback-form.ts';
import { broken } from '../fixtures.ts';
import { PUBLISHED_FEEDBACK, PUBLISHED_INVARIANTS } from './published-feedback.ts';

const [ACCEPTED, OVERRIDDEN, REASONED] = PUBLISHED_FEEDBACK;
const CARD = OVERRIDDEN.feedback[0].card;

/** Names of the published invariants that a body does not meet. */
function unmet(body: object): readonly string[] {
  return Object.entries(PUBLISHED_INVARIANTS).flatMap(([name, { of, expression }]) => {
    const [holds] = fhirpath.evaluate(body, `${of}.all(${expression})`) as readonly unknown[];
    return holds === true ? [] : [name];
  });
}

function refusedAt(body: unknown): readonly (string | null)[] {
  try {
    readFeedback(body);
  } catch (fault) {
    if (fault instanceof RequestError && fault.code === 'BODY_INVALID')
      return fault.issues.map(({ expression }) => expression);
    throw fault;
  }
  return [];
}

/** A body of one entry that was overridden, with these members besides. */
const withMembers = (members: object) => ({ feedback: [{ ...OVERRIDDEN.feedback[0], ...members }] });
const withReason = (overrideReason: unknown) => withMembers({ overrideReason });

/** Valid by the specification, each with something that clients do. */
const VALID: readonly (readonly [string, object])[] = [
  ['F2: the published example that accepts', ACCEPTED],
  ['F2: the published example that overrides without a reason', OVERRIDDEN],
  ['F5: the published example with a reason, which has no display', REASONED],
  ['F1: no entry', { feedback: [] }],
  [
    'F3: all published entries in one call',
    { feedback: PUBLISHED_FEEDBACK.flatMap((body): readonly object[] => body.feedback) },
  ],
  ['F3: the same card twice', { feedback: [...OVERRIDDEN.feedback, ...OVERRIDDEN.feedback] }],
  ['F2: a comment alone', withReason({ userComment: 'Measured again tomorrow.\n\tLeft arm.' })],
  ['E2: a reason with its display', withReason({ reason: { system: 'urn:x', code: 'a', display: 'Other' } })],
  ['F2: suggestions beside overridden', withMembers({ acceptedSuggestions: [{ id: CARD }] })],
  ['F2: no suggestion beside overridden', withMembers({ acceptedSuggestions: [] })],
  ['F2: a reason beside accepted', broken(ACCEPTED, 'feedback.0.overrideReason', { userComment: 'in part' })],
  ['F2: an upper-case uuid', withMembers({ card: CARD.toUpperCase() })],
  ['J6: members that are not known', { ...withMembers({ extension: { a: null } }), vendor: [1] }],
  ['F2: a comment of the greatest length', withReason({ userComment: 'x'.repeat(LONGEST_COMMENT) })],
  ['F1: as many entries as are taken', { feedback: Array(MOST_ENTRIES).fill(OVERRIDDEN.feedback[0]) }],
];

describe('a valid body', () => {
  it.each(VALID)('%s is read and meets the published invariants', (_name, body) => {
    expect(unmet(body)).toEqual([]);
    expect(refusedAt(body)).toEqual([]);
  });

  it('F2: is read as it was sent, with uuids in lower case', () => {
    const [entry] = readFeedback(
      broken(REASONED, 'feedback.0.card', REASONED.feedback[0].card.toUpperCase()),
    );
    expect(JSON.parse(JSON.stringify(entry))).toEqual(REASONED.feedback[0]);
    const upper = broken(ACCEPTED, 'feedback.0.acceptedSuggestions.0.id', CARD.toUpperCase());
    expect(readFeedback(upper)[0]?.acceptedSuggestions).toEqual([CARD]);
  });
});

/** What breaks a published invariant: the library and we must say so of the same bodies. */
const UNMET: readonly (readonly [string, object, string])[] = [
  ['cds-fb-1', broken(OVERRIDDEN, 'feedback.0.outcome', 'ignored'), 'request.feedback[0].outcome'],
  ['cds-fb-1', broken(OVERRIDDEN, 'feedback.0.outcome', 'Accepted'), 'request.feedback[0].outcome'],
  [
    'cds-fb-2',
    broken(OVERRIDDEN, 'feedback.0.outcome', 'accepted'),
    'request.feedback[0].acceptedSuggestions',
  ],
  [
    'cds-fb-2',
    broken(ACCEPTED, 'feedback.0.acceptedSuggestions', []),
    'request.feedback[0].acceptedSuggestions',
  ],
  ['cds-fb-3', withReason({ extension: {} }), 'request.feedback[0].overrideReason'],
];

describe('a body that does not meet a published invariant', () => {
  it.each(UNMET)('F2: %s: is refused and the element is named', (invariant, body, element) => {
    expect(unmet(body)).toEqual([invariant]);
    expect(refusedAt(body)).toEqual([element]);
  });
});

const at = 'request.feedback[0]';
const MUTANTS: readonly (readonly [string, unknown, string])[] = [
  ['F1: no object', [], 'request'],
  ['F1: nothing at all', undefined, 'request'],
  ['F1: without feedback', {}, 'request.feedback'],
  ['F1: feedback that is an object', { feedback: {} }, 'request.feedback'],
  ['J2: feedback that is null', { feedback: null }, 'request.feedback'],
  ['F1: an entry that is a text', { feedback: ['accepted'] }, at],
  [
    'F1: more entries than are taken',
    { feedback: Array(MOST_ENTRIES + 1).fill(OVERRIDDEN.feedback[0]) },
    'request.feedback',
  ],
  ['F2: without card', withMembers({ card: undefined }), `${at}.card`],
  ['F2: a card that is no uuid', withMembers({ card: 'card-1' }), `${at}.card`],
  ['F2: a card with a prefix', withMembers({ card: `urn:uuid:${CARD}` }), `${at}.card`],
  ['F2: without outcome', withMembers({ outcome: undefined }), `${at}.outcome`],
  ['F2: without outcomeTimestamp', withMembers({ outcomeTimestamp: undefined }), `${at}.outcomeTimestamp`],
  ['F2: a time that is a number', withMembers({ outcomeTimestamp: 1607644800 }), `${at}.outcomeTimestamp`],
  [
    'F2: a suggestion without id',
    broken(ACCEPTED, 'feedback.0.acceptedSuggestions.0', {}),
    `${at}.acceptedSuggestions[0].id`,
  ],
  [
    'F2: a suggestion that is a text',
    withMembers({ acceptedSuggestions: [CARD] }),
    `${at}.acceptedSuggestions[0]`,
  ],
  ['J2: suggestions that are null', withMembers({ acceptedSuggestions: null }), `${at}.acceptedSuggestions`],
  ['J2: an overrideReason that is null', withReason(null), `${at}.overrideReason`],
  [
    'E2: a reason without system',
    withReason({ reason: { code: 'a' } }),
    `${at}.overrideReason.reason.system`,
  ],
  [
    'E2: a reason without code',
    withReason({ reason: { system: 'urn:x' } }),
    `${at}.overrideReason.reason.code`,
  ],
  ['E2: a reason that is a text', withReason({ reason: 'other' }), `${at}.overrideReason.reason`],
  ['J3: an empty comment', withReason({ userComment: '' }), `${at}.overrideReason.userComment`],
  [
    'F2: a comment that is too long',
    withReason({ userComment: 'x'.repeat(LONGEST_COMMENT + 1) }),
    `${at}.overrideReason.userComment`,
  ],
  ['F2: a comment with a NUL', withReason({ userComment: 'a\u0000b' }), `${at}.overrideReason.userComment`],
  [
    'F2: a comment with an escape sequence',
    withReason({ userComment: '\u001b[31m' }),
    `${at}.overrideReason.userComment`,
  ],
  [
    'E2: a code with a line end',
    withReason({ reason: { system: 'urn:x', code: 'a\nb' } }),
    `${at}.overrideReason.reason.code`,
  ],
];

describe('a mutant of a valid body', () => {
  it.each(MUTANTS)('%s: is refused and the element is named', (_name, body, element) => {
    expect(refusedAt(body)).toEqual([element]);
  });
});

describe('outcomeTimestamp', () => {
  it.each([
    ['2020-12-11T00:00:00Z', 1607644800000],
    ['2020-12-11T00:00:00+00:00', 1607644800000],
    ['2020-12-11T00:00:00-00:00', 1607644800000],
    ['2020-12-11t00:00:00z', 1607644800000],
    ['2020-12-11T00:00:00.5Z', 1607644800500],
    ['2020-12-11T00:00:00.123456789Z', 1607644800123],
    ['2024-02-29T23:59:59Z', 1709251199000],
    // The example of RFC 3339, section 5.8.
    ['1990-12-31T23:59:60Z', 662688000000],
  ])('F2: %s is a moment of RFC 3339 in UTC', (text, moment) => {
    expect(readUtc(text)).toBe(moment);
    expect(refusedAt(withMembers({ outcomeTimestamp: text }))).toEqual([]);
  });

  it.each([
    '2020-12-11',
    '2020-12-11T00:00Z',
    '2020-12-11T00:00:00',
    '2020-12-11 00:00:00Z',
    '2020-12-11T01:00:00+01:00',
    '2020-12-11T00:00:00+0000',
    '2021-02-29T00:00:00Z',
    '2020-04-31T00:00:00Z',
    '2020-13-01T00:00:00Z',
    '2020-12-11T24:00:00Z',
    '2020-12-11T00:60:00Z',
    '2020-12-11T00:00:60Z',
    '2020-12-11T00:00:00.Z',
    '2020-12-11T00:00:00Z ',
    '+012020-12-11T00:00:00Z',
    '',
  ])('F2: "%s" is none, and refused', (text) => {
    expect(refusedAt(withMembers({ outcomeTimestamp: text }))).toEqual([`${at}.outcomeTimestamp`]);
  });

  it('F2: a moment that is long gone, or ahead, is taken: clocks differ', () => {
    for (const outcomeTimestamp of ['0001-01-01T00:00:00Z', '9999-12-31T23:59:59Z'])
      expect(refusedAt(withMembers({ outcomeTimestamp }))).toEqual([]);
  });
});
