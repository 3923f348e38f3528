/** What a reader is told about a set, a yardstick or a departure from the protocol: from the released files. */
import type { CompanionResult, Mismatch } from '../interpret/finding.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import type { Release, Releases } from './read-norms.ts';
import type { Citation, ProtocolEffect, YardstickEntry } from './rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from './schema.ts';

export interface SetDescription {
  readonly ref: SetRef;
  readonly title: string;
  readonly shortTitle: string;
  /** One line: authors, journal, year, volume, pages, DOI. */
  readonly citation: string;
  /** How the people of the source were placed, in a word or two; null when not stated. */
  readonly posture: string | null;
  /** What each outcome means in the set's own words; null for a table of norms. */
  readonly meaning: {
    readonly reduced: string;
    readonly notReduced: string;
    /** Something the set says besides; null when nothing. */
    readonly remark: string | null;
  } | null;
  /** Its own file says so: a release that comes later must not change what a record said. */
  readonly superseded: boolean;
  /** The later work that it gave way to, in words; null when none is named. */
  readonly supersededBy: string | null;
  /** The rule a table is read by, in words, with what it rests on; null for cut-points. */
  readonly rule: { readonly title: string; readonly basis: string } | null;
  /** Figures lie between those printed for two exact ages. */
  readonly interpolates: boolean;
  /** What the set asks for besides grip; empty for a table of norms. */
  readonly companions: readonly Companion[];
  /** Why this panel starts the set at an age of its own; null when it does not. */
  readonly ageReason: string | null;
  /** Why this panel chose the summary of the trials; null when the set states it. */
  readonly summaryReason: string | null;
  /** Why this panel takes figures that are not verified well enough to drive a result by default. */
  readonly unprovenReason: string | null;
}

export interface Companion {
  readonly name: CompanionResult['name'];
  readonly rule: string;
  readonly use: string;
  /** The service can ask the record for it. */
  readonly isRead: boolean;
}

type PanelEntry = PanelFile['entries'][number];

export function describeSet(
  { file, ref }: Release<TableFile | CutPointsFile>,
  entry: PanelEntry,
  { rules }: Releases,
): SetDescription {
  const rule = rules.find(
    (each) => each.ref.id === entry.rule?.id && each.ref.version === entry.rule.version,
  );
  const isTable = file.kind === 'table';
  return {
    ref,
    title: file.title,
    shortTitle: file.shortTitle,
    citation: citationLine(file.citation),
    posture: file.protocol.posture?.split(/[;(]/)[0]?.trim() ?? null,
    meaning: isTable ? null : file.meaning,
    superseded: file.status === 'superseded',
    supersededBy: file.supersededBy?.what ?? null,
    rule: rule ? { title: rule.file.title, basis: rule.file.basis } : null,
    interpolates: isTable && file.ages === 'exact',
    companions: isTable
      ? []
      : file.companions.map(({ name, rule: asked, use, figure }) => ({
          name,
          rule: asked,
          use,
          isRead: figure !== undefined,
        })),
    ageReason: entry.ageMin?.reason ?? null,
    summaryReason: entry.summaryWhenUnstated?.reason ?? null,
    unprovenReason: entry.acceptUnproven?.reason ?? null,
  };
}

/** The published size of a departure from how a set was built; undefined where none is in the rule. */
export function effectOf(
  effects: readonly ProtocolEffect[],
  { part, charted, built }: Mismatch,
): ProtocolEffect | undefined {
  const fits = (word: string | null, value: string) => word === null || word === value;
  return effects.find(
    ({ part: own, between: [a, b] }) =>
      own === part && ((fits(a, charted) && fits(b, built)) || (fits(a, built) && fits(b, charted))),
  );
}

export function yardstickNamed(yardsticks: readonly YardstickEntry[], id: string): YardstickEntry {
  const found = yardsticks.find((yardstick) => yardstick.id === id);
  if (!found) throw new Error(`the panel has no yardstick ${id}`);
  return found;
}

/** Authors, title, journal, year, volume, pages and number, as references are written. */
/** Citation of a set; of a rule its basis, and the publications where it has some. */
export function sourceLine({ id, version }: SetRef, releases: Releases): string {
  const isNamed = ({ ref }: { readonly ref: SetRef }) => ref.id === id && ref.version === version;
  const rule = releases.rules.find(isNamed);
  if (rule) return [`${rule.file.basis}.`, ...rule.file.citations].join(' ');
  const set = [...releases.tables, ...releases.cutPoints].find(isNamed);
  return set ? citationLine(set.file.citation) : '';
}

export function citationLine(citation: Citation): string {
  const { authors, title, journal, year, volume, pages, doi, pmid } = citation;
  const place = `${journal} ${year}${volume ? `;${volume}` : ''}${pages ? `:${pages}` : ''}`;
  const number = doi ? ` doi:${doi}` : pmid ? ` PMID ${pmid}` : '';
  return `${authors}. ${title}. ${place}.${number}`;
}
