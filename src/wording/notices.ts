/** What is said of a request besides what was read from it: each with its meaning, how grave it is, and its sentence. */
import type { IssueType, Severity } from '../errors.ts';

/** Stable for ever. */
export type NoticeCode = 'MORE_PAGES' | 'SEARCH_OUTCOME' | 'LOCAL_CODE_READ';

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
};

export function noticeSentence({ code, facts }: Notice): string {
  return NOTICES[code].text(facts);
}
