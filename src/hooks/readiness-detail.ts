/** The body of a readiness card in GitHub-flavoured Markdown: no raw HTML, everything from outside escaped. */
import type { Assessment } from '../assessment.ts';
import { HANDS } from '../interpret/measurement.ts';
import type { CautionWeight, Place, ReadinessFinding, TestingCaution } from '../interpret/testing-caution.ts';
import {
  MISSING_SENTENCES,
  MORE_SENTENCES,
  measuredSentence,
  openQuestions,
  practiceSentence,
  READINESS_USE,
  recordSentence,
  USUAL_PRACTICE,
  unmappedSentence,
  unusableSentences,
} from '../wording/readiness-statements.ts';
import { markdown } from './markdown.ts';
import { isCurrent, isWholeChart } from './readiness-weight.ts';

/** Lines of one section: a chart of many years must not become a card of many pages. */
const MOST_LINES = 8;

export function readinessDetail(assessment: Assessment): string {
  const { readiness, input } = assessment;
  return [
    ...armSections(assessment),
    section('The person', cautionLines(assessment, 'person')),
    section('Past or planned', pastLines(assessment)),
    section('Last measured', [measuredSentence(readiness, input.sessions !== null)]),
    section('Not looked at', gapLines(assessment)),
    `**Usual practice:** ${markdown(USUAL_PRACTICE)}`,
    footer(assessment),
  ]
    .filter((part) => part !== '')
    .join('\n\n');
}

function section(title: string, lines: readonly string[]): string {
  if (lines.length === 0) return '';
  const left = lines.length - MOST_LINES;
  const shown = left > 0 ? [...lines.slice(0, MOST_LINES), `And ${left} more: see the chart.`] : lines;
  return `**${title}**\n\n${shown.map((line) => `- ${markdown(line)}`).join('\n')}`;
}

/** What names no side comes alone where no record names an arm: to call both arms free beside it would be wrong. */
function armSections(assessment: Assessment): readonly string[] {
  const unsided = section('Side not recorded: ask which arm', cautionLines(assessment, 'side-unknown'));
  const arms = HANDS.map((hand) => ({ hand, lines: cautionLines(assessment, hand) }));
  if (arms.every(({ lines }) => lines.length === 0))
    return [unsided === '' ? section('Either arm', [nothingFound(assessment)]) : unsided];
  const none =
    unsided === '' ? nothingFound(assessment) : 'No record names this arm; see below what names no side.';
  return [
    ...arms.map(({ hand, lines }) =>
      section(`${hand === 'right' ? 'Right' : 'Left'} arm`, lines.length > 0 ? lines : [none]),
    ),
    unsided,
  ];
}

/** Never more than was looked at. */
function nothingFound(assessment: Assessment): string {
  return `Nothing found that speaks against testing it${isWholeChart(assessment) ? '' : ', in the part of the record that was read'}.`;
}

const LEADS: Readonly<Record<CautionWeight, string>> = { against: '', care: 'With care: ', ask: 'Ask: ' };

/** One line for each caution at this place, with all its records; what is usual is said once. */
function cautionLines({ readiness, rule }: Assessment, place: Place): readonly string[] {
  const here = readiness.findings.filter((finding) => finding.place === place && isCurrent(finding));
  const ids = [...new Set(here.map(({ caution }) => caution))];
  return ids.flatMap((id) => {
    const caution = rule.cautions.find((each) => each.id === id);
    const own = here.filter((finding) => finding.caution === id);
    const [first] = own;
    if (!caution || !first) return [];
    const elsewhere = readiness.findings.some(
      (each) => each.caution === id && isCurrent(each) && (each.place === 'right' || each.place === 'left'),
    );
    const asks = [
      ...new Set(own.flatMap((finding) => openQuestions(finding, caution))),
      ...(place === 'side-unknown' && elsewhere
        ? ['Another record names an arm: ask whether this is the same.']
        : []),
    ];
    // What is usual stands with the arm that is named; where none is, here.
    const practice = place === 'side-unknown' && elsewhere ? [] : [practiceSentence(caution)];
    return [[`${LEADS[first.weight]}${titleOf(own, caution)}.`, ...asks, ...practice].join(' ')];
  });
}

/** The title, then each record, unless the only record is called the same. */
function titleOf(own: readonly ReadinessFinding[], caution: TestingCaution): string {
  const records = own.map((finding) => recordSentence(finding, caution)).join('; ');
  return records.startsWith(caution.title) ? records : `${caution.title}: ${records}`;
}

function pastLines({ readiness, rule }: Assessment): readonly string[] {
  return readiness.findings.flatMap((finding) => {
    const caution = rule.cautions.find(({ id }) => id === finding.caution);
    if (isCurrent(finding) || !caution) return [];
    const where = finding.place === 'right' || finding.place === 'left' ? `, ${finding.place} arm` : '';
    return [`${caution.title}${where}: ${recordSentence(finding, caution)}.`];
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
  return `${markdown(READINESS_USE)}\n\nOn record as assessment ${id}, ${at.slice(0, 10)}. Rule ${ref.id} ${ref.version}, sha256 ${ref.digest}; panel ${panel.panel.ref.id} ${panel.panel.ref.version}.`;
}
