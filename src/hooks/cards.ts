/** An evaluation -> CDS Hooks cards: one card for the most recent session, or what stopped it. */
import type { Observation } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Evaluation } from '../evaluation.ts';
import { writeFilingObservations } from '../fhir/write-bundle.ts';
import type { Interpretation, Refusal } from '../interpret/finding.ts';
import { declineOf } from '../wording/change-statements.ts';
import { explainStop } from '../wording/explained-stop.ts';
import { REFUSALS } from '../wording/refusals.ts';
import { stopOf, tally, unitsInDoubt } from '../wording/session-statements.ts';
import { dateText } from '../wording/statements.ts';
import { detailBeforeStay, detailOf, detailOfRefusals } from './card-detail.ts';
import { isBeforeStay, stayDecline } from './card-stay.ts';
import { summaryOf } from './card-summary.ts';
import { newerUnread } from './card-unread.ts';
import type { HookFacts } from './hook-facts.ts';
import { type OverrideReason, overrideReasons } from './override-reasons.ts';

export interface Card {
  readonly uuid: string;
  readonly summary: string;
  /** Never `critical`: no grip result calls for action within minutes. */
  readonly indicator: 'info' | 'warning';
  readonly detail: string;
  readonly source: { readonly label: string };
  readonly suggestions?: readonly Suggestion[];
  readonly selectionBehavior?: 'at-most-one';
  readonly overrideReasons: readonly OverrideReason[];
  readonly links?: readonly Link[];
}

export interface Link {
  readonly label: string;
  readonly url: string;
  readonly type: 'absolute';
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

/** No card when there is nothing to say, and none about a person who is recorded as deceased (as before a test). */
export function writeCards(evaluation: Evaluation, facts: HookFacts): readonly Card[] {
  const newest = evaluation.interpretations.at(-1);
  if (newest && stopOf(newest)?.code === 'SUBJECT_DECEASED') return [];
  const latest = newest && explainStop(evaluation, newest);
  if (latest && isBeforeStay(evaluation, facts)) return [beforeStayCard(evaluation, latest, facts)];
  if (latest) return [sessionCard(evaluation, latest, facts)];
  const worthSaying = evaluation.refusals.filter(({ code }) => REFUSALS[code].severity !== 'information');
  return worthSaying.length > 0 ? [refusalCard(evaluation, worthSaying, facts)] : [];
}

function sessionCard(evaluation: Evaluation, interpretation: Interpretation, facts: HookFacts): Card {
  const said = tally(interpretation, evaluation.panel);
  const unread = newerUnread(evaluation, interpretation);
  const loss = stayDecline(evaluation, interpretation, facts) ?? declineOf(interpretation);
  const wantsAttention =
    unitsInDoubt(interpretation) !== '' ||
    unread !== undefined ||
    stopOf(interpretation) !== undefined ||
    interpretation.summaries.length === 0 ||
    loss !== undefined;
  return {
    ...shared(evaluation, facts),
    summary: summaryOf(interpretation, said, unread, loss),
    indicator: wantsAttention || said.reduced.length > 0 || said.open.length > 0 ? 'warning' : 'info',
    detail: detailOf(evaluation, interpretation, facts),
    ...suggestionsFor(evaluation, interpretation),
  };
}

/** Short, since nothing was measured in the stay that ends: when the last time was, its figures, and what to hand over. */
function beforeStayCard(evaluation: Evaluation, last: Interpretation, facts: HookFacts): Card {
  return {
    ...shared(evaluation, facts),
    summary: `Grip strength was not measured during this stay; last measured ${dateText(last.testedOn)}.`,
    indicator: 'info',
    detail: detailBeforeStay(evaluation, last, facts),
  };
}

function refusalCard(evaluation: Evaluation, refusals: readonly Refusal[], facts: HookFacts): Card {
  const trials =
    refusals.length === 1 ? 'its one trial could not' : `none of the ${refusals.length} trials could`;
  return {
    ...shared(evaluation, facts),
    summary: `Grip strength: not interpreted; ${trials} be used.`,
    indicator: 'warning',
    detail: detailOfRefusals(evaluation, refusals),
  };
}

/**
 * `source` has no url: it may not be about the patient (C4), and what is about the evidence answers FHIR JSON, which no
 * browser shows. `links` only where the evaluation has a page.
 */
export function shared(
  { id, engine, panel }: Evaluation,
  { base }: HookFacts,
): Pick<Card, 'uuid' | 'source' | 'overrideReasons' | 'links'> {
  const { ref } = panel.panel;
  return {
    uuid: uuidFor(id, 'card'),
    source: { label: `${engine.name} ${engine.version}, panel ${ref.id} ${ref.version}` },
    overrideReasons: overrideReasons(),
    ...(base === undefined ? {} : { links: [linkToPage(base, id)] }),
  };
}

/** No autolaunch: a reader asks for the page. */
function linkToPage(base: string, id: string): Link {
  return { label: 'The figures behind this card', url: `${base}/review/evaluations/${id}`, type: 'absolute' };
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
  const label = `File the interpretation: ${resources.length} preliminary Observations`;
  return {
    suggestions: [{ label, uuid: uuidFor(evaluation.id, 'suggestion file'), actions }],
    selectionBehavior: 'at-most-one',
  };
}
