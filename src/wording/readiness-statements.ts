/** Readiness for a test as sentences, plain text: what speaks against which arm, from which record, and what is usual. */
import type { Hand } from '../interpret/measurement.ts';
import type { Readiness } from '../interpret/readiness.ts';
import type {
  CautionType,
  PastAs,
  ReadinessFinding,
  TestingCaution,
  UnusableRecord,
} from '../interpret/testing-caution.ts';
import { agoText, sinceText } from './readiness-dates.ts';
import { codeOf } from './readiness-short.ts';
import { capital, dateText, lowerFirst } from './statements.ts';

/** What the card is and what it is not. */
export const READINESS_USE =
  'It names what to weigh before a grip test; it forbids nothing and diagnoses nothing. Look at the arms and ask: only coded records of this call were read, by a list of codes that is not complete.';

/** Said on every card. Stop at pain: ASHT script and Health ABC; breathing out: NHANES. */
export const USUAL_PRACTICE =
  'Stop if it hurts. Breathe out while squeezing, without holding the breath. Chart which arm was tested and why.';

/** Where an arm or the person cannot do otherwise. */
export const BOTH_ARMS =
  'Both arms are cautioned: no arm is free by this record. Decide with the team; if no test is done, chart why.';
export const NEITHER_HAND = 'Neither hand can be tested. Chart that.';
export const NOT_KNOWN =
  'Not known: neither conditions nor procedures were available. Ask, and look at the arms.';

/** One record: what it is called by its code, since when, where it stands, and what it does not say. */
export function recordSentence(finding: ReadinessFinding, caution: TestingCaution): string {
  const known = [labelOf(finding, caution), sinceText(finding), stateText(finding)].filter(Boolean);
  return `${known.join(', ')} (${sourceText(finding)})`;
}

function sourceText({ reference, others }: ReadinessFinding): string {
  const older = others.length;
  if (older === 0) return referenceText(reference);
  const more = older === 1 ? 'one older record says' : `${older} older records say`;
  return `${referenceText(reference)}; ${more} the same`;
}

function labelOf(finding: ReadinessFinding, caution: TestingCaution): string {
  const { code } = finding;
  if (!code) return 'a procedure at this hand, of which only the body site was read';
  if (code.local !== undefined) return `charted here as ${code.local}`;
  // One spelling on one card: the labels of both code systems are American, the rule is British.
  return (
    codeOf(finding, caution)?.display.replace(SEMANTIC_TAG, '').replace(/edema/g, 'oedema') ?? caution.title
  );
}

function stateText({ state, pastAs }: ReadinessFinding): string {
  if (state === 'past' && pastAs) return PAST_AS[pastAs];
  return state === 'unconfirmed' ? 'not confirmed' : '';
}

const PAST_AS: Readonly<Record<PastAs, string>> = {
  resolved: 'charted as resolved',
  inactive: 'charted as inactive',
  remission: 'charted as in remission',
  ended: 'charted as ended',
};

const SEMANTIC_TAG = / \((?:disorder|finding|procedure)\)$/;

/** What a finding is by itself, with its arm where its label names none: for lists that are not by arm. */
function namedAlone(finding: ReadinessFinding, caution: TestingCaution): string {
  const code = codeOf(finding, caution);
  const hasArm = (finding.place === 'right' || finding.place === 'left') && !code?.hand;
  const where = hasArm ? `, ${finding.place} arm` : '';
  return `${code ? '' : `${caution.title}${where}: `}${recordSentence(finding, caution)}${code ? where : ''}`;
}

/** e.g. `Cerebral infarction, onset 10 Nov 2026, charted as resolved (Condition/a). Ask whether an arm stayed weak.` */
export function pastSentence(finding: ReadinessFinding, caution: TestingCaution): string {
  const { olderThan, wasPlanned } = finding;
  const said = olderThan === 'window' && caution.window ? `: more than ${caution.window.said}` : '';
  const done = wasPlanned ? ' The record does not say whether it was done.' : '';
  const ask = caution.askWhenPast ? ` ${caution.askWhenPast}.` : '';
  return `${namedAlone(finding, caution)}${said}.${done}${ask}`;
}

export function plannedSentence(finding: ReadinessFinding, caution: TestingCaution): string {
  return `${namedAlone(finding, caution)}.`;
}

/** Of an operation that was planned for a day that has come. */
export function maybeDoneSentence(finding: ReadinessFinding, caution: TestingCaution): string {
  const { code } = finding;
  const name = codeOf(finding, caution)?.display.replace(SEMANTIC_TAG, '') ?? caution.title;
  const local = code?.local === undefined ? '' : `charted here as ${code.local}, `;
  const what = code ? lowerFirst(name) : 'a procedure at this hand, of which only the body site was read,';
  const then = caution.practiceAlone ?? caution.practice;
  return `Ask: ${what} was ${sinceText(finding)} (${local}${sourceText(finding)}). The record does not say whether it was done. If it was: ${then}.`;
}

/** Without its version; a record without an id is known by its place in the call only. */
export function referenceText(reference: string): string {
  return reference.startsWith('#') ? 'a record without an id' : reference.replace(/\/_history\/.*$/, '');
}

/** What the record does not say, or what the side was taken from; in the order of importance. */
export function openQuestions(finding: ReadinessFinding, caution: TestingCaution): readonly string[] {
  const { noSide, dateCoarse } = finding;
  const remark = codeOf(finding, caution)?.remark;
  return [
    remark ? `The code ${remark}.` : '',
    finding.code === null ? 'Ask whether it was surgery.' : '',
    finding.dateMissing ? 'Without a date nobody can tell whether it is recent: ask.' : '',
    dateCoarse && caution.window
      ? `Only the ${dateCoarse} is recorded: ask whether it was in the past ${caution.window.said}.`
      : '',
    finding.olderThan === 'long-past' && caution.whenLongPast?.as === 'ask'
      ? caution.whenLongPast.question
      : '',
    finding.valueUnread ? 'Its value is not read here: look at the arm.' : '',
    caution.askCharted && finding.dateOf === 'charted' && (finding.daysAgo ?? 0) > 0
      ? `${caution.askCharted}.`
      : '',
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

/**
 * What is usually done and what that rests on.
 * @param isAlone the other arm is not free either
 */
export function practiceSentence(
  { practice, practiceAlone, basis, said }: TestingCaution,
  isAlone: boolean,
): string {
  return `Usual: ${isAlone ? (practiceAlone ?? practice) : practice} (${restsOn(basis, said)}).`;
}

/** Of a record that names no arm. */
export function unsidedPracticeSentence(caution: TestingCaution, isAlone: boolean): string {
  const { practiceUnsided, basis, said } = caution;
  if (!practiceUnsided || isAlone) return practiceSentence(caution, isAlone);
  return `${capital(practiceUnsided)} (${restsOn(basis, said)}).`;
}

function restsOn(basis: string, said: string | null): string {
  if (basis === 'published') return said ?? basis;
  return said ? `common practice; ${said}` : 'common practice, no source';
}

/** When grip was last measured, and when the next is suggested. */
export function measuredSentence({ last, next }: Readiness, isKnown: boolean, unread: UnreadGrip): string {
  if (!isKnown) return 'Not known: the grip measurements of this person could not be had.';
  if (!last) return `${capital(unreadText(unread) ?? NO_MEASUREMENT)}.`;
  const when = `${dateText(last.testedOn)} (${agoText(last.daysAgo)}), ${handsText(last.hands)}.`;
  const newer =
    unread.newest && unread.newest > last.testedOn
      ? ` A newer one of ${dateText(unread.newest)} was ${UNREAD}.`
      : '';
  if (!next) return `${when}${newer}`;
  const suggested = `By the rule of this panel the next is suggested from ${dateText(next.from)}`;
  return `${when}${newer} ${suggested}${next.isDue ? ': it is due.' : '.'}`;
}

/** Measurements that were sent and could not be used. */
export interface UnreadGrip {
  readonly count: number;
  /** `YYYY-MM-DD`, where one says its day. */
  readonly newest?: string | undefined;
}

export const NO_MEASUREMENT = 'no measurement found in what was sent';
export const UNREAD = 'charted, but not in a form that could be read';

/** Undefined where there are none: e.g. `charted, but not in a form that could be read (6 readings, newest 16 Nov 2026)`. */
export function unreadText({ count, newest }: UnreadGrip): string | undefined {
  if (count === 0) return undefined;
  const readings = count === 1 ? '1 reading' : `${count} readings`;
  return `${UNREAD} (${readings}${newest ? `, newest ${dateText(newest)}` : ''})`;
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
  uncoded: 'under no code of SNOMED CT or ICD-10-CM',
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
  grip: 'The record holds further grip measurements that were not sent.',
  handedness: 'The record holds further entries of handedness that were not sent.',
  conditions: 'The record holds further conditions that were not sent.',
  procedures: 'The record holds further procedures that were not sent.',
  devices: 'The record holds further devices that were not sent.',
  lines: 'The record holds further charted lines that were not sent.',
};

/** Of cautions that a site has to map. Without its lines nobody knows here what it maps, so only what was looked for is said. */
export function unmappedSentence({ id, title }: Pick<TestingCaution, 'id' | 'title'>): string {
  if (id === 'iv-line-in-arm') return 'Lines in the arm may not be found in this call: look at the arms.';
  return `${title} may not be found in this call: ask.`;
}
