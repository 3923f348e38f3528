/** Every released reference set, and the panels made of them. Loaded once, checked, then frozen. */
import type { Panel, ReadySet, SetRef, TrialRules } from '../interpret/reference-set.ts';
import { NormsFault, type Release, type Releases, readNorms } from './read-norms.ts';
import { checkExample, checkVerification, readyCutPoints, readyTable } from './ready-set.ts';
import type { CutPointsFile, PanelFile, RuleFile, RuleForm, TableFile } from './schema.ts';

/** What a reader is told about a set, for cards and narratives. */
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
  /** A later release replaces it, or its own file says so. */
  readonly superseded: boolean;
  /** The rule a table is read by, in words, with what it rests on; null for cut-points. */
  readonly rule: { readonly title: string; readonly basis: string } | null;
  /** What the set asks for besides grip; empty for a table of norms. */
  readonly companions: readonly { readonly name: string; readonly rule: string; readonly use: string }[];
  /** Why this panel starts the set at an age of its own; null when it does not. */
  readonly ageReason: string | null;
  /** Why this panel chose the summary of the trials; null when the set states it. */
  readonly summaryReason: string | null;
}

export interface AppliedPanel {
  readonly panel: Panel;
  readonly title: string;
  /** Sets and rules this panel applies: what the audit record names. */
  readonly references: readonly SetRef[];
  /** @throws Error for a set that this panel does not apply */
  describe(ref: Pick<SetRef, 'id' | 'version'>): SetDescription;
}

export interface ReferenceLibrary {
  readonly releases: Releases;
  /** Panel ids in alphabetical order. */
  readonly panelIds: readonly string[];
  /** The given version, or without one the newest; undefined when there is none. */
  findPanel(id: string, version?: string): AppliedPanel | undefined;
}

/**
 * @param folder path of norms/
 * @throws NormsFault naming the file at fault
 */
export function loadLibrary(folder: string): ReferenceLibrary {
  const releases = readNorms(folder);
  checkAllExamples(releases);
  const offered = releases.panels.filter(({ file }) => file.status !== 'provisional');
  const panels = new Map(offered.map((panel) => [panel.ref, applyPanel(panel, releases)]));
  for (const panel of panels.values()) deepFreeze(panel);
  return Object.freeze({
    releases: deepFreeze(releases),
    panelIds: [...new Set(offered.map((panel) => panel.ref.id))].sort(),
    findPanel: (id: string, version?: string) => {
      const versions = [...panels.entries()].filter(
        ([ref]) => ref.id === id && (!version || ref.version === version),
      );
      return versions.sort(([a], [b]) => compareVersions(a.version, b.version)).at(-1)?.[1];
    },
  });
}

/** Nothing that was checked can be changed afterwards. */
function deepFreeze<T>(value: T): T {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value;
  Object.freeze(value);
  for (const part of Object.values(value)) deepFreeze(part);
  return value;
}

function compareVersions(a: string, b: string): number {
  return a.localeCompare(b, 'en', { numeric: true });
}

function checkAllExamples(releases: Releases): void {
  for (const table of releases.tables) {
    for (const [index, example] of table.file.examples.entries()) {
      const rule = requireRule(releases, example.rule, 'sd-below-mean', table.path);
      checkExample(table.path, readyTable(table, rule), example, index + 1);
    }
  }
  for (const set of releases.cutPoints) {
    const ready = readyCutPoints(set, 0, 'highest-of-either-hand');
    for (const [index, example] of set.file.examples.entries())
      checkExample(set.path, ready, example, index + 1);
  }
}

function applyPanel(panel: Release<PanelFile>, releases: Releases): AppliedPanel {
  const names = panel.file.entries.map(({ set }) => `${set.id} ${set.version}`);
  const twice = names.find((name, index) => names.indexOf(name) !== index);
  if (twice) throw new NormsFault(`norms/${panel.path} names ${twice} twice`);
  const applied = panel.file.entries.map((entry) => applyEntry(entry, panel, releases));
  const rules = applyRules(panel, releases);
  const sets = applied.map(({ ready }) => ready);
  const descriptions = applied.map(({ description }) => description);
  const references = new Set([
    ...sets.flatMap((set) => (set.rule ? [set.ref, set.rule] : [set.ref])),
    ...Object.values(rules).map((rule) => rule.ref),
  ]);
  return {
    panel: { ref: panel.ref, sets, rules },
    title: panel.file.title,
    references: [...references],
    describe: (ref: Pick<SetRef, 'id' | 'version'>) => {
      const found = descriptions.find(({ ref: own }) => own.id === ref.id && own.version === ref.version);
      if (!found) throw new Error(`panel ${panel.ref.id} does not apply ${ref.id} ${ref.version}`);
      return found;
    },
  };
}

type PanelEntry = PanelFile['entries'][number];

function applyEntry(
  entry: PanelEntry,
  panel: Release<PanelFile>,
  releases: Releases,
): { ready: ReadySet; description: SetDescription } {
  const { id, version, kind } = entry.set;
  const where = `norms/${panel.path} names ${id} ${version}`;
  const sources: readonly Release<TableFile | CutPointsFile>[] =
    kind === 'table' ? releases.tables : releases.cutPoints;
  const set = sources.find(({ ref }) => ref.id === id && ref.version === version);
  if (!set) throw new NormsFault(`${where}, which is not in norms/`);
  if (set.file.status === 'provisional') {
    throw new NormsFault(`${where}, which is provisional: it may not drive a result`);
  }
  const ready = isTable(set)
    ? applyTable(set, entry, panel, releases)
    : applyCutPoints(set as Release<CutPointsFile>, entry, panel);
  checkVerification(set.path, ready);
  return { ready, description: describeSet(set, entry, releases) };
}

function applyTable(
  table: Release<TableFile>,
  { set, rule, ageMin, summaryWhenUnstated }: PanelEntry,
  panel: Release<PanelFile>,
  releases: Releases,
): ReadySet {
  if (!rule) throw new NormsFault(`norms/${panel.path} names table ${set.id} without the rule it is read by`);
  if (ageMin || summaryWhenUnstated) {
    throw new NormsFault(
      `norms/${panel.path}: ageMin and summaryWhenUnstated do not go with table ${set.id}`,
    );
  }
  return readyTable(table, requireRule(releases, rule, 'sd-below-mean', panel.path));
}

function applyCutPoints(
  cutPoints: Release<CutPointsFile>,
  { set, rule, ageMin, summaryWhenUnstated }: PanelEntry,
  panel: Release<PanelFile>,
): ReadySet {
  if (rule) throw new NormsFault(`norms/${panel.path}: a rule does not go with cut-points ${set.id}`);
  if (summaryWhenUnstated && cutPoints.file.summary.kind) {
    throw new NormsFault(`norms/${panel.path}: ${set.id} states its own summary`);
  }
  return readyCutPoints(cutPoints, ageMin?.years ?? 0, summaryWhenUnstated?.kind);
}

function describeSet(
  { file, ref }: Release<TableFile | CutPointsFile>,
  entry: PanelEntry,
  { rules, tables, cutPoints }: Releases,
): SetDescription {
  const rule = rules.find(
    (each) => each.ref.id === entry.rule?.id && each.ref.version === entry.rule.version,
  );
  const later = [...tables, ...cutPoints].some(
    ({ file: { supersedes } }) => supersedes?.id === ref.id && supersedes.version === ref.version,
  );
  return {
    ref,
    title: file.title,
    shortTitle: file.shortTitle,
    citation: citationLine(file.citation),
    posture: file.protocol.posture?.split(/[;(]/)[0]?.trim() ?? null,
    meaning: file.kind === 'cut-points' ? file.meaning : null,
    superseded: later || file.status === 'superseded',
    rule: rule ? { title: rule.file.title, basis: rule.file.basis } : null,
    companions: file.kind === 'cut-points' ? file.companions : [],
    ageReason: entry.ageMin?.reason ?? null,
    summaryReason: entry.summaryWhenUnstated?.reason ?? null,
  };
}

function isTable(set: Release<TableFile | CutPointsFile>): set is Release<TableFile> {
  return set.file.kind === 'table';
}

function applyRules(panel: Release<PanelFile>, releases: Releases): TrialRules {
  const { trialsPerHand, scatter, bounds, session, unitPlausibility } = panel.file.rules;
  const parts = <F extends RuleForm>(ref: { id: string; version: string }, form: F) => {
    const rule = requireRule(releases, ref, form, panel.path);
    return { ref: rule.ref, ...rule.file.parameters };
  };
  return {
    trialsPerHand: parts(trialsPerHand, 'trials-per-hand') as TrialRules['trialsPerHand'],
    scatter: parts(scatter, 'trial-scatter') as TrialRules['scatter'],
    bounds: parts(bounds, 'reading-bounds') as TrialRules['bounds'],
    session: parts(session, 'session-gap') as TrialRules['session'],
    unitPlausibility: parts(unitPlausibility, 'unit-plausibility') as TrialRules['unitPlausibility'],
  };
}

function requireRule<F extends RuleForm>(
  releases: Releases,
  wanted: { id: string; version: string },
  form: F,
  usedIn: string,
): Release<Extract<RuleFile, { form: F }>> {
  const rule = releases.rules.find(({ ref }) => ref.id === wanted.id && ref.version === wanted.version);
  if (!rule || rule.file.form !== form) {
    throw new NormsFault(
      `norms/${usedIn} needs rule ${wanted.id} ${wanted.version} of form ${form}, which is not in norms/`,
    );
  }
  if (rule.file.status === 'provisional') {
    throw new NormsFault(`norms/${usedIn} needs rule ${wanted.id} ${wanted.version}, which is provisional`);
  }
  return rule as Release<Extract<RuleFile, { form: F }>>;
}

/** Authors, title, journal, year, volume, pages and number, as references are written. */
export function citationLine(citation: TableFile['citation']): string {
  const { authors, title, journal, year, volume, pages, doi, pmid } = citation;
  const place = `${journal} ${year}${volume ? `;${volume}` : ''}${pages ? `:${pages}` : ''}`;
  const number = doi ? ` doi:${doi}` : pmid ? ` PMID ${pmid}` : '';
  return `${authors}. ${title}. ${place}.${number}`;
}
