/**
 * The table of requests that are answered with an error; refusals to interpret are in refusals.ts. Replies,
 * OperationOutcome and the documentation derive from both. Texts here go outside: they name elements and
 * figures, never people. What goes to the log is separate (`cause`).
 */

/** Codes of http://hl7.org/fhir/issue-type that we use. */
export type IssueType =
  | 'structure'
  | 'required'
  | 'value'
  | 'invariant'
  | 'not-found'
  | 'not-supported'
  | 'deleted'
  | 'login'
  | 'too-costly'
  | 'too-long'
  | 'code-invalid'
  | 'duplicate'
  | 'business-rule'
  | 'conflict'
  | 'extension'
  | 'no-store'
  | 'timeout'
  | 'exception'
  | 'incomplete'
  | 'informational';

export type Severity = 'error' | 'warning' | 'information';

export const REQUEST_ERRORS = {
  BODY_NOT_JSON: {
    status: 400,
    issue: 'structure',
    text: 'The body is not JSON in UTF-8 of at most 64 levels and 100,000 values.',
  },
  BODY_INVALID: { status: 400, issue: 'structure', text: 'The body does not have the required form.' },
  PATIENT_MISSING: {
    status: 400,
    issue: 'required',
    text: 'Exactly one Patient with an id or fullUrl is required.',
  },
  PATIENT_MISMATCH: {
    status: 400,
    issue: 'invariant',
    text: 'The data belong to more than one patient; nothing was interpreted.',
  },
  PANEL_UNKNOWN: { status: 400, issue: 'code-invalid', text: 'There is no such panel in this installation.' },
  SEARCH_INVALID: {
    status: 400,
    issue: 'value',
    text: 'The search has a parameter that cannot be used; nothing was searched.',
  },
  HOOK_NOT_OFFERED: { status: 400, issue: 'value', text: 'This service does not answer this hook.' },
  UNAUTHENTICATED: { status: 401, issue: 'login', text: 'Valid credentials are required.' },
  NOT_FOUND: { status: 404, issue: 'not-found', text: 'There is nothing at this address.' },
  METHOD_NOT_ALLOWED: {
    status: 405,
    issue: 'not-supported',
    text: 'This address does not answer this method.',
  },
  NOT_ACCEPTABLE: {
    status: 406,
    issue: 'not-supported',
    text: 'Only JSON of FHIR R4 is produced: application/fhir+json or application/json.',
  },
  REQUEST_TIMEOUT: { status: 408, issue: 'timeout', text: 'The request took too long to arrive.' },
  GONE: { status: 410, issue: 'deleted', text: 'It was here and has been removed.' },
  PREFETCH_MISSING: { status: 412, issue: 'incomplete', text: 'Required prefetch data are missing.' },
  BODY_TOO_LARGE: { status: 413, issue: 'too-long', text: 'The body is larger than this address accepts.' },
  MEDIA_TYPE_UNSUPPORTED: {
    status: 415,
    issue: 'not-supported',
    text: 'Only application/json and application/fhir+json (FHIR R4) are read.',
  },
  BATCH_TOO_COSTLY: {
    status: 422,
    issue: 'too-costly',
    text: 'Not done: the answers before it are as large as one reply may be. Send it again in a smaller batch.',
  },
  INTERNAL: { status: 500, issue: 'exception', text: 'The service failed. Nothing was interpreted.' },
  NOT_RECORDED: {
    status: 503,
    issue: 'no-store',
    text: 'The answer could not be put on record, so it is not given. Try again later.',
  },
} as const satisfies Record<string, { status: number; issue: IssueType; text: string }>;

export type RequestErrorCode = keyof typeof REQUEST_ERRORS;

/** One thing wrong with a request; `expression` is a FHIRPath or a path into the body. */
export interface RequestIssue {
  readonly expression: string | null;
  readonly text: string;
}

/** A request that gets an error reply. `issues` are for the client; `cause` is for the log only. */
export class RequestError extends Error {
  override readonly name = 'RequestError';
  readonly code: RequestErrorCode;
  readonly issues: readonly RequestIssue[];

  constructor(code: RequestErrorCode, issues: readonly RequestIssue[] = [], options?: ErrorOptions) {
    super(code, options);
    this.code = code;
    this.issues = issues;
  }
}
