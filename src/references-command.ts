/** `grip-cds references list | show ID [VERSION] | check | compare A B`: the reference sets on a terminal. */
import { exact, subtract, toDecimalText } from './interpret/exact.ts';
import { HANDS, SEXES } from './interpret/measurement.ts';
import { limitBelowMean } from './interpret/reference-set.ts';
import { convertForce } from './interpret/units.ts';
import { citationLine, type ReferenceLibrary } from './reference/library.ts';
import { NormsFault, type Release } from './reference/read-norms.ts';
import type { CutPointsFile, PanelFile, RuleFile, TableFile } from './reference/schema.ts';
import { openLibrary } from './service.ts';

type AnyRelease = Release<TableFile | CutPointsFile | RuleFile | PanelFile>;

/** @returns the exit code, or undefined when the words were not understood */
export function runReferences([what, ...words]: readonly string[], json: boolean): number | undefined {
  const library = openLibrary();
  if (what === 'list' && words.length === 0) return list(library, json);
  if (what === 'check' && words.length === 0) return check(library, json);
  const [first, second] = words;
  if (what === 'show' && first && words.length <= 2) return show(library, first, second, json);
  if (what === 'compare' && first && second && words.length === 2)
    return compare(library, first, second, json);
  return undefined;
}

function everyRelease({ releases }: ReferenceLibrary): readonly AnyRelease[] {
  return [...releases.tables, ...releases.cutPoints, ...releases.rules, ...releases.panels];
}

/** Panels that apply a set or rule, as `id version`. */
function usedIn(library: ReferenceLibrary, { ref }: AnyRelease): readonly string[] {
  return library.releases.panels.flatMap(({ file }) => {
    const named = [
      ...file.entries.flatMap(({ set, rule }) => (rule ? [set, rule] : [set])),
      ...Object.values(file.rules),
    ];
    const applies = named.some(({ id, version }) => id === ref.id && version === ref.version);
    return applies ? [`${file.id} ${file.version}`] : [];
  });
}

function list(library: ReferenceLibrary, json: boolean): number {
  const rows = everyRelease(library).map((release) => ({
    kind: release.ref.kind,
    id: release.ref.id,
    version: release.ref.version,
    status: release.file.status,
    title: release.file.title,
    usedIn: usedIn(library, release),
    digest: release.ref.digest,
  }));
  if (json) printJson(rows);
  else {
    printTable(
      ['kind', 'id', 'version', 'status', 'panels', 'title'],
      rows.map(({ kind, id, version, status, usedIn: panels, title }) => [
        kind,
        id,
        version,
        status,
        String(panels.length),
        title,
      ]),
    );
  }
  return 0;
}

/** Loading is checking: every digest, form, band and worked example. */
function check(library: ReferenceLibrary, json: boolean): number {
  const { tables, cutPoints, rules, panels } = library.releases;
  const examples = [...tables, ...cutPoints].reduce((sum, { file }) => sum + file.examples.length, 0);
  const counts = {
    tables: tables.length,
    cutPoints: cutPoints.length,
    rules: rules.length,
    panels: panels.length,
    workedExamples: examples,
  };
  if (json) printJson({ ok: true, ...counts });
  else {
    console.log(
      `All well: ${counts.tables} tables, ${counts.cutPoints} sets of cut-points, ${counts.rules} rules and ` +
        `${counts.panels} panels match their digests; ${counts.workedExamples} worked examples come out.`,
    );
  }
  return 0;
}

/** The newest version, or the one named. */
function requireRelease(library: ReferenceLibrary, id: string, version?: string): AnyRelease {
  const versions = everyRelease(library)
    .filter(({ ref }) => ref.id === id && (!version || ref.version === version))
    .sort((a, b) => a.ref.version.localeCompare(b.ref.version, 'en', { numeric: true }));
  const found = versions.at(-1);
  if (!found)
    throw new NormsFault(
      `there is no reference set ${id}${version ? ` ${version}` : ''}; see: references list`,
    );
  return found;
}

function show(library: ReferenceLibrary, id: string, version: string | undefined, json: boolean): number {
  const release = requireRelease(library, id, version);
  const { file, ref } = release;
  if (json) {
    printJson({ digest: ref.digest, usedIn: usedIn(library, release), ...file });
    return 0;
  }
  const panels = usedIn(library, release);
  console.log(
    `${file.title}\n${ref.kind} ${ref.id} ${ref.version}, ${file.status}, released ${file.released}`,
  );
  console.log(`SHA-256 ${ref.digest}`);
  if (panels.length > 0) console.log(`Applied by: ${panels.join(', ')}`);
  if (file.kind === 'table' || file.kind === 'cut-points') showSource(file);
  for (const doubt of file.doubts) console.log(`Doubt: ${doubt}`);
  console.log('');
  if (file.kind === 'table') showTable(file);
  else if (file.kind === 'cut-points') showCutPoints(file);
  else
    printJson(file.kind === 'rule' ? { basis: file.basis, why: file.why, ...file.parameters } : file.entries);
  return 0;
}

function showSource(file: TableFile | CutPointsFile): void {
  const { protocol, summary, verification } = file;
  console.log(`Source: ${citationLine(file.citation)} (${file.citation.where})`);
  console.log(`Licence: ${file.licence}`);
  console.log(`People: ${file.population}`);
  console.log(
    `Instrument: ${file.instrumentClass ?? 'not stated'}; posture: ${protocol.posture ?? 'not stated'}`,
  );
  console.log(`Summary: ${summary.kind ?? 'not stated'} (${summary.note}); unit ${file.unit}`);
  console.log(`Verified: ${verification.level}. ${verification.comparedWith}`);
}

const ages = (min: number | null, max: number | null) =>
  min === null ? 'any' : max === null ? `${min}+` : `${min}-${max}`;

function showTable(file: TableFile): void {
  printTable(
    ['age', 'sex', 'hand', 'mean', 'SD', 'mean - 2 SD', 'n', 'verified'],
    file.rows.map(({ ageMin, ageMax, sex, hand, mean, sd, n, verification }) => [
      ages(ageMin, ageMax),
      sex,
      hand ?? 'either',
      mean,
      sd,
      toDecimalText(limitBelowMean(mean, sd, '2'), 2),
      n === null ? '' : String(n),
      verification,
    ]),
  );
}

function showCutPoints(file: CutPointsFile): void {
  printTable(
    ['age', 'sex', 'reduced is', 'verified'],
    file.rows.map(({ ageMin, ageMax, sex, operator, value, verification }) => [
      ages(ageMin, ageMax),
      sex,
      `${operator} ${value} ${file.unit}`,
      verification,
    ]),
  );
  for (const { name, rule, use } of file.companions) console.log(`Also asked: ${name}, ${rule} (${use})`);
}

/** Age from which a limit holds, by column, in kg. */
type Limits = ReadonlyMap<string, string>;

/** `id` or `id@version`. */
function limitsOf(
  library: ReferenceLibrary,
  name: string,
): { readonly release: AnyRelease; readonly limits: Limits } {
  const [id = '', version] = name.split('@');
  const release = requireRelease(library, id, version);
  const { file } = release;
  if (file.kind === 'table') {
    return {
      release,
      limits: new Map(
        file.rows.flatMap((row) => columns(row, limitBelowMean(row.mean, row.sd, '2'), file.unit)),
      ),
    };
  }
  if (file.kind === 'cut-points') {
    return {
      release,
      limits: new Map(
        file.rows.flatMap((row) => columns({ ...row, hand: null }, exact(row.value), file.unit)),
      ),
    };
  }
  throw new NormsFault(`${id} is a ${file.kind}: only tables and cut-points can be compared`);
}

const OLDEST_COMPARED = 90;

function columns(
  row: { sex: string; hand: string | null; ageMin: number | null; ageMax: number | null },
  limit: ReturnType<typeof exact>,
  unit: TableFile['unit'],
): [string, string][] {
  const text = toDecimalText(convertForce(limit, unit, 'kg'), 2);
  const cells: [string, string][] = [];
  for (let age = row.ageMin ?? 0; age <= (row.ageMax ?? OLDEST_COMPARED); age += 1) {
    for (const hand of row.hand ? [row.hand] : ['either', ...HANDS]) {
      cells.push([`${row.sex} ${hand} ${age}`, text]);
    }
  }
  return cells;
}

/** Limits of two sets side by side, in kg, one line for each run of ages with the same pair. */
function compare(library: ReferenceLibrary, a: string, b: string, json: boolean): number {
  const [first, second] = [limitsOf(library, a), limitsOf(library, b)];
  const rows: { sex: string; hand: string; from: number; to: number; a: string; b: string }[] = [];
  const perHand = [first, second].some(({ release }) => release.ref.kind === 'table');
  for (const sex of SEXES) {
    for (const hand of perHand ? HANDS : ['either']) {
      for (let age = 0; age <= OLDEST_COMPARED; age += 1) {
        const key = `${sex} ${hand} ${age}`;
        const pair = { a: first.limits.get(key) ?? '', b: second.limits.get(key) ?? '' };
        const last = rows.at(-1);
        const same =
          last?.sex === sex &&
          last.hand === hand &&
          last.a === pair.a &&
          last.b === pair.b &&
          last.to === age - 1;
        if (same && last) last.to = age;
        else if (pair.a || pair.b) rows.push({ sex, hand, from: age, to: age, ...pair });
      }
    }
  }
  const titles = [first, second].map(({ release }) => `${release.ref.id} ${release.ref.version}`);
  if (json) printJson({ a: titles[0], b: titles[1], unit: 'kg', rows });
  else {
    console.log(`Limits in kg (tables: mean - 2 SD). A: ${titles[0]}. B: ${titles[1]}.\n`);
    printTable(
      ['sex', 'hand', 'age', 'A', 'B', 'B - A'],
      rows.map((row) => [
        row.sex,
        row.hand,
        row.to === OLDEST_COMPARED
          ? `${row.from}+`
          : row.from === row.to
            ? `${row.from}`
            : `${row.from}-${row.to}`,
        row.a,
        row.b,
        row.a && row.b ? toDecimalText(subtract(exact(row.b), exact(row.a)), 2) : '',
      ]),
    );
  }
  return 0;
}

function printTable(head: readonly string[], rows: readonly (readonly string[])[]): void {
  const widths = head.map((title, column) =>
    Math.max(title.length, ...rows.map((row) => row[column]?.length ?? 0)),
  );
  const line = (cells: readonly string[]) =>
    cells
      .map((cell, column) => (column === cells.length - 1 ? cell : cell.padEnd(widths[column] ?? 0)))
      .join('  ');
  console.log(line(head));
  for (const row of rows) console.log(line(row));
}

function printJson(value: unknown): void {
  console.log(JSON.stringify(value, null, 2));
}
