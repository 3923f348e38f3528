/**
 * The transcriptions made outside this code (tests/outside), and the comparison of a released file with them, cell
 * by cell. Figures stay the text that is printed in the transcription; nothing here is shared with the loader.
 */
import { readFileSync } from 'node:fs';

/** Parsed JSON of a released file or a transcription. */
// biome-ignore lint/suspicious/noExplicitAny: a transcription has no type
export type Json = any;

type Figure = string | null;

/** One row of a table or a set of cut-points: every cell that a result can depend on, as printed. */
export interface OutsideRow {
  readonly sex: string;
  readonly hand: string | null;
  readonly ageMin: Figure;
  readonly ageMax: Figure;
  /** `height 160 to 164`; `any` for an open end; null where the row holds for everybody. */
  readonly stratum: string | null;
  /** Of a table. */
  readonly mean?: Figure;
  readonly sd?: Figure;
  readonly oneSdBelow?: Figure;
  readonly n?: Figure;
  readonly percentiles?: Readonly<Record<string, string>>;
  /** Of a set of cut-points. */
  readonly operator?: string;
  readonly value?: Figure;
  /** Where the band that the source calls intermediate ends. */
  readonly intermediateBelow?: Figure;
  readonly verification: string;
}

export interface OutsideSet {
  readonly rows: readonly OutsideRow[];
  /** Unit, quantity, hands, summary, kind of ages: what the whole set is of. */
  readonly facts: Readonly<Record<string, string | null>>;
}

/** Parsed with every number as the text that is printed, so that 20.0 stays 20.0. */
export function outside(name: string): Json {
  const text = readFileSync(new URL(`../outside/${name}.json`, import.meta.url), 'utf8');
  const asText = text.replaceAll(/"(?:[^"\\]|\\.)*"|-?\d+(?:\.\d+)?/g, (token) =>
    token.startsWith('"') ? token : `"${token}"`,
  );
  return JSON.parse(asText);
}

/** Survey transcriptions drop closing zeros; their figures have two places. */
function twoPlaces(text: Figure): Figure {
  if (text === null) return null;
  const [whole = '', fraction = ''] = text.split('.');
  if (fraction.length > 2) throw new Error(`more than two places: ${text}`);
  return `${whole}.${fraction.padEnd(2, '0')}`;
}

const asPrinted = (text: Figure): Figure => text;

const LEVELS: Readonly<Record<string, string>> = {
  'two-copies-agree': 'two-sources',
  'one-copy': 'one-source',
  derived: 'derived-from-microdata',
  'not-found': 'one-source',
  'not-seen': 'one-source',
  null: 'one-source',
};

function tableRow(row: Json, places: (text: Figure) => Figure): OutsideRow {
  const ranks = Object.keys(row).filter((key) => /^p\d+$/.test(key) && row[key] !== null);
  const height = row.heightCmMin !== undefined;
  return {
    sex: row.sex,
    hand: row.hand,
    ageMin: row.ageMin,
    ageMax: row.ageMax,
    stratum: height ? `height ${row.heightCmMin ?? 'any'} to ${row.heightCmMax ?? 'any'}` : null,
    mean: places(row.mean ?? null),
    sd: places(row.sd ?? null),
    oneSdBelow: places(row.oneSdBelow ?? null),
    n: row.n ?? null,
    percentiles: Object.fromEntries(ranks.map((rank) => [rank.slice(1), places(row[rank]) ?? ''])),
    verification: LEVELS[row.confidence] ?? row.confidence,
  };
}

/** What the transcriptions say of the summary of the trials, in the words of the released files. */
const SUMMARY_SAID: Readonly<Record<string, string | null>> = {
  null: null,
  'single maximal trial': null,
  'mean of 3': 'mean-per-hand',
  'mean of 3 (all 3 required)': 'mean-per-hand',
  'maximum of up to 3': 'highest-per-hand',
  maximum: 'highest-of-either-hand',
  'maximum of all attempts': 'highest-of-either-hand',
  'maximum of up to 6': 'highest-of-either-hand',
  'maximum of up to 6, divided by height squared': 'highest-of-either-hand',
  'mean of the two hand maxima': 'mean-of-both-hands',
  'mean of the two hands, each hand represented by its maximum': 'mean-of-both-hands',
};

function factsOf(given: Json): OutsideSet['facts'] {
  const said = SUMMARY_SAID[given.summaryStatistic ?? 'null'];
  if (said === undefined) throw new Error(`not known: ${given.summaryStatistic}`);
  const unit = given.nativeUnit ?? given.unit;
  const { hand } = given.rows[0];
  return {
    unit: unit === 'kg/m2' ? 'kg' : unit,
    quantity: unit === 'kg/m2' ? 'force-over-height-squared' : null,
    hands: hand === null ? 'either' : hand === 'dominant' ? 'dominant-nondominant' : 'right-left',
    summary: said,
    ages: given.rows[0].ageIsExact ? 'exact' : null,
  };
}

function table(name: string, places = asPrinted, rowsOf = (given: Json): Json[] => given.rows): OutsideSet {
  const given = outside(name);
  return { rows: rowsOf(given).map((row) => tableRow(row, places)), facts: factsOf(given) };
}

/** The left hand of 1985 rests on one copy that the all-ages row agrees with (tables.test.ts recomputes it). */
function us1985(): OutsideSet {
  const { rows, facts } = table('mathiowetz-1985-us-adults');
  const level = ({ verification }: OutsideRow) =>
    verification === 'one-source' ? 'one-source-checked' : verification;
  return { rows: rows.map((row) => ({ ...row, verification: level(row) })), facts };
}

/** Women of 80 to 90 years and 180 cm are in no copy seen; the released table has the row, without figures. */
const HEIGHT_NOT_SEEN = {
  ageMin: '80',
  ageMax: '90',
  sex: 'female',
  heightCmMin: '180',
  heightCmMax: '184',
  hand: null,
  confidence: 'not-seen',
};

const SURVEY = [
  'best-either-hand',
  'best-over-height-squared',
  'dominant-best-of-3',
  'dominant-mean-of-3',
  'mean-of-both-hands',
  'right-left-best-of-3',
  'right-left-mean-of-3',
].map((variant) => `nhanes-2011-2014-${variant}`);

export const OUTSIDE_TABLES: Readonly<Record<string, OutsideSet>> = {
  'mathiowetz-1985-us-adults': us1985(),
  'mathiowetz-1986-us-children': table('mathiowetz-1986-us-6-19'),
  'bohannon-2017-us-children': table('bohannon-2017-us-3-17'),
  'massy-westropp-2011-australia': table('massy-westropp-2011-australia'),
  'dodds-2014-great-britain': table('dodds-2014-great-britain'),
  'tomkinson-2025-international': table('tomkinson-2025-international'),
  'leong-2016-europe-north-america': table('leong-2016-pure'),
  'steiber-2016-germany': table('steiber-2016-germany'),
  'steiber-2016-germany-by-height': table('steiber-2016-germany', asPrinted, ({ heightRows }) => [
    ...heightRows,
    HEIGHT_NOT_SEEN,
  ]),
  ...Object.fromEntries(SURVEY.map((id) => [id, table(id, twoPlaces)])),
};

const CUT_POINTS: readonly Json[] = outside('cutpoints').sets;

/** The transcription of a set by its released id; a set over the body mass index is part of its parent's. */
export function outsideSet(id: string): Json {
  const name = id.replace(/-bmi$/, '').toUpperCase();
  return CUT_POINTS.find((set) => set.id === (name === 'ICUAW-2008' ? 'ICUAW' : name));
}

/** `primary_seen(abstract)` is primary-seen; what is known from memory only is released without its figure. */
function levelOf(said: string): string {
  const [level = ''] = /^(primary_seen|secondary_seen|memory)/.exec(said) ?? [];
  return level === 'memory' ? 'from-memory' : level.replace('_', '-');
}

function limitRow(sex: string, { op, value }: Json, level: string, age = ''): OutsideRow {
  const [ageMin = null, ageMax = null] = age.match(/\d+/g) ?? [];
  const verification = levelOf(level);
  const known = verification === 'from-memory' ? null : value;
  return { sex, hand: null, ageMin, ageMax, stratum: null, operator: op, value: known, verification };
}

/** The transcribed band begins at the limit itself; without that its end would not be the end of a band. */
function intermediateBelow({ intermediate_band_kg: bands, grip_kg }: Json, sex: string): Figure {
  if (!bands) return null;
  const [from, to] = bands[sex];
  if (from !== grip_kg[sex].value) throw new Error(`the intermediate band of ${sex} begins at ${from}`);
  return to;
}

function cutPoints(id: string): OutsideSet {
  const given = outsideSet(id);
  const ratio = id.endsWith('-bmi') ? given.ratios.find(({ name }: Json) => name === 'grip/BMI') : undefined;
  const bands: Json[] = given.bands ?? [{ grip_kg: given.grip_kg }];
  const rows = ratio
    ? ['male', 'female'].map((sex) => limitRow(sex, ratio[sex], ratio[sex].verification))
    : bands.flatMap(({ age, grip_kg }) =>
        Object.entries(grip_kg).map(([sex, limit]) => ({
          ...limitRow(sex, limit, given.verification.grip, age),
          intermediateBelow: intermediateBelow(given, sex),
        })),
      );
  const isHighest = given.summary_statistic?.startsWith('max') ?? false;
  return {
    rows,
    facts: {
      unit: 'kg',
      quantity: ratio ? 'force-over-bmi' : null,
      hands: 'either',
      summary: isHighest ? 'highest-of-either-hand' : null,
      ages: null,
    },
  };
}

/** BMI as printed in the 2001 criteria: `<=24`, `24.1-26`, `>28`; the released ends have one place. */
function bmiStratum(text: string): string {
  const [first = '0', second = '0'] = text.match(/\d+(\.\d+)?/g) ?? [];
  const place = (bmi: string) => Number(bmi).toFixed(1);
  if (text.startsWith('<=')) return `bmi any to ${place(first)}`;
  if (text.startsWith('>')) return `bmi ${(Number(first) + 0.1).toFixed(1)} to any`;
  return `bmi ${place(first)} to ${place(second)}`;
}

function fried(): OutsideSet {
  const given = outside('frailty-fried');
  const rows = ['male', 'female'].flatMap((sex) =>
    given[sex].map(({ bmi, grip }: Json) => ({
      ...limitRow(sex, { op: given.op, value: grip }, 'secondary_seen', given.age),
      hand: given.hand,
      stratum: bmiStratum(bmi),
    })),
  );
  const summary = given.summary_statistic.startsWith('mean of 3') ? 'mean-per-hand' : null;
  return {
    rows,
    facts: { unit: given.unit, quantity: null, hands: 'dominant-nondominant', summary, ages: null },
  };
}

const SETS = [
  'awgs-2014',
  'awgs-2019',
  'awgs-2025',
  'espen-easo-2022',
  'ewgsop1-2010',
  'ewgsop2-2019',
  'fnih-2014',
  'fnih-2014-bmi',
  'icuaw-2008',
  'sdoc-2020',
  'sdoc-2020-bmi',
] as const;

export const OUTSIDE_CUT_POINTS: Readonly<Record<string, OutsideSet>> = {
  ...Object.fromEntries(SETS.map((id) => [id, cutPoints(id)])),
  'fried-2001': fried(),
};
