/**
 * Files that follow from the code tables, norms/ and the definitions of R4: the code systems in terminology/,
 * docs/reference-sets.md, src/fhir/summary-elements.ts and the tables of codes in DEVELOPERS.md. `npm run generate` writes them; a test fails when they are out of date.
 */

import { REQUEST_ERRORS } from '../src/errors.ts';
import {
  GRIP_CODE_DISPLAYS,
  GRIP_CODES,
  GRIP_ISSUES,
  GRIP_OVERRIDES,
  OVERRIDE_DISPLAYS,
} from '../src/fhir/codes.ts';
import { CAUTION_MEANINGS } from '../src/wording/caution-statements.ts';
import { REFUSALS } from '../src/wording/refusals.ts';
import { referenceCatalogue } from './generated-catalogue.ts';
import { summaryElementsFile } from './generated-summary-elements.ts';

interface Concept {
  readonly code: string;
  readonly display: string;
}

/** Path from the package root -> content of a generated file. */
export function generatedFiles(developers: string): ReadonlyMap<string, string> {
  return new Map([
    [
      'terminology/CodeSystem-grip-strength.json',
      codeSystem(
        GRIP_CODES,
        'GripStrength',
        'Grip strength: figures and results',
        concepts(GRIP_CODE_DISPLAYS),
      ),
    ],
    [
      'terminology/CodeSystem-grip-strength-issue.json',
      codeSystem(
        GRIP_ISSUES,
        'GripStrengthIssue',
        'Grip strength: errors, refusals and cautions',
        issueConcepts(),
      ),
    ],
    [
      'terminology/CodeSystem-grip-strength-override.json',
      codeSystem(
        GRIP_OVERRIDES,
        'GripStrengthOverride',
        'Grip strength: reasons for overriding a card',
        concepts(OVERRIDE_DISPLAYS),
      ),
    ],
    ['docs/reference-sets.md', referenceCatalogue()],
    ['src/fhir/summary-elements.ts', summaryElementsFile()],
    ['DEVELOPERS.md', withCodeTables(developers)],
  ]);
}

function concepts(displays: Readonly<Record<string, string>>): readonly Concept[] {
  return Object.entries(displays).map(([code, display]) => ({ code, display }));
}

function issueConcepts(): readonly Concept[] {
  const all = new Map<string, string>();
  for (const [code, { text }] of Object.entries(REQUEST_ERRORS)) all.set(code, text);
  for (const [code, { meaning }] of Object.entries(REFUSALS)) all.set(code, meaning);
  for (const [code, meaning] of Object.entries(CAUTION_MEANINGS)) all.set(code, meaning);
  return [...all].map(([code, display]) => ({ code, display }));
}

function codeSystem(url: string, name: string, title: string, concept: readonly Concept[]): string {
  const resource = {
    resourceType: 'CodeSystem',
    id: url.split('/').at(-1),
    url,
    version: '0.2.0',
    name,
    title,
    status: 'active',
    experimental: false,
    description: `${title}, as used by grip-strength-cds.`,
    caseSensitive: true,
    content: 'complete',
    count: concept.length,
    concept,
  };
  return `${JSON.stringify(resource, null, 2)}\n`;
}

function withCodeTables(developers: string): string {
  const errors = Object.entries(REQUEST_ERRORS).map(
    ([code, { status, text }]) => `| \`${code}\` | ${status} | ${text} |`,
  );
  const refusals = Object.entries(REFUSALS).map(
    ([code, { severity, meaning }]) => `| \`${code}\` | ${severity} | ${meaning} |`,
  );
  const cautions = Object.entries(CAUTION_MEANINGS).map(([code, meaning]) => `| \`${code}\` | ${meaning} |`);
  const tables = [
    '| error | status | meaning |',
    '|---|---|---|',
    ...errors,
    '',
    '| refusal | severity | meaning |',
    '|---|---|---|',
    ...refusals,
    '',
    '| caution | meaning |',
    '|---|---|',
    ...cautions,
  ].join('\n');
  const marked = /(<!-- codes: written by npm run generate -->\n)[\s\S]*?(<!-- end of codes -->)/;
  if (!marked.test(developers)) throw new Error('DEVELOPERS.md has lost the marks of its tables of codes');
  return developers.replace(marked, (_all, start: string, end: string) => `${start}${tables}\n${end}`);
}
