/** Finds a released file by its id, and what else in the library speaks of it. */
import { compareVersions, type ReferenceLibrary } from './library.ts';
import { NormsFault, type Release } from './read-norms.ts';
import type { RuleFile } from './rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from './schema.ts';

export type AnyRelease = Release<TableFile | CutPointsFile | RuleFile | PanelFile>;

export function everyRelease({ releases }: ReferenceLibrary): readonly AnyRelease[] {
  return [...releases.tables, ...releases.cutPoints, ...releases.rules, ...releases.panels];
}

/** The newest version, or the one named. @throws NormsFault when there is none */
export function requireRelease(library: ReferenceLibrary, id: string, version?: string): AnyRelease {
  const found = everyRelease(library)
    .filter(({ ref }) => ref.id === id && (!version || ref.version === version))
    .sort((a, b) => compareVersions(a.ref.version, b.ref.version))
    .at(-1);
  if (found) return found;
  throw new NormsFault(
    `there is no reference set ${id}${version ? ` ${version}` : ''}; see: references list`,
  );
}

/** Panels that apply a set or rule, as `id version`. */
export function usedIn(library: ReferenceLibrary, { ref }: AnyRelease): readonly string[] {
  return library.releases.panels.flatMap(({ file }) => {
    const named = [
      ...file.entries.flatMap(({ set, rule }) => (rule ? [set, rule] : [set])),
      ...Object.values(file.rules).filter((rule) => rule !== undefined),
    ];
    const applies = named.some(({ id, version }) => id === ref.id && version === ref.version);
    return applies ? [`${file.id} ${file.version}`] : [];
  });
}

/** Releases that replace this one, as `id version`, and the later work that its own file names. */
export function replacedBy(library: ReferenceLibrary, { ref, file }: AnyRelease): readonly string[] {
  const later = everyRelease(library).filter(
    ({ file: { supersedes } }) => supersedes?.id === ref.id && supersedes.version === ref.version,
  );
  const named = later.map((release) => `${release.ref.id} ${release.ref.version}`);
  return file.supersededBy ? [...named, file.supersededBy.what] : named;
}

/** As its file says, and `superseded` also where a later release replaces it. */
export function standingOf(library: ReferenceLibrary, release: AnyRelease): AnyRelease['file']['status'] {
  return replacedBy(library, release).length > 0 ? 'superseded' : release.file.status;
}
