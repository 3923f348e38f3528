/**
 * Everybody in the survey through the interpretation that the service uses: for each set and sex the weighted share
 * called reduced by age, the refusals by code, and the outside checks with their sources.
 * Run: npm run measure:population [-- --panel all-published] [-- --json]
 */
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import type { Panel } from '../../src/interpret/panel.ts';
import { loadLibrary, type ReferenceLibrary } from '../../src/reference/library.ts';
import { findMicrodata, readMicrodata, type SurveyPerson } from './microdata.ts';
import {
  type Check,
  checkCentiles,
  checkElsewhere,
  checkSameSurvey,
  checkWeakAt80,
  holds,
  outOfOrder,
  summariseOwn,
} from './outside-checks.ts';
import { type OwnRow, ownRows } from './own-tables.ts';
import { describePopulation, judgedBySet, type Population } from './population.ts';
import { NOT_COMPARED } from './published.ts';
import { type Outcome, runPanel } from './run-panel.ts';
import { AGE_GROUPS } from './weighted.ts';

export interface Measured {
  readonly population: Population;
  readonly checks: readonly Check[];
  readonly ownRows: readonly OwnRow[];
  /** People below a lower limit and not below a higher one. */
  readonly outOfOrder: readonly string[];
}

/** @param outcomes of `runPanel` for the same people and panel */
export function measurePopulation(
  people: readonly SurveyPerson[],
  outcomes: readonly Outcome[],
  panel: Panel,
  library: ReferenceLibrary,
): Measured {
  const judged = judgedBySet(outcomes);
  const applies = (id: string) => panel.sets.some(({ ref }) => ref.id === id);
  return {
    population: describePopulation(outcomes, panel),
    checks: [
      ...checkSameSurvey(people),
      ...(applies('ewgsop2-2019') ? checkWeakAt80(judged) : []),
      ...checkCentiles(judged).filter(({ source }) => applies(source.split(':')[0] ?? '')),
      ...checkElsewhere(people),
    ],
    ownRows: ownRows(people, library),
    outOfOrder: outOfOrder(judged),
  };
}

const percent = (share: number) => `${(100 * share).toFixed(1)}%`;

function writeSets({ panel, people, sets }: Population): readonly string[] {
  const groups = AGE_GROUPS.map(({ name }) => name.padStart(7)).join(' ');
  return [
    `Survey 2011-2014, panel ${panel.id} ${panel.version}: ${people} people with a reading, in kg`,
    'Weighted share called reduced by age (-: the set was read for nobody). A set read for each hand: on either hand.',
    'The survey gives no age above 80: sets with bands above 80 are read at 80.',
    '',
    `${'set'.padEnd(44)} sex     people ${groups}`,
    ...sets.map(({ set, version, sex, people: read, groups: shares }) => {
      const cells = AGE_GROUPS.map(({ name }) => {
        const share = shares[name]?.share;
        return (share === undefined || share === null ? '-' : percent(share)).padStart(7);
      });
      return `${`${set} ${version}`.padEnd(44)} ${sex.padEnd(7)} ${String(read).padStart(6)} ${cells.join(' ')}`;
    }),
  ];
}

function writeCheck(check: Check): string {
  const { what, found, published, unit, tolerance } = check;
  const said = holds(check);
  const verdict = said === null ? 'reported only' : said ? 'holds' : 'DOES NOT HOLD';
  const within = tolerance === null ? '' : `, tolerance ${tolerance}`;
  return `  ${what}: ${found.toFixed(1)} ${unit}; published ${published} ${unit}${within}: ${verdict}`;
}

function writeChecks(checks: readonly Check[]): readonly string[] {
  const about = new Map<string, Check[]>();
  for (const check of checks) {
    const heading = `\n${check.source}\n  (${check.why})`;
    about.set(heading, [...(about.get(heading) ?? []), check]);
  }
  return [...about].flatMap(([heading, own]) => [heading, ...own.map(writeCheck)]);
}

function writeOwn(rows: readonly OwnRow[]): readonly string[] {
  const own = summariseOwn(rows);
  const pooled = own.pooled.map(({ share }) => share);
  return [
    "\nThe survey's own tables, ages 20 and over (2.3% of a normal distribution lie two SD below its mean)",
    `  at or below the mean less two SD, all ages of a column together: ${percent(Math.min(...pooled))} to ${percent(Math.max(...pooled))} in ${pooled.length} columns`,
    `  the same in each band: ${percent(own.lowest)} to ${percent(own.highest)}; within 0.5% to 4% in ${own.usual} of ${own.rows} rows`,
    `  below the 10th centile in each band: ${percent(own.tenthLowest)} to ${percent(own.tenthHighest)}; further from 10% than one figure weighs in ${own.tenthBeyondOneFigure} of ${own.rows} rows`,
  ];
}

function writeAll(measured: Measured): string {
  const { population, checks, ownRows: rows, outOfOrder: wrong } = measured;
  return [
    ...writeSets(population),
    '\nRefusals: people with at least one, by code and set',
    ...Object.entries(population.refusals).map(([code, people]) => `  ${code}: ${people}`),
    '\nOutside checks',
    ...writeOwn(rows),
    `\nOrder of limits: ${wrong.length} people are below a lower limit and not below a higher one (must be 0)`,
    ...writeChecks(checks),
    '\nNot compared, since no figure was found',
    ...NOT_COMPARED.map((what) => `  ${what}`),
  ].join('\n');
}

function main(): void {
  const { values } = parseArgs({
    options: {
      panel: { type: 'string', default: 'all-published' },
      json: { type: 'boolean', default: false },
    },
  });
  const folder = findMicrodata();
  if (!folder) throw new Error('the survey microdata are not here (set SURVEY_DATA to their folder)');
  const library = loadLibrary(fileURLToPath(new URL('../../norms/', import.meta.url)));
  const panel = library.findPanel(values.panel)?.panel;
  if (!panel) throw new Error(`there is no panel ${values.panel}`);
  const people = readMicrodata(folder);
  const measured = measurePopulation(people, runPanel(people, panel), panel, library);
  console.log(values.json ? JSON.stringify(measured, null, 2) : writeAll(measured));
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
