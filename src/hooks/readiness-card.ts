/** An assessment -> at most one card: a warning, an information, or silence. */
import type { Assessment } from '../assessment.ts';
import { uuidFor } from '../derived-id.ts';
import { HANDS } from '../interpret/measurement.ts';
import type { Place, ReadinessFinding } from '../interpret/testing-caution.ts';
import { dateText } from '../wording/statements.ts';
import type { Card } from './cards.ts';
import { overrideReasons } from './override-reasons.ts';
import { readinessDetail } from './readiness-detail.ts';
import { againstNow, CHART_KEYS, isCurrent, isWholeChart } from './readiness-weight.ts';

/** CDS Hooks 2.0.1: fewer than 140 characters. */
const SUMMARY_LIMIT = 140;

/**
 * A warning where something speaks against an arm or a test now, whether or not a test is due: somebody may test all the
 * same. Where none does, an information when a test is due, or nobody can tell; else nothing, since a chart is opened many times a day.
 */
export function readinessCard(assessment: Assessment): Card | undefined {
  const { readiness, deceased, input } = assessment;
  const against = againstNow(assessment);
  const mayBeDue = readiness.isDue || input.sessions === null;
  if (deceased || (against.length === 0 && !mayBeDue)) return undefined;
  const { engine, rule, id } = assessment;
  return {
    uuid: uuidFor(id, 'card'),
    summary: against.length > 0 ? warningSummary(assessment, against) : dueSummary(assessment),
    indicator: against.length > 0 ? 'warning' : 'info',
    detail: readinessDetail(assessment),
    source: {
      label: `${engine.name} ${engine.version}, rule ${rule.ref.id} ${rule.ref.version} (sha256 ${rule.ref.digest.slice(0, 12)})`,
    },
    overrideReasons: overrideReasons(),
  };
}

const PLACES: Readonly<Record<Place, string>> = {
  right: 'right arm: ',
  left: 'left arm: ',
  'side-unknown': 'side not recorded: ',
  person: '',
};

function warningSummary(assessment: Assessment, against: readonly ReadinessFinding[]): string {
  const order: readonly Place[] = [...HANDS, 'side-unknown', 'person'];
  const clauses = order.flatMap((place) => {
    const named = shortsOf(
      assessment,
      against.filter((finding) => finding.place === place),
    );
    // An arm is named by another record of the same caution: the side is asked for in the detail.
    const said =
      place === 'side-unknown' ? named.filter((short) => !isSided(assessment, against, short)) : named;
    return said.length > 0 ? [`${PLACES[place]}${said.join(', ')}`] : [];
  });
  const places = order.filter((place) => against.some((finding) => finding.place === place));
  return fitting([
    `Before a grip test: ${clauses.join('; ')}. ${dueText(assessment)}`,
    `Before a grip test: ${clauses.join('; ')}.`,
    `Before a grip test, see the detail for: ${places.map((place) => PLACE_NAMES[place]).join(', ')}.`,
  ]);
}

const PLACE_NAMES: Readonly<Record<Place, string>> = {
  right: 'right arm',
  left: 'left arm',
  'side-unknown': 'an arm whose side is not recorded',
  person: 'the person',
};

function shortsOf({ rule }: Assessment, findings: readonly ReadinessFinding[]): readonly string[] {
  const ids = new Set(findings.map(({ caution }) => caution));
  return rule.cautions.filter(({ id }) => ids.has(id)).map(({ short }) => short);
}

function isSided({ rule }: Assessment, against: readonly ReadinessFinding[], short: string): boolean {
  const id = rule.cautions.find((caution) => caution.short === short)?.id;
  return against.some(({ caution, place }) => caution === id && place !== 'side-unknown');
}

function dueText({ readiness: { last, next }, input }: Assessment): string {
  if (input.sessions === null) return 'Last measurement not known.';
  if (!last) return 'Not measured yet.';
  if (!next) return `Last measured ${dateText(last.testedOn)}.`;
  return next.isDue
    ? `Next measurement due since ${dateText(next.from)}.`
    : `Next measurement from ${dateText(next.from)}.`;
}

function dueSummary(assessment: Assessment): string {
  const { readiness, input, gaps } = assessment;
  const start = readiness.next
    ? `Grip strength: next measurement due since ${dateText(readiness.next.from)}`
    : `Grip strength: ${input.sessions === null ? 'last measurement not known' : 'not measured yet'}`;
  const named = shortsOf(assessment, readiness.findings.filter(isCurrent));
  const missing = CHART_KEYS.filter((key) => gaps.missing.includes(key));
  const gap =
    missing.length > 0 ? `${missing.join(' and ')} not available` : 'part of the record was not read';
  if (named.length === 0)
    return isWholeChart(assessment)
      ? `${start}; nothing found that speaks against it.`
      : `${start}; ${gap}: ask before the test.`;
  const before = `${start}. Before it, see: ${named.join(', ')}.`;
  return fitting([
    ...(isWholeChart(assessment) ? [] : [`${before} Also: ${gap}.`]),
    before,
    `${start}. Before it, see ${named.length} points in the detail.`,
  ]);
}

/** The first that fits; the last always does. */
function fitting(options: readonly string[]): string {
  return options.find((option) => option.length < SUMMARY_LIMIT) ?? options.at(-1) ?? '';
}
