/** Errors, refusals and cautions -> OperationOutcome. */
import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';
import { REQUEST_ERRORS, type RequestErrorCode, type RequestIssue, type Severity } from '../errors.ts';
import { type Evaluation, usedTrials } from '../evaluation.ts';
import type { Caution, Interpretation, Refusal } from '../interpret/finding.ts';
import { type CautionContext, cautionSentence, notCharted } from '../wording/caution-statements.ts';
import { changeSentence, nextSentence, yardstickNotes } from '../wording/change-statements.ts';
import { chartSentence } from '../wording/chart-sentence.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { intendedUse, NOT_READ, nutritionReading } from '../wording/intended-use.ts';
import { NOTICES, type Notice, noticeSentence } from '../wording/notices.ts';
import { REFUSALS } from '../wording/refusals.ts';

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
  filing: readonly Notice[] = [],
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
      ...filing.map(noticeIssue),
      information(NOT_READ),
      information(intendedUse(interpretations.at(-1)?.ageYears ?? null)),
    ],
  };
}

function sessionIssues(
  interpretation: Interpretation,
  evaluation: Evaluation,
): readonly OperationOutcomeIssue[] {
  const refused = interpretation.results.filter((result) => result.kind === 'refusal');
  const earlier = earlierFigures(evaluation, interpretation);
  const unit = interpretation.summaries[0]?.charted.unit;
  return [
    information(chartSentence(interpretation, evaluation.panel)),
    ...refused.map((refusal) => refusalIssue(refusal, evaluation)),
    ...interpretation.cautions.map((caution) =>
      cautionIssue(caution, { before: earlier(caution.hand), unit }),
    ),
    ...interpretation.changes.map((change) =>
      information(changeSentence(change, evaluation.panel, earlier(change.hand, change.since))),
    ),
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

function cautionIssue(caution: Caution, context: CautionContext): OperationOutcomeIssue {
  const severity: Severity = caution.code === 'MASS_UNIT_READ_AS_FORCE' ? 'information' : 'warning';
  return {
    severity,
    code: 'informational',
    details: {
      coding: [{ system: GRIP_ISSUES, code: caution.code }],
      text: cautionSentence(caution, context),
    },
  };
}

function nothingRead(): OperationOutcomeIssue {
  const text = 'No usable grip strength trial was found in the request, so nothing was interpreted.';
  return { severity: 'warning', code: 'not-found', details: { text } };
}

function information(text: string): OperationOutcomeIssue {
  return { severity: 'information', code: 'informational', details: { text } };
}
