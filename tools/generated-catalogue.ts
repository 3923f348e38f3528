/** docs/reference-sets.md: every released panel, table, set of cut-points and rule, from the released files. */
import type { Release } from '../src/reference/read-norms.ts';
import type { RuleFile } from '../src/reference/rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from '../src/reference/schema.ts';
import { openLibrary } from '../src/service.ts';

const INTRO = `# Reference sets

Written by \`npm run generate\` from the files under \`norms/\`. Each file carries its figures, citation, licence, population,
protocol, how it was verified, its doubts and worked examples: \`grip-cds references show ID [VERSION]\` prints them, and
\`grip-cds references compare A B\` puts the limits of two sets side by side. Replaced versions stay readable, for the answers that rest on them.

Levels of verification are explained in [DEVELOPERS.md](../DEVELOPERS.md#reference-data). A set that is \`provisional\`, or a
figure that is not verified well enough, drives a result only in a panel that takes it on purpose, and every result
that it touches says so.

Lower limits of the tables by age, in kg (\`npm run chart:limits\`):

![Lower limits by age, women](limits-by-age-women.svg)
![Lower limits by age, men](limits-by-age-men.svg)
`;

/** Markdown. */
export function referenceCatalogue(): string {
  const { panels, tables, cutPoints, rules } = openLibrary().releases;
  return [
    INTRO,
    section('Panels', ['panel', 'for whom', 'reads, in this order'], panels.map(panelRow)),
    section(
      'Tables of norms',
      ['table', 'status', 'people', 'read from', 'measured', 'verified'],
      tables.map(tableRow),
    ),
    section(
      'Consensus cut-points',
      ['set', 'status', 'reduced is', 'read from', 'also asks for', 'verified'],
      cutPoints.map(cutPointsRow),
    ),
    section('Rules', ['rule', 'rests on', 'what it says'], rules.map(ruleRow)),
  ].join('\n');
}

type Row = { readonly id: string; readonly version: string; readonly cells: readonly string[] };

/** By id: the newest version of each, with the versions that it replaces. */
function section(title: string, head: readonly string[], rows: readonly Row[]): string {
  const newestFirst = rows.toSorted(
    (a, b) => a.id.localeCompare(b.id) || b.version.localeCompare(a.version, 'en', { numeric: true }),
  );
  const newest = newestFirst.filter(({ id }, index) => newestFirst[index - 1]?.id !== id);
  const lines = newest.map(({ id, version, cells: [name = '', ...cells] }) => {
    const older = newestFirst.filter((row) => row.id === id && row.version !== version).map(named);
    const first = older.length > 0 ? `${name}; replaces ${older.join(', ')}` : name;
    return `| ${[first, ...cells].map((cell) => cell.replaceAll('|', '/')).join(' | ')} |`;
  });
  return [
    `## ${title}\n`,
    `| ${head.join(' | ')} |`,
    `|${head.map(() => '---').join('|')}|`,
    ...lines,
    '',
  ].join('\n');
}

function named({ id, version }: { readonly id: string; readonly version: string }): string {
  return `\`${id}\` ${version}`;
}

function panelRow(panel: Release<PanelFile>): Row {
  const sets = panel.file.entries.map(({ set, rule, acceptUnproven }) => {
    const read = rule ? ` by ${rule.id}` : '';
    return `${set.id} ${set.version}${read}${acceptUnproven ? ' (taken though not fully verified)' : ''}`;
  });
  return { ...panel.ref, cells: [named(panel.ref), panel.file.audience, sets.join('; ')] };
}

function statusOf({ status, supersededBy }: TableFile | CutPointsFile): string {
  return supersededBy ? `${status}: see ${supersededBy.what}` : status;
}

const SUMMARY = {
  'mean-per-hand': 'mean of each hand',
  'highest-per-hand': 'highest of each hand',
  'highest-of-either-hand': 'highest of either hand',
  'mean-of-both-hands': 'mean of the highest of both hands',
} as const;

function readFrom({ summary, handConvention, quantity }: TableFile | CutPointsFile): string {
  const kind = summary.kind ? SUMMARY[summary.kind] : "not stated: the panel's choice";
  const hands = handConvention === 'dominant-nondominant' ? ', dominant and other' : '';
  const over = { 'force-over-bmi': ', over BMI', 'force-over-height-squared': ', over height squared' };
  return `${kind}${hands}${quantity ? over[quantity] : ''}`;
}

type TableRow = TableFile['rows'][number];

/** With a figure: null cells are printed in the source and not known here. */
function isKnown({ mean, percentiles }: TableRow): boolean {
  return mean !== null || percentiles !== undefined;
}

function agesOf(rows: readonly TableRow[]): string {
  if (rows.length === 0) return 'no figure';
  const from = Math.min(...rows.map(({ ageMin }) => ageMin));
  if (rows.some(({ ageMax }) => ageMax === null)) return `${from} and over`;
  return `${from} to ${Math.max(...rows.map(({ ageMax }) => ageMax ?? 0))}`;
}

function unitOf({ unit, quantity }: Pick<TableFile, 'unit' | 'quantity'>): string {
  if (quantity === 'force-over-bmi') return `${unit}/(kg/m2)`;
  return quantity === 'force-over-height-squared' ? `${unit}/m2` : unit;
}

function tableRow(table: Release<TableFile>): Row {
  const { population, protocol, instrumentClass, verification, rows } = table.file;
  const ages = ['male', 'female'].map((sex) => agesOf(rows.filter((row) => row.sex === sex && isKnown(row))));
  const [men, women] = ages;
  const how = [protocol.posture ?? 'posture not stated', instrumentClass ?? 'instrument not stated'];
  return {
    ...table.ref,
    cells: [
      named(table.ref),
      statusOf(table.file),
      `${men === women ? men : `men ${men}, women ${women}`}${table.file.ages === 'exact' ? ' (exact ages)' : ''}; ${population}; unit ${unitOf(table.file)}`,
      readFrom(table.file),
      how.join('; '),
      verification.level,
    ],
  };
}

function cutPointsRow(set: Release<CutPointsFile>): Row {
  const { rows, unit, companions, verification, quantity } = set.file;
  const limits = rows.map(({ sex, ageMin, ageMax, stratum, operator, value }) => {
    const ages = ageMin === null ? '' : ageMax === null ? ` from ${ageMin}` : ` ${ageMin} to ${ageMax}`;
    const band = stratum ? ` BMI ${stratum.min ?? 'up'} to ${stratum.max ?? 'any'}` : '';
    const limit = value === null ? 'not known here' : `${operator} ${value} ${unitOf({ unit, quantity })}`;
    return `${sex === 'male' ? 'men' : 'women'}${ages}${band} ${limit}`;
  });
  return {
    ...set.ref,
    cells: [
      named(set.ref),
      statusOf(set.file),
      limits.join('; '),
      readFrom(set.file),
      companions.map(({ name }) => name).join('; ') || 'nothing',
      verification.level,
    ],
  };
}

function ruleRow(rule: Release<RuleFile>): Row {
  return { ...rule.ref, cells: [named(rule.ref), rule.file.basis, rule.file.why] };
}
