/** Readiness for a test as sentences, plain text: what speaks against which arm, from which record, and what is usual. */
import type { Hand } from '../interpret/measurement.ts';
import type { Readiness } from '../interpret/readiness.ts';
import type {
  CautionType,
  ReadinessFinding,
  TestingCaution,
  UnusableRecord,
} from '../interpret/testing-caution.ts';
import { dateText, lowerFirst } from './statements.ts';

/** Days up to which it is also said how many days ago something was. */
const COUNTED_DAYS = 100;

/** What the card is and what it is not. */
export const READINESS_USE =
  'It names what to weigh before a grip test; it forbids nothing and diagnoses nothing. Look at the arms and ask: only coded records of this call were read, by a list of codes that is not complete.';

/** Said on every card. Stop at pain: ASHT script and Health ABC; breathing out: NHANES. */
export const USUAL_PRACTICE =
  'Stop if it hurts. Breathe out while squeezing, without holding the breath. Chart which arm was tested and why.';

/** One record: what it is called by its code, since when, where it stands, and what it does not say. */
export function recordSentence(finding: ReadinessFinding, caution: TestingCaution): string {
  const known = [labelOf(finding, caution), dateOf(finding), stateText(finding)].filter(Boolean).join(', ');
  const older = finding.others.length;
  const more =
    older === 0
      ? ''
      : older === 1
        ? '; one older record says the same'
        : `; ${older} older records say the same`;
  return `${known} (${referenceText(finding.reference)}${more})`;
}

function labelOf({ code }: ReadinessFinding, caution: TestingCaution): string {
  if (!code) return 'a procedure at this hand, of which only the body site was read';
  if (code.local !== undefined) return `site code ${code.local}`;
  const own = caution.codes.find((each) => each.system === code.system && each.code === code.code);
  return own?.display.replace(SEMANTIC_TAG, '') ?? caution.title;
}

function stateText({ state }: ReadinessFinding): string {
  return state === 'planned' ? 'not done yet' : state === 'unconfirmed' ? 'not confirmed' : '';
}

const SEMANTIC_TAG = / \((?:disorder|finding|procedure)\)$/;

const SINCE: Readonly<Record<NonNullable<ReadinessFinding['dateOf']>, string>> = {
  onset: 'since',
  recorded: 'recorded',
  performed: 'performed',
  charted: 'charted',
};

function dateOf({ date, dateOf: kind, daysAgo, state }: ReadinessFinding): string {
  if (date === null || kind === null) return state === 'planned' ? 'planned' : 'no date in the record';
  const word = state === 'planned' ? 'planned for' : SINCE[kind];
  const ago = daysAgo === undefined || daysAgo < 0 || daysAgo > COUNTED_DAYS ? '' : ` (${agoText(daysAgo)})`;
  return `${word} ${partialDateText(date)}${ago}`;
}

export function agoText(days: number): string {
  return days < 1 ? 'today' : days === 1 ? '1 day ago' : `${days} days ago`;
}

/** `2024` stays; `2024-03` -> `Mar 2024`. */
export function partialDateText(date: string): string {
  if (date.length === 10) return dateText(date);
  return date.length === 7 ? dateText(`${date}-01`).replace(/^1 /, '') : date;
}

/** Without its version; a record without an id is known by its place in the call only. */
export function referenceText(reference: string): string {
  return reference.startsWith('#') ? 'a record without an id' : reference.replace(/\/_history\/.*$/, '');
}

/** What the record does not say, or what the side was taken from; in the order of importance. */
export function openQuestions(finding: ReadinessFinding, caution: TestingCaution): readonly string[] {
  const { code, noSide } = finding;
  const own = caution.codes.find((each) => each.system === code?.system && each.code === code?.code);
  return [
    own?.remark ? `The code ${own.remark}.` : '',
    finding.code === null ? 'Ask whether it was surgery.' : '',
    finding.dateMissing ? 'Without a date nobody can tell whether it is recent: ask.' : '',
    finding.valueUnread ? 'Its value is not read here: look at the arm.' : '',
    noSide ? NO_SIDE[noSide] : '',
    finding.byHandedness ? 'The side follows from the hand that writes.' : '',
    finding.handednessDiffers ? 'The code and the record name different dominant hands: check the side.' : '',
  ].filter(Boolean);
}

const NO_SIDE: Readonly<Record<NonNullable<ReadinessFinding['noSide']>, string>> = {
  none: '',
  unread: 'It names a body site that is not read here: see the record.',
  lesion: 'Its side may be that of the lesion and not of the weak arm.',
  contradiction: 'Its codes name both sides.',
  handedness: 'It names the side by dominance, and the record does not say which hand writes.',
};

/** What is usually done and what that rests on. */
export function practiceSentence({ practice, basis, said }: TestingCaution): string {
  const rests =
    basis === 'published'
      ? (said ?? basis)
      : said
        ? `common practice; ${said}`
        : 'common practice, no source';
  return `Usual: ${practice} (${rests}).`;
}

/** When grip was last measured, and when the next is suggested. */
export function measuredSentence({ last, next }: Readiness, isKnown: boolean): string {
  if (!isKnown) return 'Not known: the grip measurements of this person could not be had.';
  if (!last) return 'Never, in the data of this call.';
  const when = `${dateText(last.testedOn)} (${agoText(last.daysAgo)}), ${handsText(last.hands)}.`;
  if (!next) return when;
  const suggested = `By the rule of this panel the next is suggested from ${dateText(next.from)}`;
  return `${when} ${suggested}${next.isDue ? ': it is due.' : '.'}`;
}

export function handsText(hands: readonly Hand[]): string {
  return hands.length === 2 ? 'both hands' : `${hands[0] ?? 'no'} hand only`;
}

/** e.g. `2 Conditions that may matter could not be read.` */
export function unusableSentences(records: readonly UnusableRecord[]): readonly string[] {
  const groups = new Map<string, UnusableRecord[]>();
  for (const record of records) {
    const key = `${record.type} ${record.why}`;
    groups.set(key, [...(groups.get(key) ?? []), record]);
  }
  return [...groups.values()].flatMap((group) => {
    const [first] = group;
    if (!first) return [];
    const named = group.flatMap(({ reference }) => (reference ? [referenceText(reference)] : []));
    const shown = named.slice(0, 3).join(', ');
    const where = shown ? ` (${shown}${named.length > 3 ? ', and others' : ''})` : '';
    const what =
      group.length === 1
        ? `One ${first.type} that may matter was`
        : `${group.length} ${PLURAL[first.type]} that may matter were`;
    return [`${what} not used: ${WHY[first.why]}${where}.`];
  });
}

const PLURAL: Readonly<Record<CautionType, string>> = {
  Condition: 'Conditions',
  Procedure: 'Procedures',
  Device: 'Devices',
  Observation: 'Observations',
};

const WHY: Readonly<Record<UnusableRecord['why'], string>> = {
  malformed: 'it is malformed',
  modifier: 'it carries rules or an extension that may change its meaning',
  subject: 'it does not say whose it is',
  future: 'its date is in the future',
  status: 'of its status',
};

/** What could not be looked for, by the prefetch key that was missing. */
export const MISSING_SENTENCES: Readonly<Record<string, string>> = {
  conditions:
    'Conditions were not available: pain, fracture, stroke, lymphoedema, delirium and other diagnoses could not be looked for.',
  procedures: 'Procedures were not available: recent surgery and dialysis access could not be looked for.',
  devices: 'Devices were not available: lines and access charted as devices could not be looked for.',
  lines: 'Charted lines and access were not available: look at the arms.',
  grip: 'Grip measurements were not available: when it was last measured is not known.',
  handedness: 'Handedness was not available.',
};

export const MORE_SENTENCES: Readonly<Record<string, string>> = {
  conditions: 'The record holds further conditions that were not sent.',
  procedures: 'The record holds further procedures that were not sent.',
  devices: 'The record holds further devices that were not sent.',
  lines: 'The record holds further charted lines that were not sent.',
};

/** Of cautions that a site has to map; any other is named by its title. */
export function unmappedSentence({ id, title }: Pick<TestingCaution, 'id' | 'title'>): string {
  if (id === 'recent-hand-surgery')
    return 'This installation maps no code of its own for hand surgery: it is found by the body site of a procedure only, so ask.';
  return `This installation maps no code of its own for ${lowerFirst(title)}: look at the arms.`;
}
