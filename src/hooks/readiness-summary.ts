/** The one line of a readiness card: the person first, then the arms, then what names no side. */
import type { Assessment } from '../assessment.ts';
import { HANDS } from '../interpret/measurement.ts';
import type { Place, ReadinessFinding } from '../interpret/testing-caution.ts';
import { codeOf, shortText } from '../wording/readiness-short.ts';
import {
  BOTH_ARMS,
  NEITHER_HAND,
  NO_MEASUREMENT,
  UNREAD,
  unreadText,
} from '../wording/readiness-statements.ts';
import { capital, dateText } from '../wording/statements.ts';
import {
  againstNow,
  areBothAbsent,
  areBothCautioned,
  armsNamed,
  cautionOf,
  isAnswered,
  isCurrent,
  isWholeChart,
  RECORD_KEYS,
} from './readiness-weight.ts';

/** CDS Hooks 2.0.1: fewer than 140 characters. */
const SUMMARY_LIMIT = 140;

const ORDER: readonly Place[] = ['person', ...HANDS, 'side-unknown'];
const PLACES: Readonly<Record<Place, string>> = {
  person: 'the person',
  right: 'right arm',
  left: 'left arm',
  'side-unknown': 'an arm whose side is not recorded',
};

export function warningSummary(assessment: Assessment): string {
  if (areBothAbsent(assessment)) return NEITHER_HAND;
  const against = againstNow(assessment);
  const at = (place: Place) => against.filter((finding) => finding.place === place);
  const person = shortsOf(assessment, at('person')).join(', ');
  const arms = HANDS.flatMap((hand) => clause(PLACES[hand], shortsOf(assessment, at(hand))));
  if (areBothCautioned(assessment)) return bothSummary(person, arms.join('; '));
  const clauses = [person, ...arms, ...unsidedClauses(assessment, at('side-unknown'))].filter(Boolean);
  const places = ORDER.filter((place) => at(place).length > 0).map((place) => PLACES[place]);
  return fitting([
    `Before a grip test: ${clauses.join('; ')}. ${dueText(assessment)}`,
    `Before a grip test: ${clauses.join('; ')}.`,
    `Before a grip test, see the detail for: ${places.join(', ')}.`,
  ]);
}

const clause = (place: string, shorts: readonly string[]) =>
  shorts.length > 0 ? [`${place}: ${shorts.join(', ')}`] : [];

function bothSummary(person: string, arms: string): string {
  const [fact = ''] = BOTH_ARMS.split(/(?<=\.) /);
  const lead = person === '' ? '' : `Before a grip test: ${person}. `;
  return fitting([
    `${lead}${BOTH_ARMS} ${capital(arms)}.`,
    `${lead}${BOTH_ARMS}`,
    `${lead}${fact} Decide with the team.`,
    `${lead}${fact}`,
    `${fact} Decide with the team; see the detail for the person too.`,
  ]);
}

/** An arm that another record of the same caution names is not asked for here, but in the detail. */
function unsidedClauses(assessment: Assessment, unsided: readonly ReadinessFinding[]): readonly string[] {
  const open = unsided.filter(({ caution }) => armsNamed(assessment, caution).length === 0);
  const asks = open.flatMap((finding) => {
    const caution = cautionOf(assessment, finding);
    const ask = caution && codeOf(finding, caution)?.askUnsided;
    return caution && ask ? [{ finding, said: `${shortText(finding, caution)}; ${ask}` }] : [];
  });
  const others = open.filter((finding) => !asks.some((each) => each.finding === finding));
  const isAsked = (short: string) => asks.some(({ said }) => said.startsWith(`${short};`));
  const shorts = shortsOf(assessment, others).filter((short) => !isAsked(short));
  return [...clause('side not recorded', shorts), ...new Set(asks.map(({ said }) => said))];
}

/** In the order of the rule, each once. */
function shortsOf({ rule }: Assessment, findings: readonly ReadinessFinding[]): readonly string[] {
  const shorts = rule.cautions.flatMap((caution) =>
    findings.filter((finding) => finding.caution === caution.id).map((each) => shortText(each, caution)),
  );
  return [...new Set(shorts)];
}

function unreadOf({ gaps }: Assessment): string | undefined {
  return unreadText({ count: gaps.gripUnused, newest: gaps.gripUnusedNewest });
}

function dueText(assessment: Assessment): string {
  const { readiness, input } = assessment;
  const { last, next } = readiness;
  if (input.sessions === null) return 'Last measurement not known.';
  if (!last) return `${capital(unreadOf(assessment) ? `grip ${UNREAD}` : NO_MEASUREMENT)}.`;
  if (!next) return `Last measured ${dateText(last.testedOn)}.`;
  return next.isDue
    ? `Next measurement due since ${dateText(next.from)}.`
    : `Next measurement from ${dateText(next.from)}.`;
}

/** The longest first. */
function starts(assessment: Assessment): readonly string[] {
  const { readiness, input } = assessment;
  const unread = unreadOf(assessment);
  const said = readiness.next
    ? [`next measurement due since ${dateText(readiness.next.from)}`]
    : input.sessions === null
      ? ['last measurement not known']
      : unread
        ? [unread, UNREAD]
        : [NO_MEASUREMENT];
  return said.map((each) => `Grip strength: ${each}`);
}

export function dueSummary(assessment: Assessment): string {
  const current = assessment.readiness.findings.filter(isCurrent);
  const named = shortsOf(
    assessment,
    current.filter((finding) => !isAnswered(assessment, finding)),
  );
  const gap = isWholeChart(assessment) ? '' : gapText(assessment);
  const options = starts(assessment).map((start) =>
    named.length === 0 ? clearOptions(assessment, start, gap) : namedOptions(start, named, gap),
  );
  // What is missing is left out only where no shorter start makes room for it.
  const longest = Math.max(...options.map((each) => each.length));
  return fitting(
    Array.from({ length: longest }, (_, index) => options.flatMap((each) => each[index] ?? [])).flat(),
  );
}

function gapText({ gaps }: Assessment): string {
  const missing = RECORD_KEYS.filter((key) => gaps.missing.includes(key));
  return missing.length > 0 ? `${missing.join(', ')} not available` : 'part of the record was not read';
}

/** Nothing counts now; what is past is said, so that it is no all-clear. */
function clearOptions(assessment: Assessment, start: string, gap: string): readonly string[] {
  if (gap) return [`${start}; ${gap}: ask before the test.`];
  const past = shortsOf(
    assessment,
    assessment.readiness.findings.filter(({ state }) => state === 'past'),
  );
  if (past.length === 0) return [`${start}; nothing found that speaks against it.`];
  return [
    `${start}; nothing current found; past records: ${past.join(', ')}.`,
    `${start}; nothing current found; past records: see the detail.`,
  ];
}

function namedOptions(start: string, named: readonly string[], gap: string): readonly string[] {
  const before = `${start}. Before it, see: ${named.join(', ')}.`;
  return [
    ...(gap ? [`${before} Also: ${gap}.`] : []),
    before,
    `${start}. Before it, see ${named.length} points in the detail.`,
  ];
}

/** The first that fits; the last always does. */
function fitting(options: readonly string[]): string {
  return options.find((option) => option.length < SUMMARY_LIMIT) ?? options.at(-1) ?? '';
}
