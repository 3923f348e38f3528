/** `grip-cds references` as it is shipped: what it prints is what the released files say. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { sha256, temporaryFolder } from './audit/raw-log.ts';
import { type Ended, ROOT, runCommand } from './audit/run-command.ts';
import { fixedText } from './interpret/fixed-point.ts';

const folder = temporaryFolder();
const ended = new Map<string, Ended>();

/** Each command is run once: it depends on its words and the released files alone. */
function run(...args: string[]): Ended {
  const words = args.join(' ');
  const result = ended.get(words) ?? runCommand(folder, ['references', ...args]);
  ended.set(words, result);
  return result;
}

/** Prints one JSON document, with exit code 0 and nothing on stderr. */
function json(...args: string[]): Json {
  const { status, stdout, stderr } = run(...args, '--json');
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  return JSON.parse(stdout);
}

/** Lines of the text form, with exit code 0 and nothing on stderr. */
function lines(...args: string[]): readonly string[] {
  const { status, stdout, stderr } = run(...args);
  expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
  return stdout.split('\n').slice(0, -1);
}

/** The cells of the lines after the one that begins with `head`. */
function tableAfter(head: RegExp, printed: readonly string[]): readonly (readonly string[])[] {
  const start = printed.findIndex((line) => head.test(line));
  expect(start).toBeGreaterThanOrEqual(0);
  const columns = [...(printed[start] ?? '').matchAll(/\S+(?: \S+)*/g)].map(({ index }) => index);
  return printed
    .slice(start + 1)
    .map((line) => columns.map((from, column) => line.slice(from, columns[column + 1]).trim()));
}

// biome-ignore lint/suspicious/noExplicitAny: released files and printed documents are read as plain JSON
type Json = any;

const FILES: readonly { text: string; file: Json }[] = readdirSync(join(ROOT, 'norms'), {
  recursive: true,
  encoding: 'utf8',
})
  .filter((path) => path.endsWith('.json') && path !== 'lock.json')
  .map((path) => {
    const text = readFileSync(join(ROOT, 'norms', path), 'utf8');
    return { text, file: JSON.parse(text) };
  });
const fileOf = (id: string) => FILES.find(({ file }) => file.id === id) ?? { text: '', file: {} };

const T1985 = 'mathiowetz-1985-us-adults';
const SURVEY = 'nhanes-2011-2014-right-left-mean-of-3';

/** Mean less two SD in whole numbers of the last printed place. */
function twoSdBelow({ mean, sd }: { mean: string; sd: string }, places: number): bigint {
  const whole = (figure: string) => BigInt(Math.round(Number(figure) * 10 ** places));
  return whole(mean) - 2n * whole(sd);
}

describe('references list', () => {
  it('has every released file once, with its digest and the panels that apply it', () => {
    const printed: Json[] = json('list');
    expect(printed.map(({ id, version }) => `${id} ${version}`).sort()).toEqual(
      FILES.map(({ file }) => `${file.id} ${file.version}`).sort(),
    );
    for (const { text, file } of FILES) {
      expect(printed.find(({ id }) => id === file.id)).toEqual({
        kind: file.kind,
        id: file.id,
        version: file.version,
        status: file.status,
        title: file.title,
        usedIn: FILES.filter(({ file: panel }) => panel.kind === 'panel' && names(panel, file.id)).map(
          ({ file: panel }) => `${panel.id} ${panel.version}`,
        ),
        digest: sha256(text),
      });
    }
    expect(printed.find(({ id }) => id === 'awgs-2025').usedIn).toEqual(['all-published 1.0.0']);
    expect(printed.find(({ id }) => id === 'two-sd-below-mean').usedIn).toHaveLength(2);
  });

  it('prints the same as a table', () => {
    const rows = tableAfter(/^kind +id +version +status +panels +title$/, lines('list'));
    expect(rows).toEqual(
      (json('list') as Json[]).map(({ kind, id, version, status, usedIn, title }) => [
        kind,
        id,
        version,
        status,
        String(usedIn.length),
        title,
      ]),
    );
  });
});

/** Whether a panel names a set or a rule. */
function names({ entries, rules }: Json, id: string): boolean {
  const named = [...entries.flatMap(({ set, rule }: Json) => [set, rule]), ...Object.values<Json>(rules)];
  return named.some((one) => one?.id === id);
}

describe('references check', () => {
  const count = (kind: string) => FILES.filter(({ file }) => file.kind === kind).length;
  const examples = FILES.reduce((sum, { file }) => sum + (file.examples?.length ?? 0), 0);

  it('counts what was checked, as text and as JSON', () => {
    expect(json('check')).toEqual({
      ok: true,
      tables: count('table'),
      cutPoints: count('cut-points'),
      rules: count('rule'),
      panels: count('panel'),
      workedExamples: examples,
    });
    expect(lines('check')).toEqual([
      `All well: 4 tables, 7 sets of cut-points, 6 rules and 2 panels match their digests; ${examples} worked examples come out.`,
    ]);
    expect(examples).toBeGreaterThan(20);
  });
});

describe('references show', () => {
  it.each(FILES.map(({ file }) => file.id))('%s --json is the released file with its digest', (id) => {
    const { text, file } = fileOf(id);
    const { digest, usedIn, ...printed } = json('show', id);
    expect(printed).toEqual(file);
    expect(digest).toBe(sha256(text));
    expect(usedIn).toEqual((json('list') as Json[]).find((each) => each.id === id).usedIn);
  });

  it.each([
    [T1985, 1],
    [SURVEY, 2],
  ])('%s prints every row of the file, with its limit in whole numbers', (id, places) => {
    const { file } = fileOf(id);
    const rows = tableAfter(/^age +sex +hand +mean +SD +mean - 2 SD +n +verified$/, lines('show', id));
    expect(rows).toEqual(
      file.rows.map((row: Json) => [
        row.ageMax === null ? `${row.ageMin}+` : `${row.ageMin}-${row.ageMax}`,
        row.sex,
        row.hand,
        row.mean,
        row.sd,
        fixedText(twoSdBelow(row, places) * 10n ** BigInt(2 - places), 2),
        row.n === null ? '' : String(row.n),
        row.verification,
      ]),
    );
  });

  it.each(FILES.filter(({ file }) => file.kind === 'cut-points').map(({ file }) => file.id))(
    '%s prints every limit of the file with its strictness, and what else the set asks for',
    (id) => {
      const { file } = fileOf(id);
      const printed = lines('show', id);
      const asked = file.companions.map(
        ({ name, rule, use }: Json) => `Also asked: ${name}, ${rule} (${use})`,
      );
      const end = printed.length - asked.length;
      expect(printed.slice(end)).toEqual(asked);
      const rows = tableAfter(/^age +sex +reduced is +verified$/, printed.slice(0, end));
      expect(rows).toEqual(
        file.rows.map(({ ageMin, ageMax, sex, operator, value, verification }: Json) => [
          ageMin === null ? 'any' : ageMax === null ? `${ageMin}+` : `${ageMin}-${ageMax}`,
          sex,
          `${operator} ${value} kg`,
          verification,
        ]),
      );
    },
  );

  it.each(FILES.map(({ file }) => file.id))('%s says what it is, its digest and every doubt', (id) => {
    const { text, file } = fileOf(id);
    const printed = lines('show', id);
    expect(printed.slice(0, 3)).toEqual([
      file.title,
      `${file.kind} ${id} ${file.version}, ${file.status}, released ${file.released}`,
      `SHA-256 ${sha256(text)}`,
    ]);
    expect(printed.filter((line) => line.startsWith('Doubt: '))).toEqual(
      file.doubts.map((doubt: string) => `Doubt: ${doubt}`),
    );
    const usedIn: string[] = (json('list') as Json[]).find((each) => each.id === id).usedIn;
    expect(printed.filter((line) => line.startsWith('Applied by: '))).toEqual(
      usedIn.length > 0 ? [`Applied by: ${usedIn.join(', ')}`] : [],
    );
  });

  it('gives the source, the licence and how the figures were verified', () => {
    const printed = lines('show', T1985);
    const { file } = fileOf(T1985);
    expect(printed).toEqual(
      expect.arrayContaining([
        'Source: Mathiowetz V, Kashman N, Volland G, Weber K, Dowe M, Rogers S. Grip and pinch strength: normative data for adults. Arch Phys Med Rehabil 1985;66(2):69-74. PMID 3970660 (Table 2)',
        `Licence: ${file.licence}`,
        `People: ${file.population}`,
        `Instrument: ${file.instrumentClass}; posture: ${file.protocol.posture}`,
        `Summary: mean-per-hand (${file.summary.note}); unit lb`,
        `Verified: ${file.verification.level}. ${file.verification.comparedWith}`,
      ]),
    );
    expect(lines('show', 'awgs-2025')).toContain('Instrument: not stated; posture: not stated');
    expect(lines('show', 'sdoc-2020').find((line) => line.startsWith('Summary: '))).toMatch(
      /^Summary: not stated \(.+\); unit kg$/,
    );
  });

  it('takes the version, and prints the same without it while there is one', () => {
    expect(run('show', 'awgs-2019', '1.0.0')).toEqual(run('show', 'awgs-2019'));
    expect(run('show', 'awgs-2019', '1.0.0').status).toBe(0);
  });
});

describe('references compare', () => {
  it('of two sets of cut-points shows the limits of the person, with the differences', () => {
    const printed = lines('compare', 'awgs-2019', 'awgs-2025');
    expect(printed[0]).toBe('Limits in kg (tables: mean - 2 SD). A: awgs-2019 1.0.0. B: awgs-2025 1.0.0.');
    expect(tableAfter(/^sex +hand +age +A +B +B - A$/, printed)).toEqual([
      ['female', 'either', '0-49', '18.00', '', ''],
      ['female', 'either', '50-64', '18.00', '20.00', '2.00'],
      ['female', 'either', '65+', '18.00', '18.00', '0.00'],
      ['male', 'either', '0-49', '28.00', '', ''],
      ['male', 'either', '50-64', '28.00', '34.00', '6.00'],
      ['male', 'either', '65+', '28.00', '28.00', '0.00'],
    ]);
  });

  it('has the sign of B less A: the other way round it is the other sign', () => {
    const differences = (a: string, b: string) =>
      tableAfter(/^sex/, lines('compare', a, b)).map((cells) => cells.at(-1));
    expect(differences('ewgsop2-2019', 'sdoc-2020')).toEqual(['4.00', '8.50']);
    expect(differences('sdoc-2020', 'ewgsop2-2019')).toEqual(['-4.00', '-8.50']);
    expect(differences('fnih-2014', 'fnih-2014')).toEqual(['0.00', '0.00']);
  });

  it('prints the same as JSON', () => {
    const row = (sex: string, from: number, to: number, a: string, b: string) => ({
      sex,
      hand: 'either',
      from,
      to,
      a,
      b,
    });
    expect(json('compare', 'awgs-2025', 'ewgsop2-2019')).toEqual({
      a: 'awgs-2025 1.0.0',
      b: 'ewgsop2-2019 1.0.0',
      unit: 'kg',
      rows: [
        row('female', 0, 49, '', '16.00'),
        row('female', 50, 64, '20.00', '16.00'),
        row('female', 65, 90, '18.00', '16.00'),
        row('male', 0, 49, '', '27.00'),
        row('male', 50, 64, '34.00', '27.00'),
        row('male', 65, 90, '28.00', '27.00'),
      ],
    });
  });

  it('of two tables has the limits of both for every age, sex and hand, pounds as kilograms', () => {
    const { rows }: { rows: Json[] } = json('compare', T1985, SURVEY);
    for (const sex of ['female', 'male']) {
      for (const hand of ['right', 'left']) {
        for (let age = 0; age <= 90; age += 1) {
          const found = rows.filter(
            (row) => row.sex === sex && row.hand === hand && row.from <= age && age <= row.to,
          );
          expect(found.length).toBe(age < 6 ? 0 : 1);
          if (age < 6) continue;
          expect([found[0].a, found[0].b], `${sex} ${hand} ${age}`).toEqual([
            limitKg(T1985, sex, hand, age),
            limitKg(SURVEY, sex, hand, age),
          ]);
        }
      }
    }
    expect(rows.every(({ hand }) => hand === 'right' || hand === 'left')).toBe(true);
  });

  it('of cut-points with a table repeats the limits of the person for each hand', () => {
    const { rows }: { rows: Json[] } = json('compare', 'ewgsop2-2019', T1985);
    expect(new Set(rows.map(({ hand }) => hand))).toEqual(new Set(['right', 'left']));
    for (const { sex, hand, from, a, b } of rows) {
      expect(a).toBe(sex === 'male' ? '27.00' : '16.00');
      expect(b).toBe(limitKg(T1985, sex, hand, from));
    }
  });

  it('takes a version after @', () => {
    expect(run('compare', 'awgs-2019@1.0.0', 'awgs-2025@1.0.0')).toEqual(
      run('compare', 'awgs-2019', 'awgs-2025'),
    );
  });
});

/** The limit of a table in kilograms with two decimals, in whole numbers of 10^-10 kg; empty where there is none. */
function limitKg(id: string, sex: string, hand: string, age: number): string {
  const { unit, rows } = fileOf(id).file;
  const row = rows.find(
    (one: Json) =>
      one.sex === sex && one.hand === hand && one.ageMin <= age && (one.ageMax === null || age <= one.ageMax),
  );
  if (!row) return '';
  const fine = twoSdBelow(row, 2) * (unit === 'lb' ? 45_359_237n : 10n ** 8n);
  // Half up: no limit of these tables is exactly on a half.
  return fixedText((fine + 5n * 10n ** 7n) / 10n ** 8n, 2);
}

describe('references refuses', () => {
  it.each([
    [['show', 'nobody'], 'there is no reference set nobody; see: references list'],
    [['show', 'awgs-2019', '9.9.9'], 'there is no reference set awgs-2019 9.9.9; see: references list'],
    [['show', 'awgs-2019@1.0.0'], 'there is no reference set awgs-2019@1.0.0; see: references list'],
    [['compare', 'nobody', 'awgs-2025'], 'there is no reference set nobody; see: references list'],
    [['compare', 'awgs-2025', 'nobody'], 'there is no reference set nobody; see: references list'],
    [
      ['compare', 'awgs-2019@9.0.0', 'awgs-2025'],
      'there is no reference set awgs-2019 9.0.0; see: references list',
    ],
    [
      ['compare', 'awgs-2019', 'two-sd-below-mean'],
      'two-sd-below-mean is a rule: only tables and cut-points can be compared',
    ],
    [
      ['compare', 'adult-inpatient-us', 'awgs-2019'],
      'adult-inpatient-us is a panel: only tables and cut-points can be compared',
    ],
  ])('%j with exit code 1 and one line that says why', (args, message) => {
    expect(run(...args)).toEqual({ status: 1, stdout: '', stderr: `grip-cds: ${message}\n` });
  });

  it('the same with --json: a fault is text on stderr', () => {
    expect(run('show', 'nobody', '--json')).toEqual(run('show', 'nobody'));
  });

  it.each([
    [[]],
    [['erase']],
    [['list', 'all']],
    [['check', 'awgs-2019']],
    [['show']],
    [['show', 'awgs-2019', '1.0.0', 'more']],
    [['compare']],
    [['compare', 'awgs-2019']],
    [['compare', 'awgs-2019', 'awgs-2025', 'fnih-2014']],
  ])('%j: usage on stderr, exit code 2', (args) => {
    const { status, stdout, stderr } = run(...args);
    expect({ status, stdout }).toEqual({ status: 2, stdout: '' });
    expect(stderr).toMatch(/^Usage: grip-cds/);
  });
});
