/**
 * Files that follow from the code tables, norms/ and the definitions of R4: terminology/, docs/reference-sets.md,
 * src/fhir/summary-elements.ts and the tables of codes in DEVELOPERS.md. `npm run generate` writes them; a test fails
 * when they are out of date.
 */

import { REQUEST_ERRORS } from '../src/errors.ts';
import { CAUTION_MEANINGS } from '../src/wording/caution-statements.ts';
import { NOTICES } from '../src/wording/notices.ts';
import { REFUSALS } from '../src/wording/refusals.ts';
import { referenceCatalogue } from './generated-catalogue.ts';
import { summaryElementsFile } from './generated-summary-elements.ts';
import { terminologyFiles } from './generated-terminology.ts';

/** Path from the package root -> content of a generated file. */
export function generatedFiles(developers: string): ReadonlyMap<string, string> {
  return new Map([
    ...terminologyFiles(),
    ['docs/reference-sets.md', referenceCatalogue()],
    ['src/fhir/summary-elements.ts', summaryElementsFile()],
    ['DEVELOPERS.md', withCodeTables(developers)],
  ]);
}

function withCodeTables(developers: string): string {
  const errors = Object.entries(REQUEST_ERRORS).map(
    ([code, { status, text }]) => `| \`${code}\` | ${status} | ${text} |`,
  );
  const refusals = Object.entries(REFUSALS).map(
    ([code, { severity, meaning }]) => `| \`${code}\` | ${severity} | ${meaning} |`,
  );
  const cautions = Object.entries(CAUTION_MEANINGS).map(([code, meaning]) => `| \`${code}\` | ${meaning} |`);
  const notices = Object.entries(NOTICES).map(
    ([code, { severity, meaning }]) => `| \`${code}\` | ${severity} | ${meaning} |`,
  );
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
    '',
    '| notice | severity | meaning |',
    '|---|---|---|',
    ...notices,
  ].join('\n');
  const marked = /(<!-- codes: written by npm run generate -->\n)[\s\S]*?(<!-- end of codes -->)/;
  if (!marked.test(developers)) throw new Error('DEVELOPERS.md has lost the marks of its tables of codes');
  return developers.replace(marked, (_all, start: string, end: string) => `${start}${tables}\n${end}`);
}
