/**
 * The invariants that HL7 publishes for CDS Hooks (HL7/cds-hooks, input/fsh/invariants) as FHIRPath, and what its logical
 * models say of members and what its text says in words, in the same language. Each is compiled once, by fhirpath.js.
 */
import fhirpath from 'fhirpath';

interface Rule {
  /** As published; our own start with the model or requirement that they are of. */
  readonly name: string;
  /** FHIRPath of the nodes that it is about; empty: the whole. */
  readonly context: string;
  /** Must be true for each of those nodes. */
  readonly expression: string;
}

/** Words of the standard turned round: `&&` of cds-resp-2 is no FHIRPath, `\w-.` of ord-1 is no range. */
export const REPLY_INVARIANTS: readonly Rule[] = [
  {
    name: 'cds-resp-1',
    context: 'cards',
    expression: "(selectionBehavior = 'at-most-one') implies suggestions.where(isRecommended).count() <= 1",
  },
  {
    name: 'cds-resp-2',
    context: 'cards.suggestions.actions',
    expression: "(type = 'delete') implies (resourceId.exists() and resource.empty())",
  },
  {
    name: 'cds-resp-3',
    context: 'cards.links',
    expression: "(type != 'smart') implies (appContext.empty())",
  },
  { name: 'cds-resp-4', context: 'cards', expression: 'overrideReasons.all(display.exists())' },
  { name: 'cds-resp-5', context: 'cards.suggestions', expression: 'actions.all(description.exists())' },
  {
    name: 'cds-resp-6',
    context: 'cards',
    expression: 'suggestions.exists() implies selectionBehavior.exists()',
  },
  {
    name: 'cds-resp-7',
    context: 'cards.suggestions',
    expression:
      "actionSelectionBehavior.empty() or actionSelectionBehavior = 'all' or actionSelectionBehavior = 'any' or actionSelectionBehavior = 'at-most-one'",
  },
];

export const REQUEST_INVARIANTS: readonly Rule[] = [
  { name: 'cds-r-1', context: '', expression: 'fhirAuthorization.exists() implies fhirServer.exists()' },
  {
    name: 'ord-1',
    context: 'context.userId',
    expression: "$this.matches('^[\\\\d\\\\w]+\\\\/[\\\\d\\\\w.-]+$')",
  },
];

/** Published with the severity of a warning: what a client should keep to, and need not for an answer. */
export const REQUEST_WARNINGS: readonly Rule[] = [
  {
    name: 'cds-r-2',
    context: 'fhirAuthorization',
    expression: "scope.contains('Patient/') implies patient.exists()",
  },
];

export const FEEDBACK_INVARIANTS: readonly Rule[] = [
  { name: 'cds-fb-1', context: 'feedback', expression: "outcome = 'accepted' or outcome = 'overridden'" },
  {
    name: 'cds-fb-2',
    context: 'feedback',
    expression: "(outcome = 'accepted') implies acceptedSuggestions.exists()",
  },
  {
    name: 'cds-fb-3',
    context: 'feedback.overrideReason',
    expression: 'reason.exists() or userComment.exists()',
  },
];

const UUID = "'^[0-9a-fA-F]{8}-([0-9a-fA-F]{4}-){3}[0-9a-fA-F]{12}$'";
const ABSOLUTE = "'^https?://[^/]+'";
const one = (...members: readonly string[]) =>
  members.map((member) => `(${member}.count() = 1 and ${member} is System.String)`).join(' and ');

/** Logical models CDSHooksServicesResponse: which members there are, how often, and which codes. */
export const REPLY_MODEL: readonly Rule[] = [
  { name: 'LM cards.uuid 0..1 uuid', context: 'cards', expression: `uuid.empty() or uuid.matches(${UUID})` },
  { name: 'LM cards.summary 1..1', context: 'cards', expression: one('summary') },
  { name: 'C1 fewer than 140 characters', context: 'cards', expression: 'summary.length() < 140' },
  {
    name: 'LM cards.indicator 1..1',
    context: 'cards',
    expression: "indicator.count() = 1 and (indicator in ('info' | 'warning' | 'critical'))",
  },
  { name: 'LM cards.source 1..1', context: 'cards', expression: `source.count() = 1` },
  { name: 'LM source.label 1..1', context: 'cards.source', expression: one('label') },
  {
    name: 'C4 source.url is absolute',
    context: 'cards.source.url',
    expression: `$this.matches(${ABSOLUTE})`,
  },
  { name: 'C6 source.topic is a Coding', context: 'cards.source.topic', expression: one('code', 'system') },
  {
    name: 'LM cards.selectionBehavior',
    context: 'cards.selectionBehavior',
    expression: "$this in ('at-most-one' | 'any')",
  },
  {
    name: 'E2 override reasons',
    context: 'cards.overrideReasons',
    expression: one('code', 'system', 'display'),
  },
  { name: 'LM suggestions.label 1..1', context: 'cards.suggestions', expression: one('label') },
  {
    name: 'LM suggestions.uuid 0..1 uuid',
    context: 'cards.suggestions',
    expression: `uuid.empty() or uuid.matches(${UUID})`,
  },
  {
    name: 'LM actions.type 1..1',
    context: 'cards.suggestions.actions',
    expression: "type.count() = 1 and (type in ('create' | 'update' | 'delete'))",
  },
  {
    name: 'S5 create and update carry a resource',
    context: 'cards.suggestions.actions',
    expression: "(type = 'delete') or resource.resourceType.exists()",
  },
  { name: 'LM links 1..1', context: 'cards.links', expression: one('label', 'url', 'type') },
  { name: 'LM links.type', context: 'cards.links', expression: "type in ('absolute' | 'smart')" },
  { name: 'L1 a link is absolute', context: 'cards.links', expression: `url.matches(${ABSOLUTE})` },
];

/** Logical model CDSHooksServices: the answer of discovery. */
export const DISCOVERY_MODEL: readonly Rule[] = [
  { name: 'LM services 1..1', context: 'services', expression: one('hook', 'id', 'description') },
  {
    name: 'LM services.title 0..1',
    context: 'services',
    expression: `title.empty() or (${one('title')})`,
  },
  {
    name: 'LM services.usageRequirements 0..1',
    context: 'services',
    expression: `usageRequirements.empty() or (${one('usageRequirements')})`,
  },
  {
    name: 'LM services.prefetch.value 1..1 string',
    context: 'services.prefetch.children()',
    expression: '$this is System.String',
  },
];

type Check = (value: object) => unknown;
const compiled = new Map<string, Check>();

/** A node is a plain value here: no model of FHIR is given. What cannot be answered does not hold. */
function holds({ context, expression }: Rule, value: object): boolean {
  const text = context === '' ? expression : `${context}.all(${expression})`;
  let check = compiled.get(text);
  if (!check) {
    const run = fhirpath.compile(text, undefined, { traceFn: () => {} });
    check = (node) => run(node);
    compiled.set(text, check);
  }
  try {
    const [answer] = check(value) as unknown[];
    return answer === true;
  } catch {
    return false;
  }
}

/** @returns names of the rules that do not hold */
export function brokenIn(rules: readonly Rule[], value: object): readonly string[] {
  return rules.filter((rule) => !holds(rule, value)).map(({ name }) => name);
}

/** J2, J3: paths of what is null or empty; `sanctioned` ones are the lists that may be. */
export function emptyIn(value: unknown, sanctioned: readonly string[] = [], path = ''): readonly string[] {
  if (value === null) return [`J2 null at ${path}`];
  if (value === '') return [`J3 empty text at ${path}`];
  if (typeof value !== 'object') return [];
  const members = Object.entries(value);
  if (members.length === 0) return sanctioned.includes(path) ? [] : [`J3 nothing in ${path || 'the whole'}`];
  return members.flatMap(([name, member]) => emptyIn(member, sanctioned, path ? `${path}.${name}` : name));
}
