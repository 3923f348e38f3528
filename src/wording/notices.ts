/** What is said of a request besides what was read from it: each with its meaning, how grave it is, and its sentence. */
import type { IssueType, Severity } from '../errors.ts';

/** Stable for ever. */
export type NoticeCode =
  | 'MORE_PAGES'
  | 'SEARCH_OUTCOME'
  | 'LOCAL_CODE_READ'
  // what was found on record of the same chart
  | 'RESULTS_FILED_BEFORE'
  | 'RESULTS_WITHDRAWN'
  | 'RESULTS_REPLACED'
  | 'RESULTS_REINSTATED'
  | 'RESULTS_REMOVED'
  | 'SESSION_IN_PART'
  | 'TAKEN_BACK_BEFORE';

export interface Notice {
  readonly code: NoticeCode;
  /** FHIRPath of what it is about; null when it is not about one element. */
  readonly expression: string | null;
  /** What the wording needs. Codes only: never names or free text. */
  readonly facts: Readonly<Record<string, string>>;
}

interface NoticeText {
  /** For the code system and the documentation. */
  readonly meaning: string;
  readonly issue: IssueType;
  readonly severity: Severity;
  readonly text: (facts: Readonly<Record<string, string>>) => string;
}

export const NOTICES: Readonly<Record<NoticeCode, NoticeText>> = {
  MORE_PAGES: {
    meaning: 'The search results sent are one page of several',
    issue: 'incomplete',
    severity: 'warning',
    text: () =>
      'The Bundle is one page of search results: its link "next" names further results, which were not sent and not read.',
  },
  SEARCH_OUTCOME: {
    meaning: 'The search that gave the Bundle came with an OperationOutcome',
    issue: 'incomplete',
    severity: 'warning',
    text: () =>
      'The Bundle holds an OperationOutcome of the search that gave it: results may be missing. It was not read.',
  },
  LOCAL_CODE_READ: {
    meaning: 'A local code was read as a standard one',
    issue: 'informational',
    severity: 'information',
    text: ({ code, target, hand, trialNumber, map }) =>
      `Local code ${code} read as ${[target, hand ? `${hand} hand` : '', trialNumber ? `trial ${trialNumber}` : ''].filter(Boolean).join(', ')} by ConceptMap ${map}.`,
  },
  RESULTS_FILED_BEFORE: {
    meaning: 'Results were filed before and are returned as they were',
    issue: 'informational',
    severity: 'information',
    text: ({ count, results, from }) =>
      `Filed before, returned as they were and not filed again: ${count} of ${results} results (evaluation ${from}).`,
  },
  RESULTS_WITHDRAWN: {
    meaning: 'Results on record are withdrawn, because what they rest on was changed or taken back',
    issue: 'conflict',
    severity: 'warning',
    text: ({ count, because }) =>
      `Results on record that rest on what was changed since, ${because}: ${count}. They are withdrawn (status entered-in-error).`,
  },
  RESULTS_REPLACED: {
    meaning: 'Results on record are replaced, because the same trials are read otherwise now',
    issue: 'conflict',
    severity: 'warning',
    text: ({ count }) =>
      `Results on record of the same trials that do not hold as the chart is now: ${count}. They are replaced (status entered-in-error).`,
  },
  RESULTS_REINSTATED: {
    meaning: 'Results that were withdrawn or replaced are current again',
    issue: 'informational',
    severity: 'information',
    text: ({ count }) =>
      `Results that were withdrawn or replaced before and are read again now: ${count}. They are current again.`,
  },
  RESULTS_REMOVED: {
    meaning: 'Results were removed from the service and are not given out again',
    issue: 'informational',
    severity: 'warning',
    text: ({ count }) => `Results removed from this service before and not given out again: ${count}.`,
  },
  SESSION_IN_PART: {
    meaning: 'Results on record rest on these trials and on others that were not sent',
    issue: 'incomplete',
    severity: 'warning',
    text: ({ count }) =>
      `Results on record that rest on what was sent and on more that was not: ${count}. They stay current beside these: send the whole session, with what it was read with.`,
  },
  TAKEN_BACK_BEFORE: {
    meaning: 'An Observation that was taken back or amended before is read again',
    issue: 'conflict',
    severity: 'warning',
    text: ({ references }) =>
      `Read now, and charted as taken back or amended in an earlier request: ${references}. Make sure that what was sent is the newest.`,
  },
};

export function noticeSentence({ code, facts }: Notice): string {
  return NOTICES[code].text(facts);
}
