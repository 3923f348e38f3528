/** The body of a readiness card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */
import type { Assessment } from '../assessment.ts';
import { HANDS } from '../interpret/measurement.ts';
import type { CautionWeight, Place, ReadinessFinding, TestingCaution } from '../interpret/testing-caution.ts';
import {
  BOTH_ARMS,
  MISSING_SENTENCES,
  MORE_SENTENCES,
  maybeDoneSentence,
  measuredSentence,
  NEITHER_HAND,
  NOT_KNOWN,
  openQuestions,
  pastSentence,
  plannedSentence,
  practiceSentence,
  READINESS_USE,
  recordSentence,
  USUAL_PRACTICE,
  unmappedSentence,
  unsidedPracticeSentence,
  unusableSentences,
} from '../wording/readiness-statements.ts';
import { markdown } from './markdown.ts';
import {
  againstNow,
  areBothAbsent,
  areBothCautioned,
  armsNamed,
  cautionOf,
  isAnswered,
  isChartMissing,
  isCurrent,
  isOtherTaken,
  isWholeChart,
} from './readiness-weight.ts';

/** Lines of one section: a chart of many years must not become a card of many pages. */
const MOST_LINES = 8;

export function readinessDetail(assessment: Assessment): string {
  const { readiness, input, gaps } = assessment;
  const person = section('The person', cautionLines(assessment, 'person'));
  const comesFirst = againstNow(assessment).some(({ place }) => place === 'person');
  const unread = { count: gaps.gripUnused, newest: gaps.gripUnusedNewest };
  return [
    leadLine(assessment),
    ...(comesFirst ? [person, ...armSections(assessment)] : [...armSections(assessment), person]),
    section('Planned', linesOf(assessment, 'planned', plannedSentence)),
    section('Past', linesOf(assessment, 'past', pastSentence)),
    section('Last measured', [measuredSentence(readiness, input.sessions !== null, unread)]),
    section('Not looked at', gapLines(assessment)),
    areBothAbsent(assessment) ? '' : `**Usual practice:** ${markdown(USUAL_PRACTICE)}`,
    footer(assessment),
  ]
    .filter((part) => part !== '')
    .join('\n\n');
}

function leadLine(assessment: Assessment): string {
  if (areBothAbsent(assessment)) return markdown(NEITHER_HAND);
  return areBothCautioned(assessment) ? markdown(BOTH_ARMS) : '';
}

function section(title: string, lines: readonly string[]): string {
  if (lines.length === 0) return '';
  const left = lines.length - MOST_LINES;
  const shown = left > 0 ? [...lines.slice(0, MOST_LINES), `And ${left} more: see the chart.`] : lines;
  return `**${title}**\n\n${shown.map((line) => `- ${markdown(line)}`).join('\n')}`;
}

/** What names no side comes alone where no record names an arm: to call both arms free beside it would be wrong. */
function armSections(assessment: Assessment): readonly string[] {
  const unsided = section(unsidedTitle(assessment), cautionLines(assessment, 'side-unknown'));
  const arms = HANDS.map((hand) => ({ hand, lines: cautionLines(assessment, hand) }));
  if (arms.every(({ lines }) => lines.length === 0))
    return [unsided === '' ? section('Either arm', [nothingFound(assessment, 'an arm')]) : unsided];
  const none = noneNamed(assessment);
  return [
    ...arms.map(({ hand, lines }) =>
      section(`${hand === 'right' ? 'Right' : 'Left'} arm`, lines.length > 0 ? lines : [none]),
    ),
    unsided,
  ];
}

const at = ({ readiness }: Assessment, place: Place) =>
  readiness.findings.filter((finding) => finding.place === place && isCurrent(finding));

function unsidedTitle(assessment: Assessment): string {
  const isAsked = at(assessment, 'side-unknown').some((finding) => !isAnswered(assessment, finding));
  return isAsked ? 'Side not recorded: ask' : 'Side not recorded';
}

/** Of an arm that no record names, beside one that some record names. */
function noneNamed(assessment: Assessment): string {
  const unsided = at(assessment, 'side-unknown');
  if (unsided.length === 0) return nothingFound(assessment, 'this arm');
  if (unsided.every((finding) => isAnswered(assessment, finding)))
    return isChartMissing(assessment) ? NOT_KNOWN : `No access recorded here${inPart(assessment)}.`;
  return 'No record names this arm; see below what names no side.';
}

/** Never more than was looked at, and no all-clear for an arm beside what concerns the person. */
function nothingFound(assessment: Assessment, arm: string): string {
  if (isChartMissing(assessment)) return NOT_KNOWN;
  if (at(assessment, 'person').length > 0) return `No record names ${arm}${inPart(assessment)}.`;
  const isPast = assessment.readiness.findings.some(({ state }) => state === 'past');
  return `Nothing ${isPast ? 'current ' : ''}found that speaks against testing it${inPart(assessment)}.`;
}

const inPart = (assessment: Assessment) =>
  isWholeChart(assessment) ? '' : ', in the part of the record that was read';

const LEADS: Readonly<Record<CautionWeight, string>> = { against: '', care: 'With care: ', ask: 'Ask: ' };

/** One line for each caution at this place, with all its records; what is usual is said once. */
function cautionLines(assessment: Assessment, place: Place): readonly string[] {
  const here = at(assessment, place);
  const lines = new Map<string, ReadinessFinding[]>();
  for (const finding of here) {
    const { caution, state, olderThan, reference } = finding;
    // What may not have been done, and what is asked about for its age, are sentences of their own.
    const key = `${caution} ${state === 'maybe-done' ? reference : ''} ${olderThan ?? ''}`;
    lines.set(key, [...(lines.get(key) ?? []), finding]);
  }
  return [...lines.values()].map((own) => cautionLine(assessment, place, own));
}

function cautionLine(assessment: Assessment, place: Place, own: readonly ReadinessFinding[]): string {
  const [first] = own;
  const caution = first && cautionOf(assessment, first);
  if (!first || !caution) return '';
  if (first.state === 'maybe-done') return maybeDoneSentence(first, caution);
  const named = place === 'side-unknown' ? armsNamed(assessment, caution.id) : [];
  const asks = new Set(own.flatMap((finding) => openQuestions(finding, caution)));
  const isAlone = isOtherTaken(assessment, caution.id, place);
  // What is usual stands with the arm that is named; where none is, here.
  const rest =
    named.length > 0
      ? own.every((finding) => isAnswered(assessment, finding))
        ? `Says nothing of an arm; the access is recorded on the ${named.join(' and the ')}.`
        : 'Another record names an arm: ask whether this is the same.'
      : place === 'side-unknown'
        ? unsidedPracticeSentence(caution, isAlone)
        : practiceSentence(caution, isAlone);
  return [`${LEADS[first.weight]}${titleOf(own, caution)}.`, ...asks, rest].join(' ');
}

/** The title, then each record, unless the only record is called the same. */
function titleOf(own: readonly ReadinessFinding[], caution: TestingCaution): string {
  const records = own.map((finding) => recordSentence(finding, caution)).join('; ');
  return records.startsWith(caution.title) ? records : `${caution.title}: ${records}`;
}

function linesOf(
  assessment: Assessment,
  state: ReadinessFinding['state'],
  sentence: (finding: ReadinessFinding, caution: TestingCaution) => string,
): readonly string[] {
  return assessment.readiness.findings.flatMap((finding) => {
    const caution = cautionOf(assessment, finding);
    return finding.state === state && caution ? [sentence(finding, caution)] : [];
  });
}

function gapLines({ gaps, rule, input }: Assessment): readonly string[] {
  const count = gaps.gripUnused;
  return [
    ...gaps.missing.flatMap((key) => MISSING_SENTENCES[key] ?? []),
    ...gaps.more.flatMap((key) => MORE_SENTENCES[key] ?? []),
    ...(gaps.gripMalformed
      ? [
          'Grip measurements or handedness are malformed: none was used, so when it was last measured is not known.',
        ]
      : []),
    ...(count > 0
      ? [
          `${count === 1 ? 'One grip measurement' : `${count} grip measurements`} could not be used; the card that interprets them says why.`,
        ]
      : []),
    ...unusableSentences(gaps.unusable),
    ...rule.cautions
      .filter(({ id }) => gaps.unmapped.includes(id) && !isFound(id, input))
      .map(unmappedSentence),
  ];
}

const isFound = (id: string, { cautions }: Assessment['input']) =>
  cautions.some(({ caution }) => caution === id);

function footer({ id, rule, panel, at }: Assessment): string {
  const { ref } = rule;
  return `${markdown(READINESS_USE)}\n\nOn record as assessment ${id}, ${at.slice(0, 10)}. Rule ${ref.id} ${ref.version}, sha256 ${ref.digest.slice(0, 12)}; panel ${panel.panel.ref.id} ${panel.panel.ref.version}.`;
}
