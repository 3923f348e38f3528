/** A released file -> FHIR Library: what it is, where it comes from, and the file itself with its digests. */
import { createHash } from 'node:crypto';
import type { Attachment, CodeableConcept, Identifier, Library, RelatedArtifact } from 'fhir/r4.js';
import { narrative } from '../fhir/observation-parts.ts';
import { releaseCanonical, releaseId, releaseUrl } from '../fhir/release-identity.ts';
import type { SetKind, SetRef } from '../interpret/reference-set.ts';
import { citationLine } from '../reference/describe.ts';
import { type AnyRelease, everyRelease, standingOf } from '../reference/find-release.ts';
import type { ReferenceLibrary } from '../reference/library.ts';
import type { Citation } from '../reference/rule-forms.ts';
import type { PanelFile } from '../reference/schema.ts';
import { describeRelease } from './describe-release.ts';

const LIBRARY_TYPE = 'http://terminology.hl7.org/CodeSystem/library-type';
/** A rule is formalised knowledge; a panel names the sets and rules of a context, which R4 calls a module. */
const TYPES: Readonly<Record<SetKind, string>> = {
  table: 'asset-collection',
  'cut-points': 'asset-collection',
  rule: 'logic-library',
  panel: 'module-definition',
};

const STATUS = { active: 'active', superseded: 'retired', provisional: 'draft' } as const;

export function writeLibrary(library: ReferenceLibrary, release: AnyRelease): Library {
  const { file, ref } = release;
  const { description, purpose, usage } = describeRelease(release);
  const copyright = 'licence' in file ? { copyright: file.licence } : {};
  const related = relatedArtifacts(library, release);
  return {
    resourceType: 'Library',
    id: releaseId(ref),
    text: { status: 'generated', div: narrative([file.title, ...description, digestText(ref)]) },
    url: releaseUrl(ref),
    identifier: [digestIdentifier(ref)],
    version: ref.version,
    name: computableName(ref),
    title: file.title,
    status: STATUS[standingOf(library, release)],
    type: { coding: [{ system: LIBRARY_TYPE, code: TYPES[ref.kind] }] },
    subjectCodeableConcept: PATIENT,
    date: file.released,
    description: description.join('\n\n'),
    purpose,
    ...(usage ? { usage } : {}),
    ...copyright,
    ...(related.length > 0 ? { relatedArtifact: related } : {}),
    content: [attachment(release)],
  };
}

const PATIENT: CodeableConcept = {
  coding: [{ system: 'http://hl7.org/fhir/resource-types', code: 'Patient' }],
};

function digestText({ digest }: SetRef): string {
  return `SHA-256 of the released file: ${digest}`;
}

/**
 * The `nih` form of RFC 6920 names a thing by its hash in hexadecimal, as audit records and answers print it, so
 * that a Library is found by the digest; for a URI as the value R4 asks for this system.
 */
export function digestIdentifier({ digest }: Pick<SetRef, 'digest'>): Identifier {
  return { system: 'urn:ietf:rfc:3986', value: `nih:sha-256;${digest}` };
}

/** `PanelAdultInpatientUs`: letters, digits and no hyphens (invariant lib-0). */
function computableName({ kind, id }: SetRef): string {
  const words = `${kind}-${id}`.split('-');
  return words.map((word) => word.charAt(0).toUpperCase() + word.slice(1)).join('');
}

/** R4 fixes SHA-1 for `hash`; the digest that the lock, the answers and the records name is SHA-256. */
function attachment({ ref, base64, file }: AnyRelease): Attachment {
  const bytes = Buffer.from(base64, 'base64');
  return {
    contentType: 'application/json',
    data: base64,
    size: bytes.length,
    hash: createHash('sha1').update(bytes).digest('base64'),
    title: `${ref.kind}/${ref.id}/${ref.version}.json, SHA-256 ${ref.digest}`,
    creation: file.released,
  };
}

function relatedArtifacts(library: ReferenceLibrary, release: AnyRelease): RelatedArtifact[] {
  const { file } = release;
  return [
    ...citations(file),
    ...predecessor(library, release),
    ...successors(library, release),
    ...(file.kind === 'panel' ? dependencies(file) : []),
  ];
}

function citations(file: AnyRelease['file']): RelatedArtifact[] {
  if (file.kind === 'panel') return [];
  if (file.kind === 'rule') return file.citations.map((citation) => ({ type: 'citation', citation }));
  return [{ type: 'citation', citation: citationLine(file.citation), ...linkOf(file.citation) }];
}

function linkOf({ doi }: Citation): Pick<RelatedArtifact, 'url'> {
  return doi ? { url: `https://doi.org/${doi}` } : {};
}

function predecessor(library: ReferenceLibrary, { file, ref }: AnyRelease): RelatedArtifact[] {
  const { supersedes } = file;
  if (!supersedes) return [];
  const before = everyRelease(library).find(
    (each) => each.ref.id === supersedes.id && each.ref.version === supersedes.version,
  );
  const resource = releaseCanonical(before?.ref ?? { ...supersedes, kind: ref.kind });
  return [{ type: 'predecessor', display: supersedes.reason, resource }];
}

/** Later releases that replace this one, and the later work that its source gave way to. */
function successors(library: ReferenceLibrary, { file, ref }: AnyRelease): RelatedArtifact[] {
  const all = everyRelease(library);
  const later = all.filter(
    ({ file: { supersedes } }) => supersedes?.id === ref.id && supersedes.version === ref.version,
  );
  const { supersededBy } = file;
  const work = supersededBy && all.find((each) => each.ref.id === supersededBy.id);
  return [
    ...later.map((each): RelatedArtifact => ({ type: 'successor', resource: releaseCanonical(each.ref) })),
    ...(supersededBy
      ? [
          {
            type: 'successor' as const,
            display: supersededBy.what,
            ...(work ? { resource: releaseUrl(work.ref) } : {}),
          },
        ]
      : []),
  ];
}

/** Sets, the rules they are read by, and the rules for trials, record and course; each once. */
function dependencies({ entries, unitGuards = [], rules }: PanelFile): RelatedArtifact[] {
  const rule = (named: { id: string; version: string }) => releaseCanonical({ ...named, kind: 'rule' });
  const named = [
    ...entries.flatMap((entry) => [releaseCanonical(entry.set), ...(entry.rule ? [rule(entry.rule)] : [])]),
    ...unitGuards.flatMap(({ table, rule: by }) => [releaseCanonical({ ...table, kind: 'table' }), rule(by)]),
    ...Object.values(rules).flatMap((each) => (each ? [rule(each)] : [])),
  ];
  return [...new Set(named)].map((resource) => ({ type: 'depends-on', resource }));
}
