/** `grip-cds references list | show ID [VERSION] | check | compare A B | lock FOLDER`: the reference sets on a terminal. */
import { resolve } from 'node:path';
import { readConfig } from './config.ts';
import { everyRelease, replacedBy, requireRelease, standingOf, usedIn } from './reference/find-release.ts';
import type { ReferenceLibrary } from './reference/library.ts';
import { lockFolder } from './reference/lock.ts';
import { openLibrary } from './service.ts';
import { tableOf } from './terminal/columns.ts';
import { compareSets, comparisonLines } from './terminal/compare-sets.ts';
import { releaseLines } from './terminal/show-release.ts';

/** What a command prints: a document for `--json`, else lines. */
interface Printed {
  readonly json: unknown;
  readonly lines: () => readonly string[];
}

/**
 * @returns the exit code, or undefined when the words were not understood
 * @throws NormsFault or ConfigFault when something was found wrong
 */
export function runReferences(words: readonly string[], json: boolean): number | undefined {
  const command = commandFor(words);
  if (!command) return undefined;
  const printed = command();
  if (json) console.log(JSON.stringify(printed.json, null, 2));
  else for (const line of printed.lines()) console.log(line);
  return 0;
}

function commandFor([what, ...words]: readonly string[]): (() => Printed) | undefined {
  const [first, second] = words;
  if (words.length === 0) {
    if (what === 'list') return () => list(open());
    if (what === 'check') return () => check(open());
  }
  if (first && words.length === 1 && what === 'lock') return () => lock(first);
  if (first && words.length <= 2 && what === 'show') return () => show(open(), first, second);
  if (first && second && words.length === 2 && what === 'compare')
    return () => compare(open(), first, second);
  return undefined;
}

function open(): ReferenceLibrary {
  return openLibrary(readConfig().siteNorms);
}

function list(library: ReferenceLibrary): Printed {
  const releases = everyRelease(library);
  const json = releases.map((release) => ({
    kind: release.ref.kind,
    id: release.ref.id,
    version: release.ref.version,
    status: release.file.status,
    supersededBy: replacedBy(library, release),
    title: release.file.title,
    usedIn: usedIn(library, release),
    digest: release.ref.digest,
  }));
  return {
    json,
    lines: () =>
      tableOf(
        [
          ['kind', ({ ref }) => ref.kind],
          ['id', ({ ref }) => ref.id],
          ['version', ({ ref }) => ref.version],
          ['status', (release) => standingOf(library, release)],
          ['panels', (release) => String(usedIn(library, release).length)],
          ['superseded by', (release) => replacedBy(library, release).join(', ')],
          ['title', ({ file }) => file.title],
        ],
        releases,
      ),
  };
}

/** Paths of ours begin with it; those of a site begin with its folder. */
const OURS = 'norms/';

/** Loading is checking: every digest, form, band and worked example. */
function check(library: ReferenceLibrary): Printed {
  const { tables, cutPoints, rules, panels } = library.releases;
  const examples = [...tables, ...cutPoints].reduce((sum, { file }) => sum + file.examples.length, 0);
  const site = readConfig().siteNorms;
  const ofSite = everyRelease(library).filter(({ path }) => !path.startsWith(OURS)).length;
  const counts = {
    tables: tables.length,
    cutPoints: cutPoints.length,
    rules: rules.length,
    panels: panels.length,
    workedExamples: examples,
  };
  return {
    json: { ok: true, ...counts, ...(site ? { site: { folder: resolve(site), files: ofSite } } : {}) },
    lines: () => [
      `All well: ${counts.tables} tables, ${counts.cutPoints} sets of cut-points, ${counts.rules} rules and ` +
        `${counts.panels} panels match their digests; ${counts.workedExamples} worked examples come out.`,
      ...(site ? [`${ofSite} of these files are the site's own, from ${resolve(site)}.`] : []),
    ],
  };
}

function show(library: ReferenceLibrary, id: string, version: string | undefined): Printed {
  const release = requireRelease(library, id, version);
  return {
    json: { digest: release.ref.digest, usedIn: usedIn(library, release), ...release.file },
    lines: () => releaseLines(library, release),
  };
}

function compare(library: ReferenceLibrary, a: string, b: string): Printed {
  const comparison = compareSets(library, a, b);
  return { json: comparison, lines: () => comparisonLines(comparison) };
}

/** The folder is loaded with ours before its lock is kept: what is locked can no longer be changed. */
function lock(folder: string): Printed {
  const { added, count } = lockFolder(folder, () => openLibrary(folder));
  return {
    json: { folder: resolve(folder), added, locked: count },
    lines: () => [
      ...added.map((path) => `added ${path}`),
      `${added.length} added, ${count} locked in ${resolve(folder)}`,
    ],
  };
}
