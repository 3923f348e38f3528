/** Each requirement of CDS Hooks has a test that cites it, and the table at the end of a run says what came of them. */
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { REQUIREMENTS } from './requirements.ts';
import {
  faultsIn,
  type Ran,
  readCitations,
  readCitationsIn,
  renderTable,
  rowsOf,
} from './requirements-table.ts';

const TESTS = fileURLToPath(new URL('.', import.meta.url));

/** Of each test file: what it cites. This one cites only for example. */
const cited: readonly (readonly [file: string, ids: readonly string[]])[] = readdirSync(TESTS, {
  recursive: true,
  encoding: 'utf8',
})
  .filter((file) => file.endsWith('.test.ts') && file !== 'requirements.test.ts')
  .map((file) => [file, readCitationsIn(readFileSync(`${TESTS}${file}`, 'utf8'))]);

describe('the requirements', () => {
  it('are those of the brief, each once and each with a source', () => {
    const counts = { J: 6, D: 10, Q: 8, P: 12, R: 4, C: 12, S: 7, L: 3, F: 7, T: 13, E: 2 };
    const expected = Object.entries(counts).flatMap(([letter, count]) =>
      Array.from({ length: count }, (_one, index) => `${letter}${index + 1}`),
    );
    expect(REQUIREMENTS.map(({ id }) => id)).toEqual(expected);
    for (const { text, source } of REQUIREMENTS) expect(`${text} ${source}`).toMatch(/^\S.*\. \S/);
  });

  it('have each a test that cites it, unless a reason is given', () => {
    const ids = new Set(cited.flatMap(([, found]) => found));
    const without = REQUIREMENTS.filter(({ id, skipped }) => skipped === undefined && !ids.has(id));
    expect(
      without.map(({ id }) => id),
      'without a citing test',
    ).toEqual([]);
    const needless = REQUIREMENTS.filter(({ id, skipped }) => skipped !== undefined && ids.has(id));
    expect(
      needless.map(({ id }) => id),
      'with a reason and a test',
    ).toEqual([]);
  });

  it('are the only ones that tests cite', () => {
    const known = new Set(REQUIREMENTS.map(({ id }) => id));
    const unknown = cited.flatMap(([file, ids]) =>
      ids.filter((id) => !known.has(id)).map((id) => [file, id]),
    );
    expect(unknown).toEqual([]);
  });
});

describe('docs/hooks.md', () => {
  const guide = readFileSync(`${TESTS}../docs/hooks.md`, 'utf8');
  const section = /^## Conformance\n([\s\S]*?)(?=^## |(?![\s\S]))/m.exec(guide)?.[1] ?? '';
  const claims = [...section.matchAll(/^\| ([A-Z]\d[^|]*) \| (.+) \|$/gm)];

  it('says of every requirement, once and in order, what this service does', () => {
    const said = claims.flatMap(([, ids = '']) => readCitations(`${ids}: x`));
    expect(said).toEqual(REQUIREMENTS.map(({ id }) => id));
    for (const [row, , claim] of claims) expect(claim, row).toMatch(/[a-z]{3}.*\.$/);
  });
});

describe('a citation', () => {
  it.each([
    ['C1: has a summary', ['C1']],
    ['C1, C8: both', ['C1', 'C8']],
    ['P2 and P3: tokens', ['P2', 'P3']],
    ['J1 to J4, E2: all', ['J1', 'J2', 'J3', 'J4', 'E2']],
    ['D10: discovery', ['D10']],
    ['K1: another list', []],
    ['says C1: not at the start', []],
    ['C1 without a colon', []],
    ['T10:15:00Z', []],
  ])('%j names %j', (name, ids) => {
    expect(readCitations(name)).toEqual(ids);
  });

  it('is found in a name and in the first cell of a table of tests', () => {
    const source = `it('C1: x', () => {}); it.each([["Q2: y", 1], [\`L1 and L2: z\`, 2]])('%s', f); // C9: no`;
    expect(readCitationsIn(source)).toEqual(['C1', 'Q2', 'L1', 'L2']);
  });
});

/** Three that need a test, and one that is left out for a reason. */
const REQUIRED = REQUIREMENTS.filter(({ id }) => ['C1', 'C2', 'C3', 'T10'].includes(id)).map((each) =>
  each.id === 'T10' ? { ...each, skipped: 'an invented reason' } : each,
);
const ran = (name: string, state: Ran['state']): Ran => ({ file: 'tests/hooks/cards.test.ts', name, state });
const passedBy = (...names: string[]) => names.map((name) => ran(name, 'passed'));

describe('the table of a run', () => {
  it('has no fault where everything is shown, or has its reason', () => {
    expect(faultsIn(rowsOf(passedBy('C1 to C3: all'), REQUIRED))).toEqual([]);
  });

  it('has a fault for what is not shown, what failed, what was only skipped, and a needless reason', () => {
    const tests = [
      ran('C1: a', 'failed'),
      ran('C1: b', 'passed'),
      ran('C2: c', 'skipped'),
      ...passedBy('T10: d'),
    ];
    expect(faultsIn(rowsOf(tests, REQUIRED))).toEqual([
      'C1 has a failing test',
      'C2 has no passing test and no reason to have none',
      'C3 has no passing test and no reason to have none',
      'T10 has a test: its reason can go',
    ]);
  });

  it('shows every requirement after a whole run and only those that ran after a part', () => {
    const rows = rowsOf(passedBy('C1: is short', 'C1: is one sentence'), REQUIRED);
    expect(renderTable(rows, false).slice(2)).toEqual(['C1   SHALL  passed        2  hooks/cards: is short']);
    const whole = renderTable(rows, true);
    expect(whole).toHaveLength(2 + REQUIRED.length + 1);
    expect(whole.at(-1)).toBe('1 passed, 0 failed, 2 not shown, 1 skipped with a reason');
    expect(renderTable(rowsOf([ran('C2: is not run', 'skipped')], REQUIRED), false)).toEqual([]);
  });

  it('fits in 100 columns', () => {
    const long = rowsOf(passedBy(`C1: ${'very '.repeat(50)}long`), REQUIRED);
    for (const text of renderTable(long, true)) expect(text.length).toBeLessThanOrEqual(100);
  });
});
