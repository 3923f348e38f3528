/** Every released reference set, and the panels made of them. Loaded once, checked, then frozen. */
import type { Mismatch } from '../interpret/finding.ts';
import type { Panel } from '../interpret/panel.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import type { TestingCautions } from '../interpret/testing-caution.ts';
import {
  applyEntry,
  applyGuard,
  applyRules,
  checkUnitGuard,
  requireReadingRule,
  requireRule,
} from './apply-panel.ts';
import { checkAllExamples } from './check-examples.ts';
import { effectOf, type SetDescription, sourceLine, yardstickNamed } from './describe.ts';
import { mergeReleases, NormsFault, type Release, type Releases, readNorms } from './read-norms.ts';
import type { ProtocolEffect, YardstickEntry } from './rule-forms.ts';
import type { PanelFile } from './schema.ts';

export interface AppliedPanel {
  readonly panel: Panel;
  readonly title: string;
  /** For whom it is meant. */
  readonly audience: string;
  /** Sets and rules this panel applies: what the audit record names. */
  readonly references: readonly SetRef[];
  /** @throws Error for a set that this panel does not apply */
  describe(ref: Pick<SetRef, 'id' | 'version'>): SetDescription;
  /** What a set or rule of `references` rests on: its basis, and the publications. */
  sourceOf(ref: SetRef): string;
  /** @throws Error for one that the panel's rule of change does not have */
  yardstick(id: string): YardstickEntry;
  /** The published size of a departure from the protocol; undefined where none is known. */
  effect(mismatch: Mismatch): ProtocolEffect | undefined;
}

export interface ReferenceLibrary {
  readonly releases: Releases;
  /** Panel ids in alphabetical order. */
  readonly panelIds: readonly string[];
  /** The given version, or without one the newest; undefined when there is none. */
  findPanel(id: string, version?: string): AppliedPanel | undefined;
  /** The rule of cautions before a test, for every panel: the given version, or without one the newest. */
  findCautions(version?: string): CautionsRule | undefined;
}

/** The rule as the core reads it, and the value sets that hold its codes. */
export interface CautionsRule extends TestingCautions {
  readonly valueSets: readonly {
    readonly url: string;
    readonly version: string;
    readonly sha256: string;
  }[];
}

/**
 * @param folder path of norms/
 * @param siteFolder a site's own panels, rules and sets, in the same layout with its own lock.json; checked alike
 * @throws NormsFault naming the file at fault
 */
export function loadLibrary(folder: string, siteFolder?: string): ReferenceLibrary {
  const ours = readNorms(folder);
  const releases = siteFolder ? mergeReleases(ours, readNorms(siteFolder, siteFolder)) : ours;
  checkAllExamples(releases, (wanted, usedIn) => requireReadingRule(releases, wanted, usedIn));
  const offered = releases.panels.filter(({ file }) => file.status !== 'provisional');
  const panels = offered.map((panel) => applyPanel(panel, releases));
  for (const panel of panels) deepFreeze(panel);
  const newestFirst = panels.toSorted((a, b) => compareVersions(b.panel.ref.version, a.panel.ref.version));
  const cautions = cautionsOf(releases);
  return Object.freeze({
    releases: deepFreeze(releases),
    panelIds: [...new Set(offered.map((panel) => panel.ref.id))].sort(),
    findPanel: (id: string, version?: string) =>
      newestFirst.find(({ panel: { ref } }) => ref.id === id && (!version || ref.version === version)),
    findCautions: (version?: string) => cautions.find(({ ref }) => !version || ref.version === version),
  });
}

/** Newest first. A site's own rule of this form is another installation-wide answer: it would have to be chosen. */
function cautionsOf({ rules }: Releases): readonly CautionsRule[] {
  const own = rules.flatMap(({ ref, file }) =>
    ref.id === CAUTIONS_RULE && file.form === 'testing-cautions' && file.status !== 'provisional'
      ? [{ ref, cautions: file.parameters.cautions, longPast: file.parameters.longPast }]
      : [],
  );
  return own
    .toSorted((a, b) => compareVersions(b.ref.version, a.ref.version))
    .map((rule) => deepFreeze({ ...rule, valueSets: rule.cautions.map(({ valueSet }) => valueSet) }));
}

const CAUTIONS_RULE = 'testing-cautions';

/** Nothing that was checked can be changed afterwards. */
function deepFreeze<T>(value: T): T {
  if (typeof value !== 'object' || value === null || Object.isFrozen(value)) return value;
  Object.freeze(value);
  for (const part of Object.values(value)) deepFreeze(part);
  return value;
}

export function compareVersions(a: string, b: string): number {
  return a.localeCompare(b, 'en', { numeric: true });
}

function applyPanel(panel: Release<PanelFile>, releases: Releases): AppliedPanel {
  // Two versions of one set would answer as if two sets agreed.
  const names = panel.file.entries.map(({ set }) => set.id);
  const twice = names.find((name, index) => names.indexOf(name) !== index);
  if (twice) throw new NormsFault(`${panel.path} names ${twice} twice`);
  const applied = panel.file.entries.map((entry) => applyEntry(entry, panel, releases));
  const rules = applyRules(panel, releases);
  const sets = applied.map(({ ready }) => ready);
  const unitGuards = panel.file.unitGuards?.map((guard) => applyGuard(guard, panel, releases));
  const descriptions = applied.map(({ description }) => description);
  checkUnitGuard(panel.path, [...sets, ...(unitGuards ?? [])], rules);
  const { changeLimits, protocolEffects } = panel.file.rules;
  const yardsticks = changeLimits
    ? requireRule(releases, changeLimits, 'change-limits', panel.path).file.parameters.yardsticks
    : [];
  const effects = protocolEffects
    ? requireRule(releases, protocolEffects, 'protocol-effects', panel.path).file.parameters.effects
    : [];
  const references = new Set([
    ...[...sets, ...(unitGuards ?? [])].flatMap((set) => (set.rule ? [set.ref, set.rule] : [set.ref])),
    ...Object.values(rules).map((rule) => rule.ref),
  ]);
  return {
    panel: { ref: panel.ref, sets, unitGuards, rules },
    title: panel.file.title,
    audience: panel.file.audience,
    references: [...references],
    describe: (ref) => {
      const found = descriptions.find(({ ref: own }) => own.id === ref.id && own.version === ref.version);
      if (!found) throw new Error(`panel ${panel.ref.id} does not apply ${ref.id} ${ref.version}`);
      return found;
    },
    sourceOf: (ref) => sourceLine(ref, releases),
    yardstick: (id) => yardstickNamed(yardsticks, id),
    effect: (mismatch) => effectOf(effects, mismatch),
  };
}
