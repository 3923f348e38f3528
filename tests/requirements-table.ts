/** Which tests cite which requirement, and what came of them: as rows, faults and lines of at most 100 columns. */
import { REQUIREMENTS, type Requirement } from './requirements.ts';

const ID = '[JDQPRCSLFTE]\\d{1,2}';
/** `C1: ...`, `J2, C8: ...`, `P2 and P3: ...`, `J1 to J4: ...`. */
const CITATION = `${ID}(?:(?:, | and | to )${ID})*`;

/** Ids at the start of a test's name, ranges written out; none where it cites none. */
export function readCitations(name: string): readonly string[] {
  const cited = new RegExp(`^(${CITATION}): `).exec(name)?.[1] ?? '';
  return cited.split(/, | and /).flatMap(writtenOut);
}

/** Every citation among the texts of a file: names of tests, and first cells of tables of tests. */
export function readCitationsIn(source: string): readonly string[] {
  return [...source.matchAll(new RegExp(`['"\`](${CITATION}: )`, 'g'))].flatMap(([, cited = '']) =>
    readCitations(cited),
  );
}

function writtenOut(part: string): readonly string[] {
  const [first = '', last = first] = part.split(' to ');
  if (first === '') return [];
  const from = Number(first.slice(1));
  const length = Math.max(1, Number(last.slice(1)) - from + 1);
  return Array.from({ length }, (_one, index) => `${first[0]}${from + index}`);
}

export interface Ran {
  /** Path of the test file. */
  readonly file: string;
  readonly name: string;
  readonly state: 'passed' | 'failed' | 'skipped' | 'pending';
}

export type Result = 'passed' | 'failed' | 'not shown' | 'skipped';

export interface Row {
  readonly requirement: Requirement;
  readonly tests: readonly Ran[];
  readonly result: Result;
}

/** One row for each requirement. */
export function rowsOf(ran: readonly Ran[], requirements = REQUIREMENTS): readonly Row[] {
  const citing = new Map<string, Ran[]>();
  for (const test of ran)
    for (const id of new Set(readCitations(test.name))) citing.set(id, [...(citing.get(id) ?? []), test]);
  return requirements.map((requirement) => {
    const tests = citing.get(requirement.id) ?? [];
    return { requirement, tests, result: resultOf(requirement, tests) };
  });
}

function resultOf({ skipped }: Requirement, tests: readonly Ran[]): Result {
  if (tests.some(({ state }) => state === 'failed')) return 'failed';
  if (tests.some(({ state }) => state === 'passed')) return 'passed';
  return skipped === undefined ? 'not shown' : 'skipped';
}

/** What makes a whole run fail: a requirement that nothing shows, or a reason that is no longer needed. */
export function faultsIn(rows: readonly Row[]): readonly string[] {
  return rows.flatMap(({ requirement: { id, skipped }, result }) => {
    if (result === 'not shown') return [`${id} has no passing test and no reason to have none`];
    if (result === 'failed') return [`${id} has a failing test`];
    if (result === 'passed' && skipped !== undefined) return [`${id} has a test: its reason can go`];
    return [];
  });
}

const wasRun = ({ state }: Ran) => state === 'passed' || state === 'failed';

const WIDTH = 100;

/** @param isWhole a part of a run shows only what it ran */
export function renderTable(rows: readonly Row[], isWhole: boolean): readonly string[] {
  const shown = isWhole ? rows : rows.filter(({ tests }) => tests.some(wasRun));
  if (shown.length === 0) return [];
  const count = (wanted: Result) => rows.filter(({ result }) => result === wanted).length;
  const title = isWhole
    ? 'Requirements of CDS Hooks'
    : 'Requirements of CDS Hooks cited by the tests of this run';
  return [
    title,
    line('id', 'level', 'result', 'tests', 'first test, or why there is none'),
    ...shown.map(({ requirement: { id, level, skipped = '' }, tests, result }) =>
      line(id, level, result, String(tests.length), tests[0] ? placeOf(tests[0]) : skipped),
    ),
    ...(isWhole
      ? [
          `${count('passed')} passed, ${count('failed')} failed, ${count('not shown')} not shown, ${count('skipped')} skipped with a reason`,
        ]
      : []),
  ];
}

/** The name without what the row says already. */
function placeOf({ file, name }: Ran): string {
  return `${file.replace(/^.*tests\//, '').replace(/\.test\.ts$/, '')}: ${name.replace(/^[^:]*: /, '')}`;
}

function line(id: string, level: string, result: string, tests: string, rest: string): string {
  const text = `${id.padEnd(4)} ${level.padEnd(6)} ${result.padEnd(9)} ${tests.padStart(5)}  ${rest.replace(/\s+/g, ' ')}`;
  return text.length > WIDTH ? `${text.slice(0, WIDTH - 3)}...` : text;
}
