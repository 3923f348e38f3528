/**
 * The public microdata of the 2011-2014 US survey (CDC/NCHS, National Health and Nutrition Examination Survey:
 * MGX grip test, DEMO demographics, BMX body measures, cycles G and H), as CSV compressed with xz. Public domain.
 */
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Hand, Sex } from '../../src/interpret/measurement.ts';

/** One person of the survey with a grip test. */
export interface SurveyPerson {
  readonly sequence: string;
  /** G: 2011-2012; H: 2013-2014. */
  readonly cycle: Cycle;
  readonly sex: Sex;
  /** Completed years; 80 means 80 and over. */
  readonly ageYears: number;
  /** Weight of the two cycles pooled: the examination weight halved. */
  readonly weight: number;
  /** Readings of each hand in kg, in the order of the trials; a missing trial is left out. */
  readonly trials: Readonly<Record<Hand, readonly number[]>>;
  readonly dominant: Hand | null;
  readonly heightCm: number | null;
  readonly weightKg: number | null;
  /** The survey's own combined grip (MGDCGSZ): best of the right and best of the left hand together, in kg. */
  readonly combinedKg: number | null;
}

export type Cycle = 'G' | 'H';
const CYCLES: readonly Cycle[] = ['G', 'H'];

const FILES = ['MGX_G', 'MGX_H', 'DEMO_G', 'DEMO_H', 'BMX_G', 'BMX_H'] as const;

/**
 * Where the microdata are: the folder named by SURVEY_DATA, or `shared/data/nhanes-2011-2014` beside the
 * checkout; undefined when they are in neither place.
 */
export function findMicrodata(): string | undefined {
  const beside = fileURLToPath(new URL('../../../shared/data/nhanes-2011-2014', import.meta.url));
  const folder = resolve(process.env.SURVEY_DATA ?? beside);
  return FILES.every((file) => existsSync(join(folder, `${file}.csv.xz`))) ? folder : undefined;
}

/** Digest of each compressed file. */
export function digestsOf(folder: string): Readonly<Record<string, string>> {
  return Object.fromEntries(
    FILES.map((file) => {
      const bytes = readFileSync(join(folder, `${file}.csv.xz`));
      return [file, createHash('sha256').update(bytes).digest('hex')];
    }),
  );
}

type Row = Readonly<Record<string, string>>;

/** Rows of one file by the person's sequence number. Needs the `xz` command. */
function readRows(folder: string, file: string): ReadonlyMap<string, Row> {
  const text = execFileSync('xz', ['-dc', join(folder, `${file}.csv.xz`)], {
    encoding: 'utf8',
    maxBuffer: 64 * 1024 * 1024,
  });
  const [header = '', ...lines] = text.trim().split(/\r?\n/);
  const names = header.split(',').map((name) => name.replaceAll('"', ''));
  return new Map(
    lines.map((line) => {
      const cells = line.split(',');
      const row = Object.fromEntries(
        names.map((name, index) => [name, (cells[index] ?? '').replaceAll('"', '')]),
      );
      return [row.SEQN ?? '', row];
    }),
  );
}

/** A coded figure; null when missing. */
function figure(row: Row | undefined, name: string): number | null {
  const text = row?.[name];
  return text === undefined || text === '' || text === 'NA' ? null : Number(text);
}

/** Everybody who was tested on at least one hand, in the order of the files. */
export function readMicrodata(folder: string): readonly SurveyPerson[] {
  return CYCLES.flatMap((cycle) => {
    const [grip, people, bodies] = ['MGX', 'DEMO', 'BMX'].map((file) => readRows(folder, `${file}_${cycle}`));
    return [...(grip ?? [])].flatMap(([sequence, row]) => {
      const person = people?.get(sequence);
      const read = person && readPerson({ sequence, cycle, grip: row, person, body: bodies?.get(sequence) });
      return read ? [read] : [];
    });
  });
}

/** How many rows of the grip file of a cycle have each status of the examination (MGDEXSTS). */
export function countStatuses(folder: string, cycle: Cycle): Readonly<Record<string, number>> {
  const counts: Record<string, number> = {};
  for (const row of readRows(folder, `MGX_${cycle}`).values()) {
    const status = row.MGDEXSTS ?? '';
    counts[status] = (counts[status] ?? 0) + 1;
  }
  return counts;
}

interface Rows {
  readonly sequence: string;
  readonly cycle: Cycle;
  readonly grip: Row;
  readonly person: Row;
  readonly body: Row | undefined;
}

function readPerson({ sequence, cycle, grip, person, body }: Rows): SurveyPerson | undefined {
  const first = handOf(figure(grip, 'MGATHAND'));
  const [age, sex, weight] = [
    figure(person, 'RIDAGEYR'),
    figure(person, 'RIAGENDR'),
    figure(person, 'WTMEC2YR'),
  ];
  if (!first || age === null || weight === null) return undefined;
  const readings = (hand: 1 | 2) =>
    [1, 2, 3].flatMap((trial) => {
      const reading = figure(grip, `MGXH${hand}T${trial}`);
      return reading === null ? [] : [reading];
    });
  const [one, two] = [readings(1), readings(2)];
  return {
    sequence,
    cycle,
    sex: sex === 1 ? 'male' : 'female',
    ageYears: age,
    weight: weight / 2,
    trials: first === 'right' ? { right: one, left: two } : { right: two, left: one },
    dominant: handOf(figure(grip, 'MGD130')),
    heightCm: figure(body, 'BMXHT'),
    weightKg: figure(body, 'BMXWT'),
    combinedKg: figure(grip, 'MGDCGSZ'),
  };
}

/** 1 right, 2 left; anything else (both, missing) is neither. */
function handOf(code: number | null): Hand | null {
  return code === 1 ? 'right' : code === 2 ? 'left' : null;
}
