/** The parts of a panel, each found among the releases and fit to drive a result. */
import type { TrialRules } from '../interpret/panel.ts';
import type { ReadySet } from '../interpret/reference-set.ts';
import { describeSet, type SetDescription } from './describe.ts';
import { NormsFault, type Release, type Releases } from './read-norms.ts';
import { readyCutPoints } from './ready-cut-points.ts';
import { type ReadingRule, readyTable } from './ready-table.ts';
import type { RuleFile, RuleForm } from './rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from './schema.ts';

type PanelEntry = PanelFile['entries'][number];
type Wanted = { readonly id: string; readonly version: string };

export function applyEntry(
  entry: PanelEntry,
  panel: Release<PanelFile>,
  releases: Releases,
): { ready: ReadySet; description: SetDescription } {
  const { id, version, kind } = entry.set;
  const where = `${panel.path} names ${id} ${version}`;
  const sources: readonly Release<TableFile | CutPointsFile>[] =
    kind === 'table' ? releases.tables : releases.cutPoints;
  const set = sources.find(({ ref }) => ref.id === id && ref.version === version);
  if (!set) throw new NormsFault(`${where}, which is not in norms/`);
  if (set.file.status === 'provisional' && !entry.acceptUnproven) {
    throw new NormsFault(`${where}, which is provisional: it may not drive a result`);
  }
  if (entry.summaryWhenUnstated && set.file.summary.kind)
    throw new NormsFault(`${panel.path}: ${id} states its own summary`);
  const ready = isTable(set)
    ? applyTable(set, entry, panel, releases)
    : applyCutPoints(set as Release<CutPointsFile>, entry, panel);
  if (!entry.acceptUnproven) checkVerification(set.path, ready);
  return { ready, description: describeSet(set, entry, releases) };
}

function applyTable(
  table: Release<TableFile>,
  { set, rule, ageMin, summaryWhenUnstated }: PanelEntry,
  panel: Release<PanelFile>,
  releases: Releases,
): ReadySet {
  if (!rule) throw new NormsFault(`${panel.path} names table ${set.id} without the rule it is read by`);
  return readyTable(table, requireReadingRule(releases, rule, panel.path), {
    summary: summaryWhenUnstated?.kind,
    ageMin: ageMin?.years,
  });
}

function applyCutPoints(
  cutPoints: Release<CutPointsFile>,
  { set, rule, ageMin, summaryWhenUnstated }: PanelEntry,
  panel: Release<PanelFile>,
): ReadySet {
  if (rule) throw new NormsFault(`${panel.path}: a rule does not go with cut-points ${set.id}`);
  return readyCutPoints(cutPoints, ageMin?.years ?? 0, summaryWhenUnstated?.kind);
}

/** Without a table of the mean of one hand pounds charted as kilograms would pass unseen. */
export function checkUnitGuard(
  path: string,
  sets: readonly ReadySet[],
  { unitPlausibility }: TrialRules,
): void {
  const canGuard = ({ summary, quantity, rows }: ReadySet) =>
    summary === 'mean-per-hand' &&
    quantity === undefined &&
    rows.some(({ norm, unproven }) => norm !== null && !unproven);
  if (!sets.some(canGuard))
    throw new NormsFault(
      `${path} has no table of means of one hand to check the unit by: name one under unitGuards`,
    );
  const { aboveSd, cautionAboveSd } = unitPlausibility;
  if (Number(cautionAboveSd) <= 0 || Number(cautionAboveSd) > Number(aboveSd))
    throw new NormsFault(`${path}: its unit rule must caution above the mean, and not beyond where it stops`);
}

/** A table that serves the check of the unit only: its figures must be fit to drive a result. */
export function applyGuard(
  { table: wanted, rule }: NonNullable<PanelFile['unitGuards']>[number],
  panel: Release<PanelFile>,
  releases: Releases,
): ReadySet {
  const { id, version } = wanted;
  const table = releases.tables.find(({ ref }) => ref.id === id && ref.version === version);
  if (!table) throw new NormsFault(`${panel.path} names ${id} ${version}, which is not in norms/`);
  const ready = readyTable(table, requireReadingRule(releases, rule, panel.path));
  if (ready.summary !== 'mean-per-hand' || ready.quantity)
    throw new NormsFault(
      `${panel.path}: ${id} is no table of the mean of one hand: it cannot guard the unit`,
    );
  checkVerification(table.path, ready);
  return ready;
}

/** Refuses a set with a figure that is not verified well enough to drive a result; unknown figures drive none. */
function checkVerification(path: string, set: ReadySet): void {
  for (const { sex, hand, ageMin, verification, unproven, limit } of set.rows) {
    if (!unproven || limit === null) continue;
    const column = `${sex} ${hand ?? 'either hand'} from ${ageMin}`;
    throw new NormsFault(`${path}: ${column} is ${verification}: it may not drive a result`);
  }
}

function isTable(set: Release<TableFile | CutPointsFile>): set is Release<TableFile> {
  return set.file.kind === 'table';
}

/** Name of a rule in a panel -> the form that it must have. */
const RULE_FORMS = {
  trialsPerHand: 'trials-per-hand',
  scatter: 'trial-scatter',
  bounds: 'reading-bounds',
  session: 'session-gap',
  unitPlausibility: 'unit-plausibility',
  trialPattern: 'trial-pattern',
  calibration: 'calibration-interval',
  timeOfDay: 'time-of-day',
  changeLimits: 'change-limits',
  recordWindow: 'record-window',
  protocolEffects: 'protocol-effects',
  nextMeasurement: 'next-measurement',
} as const satisfies Record<keyof PanelFile['rules'], RuleForm>;

/** Each rule with its parameters; one that the panel does not name is absent. */
export function applyRules(panel: Release<PanelFile>, releases: Releases): TrialRules {
  const named = Object.entries(panel.file.rules).flatMap(([name, wanted]) => {
    if (!wanted) return [];
    const form = RULE_FORMS[name as keyof typeof RULE_FORMS];
    const { ref, file } = requireRule(releases, wanted, form, panel.path);
    return [[name, { ref, ...file.parameters }] as const];
  });
  // The forms above hold the same parameters as TrialRules: the schema of each form sees to it.
  return Object.fromEntries(named) as unknown as TrialRules;
}

/** @throws NormsFault when it is not there, has another form or is provisional */
export function requireRule<F extends RuleForm>(
  releases: Releases,
  wanted: Wanted,
  form: F,
  usedIn: string,
): Release<Extract<RuleFile, { form: F }>> {
  return requireFormOf(releases, wanted, [form], usedIn);
}

/** A rule that a table can be read by. */
export function requireReadingRule(releases: Releases, wanted: Wanted, usedIn: string): ReadingRule {
  return requireFormOf(releases, wanted, ['sd-below-mean', 'centile'], usedIn);
}

function requireFormOf<F extends RuleForm>(
  releases: Releases,
  wanted: Wanted,
  forms: readonly F[],
  usedIn: string,
): Release<Extract<RuleFile, { form: F }>> {
  const { id, version } = wanted;
  const rule = releases.rules.find(({ ref }) => ref.id === id && ref.version === version);
  if (!rule || !forms.some((form) => form === rule.file.form)) {
    const what = `rule ${id} ${version} of form ${forms.join(' or ')}`;
    throw new NormsFault(`${usedIn} needs ${what}, which is not in norms/`);
  }
  if (rule.file.status === 'provisional') {
    throw new NormsFault(`${usedIn} needs rule ${id} ${version}, which is provisional`);
  }
  return rule as Release<Extract<RuleFile, { form: F }>>;
}
