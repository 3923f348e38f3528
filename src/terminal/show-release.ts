/** One released file as lines for a terminal: where it comes from, its figures, its doubts. */
import { citationLine } from '../reference/describe.ts';
import { type AnyRelease, replacedBy, standingOf, usedIn } from '../reference/find-release.ts';
import type { ReferenceLibrary } from '../reference/library.ts';
import type { Release } from '../reference/read-norms.ts';
import type { RuleFile } from '../reference/rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from '../reference/schema.ts';
import { cutPointLines, tableLines } from './show-figures.ts';
import { panelLines, ruleLines } from './show-rules.ts';

/** Empty lines part the head from the figures. */
export function releaseLines(library: ReferenceLibrary, release: AnyRelease): readonly string[] {
  const { file, ref } = release;
  const panels = usedIn(library, release);
  const later = replacedBy(library, release);
  const { supersedes } = file;
  return [
    file.title,
    `${ref.kind} ${ref.id} ${ref.version}, ${standingOf(library, release)}, released ${file.released}`,
    `SHA-256 ${ref.digest}`,
    ...(supersedes ? [`Supersedes: ${supersedes.id} ${supersedes.version} (${supersedes.reason})`] : []),
    ...(later.length > 0 ? [`Superseded by: ${later.join(', ')}`] : []),
    ...(panels.length > 0 ? [`Applied by: ${panels.join(', ')}`] : []),
    ...(isPublished(file) ? sourceLines(file) : []),
    ...file.doubts.map((doubt) => `Doubt: ${doubt}`),
    '',
    ...bodyLines(library, release),
  ];
}

function isPublished(file: AnyRelease['file']): file is TableFile | CutPointsFile {
  return file.kind === 'table' || file.kind === 'cut-points';
}

function bodyLines(library: ReferenceLibrary, release: AnyRelease): readonly string[] {
  const { file } = release;
  if (file.kind === 'table') return tableLines(release as Release<TableFile>, library.releases);
  if (file.kind === 'cut-points') return cutPointLines(file);
  return file.kind === 'rule' ? ruleLines(file satisfies RuleFile) : panelLines(file satisfies PanelFile);
}

function sourceLines(file: TableFile | CutPointsFile): readonly string[] {
  const { protocol, summary, verification } = file;
  return [
    `Source: ${citationLine(file.citation)} (${file.citation.where})`,
    `Licence: ${file.licence}`,
    `People: ${file.population}`,
    `Instrument: ${file.instrumentClass ?? 'not stated'}; posture: ${protocol.posture ?? 'not stated'}`,
    ...builtLines(file.built),
    `Summary: ${summary.kind ?? 'not stated'} (${summary.note}); unit ${file.unit}${overText(file)}`,
    `Verified: ${verification.level}. ${verification.comparedWith}`,
  ];
}

/** What a measurement's own protocol is held against. */
function builtLines(built: TableFile['built']): readonly string[] {
  if (!built) return [];
  const parts = Object.entries(built).map(([part, word]) => `${part} ${word ?? 'not stated'}`);
  return [`Measured with: ${parts.join(', ')}`];
}

function overText({ quantity }: TableFile | CutPointsFile): string {
  if (quantity === 'force-over-bmi') return ', divided by body mass index in kg/m2';
  return quantity === 'force-over-height-squared' ? ', divided by height in m squared' : '';
}
