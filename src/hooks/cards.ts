/** An evaluation -> CDS Hooks cards: one card for the most recent session, or what stopped it. */
import type { Observation } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Evaluation } from '../evaluation.ts';
import { GRIP_OVERRIDES, OVERRIDE_DISPLAYS } from '../fhir/codes.ts';
import { minuteOf } from '../fhir/read-observation.ts';
import { writeFilingObservations } from '../fhir/write-bundle.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';
import { REFUSALS } from '../wording/refusals.ts';
import {
  openFor,
  ownBaselineHands,
  provisionalReasons,
  stopOf,
  type Tally,
  tally,
} from '../wording/session-statements.ts';
import { capital, dateText, lowerFirst, refusalSentence } from '../wording/statements.ts';
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
  const unitDoubtful = interpretation.cautions.some(({ code }) => UNIT_CAUTIONS.has(code));
  const doubtful =
    unitDoubtful ||
    unread !== undefined ||
    stopOf(interpretation) !== undefined ||
    interpretation.summaries.length === 0;
  return {
    ...shared(evaluation),
    summary: summaryOf(interpretation, said, unread),
    indicator: doubtful || said.reduced.length > 0 || said.open.length > 0 ? 'warning' : 'info',
    detail: detailOf(evaluation, interpretation, hasMore),
    ...suggestionsFor(evaluation, interpretation),
  };
}

/** Cautions that put the unit, and so every result, in doubt. */
const UNIT_CAUTIONS: ReadonlySet<string> = new Set(['UNIT_DOUBTFUL', 'CHANGE_LIKE_UNIT']);

/** Codes that take nothing away from the session shown: nothing was measured, or it was withdrawn. */
const NOTHING_LOST: ReadonlySet<string> = new Set([
  'CODE_NOT_GRIP',
  'LOCAL_CODE_UNKNOWN',
  'RESULT_LEFT_ASIDE',
  'DUPLICATE_OBSERVATION',
  'VALUE_ABSENT',
]);

/** Day of the newest trial that could not be used, when it is of the day of the session shown or later. */
function newerUnread({ refusals }: Evaluation, { testedOn, effective }: Interpretation): string | undefined {
  return refusals
    .filter(
      ({ code, facts }) =>
        !NOTHING_LOST.has(code) && facts.status !== 'entered-in-error' && facts.status !== 'cancelled',
    )
    .flatMap(({ facts }) => (isNewer(facts, testedOn, effective) ? [facts.testedOn ?? ''] : []))
    .sort()
    .at(-1);
}

/** By the moment where both are charted with their time, else by the day. */
function isNewer(facts: Readonly<Record<string, string>>, testedOn: string, effective: string): boolean {
  if (!facts.testedOn || !facts.testedAt) return false;
  const bothTimed = facts.testedAt.length > 10 && effective.length > 10;
  return bothTimed ? minuteOf(facts.testedAt) > minuteOf(effective) : facts.testedOn > testedOn;
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
    overrideReasons: overrideReasons(),
  };
}

export function overrideReasons(): Card['overrideReasons'] {
  return Object.entries(OVERRIDE_DISPLAYS).map(([code, display]) => ({
    system: GRIP_OVERRIDES,
    code,
    display,
  }));
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
      : outcomeOptions(said, marksOf(interpretation), OPEN_FOR[openFor(interpretation)]);
  const fitting = options
    .map((option) => `${start} ${lowerFirst(option)}`)
    .find((text) => text.length < SUMMARY_LIMIT);
  return fitting ?? `${start} see the detail.`;
}

function stopShort(stop: Refusal): string {
  const { figure, unit, otherUnit, previous } = stop.facts;
  if (stop.code === 'UNIT_IMPLAUSIBLE' && previous)
    return `not interpreted. Check the unit: ${figure} ${unit} after ${previous} ${unit} last time.`;
  if (stop.code === 'UNIT_IMPLAUSIBLE')
    return otherUnit
      ? `not interpreted. Check the unit: ${figure} ${unit} is implausible, ${figure} ${otherUnit} would be ordinary.`
      : `not interpreted. Check the reading: ${figure} ${unit} is implausible for this person.`;
  if (stop.code === 'UNITS_MIXED')
    return `not interpreted. Trials are charted in different units (${stop.facts.units}).`;
  return refusalSentence(stop);
}

/** What a reader must know before the figures: said in the summary itself. */
function marksOf(interpretation: Interpretation): string {
  // Kilograms that look strong are the dangerous side: as pounds the person would be weak.
  const doubtful = interpretation.cautions.some(
    ({ code, facts }) => UNIT_CAUTIONS.has(code) && facts.unit === 'kg',
  );
  const provisional = provisionalReasons(interpretation).length > 0;
  const own = ownBaselineHands(interpretation);
  const ownText = own.length > 0 ? ` ${capital(own.join(' and '))} hand: own baseline.` : '';
  return `${provisional ? ' Provisional.' : ''}${doubtful ? ' Check the unit.' : ''}${ownText}`;
}

/** Why results are open, and how those are called that do not depend on it. */
const OPEN_FOR = {
  sex: { why: 'sex not usable in the record', either: 'for either sex' },
  age: { why: 'date of birth known in part only', either: 'at either age' },
} as const;

/** Longest first. @param why some results are open */
function outcomeOptions(
  { reduced, notReduced, open, handsDiffer }: Tally,
  mark: string,
  { why, either }: (typeof OPEN_FOR)['sex' | 'age'],
): readonly string[] {
  const by = reduced.length > 0 ? [`reduced by ${list(reduced)}`, `reduced by ${sets(reduced.length)}`] : [];
  const marked = (texts: readonly string[]) => texts.map((text) => `${text}.${mark}`);
  if (open.length > 0) {
    const start = `${why}, and the result of ${list(open)} depends on it`;
    const short = `${why}, and ${sets(open.length)} of the panel depend on it`;
    return marked([...by.map((text) => `${start}; ${text} ${either}`), start, short]);
  }
  if (reduced.length + notReduced.length === 0)
    return ['no reference set of this panel applies to this person.'];
  if (reduced.length === 0)
    return marked([`not reduced by ${list(notReduced)}`, `not reduced by ${sets(notReduced.length)}`]);
  if (notReduced.length === 0) return marked(by);
  const start = handsDiffer ? 'the hands differ' : 'reference sets disagree';
  return marked([
    `${start}: ${by[0]}; not by ${list(notReduced)}`,
    ...(handsDiffer
      ? []
      : [`${start}: ${by[0]}; not by ${notReduced.length} other${notReduced.length === 1 ? '' : 's'}`]),
    `${start}: ${by[0]}`,
    `${start}: ${by[1]}, not by ${notReduced.length}`,
  ]);
}

function sets(count: number): string {
  return count === 1 ? 'the one reference set applied' : `${count} reference sets`;
}

function list(titles: readonly string[]): string {
  return titles.length < 2 ? titles.join('') : `${titles.slice(0, -1).join(', ')} and ${titles.at(-1)}`;
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
