/** An evaluation -> CDS Hooks cards: one card for the most recent session, or what stopped it. */
import type { Observation } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import { REFUSALS } from '../errors.ts';
import type { Evaluation } from '../evaluation.ts';
import { GRIP_OVERRIDES, OVERRIDE_DISPLAYS } from '../fhir/codes.ts';
import { writeFilingObservations } from '../fhir/write-bundle.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';
import { dateText, refusalSentence, stopOf, type Tally, tally } from '../statements.ts';
import { detailOf, detailOfRefusals } from './card-detail.ts';

/** CDS Hooks 2.0.1: fewer than 140 characters. */
const SUMMARY_LIMIT = 140;

export interface Card {
  readonly uuid: string;
  readonly summary: string;
  /** Never `critical`: no grip result calls for action within minutes. */
  readonly indicator: 'info' | 'warning';
  readonly detail: string;
  readonly source: { readonly label: string };
  readonly suggestions?: readonly Suggestion[];
  readonly selectionBehavior?: 'at-most-one';
  readonly overrideReasons: readonly {
    readonly system: string;
    readonly code: string;
    readonly display: string;
  }[];
}

interface Suggestion {
  readonly label: string;
  readonly uuid: string;
  readonly actions: readonly {
    readonly type: 'create';
    readonly description: string;
    readonly resource: Observation;
  }[];
}

/** No card when there is nothing to say. `hasMore`: the client has further trials that were not sent. */
export function writeCards(evaluation: Evaluation, hasMore: boolean): readonly Card[] {
  const latest = evaluation.interpretations.at(-1);
  if (latest) return [sessionCard(evaluation, latest, hasMore)];
  const worthSaying = evaluation.refusals.filter(({ code }) => REFUSALS[code].severity !== 'information');
  return worthSaying.length > 0 ? [refusalCard(evaluation, worthSaying)] : [];
}

function sessionCard(evaluation: Evaluation, interpretation: Interpretation, hasMore: boolean): Card {
  const said = tally(interpretation, evaluation.panel);
  const unread = newerUnread(evaluation, interpretation);
  const doubtful =
    unread !== undefined || stopOf(interpretation) !== undefined || interpretation.summaries.length === 0;
  return {
    ...shared(evaluation),
    summary: summaryOf(interpretation, said, unread),
    indicator: doubtful || said.reduced.length > 0 || said.open.length > 0 ? 'warning' : 'info',
    detail: detailOf(evaluation, interpretation, hasMore),
    ...suggestionsFor(evaluation, interpretation),
  };
}

/** Day of the newest trial that could not be used, when it is newer than the session shown. */
function newerUnread({ refusals }: Evaluation, { testedOn }: Interpretation): string | undefined {
  return refusals
    .flatMap(({ facts }) => (facts.testedOn && facts.testedOn > testedOn ? [facts.testedOn] : []))
    .sort()
    .at(-1);
}

function refusalCard(evaluation: Evaluation, refusals: readonly Refusal[]): Card {
  const trials =
    refusals.length === 1 ? 'its one trial could not' : `none of the ${refusals.length} trials could`;
  return {
    ...shared(evaluation),
    summary: `Grip strength: not interpreted; ${trials} be used.`,
    indicator: 'warning',
    detail: detailOfRefusals(evaluation, refusals),
  };
}

function shared(evaluation: Evaluation): Pick<Card, 'uuid' | 'source' | 'overrideReasons'> {
  const { engine, panel } = evaluation;
  const { id, version } = panel.panel.ref;
  return {
    uuid: uuidFor(evaluation.id, 'card'),
    source: { label: `${engine.name} ${engine.version}, panel ${id} ${version}` },
    overrideReasons: Object.entries(OVERRIDE_DISPLAYS).map(([code, display]) => ({
      system: GRIP_OVERRIDES,
      code,
      display,
    })),
  };
}

/**
 * The most telling sentence that fits.
 * @param unread day of newer trials that could not be used, `YYYY-MM-DD`
 */
export function summaryOf(interpretation: Interpretation, said: Tally, unread?: string): string {
  const newer = unread ? `Newer grip trials (${dateText(unread)}) could not be used. ` : '';
  const start = `${newer}Grip strength ${dateText(interpretation.testedOn)}:`;
  const stop = stopOf(interpretation);
  const options = stop
    ? [refusalSentence(stop), stopShort(stop), `not interpreted: ${lowerFirst(REFUSALS[stop.code].meaning)}.`]
    : interpretation.summaries.length === 0
      ? ['not interpreted; no trial of it could be used.']
      : outcomeOptions(said, isProvisional(interpretation));
  const fitting = options
    .map((option) => `${start} ${lowerFirst(option)}`)
    .find((text) => text.length < SUMMARY_LIMIT);
  return fitting ?? `${start} see the detail.`;
}

function stopShort(stop: Refusal): string {
  const { mean, unit, otherUnit } = stop.facts;
  if (stop.code === 'UNIT_IMPLAUSIBLE')
    return `not interpreted. Check the unit: ${mean} ${unit} is implausible, ${mean} ${otherUnit} would be ordinary.`;
  if (stop.code === 'UNITS_MIXED')
    return `not interpreted. Trials are charted in different units (${stop.facts.units}).`;
  return refusalSentence(stop);
}

/** Longest first. */
function outcomeOptions(said: Tally, provisional: boolean): readonly string[] {
  const { reduced, notReduced, open, handsDiffer } = said;
  const mark = provisional ? ' Provisional.' : '';
  if (open.length > 0)
    return [`sex not usable in the record; ${sets(open.length)} read for both sexes, to choose from.${mark}`];
  if (reduced.length + notReduced.length === 0)
    return ['no reference set of this panel applies to this person.'];
  if (reduced.length === 0)
    return [
      `not reduced by ${list(notReduced)}.${mark}`,
      `not reduced by ${sets(notReduced.length)}.${mark}`,
    ];
  const by = `reduced by ${list(reduced)}`;
  const byCount = `reduced by ${sets(reduced.length)}`;
  if (notReduced.length === 0) {
    const start = handsDiffer ? 'the hands differ: ' : '';
    return [`${start}${by}.${mark}`, `${start}${byCount}.${mark}`];
  }
  return [
    `reference sets disagree: ${by}; not by ${list(notReduced)}.${mark}`,
    `reference sets disagree: ${by}; not by ${notReduced.length} others.${mark}`,
    `reference sets disagree: ${byCount}, not by ${notReduced.length}.${mark}`,
  ];
}

function sets(count: number): string {
  return count === 1 ? 'the one reference set applied' : `${count} reference sets`;
}

function list(titles: readonly string[]): string {
  return titles.length < 2 ? titles.join('') : `${titles.slice(0, -1).join(', ')} and ${titles.at(-1)}`;
}

function isProvisional(interpretation: Interpretation): boolean {
  return interpretation.results.some((result) => result.kind === 'verdict' && result.provisional.length > 0);
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
}

function suggestionsFor(
  evaluation: Evaluation,
  interpretation: Interpretation,
): Pick<Card, 'suggestions' | 'selectionBehavior'> {
  if (stopOf(interpretation)) return {};
  const resources = writeFilingObservations(evaluation, interpretation).filter(
    ({ dataAbsentReason }) => !dataAbsentReason,
  );
  if (resources.length === 0) return {};
  const actions = resources.map((resource) => ({
    type: 'create' as const,
    description: `File as preliminary: ${resource.code.text ?? 'grip strength interpretation'}`,
    resource,
  }));
  const label = `File ${resources.length} grip strength Observations as preliminary`;
  return {
    suggestions: [{ label, uuid: uuidFor(evaluation.id, 'suggestion file'), actions }],
    selectionBehavior: 'at-most-one',
  };
}
