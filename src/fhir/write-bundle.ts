/** An evaluation -> the Bundle that `$interpret-grip` returns, and the Observations that a card offers to file. */
import type { Bundle, BundleEntry, Device, FhirResource, Observation, Provenance } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Answer, Evaluation } from '../evaluation.ts';
import type { Interpretation, Summary } from '../interpret/finding.ts';
import type { Hand, SummaryKind } from '../interpret/measurement.ts';
import { ownBaselineHands, stopOf, verdictsIn } from '../wording/session-statements.ts';
import { CANONICAL, OBSERVATION_VALUE, PROVENANCE_PARTICIPANT } from './codes.ts';
import { isWritten, trialReferences, type WriteContext } from './observation-parts.ts';
import {
  isSetRefusal,
  measuresOf,
  writeRefusalObservation,
  writeSummaryObservation,
  writeVerdictObservation,
} from './write-observation.ts';
import { writeEvaluationOutcome } from './write-operation-outcome.ts';

/** The reply of `$interpret-grip`. */
export function writeOperationAnswer(evaluation: Evaluation): Answer {
  const body = writeInterpretationBundle(evaluation);
  return { body, returned: { resources: body.entry?.length ?? 0 } };
}

/**
 * Type `collection` (a single `return` parameter that is a Bundle); resources carry no id, because none is
 * stored as a resource; they refer to each other by `urn:uuid:` full URLs.
 */
export function writeInterpretationBundle(evaluation: Evaluation): Bundle {
  const url = (name: string) => `urn:uuid:${uuidFor(evaluation.id, name)}`;
  const observations = evaluation.interpretations.flatMap((interpretation, session) =>
    sessionEntries(evaluation, interpretation, (name) => url(`${session} ${name}`), url('device')),
  );
  const entries: BundleEntry[] = [
    ...observations,
    { fullUrl: url('device'), resource: writeDevice(evaluation) },
    ...(observations.length > 0 ? [provenanceEntry(evaluation, observations, url)] : []),
    { fullUrl: url('outcome'), resource: writeEvaluationOutcome(evaluation) },
  ];
  return {
    resourceType: 'Bundle',
    identifier: { system: 'urn:ietf:rfc:3986', value: `urn:uuid:${evaluation.id}` },
    type: 'collection',
    timestamp: evaluation.at,
    entry: entries,
  };
}

/** The Observations of one session, each able to stand alone in the record. */
export function writeFilingObservations(
  evaluation: Evaluation,
  interpretation: Interpretation,
): readonly Observation[] {
  const { name, version } = evaluation.engine;
  const context = { evaluation, interpretation, device: { display: `${name} ${version}` } };
  return [
    ...filedSummaries(interpretation).map((summary) => writeSummaryObservation(summary, context)),
    ...resultObservations(context).map(({ resource }) => resource),
  ];
}

function sessionEntries(
  evaluation: Evaluation,
  interpretation: Interpretation,
  url: (name: string) => string,
  deviceUrl: string,
): BundleEntry[] {
  const named = (kind: SummaryKind, hand: Hand | null) => url(`summary ${kind} ${hand ?? 'either'}`);
  const context: WriteContext = {
    evaluation,
    interpretation,
    device: { reference: deviceUrl },
    summaryReference: (kind, hand) => ({ reference: named(kind, hand) }),
  };
  return [
    ...filedSummaries(interpretation).map((summary) => ({
      fullUrl: named(summary.kind, summary.hand),
      resource: writeSummaryObservation(summary, context),
    })),
    ...resultObservations(context).map(({ name, resource }) => ({ fullUrl: url(name), resource })),
  ];
}

/** Summaries that a result was read from, and the mean of a hand that is its own norm; none when the session was stopped: a doubtful figure is not filed. */
function filedSummaries(interpretation: Interpretation): readonly Summary[] {
  if (stopOf(interpretation)) return [];
  const used = interpretation.results.flatMap((result) =>
    result.kind === 'verdict' ? [result] : result.columns,
  );
  const own = ownBaselineHands(interpretation);
  return interpretation.summaries
    .filter(isWritten)
    .filter(
      ({ kind, hand }) =>
        used.some((verdict) => verdict.summary === kind && verdict.hand === hand) ||
        (kind === 'mean-per-hand' && hand !== null && own.includes(hand)),
    );
}

function resultObservations(context: WriteContext): readonly { name: string; resource: Observation }[] {
  return context.interpretation.results.flatMap((result) => {
    if (result.kind === 'verdict') {
      const name = `result ${result.set.id} ${result.hand ?? 'either'}`;
      return [{ name, resource: writeVerdictObservation(result, context) }];
    }
    if (!isSetRefusal(result)) return [];
    const name = `result ${result.set.id} ${result.hand ?? 'either'}`;
    return [{ name, resource: writeRefusalObservation(result, context) }];
  });
}

function writeDevice({ engine }: Evaluation): Device {
  return {
    resourceType: 'Device',
    meta: { security: [{ system: OBSERVATION_VALUE, code: 'AIAST' }] },
    status: 'active',
    deviceName: [{ name: engine.name, type: 'model-name' }],
    type: { text: 'Clinical decision support software for grip strength' },
    version: [{ value: engine.version }],
  };
}

function provenanceEntry(
  evaluation: Evaluation,
  targets: readonly BundleEntry[],
  url: (name: string) => string,
): BundleEntry {
  const sources = evaluation.interpretations.flatMap(({ trials, results }) => [
    ...trials,
    ...results
      .flatMap(verdictsIn)
      .flatMap(measuresOf)
      .map(({ reference }) => reference),
  ]);
  const { panel, references } = evaluation.panel;
  const canonical = (ref: { kind: string; id: string; version: string }) =>
    `${CANONICAL}/Library/${ref.kind}-${ref.id}|${ref.version}`;
  const resource: Provenance = {
    resourceType: 'Provenance',
    target: targets.map(({ fullUrl }) => (fullUrl ? { reference: fullUrl } : {})),
    recorded: evaluation.at,
    policy: [panel.ref, ...references].map(canonical),
    activity: { text: 'Grip strength interpretation' },
    agent: [
      {
        type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
        who: { reference: url('device') },
      },
    ],
    entity: trialReferences(sources).map((what) => ({ role: 'source' as const, what })),
  };
  return { fullUrl: url('provenance'), resource: resource satisfies FhirResource };
}
