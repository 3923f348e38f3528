/** Errors, refusals and cautions -> OperationOutcome. */
import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';
import { REQUEST_ERRORS, type RequestErrorCode, type RequestIssue, type Severity } from '../errors.ts';
import { type Evaluation, type Origin, usedTrials, type Withdrawal } from '../evaluation.ts';
import type { Caution, Interpretation, Refusal } from '../interpret/finding.ts';
import { cautionSentence, notCharted } from '../wording/caution-statements.ts';
import { changeSentence, nextSentence, yardstickNotes } from '../wording/change-statements.ts';
import { intendedUse, NOT_READ, nutritionReading } from '../wording/intended-use.ts';
import { NOTICES, type Notice, noticeSentence } from '../wording/notices.ts';
import { REFUSALS } from '../wording/refusals.ts';
import { chartSentence } from '../wording/session-statements.ts';
import { refusalSentence, sexText } from '../wording/statements.ts';
import { GRIP_ISSUES } from './codes.ts';

/** The reply to a request that was answered with an error. */
export function writeErrorOutcome(code: RequestErrorCode, issues: readonly RequestIssue[]): OperationOutcome {
  const { issue, text } = REQUEST_ERRORS[code];
  const located = issues.length > 0 ? issues : [{ expression: null, text: '' }];
  return {
    resourceType: 'OperationOutcome',
    issue: located.map(
      (fault): OperationOutcomeIssue => ({
        severity: 'error',
        code: issue,
        details: { coding: [{ system: GRIP_ISSUES, code }], text },
        ...(fault.text
          ? { diagnostics: fault.expression ? `${fault.expression} ${fault.text}` : fault.text }
          : {}),
        ...(fault.expression ? { expression: [fhirPath(fault.expression)] } : {}),
      }),
    ),
  };
}

/**
 * FHIRPath names a choice element without its type: `value`, not `valueQuantity`. The diagnostics keep the name
 * that the JSON has.
 */
function fhirPath(path: string): string {
  return path.replace(/\b(value|effective|deceased)[A-Z][A-Za-z]*/g, '$1');
}

/** Everything that a Bundle of interpretations has to say besides its Observations. */
export function writeEvaluationOutcome(
  evaluation: Evaluation,
  filing: FilingCount = NOTHING_BEFORE,
): OperationOutcome {
  const { id, panel, engine, refusals, notices = [], interpretations, sex } = evaluation;
  const { ref } = panel.panel;
  const recorded = `Recorded as evaluation ${id} by ${engine.name} ${engine.version} with panel ${ref.id} ${ref.version}.`;
  return {
    resourceType: 'OperationOutcome',
    issue: [
      information(`${recorded} Sex: ${sexText(sex)}.`),
      ...notices.map(noticeIssue),
      ...refusals.map((refusal) => refusalIssue(refusal, evaluation)),
      ...interpretations.flatMap((interpretation) => sessionIssues(interpretation, evaluation)),
      ...(interpretations.length === 0 ? [nothingRead()] : []),
      ...filedBefore(filing),
      ...withdrawn(filing),
      information(NOT_READ),
      information(intendedUse(interpretations.at(-1)?.ageYears ?? null)),
    ],
  };
}

/** How many results there are, and where those came from that were filed before. */
export interface FilingCount {
  readonly results: number;
  readonly before: readonly { readonly origin: Origin }[];
  /** Results that this evaluation withdraws. */
  readonly withdrawals: readonly Withdrawal[];
  /** How many were filed before and removed since. */
  readonly removed: number;
}

const NOTHING_BEFORE: FilingCount = { results: 0, before: [], withdrawals: [], removed: 0 };

/** The same trials read by the same versions: given out as they were filed, so that the record is not doubled. */
function filedBefore({ results, before }: FilingCount): readonly OperationOutcomeIssue[] {
  if (before.length === 0) return [];
  const first = [...new Set(before.map(({ origin }) => `${origin.record} of ${origin.at}`))];
  return [
    information(
      `Filed before, returned as they were and not filed again: ${before.length} of ${results} results (evaluation ${first.join(', ')}).`,
    ),
  ];
}

/** What was filed and is no longer so, and what is sent here but was taken back since. */
function withdrawn({ before, withdrawals, removed }: FilingCount): readonly OperationOutcomeIssue[] {
  const stale = before.filter(({ origin }) => origin.facts !== undefined).length;
  const changed = [...new Set(withdrawals.map(({ reference, status }) => `${reference} (${status})`))];
  return [
    ...(changed.length > 0
      ? [
          warning(
            `Results filed before that rest on what was changed since, ${changed.join(', ')}: ${withdrawals.length}. They are withdrawn (status entered-in-error).`,
          ),
        ]
      : []),
    ...(removed > 0
      ? [warning(`Results removed from this service before and not given out again: ${removed}.`)]
      : []),
    ...(stale > 0
      ? [
          warning(
            `Of these results, withdrawn before because a trial was changed: ${stale}. What was sent is not the newest of the record. Send it as it is charted now.`,
          ),
        ]
      : []),
  ];
}

function warning(text: string): OperationOutcomeIssue {
  return { severity: 'warning', code: 'conflict', details: { text } };
}

function sessionIssues(
  interpretation: Interpretation,
  evaluation: Evaluation,
): readonly OperationOutcomeIssue[] {
  const refused = interpretation.results.filter((result) => result.kind === 'refusal');
  return [
    information(chartSentence(interpretation, evaluation.panel)),
    ...refused.map((refusal) => refusalIssue(refusal, evaluation)),
    ...interpretation.cautions.map(cautionIssue),
    ...interpretation.changes.map((change) => information(changeSentence(change, evaluation.panel))),
    ...[
      ...yardstickNotes(interpretation.changes, evaluation.panel),
      nextSentence(interpretation.nextFrom, evaluation.at),
      interpretation.summaries.length > 0 ? notCharted(usedTrials(evaluation, interpretation)) : '',
      ...nutritionReading(interpretation),
    ]
      .filter(Boolean)
      .map(information),
  ];
}

function refusalIssue(refusal: Refusal, { expressions }: Evaluation): OperationOutcomeIssue {
  const { issue, severity } = REFUSALS[refusal.code];
  // What the core refuses about one trial is its reading.
  const trial = refusal.trial === null ? undefined : expressions.get(refusal.trial);
  const expression = refusal.expression ?? (trial ? `${trial}.valueQuantity.value` : null);
  const about = refusal.set ? `${refusal.set.id}|${refusal.set.version}` : refusal.trial;
  return {
    severity,
    code: issue,
    details: { coding: [{ system: GRIP_ISSUES, code: refusal.code }], text: refusalSentence(refusal) },
    ...(about ? { diagnostics: about } : {}),
    ...(expression ? { expression: [fhirPath(expression)] } : {}),
  };
}

function noticeIssue(notice: Notice): OperationOutcomeIssue {
  const { severity, issue } = NOTICES[notice.code];
  return {
    severity,
    code: issue,
    details: { coding: [{ system: GRIP_ISSUES, code: notice.code }], text: noticeSentence(notice) },
    ...(notice.expression ? { expression: [notice.expression] } : {}),
  };
}

function cautionIssue(caution: Caution): OperationOutcomeIssue {
  const severity: Severity = caution.code === 'MASS_UNIT_READ_AS_FORCE' ? 'information' : 'warning';
  return {
    severity,
    code: 'informational',
    details: { coding: [{ system: GRIP_ISSUES, code: caution.code }], text: cautionSentence(caution) },
  };
}

function nothingRead(): OperationOutcomeIssue {
  const text = 'No usable grip strength trial was found in the request, so nothing was interpreted.';
  return { severity: 'warning', code: 'not-found', details: { text } };
}

function information(text: string): OperationOutcomeIssue {
  return { severity: 'information', code: 'informational', details: { text } };
}
