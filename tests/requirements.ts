/**
 * What CDS Hooks asks of a service, numbered, one sentence each. `index.md L526` is a line of the specification's
 * `input/pagecontent/index.md` at tag v2.0.1 of HL7/cds-hooks, `3.0 L819` a line of the same file of 3.0.0-ballot, `LM`
 * HL7's logical models (`input/fsh`) with the name of the invariant; `own` is what we conclude where no text says it.
 * Tests cite the ids at the start of their names.
 */

export type Level = 'SHALL' | 'SHOULD' | 'MAY' | 'own';

export interface Requirement {
  readonly id: string;
  readonly level: Level;
  readonly text: string;
  readonly source: string;
  /** Why no test can show it; at present every one has a test. */
  readonly skipped?: string;
}

type Row = readonly [id: string, level: Level, text: string, source: string, skipped?: string];

const JSON_RULES: readonly Row[] = [
  ['J1', 'SHALL', 'Bodies are JSON, sent over HTTPS in production.', 'index.md L43'],
  ['J2', 'SHALL', 'No member is null.', 'index.md L47'],
  ['J3', 'SHALL', 'No member is empty but `cards` and `services`.', 'index.md L48, L52, L97, L551'],
  ['J4', 'SHALL', 'An optional member without a value is left out.', 'index.md L50'],
  ['J5', 'SHALL', 'FHIR resources inside are standard FHIR JSON.', '3.0 L51, L53'],
  ['J6', 'own', 'Unknown members of a request are tolerated.', 'own'],
];

const DISCOVERY: readonly Row[] = [
  ['D1', 'SHALL', 'GET {base}/cds-services always answers.', 'index.md L84'],
  ['D2', 'SHALL', 'The answer is an object with a list of services.', 'index.md L90, L97'],
  ['D3', 'SHALL', 'Each entry has hook, description and id.', 'index.md L103-L106'],
  ['D4', 'SHOULD', 'Each entry has a title.', 'index.md L104'],
  ['D5', 'MAY', 'An entry has prefetch (text to text) and usageRequirements.', 'index.md L107-L108'],
  ['D6', 'MAY', 'The members version and hookVersion of 3.0 do no harm; none is sent.', '3.0 L129-L130'],
  ['D7', 'SHALL', 'The id is the last step of the address that is called.', 'index.md L106'],
  ['D8', 'MAY', 'Entries share an id; here each has its own.', 'index.md L111'],
  ['D9', 'SHALL', 'Success is 200; other statuses are errors.', 'index.md L117-L120'],
  ['D10', 'own', 'Discovery asks for credentials where the others do.', 'index.md L980'],
];

const CALL: readonly Row[] = [
  ['Q1', 'SHALL', 'hook is a text, and a hook that the service answers.', 'index.md L174'],
  ['Q2', 'SHALL', 'hookInstance is a UUID.', 'index.md L175, L186'],
  ['Q3', 'SHALL', 'context is an object with the fields of its hook.', 'index.md L178'],
  ['Q4', 'SHALL', 'fhirServer is there when fhirAuthorization is.', 'index.md L176; LM cds-r-1'],
  [
    'Q5',
    'SHALL',
    'fhirAuthorization is whole: a Bearer token with its terms.',
    'index.md L498-L503; LM cds-r-2',
  ],
  ['Q6', 'SHALL', 'prefetch is an object of resources or null, by our keys.', 'index.md L179, L280'],
  ['Q7', 'SHALL', 'extension is an object; unknown ones are ignored.', 'index.md L1113'],
  ['Q8', 'SHALL', 'A call is a POST of JSON within the size allowed.', 'index.md L168'],
];

const PREFETCH: readonly Row[] = [
  ['P1', 'SHALL', 'Templates are published in discovery, each with its key.', 'index.md L232, L248'],
  ['P2', 'SHALL', 'Tokens stand in {{ }} and name a context path or a user id.', 'index.md L288'],
  ['P3', 'SHALL', 'Tokens are first-level primitive fields of the hook.', 'index.md L290, L338, L350'],
  ['P4', 'SHOULD', 'Templates keep to the restricted subset of FHIR queries.', 'index.md L326-L336'],
  ['P5', 'SHALL', 'Only data that were asked for are relied on.', 'index.md L274'],
  ['P6', 'SHOULD', 'An OperationOutcome in prefetched data is looked for.', 'index.md L280'],
  ['P7', 'SHALL', 'Received keys are compared with the templates; gaps are fetched.', 'index.md L282'],
  ['P8', 'SHALL', 'Required data that cannot be had are a 412.', 'index.md L282, L538'],
  ['P9', 'SHALL', 'fhirServer is asked with the token given, which is not kept.', 'index.md L236, L508'],
  ['P10', 'own', 'A further page is fetched from the same origin, or said to be unread.', '3.0 L301'],
  ['P11', 'own', 'Each form of a prefetched value has its one meaning.', 'index.md L274-L282'],
  ['P12', 'own', 'Templates are such that a 2.0 client can resolve them.', 'own'],
];

const RESPONSE: readonly Row[] = [
  ['R1', 'SHALL', 'Success is 200 with an object that has cards.', 'index.md L526, L547-L548'],
  ['R2', 'SHOULD', 'Nothing to say is 200 with an empty list of cards.', 'index.md L551'],
  ['R3', 'SHALL', 'Missing data are 412; other faults other 4xx or 5xx.', 'index.md L538'],
  ['R4', 'SHOULD', 'A body that is not of success is an OperationOutcome.', '3.0 L819'],
];

const CARD: readonly Row[] = [
  ['C1', 'SHALL', 'summary is one sentence of fewer than 140 characters.', 'index.md L568'],
  ['C2', 'SHALL', 'indicator is info, warning or critical.', 'index.md L570'],
  ['C3', 'SHALL', 'source is an object with a label.', 'index.md L571, L584'],
  ['C4', 'MAY', 'source.url is absolute and about no patient.', 'index.md L585'],
  ['C5', 'MAY', 'source.icon is an absolute URL of an image.', 'index.md L586'],
  ['C6', 'MAY', 'source.topic is a Coding.', 'index.md L587'],
  ['C7', 'MAY', 'uuid names the card for feedback, and no other card.', 'index.md L567'],
  ['C8', 'SHALL', 'detail is GitHub-flavoured Markdown; here without HTML.', 'index.md L569; 3.0 L862'],
  ['C9', 'MAY', 'suggestions is a list that is not empty.', 'index.md L572'],
  ['C10', 'SHALL', 'selectionBehavior comes with suggestions.', 'index.md L573; LM cds-resp-6'],
  ['C11', 'SHALL', 'overrideReasons are Codings with a display.', 'index.md L574, L672; LM cds-resp-4'],
  ['C12', 'MAY', 'links is a list that is not empty.', 'index.md L575'],
];

const SUGGESTION: readonly Row[] = [
  ['S1', 'SHALL', 'A suggestion has a label; uuid, isRecommended and actions may be.', 'index.md L613-L616'],
  ['S2', 'SHALL', 'With at-most-one at most one is recommended.', 'LM cds-resp-1'],
  ['S3', 'SHALL', 'The actions of one suggestion belong together.', 'index.md L616'],
  ['S4', 'SHALL', 'An action has a type and a description.', 'index.md L625-L626; LM cds-resp-5'],
  ['S5', 'SHALL', 'create and update carry a whole resource.', 'index.md L627'],
  ['S6', 'SHOULD', 'delete carries a resourceId and no resource.', 'index.md L628; LM cds-resp-2'],
  ['S7', 'MAY', 'systemActions only by agreement; none is sent.', 'index.md L548, L713'],
];

const LINK: readonly Row[] = [
  ['L1', 'SHALL', 'A link has a label, a URL and a type.', 'index.md L699-L701'],
  ['L2', 'SHALL', 'appContext only on a link of type smart.', 'index.md L702; LM cds-resp-3'],
  ['L3', 'MAY', 'autolaunchable; none is sent.', 'index.md L703, L710'],
];

const FEEDBACK: readonly Row[] = [
  ['F1', 'SHALL', 'The body is an object with a list feedback.', 'index.md L827'],
  ['F2', 'SHALL', 'Each entry is whole.', 'index.md L838-L842; LM cds-fb-1 to cds-fb-3'],
  ['F3', 'SHALL', 'A card may be reported again, and several at once.', 'index.md L852'],
  ['F4', 'SHALL', 'Feedback is for cards with a uuid; ignored ones are not reported.', 'index.md L880-L884'],
  ['F5', 'own', 'A reason without display is taken.', 'own'],
  ['F6', 'own', 'The answer has no body and reveals no card of another.', 'own'],
  ['F7', 'own', 'Feedback asks for the same credentials as a call.', 'own'],
];

const TRUST: readonly Row[] = [
  ['T1', 'SHALL', 'TLS for every address.', 'index.md L946, L965'],
  ['T2', 'SHOULD', 'Credentials where data could be exposed.', 'index.md L973'],
  ['T3', 'SHALL', 'A Bearer JWT with every call, discovery included.', 'index.md L976-L980'],
  ['T4', 'SHALL', 'The header has alg, kid and typ JWT; jku may be.', 'index.md L988-L991'],
  ['T5', 'SHALL', 'The claims iss, aud, exp, iat and jti; tenant may be.', 'index.md L998-L1003, L1008'],
  ['T6', 'SHALL', 'Neither none nor a symmetric algorithm is accepted.', 'index.md L1018-L1020, L1024'],
  ['T7', 'SHOULD', 'Issuers and key sets are on a list.', 'index.md L1006'],
  ['T8', 'SHALL', 'Keys are agreed out of band where jku is absent.', 'index.md L1012'],
  [
    'T9',
    'SHOULD',
    'Checks in order, jti remembered, nothing kept, 401 without reason.',
    'cds-hooks/docs best-practices.md',
  ],
  [
    'T10',
    'MAY',
    'Mutual TLS; here it ends at the proxy, whose word stands for no credentials.',
    'index.md L965',
  ],
  ['T11', 'SHALL', 'CORS for browser clients, explicit origins only.', 'index.md L1095-L1101'],
  [
    'T12',
    'SHALL',
    'The service is registered with the authorization server beforehand.',
    'index.md L967',
    'agreed between two organisations: the guide says so, and nothing of it is in a call',
  ],
  ['T13', 'own', 'fhirServer is one of those allowed to the client.', 'own'],
];

const DATA: readonly Row[] = [
  ['E1', 'SHALL', "An extension is an object with names that are nobody else's.", 'index.md L1113'],
  ['E2', 'SHALL', 'A Coding has a code and a system.', 'index.md L1168-L1170'],
];

export const REQUIREMENTS: readonly Requirement[] = [
  ...JSON_RULES,
  ...DISCOVERY,
  ...CALL,
  ...PREFETCH,
  ...RESPONSE,
  ...CARD,
  ...SUGGESTION,
  ...LINK,
  ...FEEDBACK,
  ...TRUST,
  ...DATA,
].map(([id, level, text, source, skipped]) => ({
  id,
  level,
  text,
  source,
  ...(skipped === undefined ? {} : { skipped }),
}));
