/** The rules of the house: who may import what, sizes and names. A fault names file and line. */
import { readdirSync, readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const SRC = fileURLToPath(new URL('../src/', import.meta.url));

/**
 * Imports point down only. First a folder (ends in `/`, and may import from itself) or one file; then what of
 * ours it may import (`type:` marks types and nothing else; elsewhere type-only imports count like any other);
 * then the packages (`node:` is all of Node). The first row that fits a file counts.
 */
const TABLE = `
interpret/       | |
errors.ts        | |
derived-id.ts    | | node:
reference/       | interpret/ | node: zod
evaluation.ts    | interpret/ reference/ type:document.ts type:wording/ |
assessment.ts    | type:interpret/ type:reference/ |
wording/         | interpret/ reference/ type:errors.ts |
document.ts      | |
fhir/            | interpret/ reference/ errors.ts evaluation.ts document.ts wording/ derived-id.ts | zod node:crypto fhir/r4.js
definitions/     | interpret/ reference/ fhir/ wording/ | node: fhir/r4.js
outbound/        | |
untrusted-json.ts | |
audit/           | document.ts | node: better-sqlite3
trust/           | type:outbound/ type:audit/ | jose zod node:crypto
recorded-findings.ts | type:interpret/ |
read-input.ts    | interpret/ reference/ fhir/ errors.ts evaluation.ts type:wording/ |
evaluate.ts      | interpret/ reference/ fhir/ type:audit/ type:outbound/ errors.ts evaluation.ts read-input.ts recorded-findings.ts | node:crypto
assess.ts        | interpret/ type:reference/ fhir/ errors.ts type:assessment.ts evaluate.ts read-input.ts | node:crypto
recorded-evaluation.ts | interpret/ type:reference/ audit/ type:evaluate.ts type:evaluation.ts recorded-findings.ts | zod
replay.ts        | type:reference/ type:audit/ fhir/ hooks/ type:evaluate.ts type:evaluation.ts recorded-evaluation.ts | node:crypto
replay-assessment.ts | interpret/ type:reference/ audit/ hooks/ type:evaluate.ts type:assessment.ts type:replay.ts | zod node:crypto
review/          | evaluation.ts interpret/ type:reference/ type:evaluate.ts wording/ |
hooks/           | evaluate.ts evaluation.ts assess.ts type:assessment.ts fhir/ interpret/ errors.ts wording/ derived-id.ts outbound/ untrusted-json.ts | zod fhir/r4.js
http/            | evaluate.ts hooks/ fhir/ review/ trust/ type:audit/ recorded-evaluation.ts errors.ts document.ts untrusted-json.ts | fastify @fastify/cors node:net node:crypto fhir/r4.js
config.ts        | errors.ts | zod node:net
clients.ts       | config.ts | zod
service.ts       | config.ts clients.ts http/ trust/ outbound/ audit/ reference/ definitions/ fhir/ document.ts evaluate.ts errors.ts | node: fastify fhir/r4.js
main.ts          | config.ts service.ts | close-with-grace pino
audit-command.ts | audit/ config.ts service.ts replay.ts replay-assessment.ts reference/ | node:
feedback-row.ts  | type:audit/ hooks/ |
feedback-command.ts | audit/ config.ts feedback-row.ts hooks/ | node:
results-command.ts | audit/ config.ts document.ts | node:
terminal/        | interpret/ reference/ |
references-command.ts | reference/ terminal/ config.ts service.ts | node:path
demo/            | audit/ config.ts service.ts fhir/ interpret/ | node: fhir/r4.js
cli.ts           | audit/ audit-command.ts feedback-command.ts references-command.ts results-command.ts config.ts demo/ main.ts service.ts reference/ definitions/ | node:`
  .trim()
  .split('\n')
  .map((line) => {
    const [from = '', ours = '', packages = ''] = line.split('|').map((cell) => cell.trim());
    return { from, ours: ours.split(' '), packages: packages.split(' ') };
  });
// evaluate.ts takes node:crypto for the digest of the reply; hooks/ checks the envelope of a call with zod, and
// takes from interpret/ two constants besides types (the list of hands, the factor of the pound).

/** What may be said in which files only; nobody else opens, listens or reads the environment. */
const ONLY_IN: readonly (readonly [RegExp, readonly string[]])[] = [
  [/\bprocess\.env\b/, ['config.ts']],
  [/\.listen\(/, ['main.ts', 'demo/']],
  [/\bopenService\(/, ['service.ts', 'main.ts', 'demo/']],
  [
    /\bopenSqliteStore\(|\bnew Database\(/,
    ['audit/', 'service.ts', 'audit-command.ts', 'results-command.ts'],
  ],
  [/\bverifyLog\(/, ['audit/', 'service.ts', 'audit-command.ts', 'feedback-command.ts', 'demo/']],
  [/\bloadLibrary\(|\breadNorms\(/, ['reference/', 'service.ts']],
  [
    /\b(?:readFile|readdir|mkdir|exists|stat)(?:Sync)?\(/,
    [
      'audit/',
      'reference/',
      'definitions/load-definitions.ts',
      'service.ts',
      'audit-command.ts',
      'feedback-command.ts',
      'results-command.ts',
    ],
  ],
  // Norms are read only, but for the digests that a site locks its own folder with.
  [/\b(?:writeFile|appendFile|rm|unlink|rename)(?:Sync)?\(/, ['audit/', 'reference/lock.ts']],
  [
    /\bconsole\.|\bprocess\.(?:stdout|stderr|exitCode|argv)\b/,
    [
      'cli.ts',
      'audit-command.ts',
      'feedback-command.ts',
      'references-command.ts',
      'results-command.ts',
      'demo/',
    ],
  ],
];

/** The core is arithmetic: no clock, no chance, no surroundings. */
const NOT_IN_CORE =
  /\bDate\.now\b|\bDate\s*\(|\bnew\s+Date\b|\bMath\.random\b|\b(?:process|console|performance|globalThis|require)\b/;

const MOST_LINES_OF_FILE = 300;
const MOST_LINES_OF_FUNCTION = 50;
/** Longer than the stop, each with its reason. */
const LONG_ON_PURPOSE: Readonly<Record<string, string>> = {
  'audit/sqlite-store.ts openSqliteStore':
    'one closure over the connection and the waiting batch: nothing else may reach either',
};

const BARRED_NAMES = /^(?:utils?|helpers?|common|manager|index|types|misc)\b/;

interface Source {
  /** Path below src/. */
  readonly file: string;
  readonly text: string;
  /** The same length, with comments, texts and regular expressions blanked out. */
  readonly code: string;
}

/** Comments, texts, templates (with one template inside another) and regular expressions. */
const NOT_CODE = new RegExp(
  [
    /\/\*[\s\S]*?\*\//,
    /\/\/[^\n]*/,
    /'(?:\\.|[^'\\\n])*'/,
    /"(?:\\.|[^"\\\n])*"/,
    /`(?:\\.|\$\{(?:[^{}`]|`(?:\\.|[^`\\])*`|\{[^{}]*\})*\}|[^`\\])*`/,
    /(?<=(?:[(,=:[!&|?{};]|=>|return|^)\s*)\/(?![*/])(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n[])+\/[a-z]*/,
  ]
    .map(({ source }) => source)
    .join('|'),
  'gm',
);

const sources: readonly Source[] = readdirSync(SRC, { recursive: true, encoding: 'utf8' })
  .map((path) => path.replaceAll('\\', '/'))
  .filter((path) => path.endsWith('.ts'))
  .sort()
  .map((file) => toSource(file, readFileSync(join(SRC, file), 'utf8')));

function toSource(file: string, text: string): Source {
  return { file, text, code: text.replace(NOT_CODE, (found) => found.replace(/[^\n'"`]/g, ' ')) };
}

const lineOf = (text: string, offset: number) => text.slice(0, offset).split('\n').length;
const at = ({ file, code }: Source, offset: number) => `src/${file}:${lineOf(code, offset)}`;

interface Import {
  readonly place: string;
  readonly target: string;
  readonly typeOnly: boolean;
}

const STATEMENT = /\b(?:import|export)\b(?<names>[^;'"`()]*?)\bfrom\s*['"]|\bimport\s*\(?\s*['"]/g;

function importsOf(source: Source): readonly Import[] {
  return [...source.code.matchAll(STATEMENT)].map((found) => {
    const start = found.index + found[0].length;
    const target = source.text.slice(start).split(/['"]/, 1)[0] ?? '';
    const names = found.groups?.names?.trim() ?? '';
    const inner = /^\{([\s\S]*)\}$/
      .exec(names)?.[1]
      ?.split(',')
      .filter((name) => name.trim()) ?? [''];
    const typeOnly = /^type\b/.test(names) || inner.every((name) => /^\s*type\s/.test(name));
    return { place: at(source, found.index), target: resolve(source.file, target), typeOnly };
  });
}

/** Path below src/ for a file of ours; the name of a package as it is. */
function resolve(file: string, target: string): string {
  if (!target.startsWith('.')) return target;
  return new URL(target, new URL(file, 'file:///')).pathname.slice(1);
}

const isIn = (file: string, place: string) => (place.endsWith('/') ? file.startsWith(place) : file === place);

function importFaults(source: Source): readonly string[] {
  const row = TABLE.find(({ from }) => isIn(source.file, from));
  if (!row) return [`src/${source.file}:1 is in no row of the table`];
  return importsOf(source).flatMap(({ place, target, typeOnly }) => {
    const ours = target.endsWith('.ts');
    const isOwn = row.from.endsWith('/') && isIn(target, row.from);
    const allowed = ours
      ? isOwn ||
        row.ours.some(
          (edge) => isIn(target, edge.replace('type:', '')) && (typeOnly || !edge.startsWith('type:')),
        )
      : row.packages.some((name) => target === name || (name === 'node:' && target.startsWith('node:')));
    return allowed ? [] : [`${place} must not import ${target}${typeOnly ? '' : ' (a value)'}`];
  });
}

function faultsOf(source: Source, barred: RegExp): readonly string[] {
  return [...source.code.matchAll(new RegExp(barred, 'g'))].map(
    ({ index, 0: found }) => `${at(source, index)} says ${found.trim()}`,
  );
}

function placeFaults(source: Source): readonly string[] {
  return ONLY_IN.flatMap(([said, places]) =>
    places.some((place) => isIn(source.file, place)) ? [] : faultsOf(source, said),
  );
}

interface Measured {
  readonly name: string;
  readonly place: string;
  readonly lines: number;
}

/** Every function with a body in braces, by what stands before its brace. */
function functionsOf(source: Source): readonly Measured[] {
  const open: number[] = [];
  const found: Measured[] = [];
  for (const { 0: brace, index } of source.code.matchAll(/[{}]/g)) {
    if (brace === '{') open.push(index);
    else {
      const start = open.pop();
      if (start === undefined) throw new Error(`${at(source, index)} closes a brace that was not opened`);
      const head = headOf(source.code.slice(0, start));
      if (head !== undefined) {
        const name = `${source.file} ${/(?:function|const)\s+(\w+)/.exec(head)?.[1] ?? '(unnamed)'}`;
        found.push({
          name,
          place: at(source, start),
          lines: source.code.slice(start, index + 1).split('\n').length,
        });
      }
    }
  }
  if (open.length > 0) throw new Error(`${at(source, open[0] ?? 0)} opens a brace that is not closed`);
  return found;
}

const RETURN_TYPE = String.raw`(?:\s*:\s*(?:[^;{}=]|=>|\{[^{}]*\})*)?`;
const FUNCTION_HEAD = new RegExp(String.raw`\)${RETURN_TYPE}\s*$|=>\s*$`);
const CONTROL = /\b(?:if|for|while|switch|catch|await|with)\s*\([^{}]*\)\s*$/;

/** What stands before a brace since the last statement when it is the head of a function; else undefined. */
function headOf(before: string): string | undefined {
  const near = before.slice(-600);
  if (!FUNCTION_HEAD.test(near)) return undefined;
  const statement = near.slice(
    Math.max(near.lastIndexOf(';'), near.lastIndexOf('\n}'), near.lastIndexOf('{\n')) + 1,
  );
  return CONTROL.test(statement) && !/=>\s*$/.test(statement) ? undefined : near.slice(-300);
}

describe('imports', () => {
  it('point down only, as the table says', () => {
    expect(sources.flatMap(importFaults)).toEqual([]);
  });

  it('name files that exist, and no row of the table is about nothing', () => {
    const files = sources.map(({ file }) => file);
    const targets = sources.flatMap(importsOf).filter(({ target }) => target.endsWith('.ts'));
    expect(targets.filter(({ target }) => !files.includes(target))).toEqual([]);
    for (const { from } of TABLE)
      expect(
        files.some((file) => isIn(file, from)),
        from,
      ).toBe(true);
  });

  it('do not go in a circle', () => {
    const edges = new Map(
      sources.map((source) => [source.file, importsOf(source).map(({ target }) => target)]),
    );
    /** Everything below them is known to hold no circle: each file is walked through once. */
    const walked = new Set<string>();
    const circle = (file: string, path: readonly string[]): readonly string[] | undefined => {
      if (path.includes(file)) return [...path.slice(path.indexOf(file)), file];
      if (walked.has(file)) return undefined;
      const found = (edges.get(file) ?? []).map((next) => circle(next, [...path, file])).find(Boolean);
      walked.add(file);
      return found;
    };
    expect(sources.map(({ file }) => circle(file, [])).find(Boolean)).toBeUndefined();
  });
});

describe('the core', () => {
  it('knows no clock, no chance and nothing around it', () => {
    const core = sources.filter(({ file }) => isIn(file, 'interpret/'));
    expect(core.length).toBeGreaterThan(5);
    expect(core.flatMap((source) => faultsOf(source, NOT_IN_CORE))).toEqual([]);
  });
});

describe('the surroundings', () => {
  it('are touched in the files made for it, and nowhere else', () => {
    expect(sources.flatMap(placeFaults)).toEqual([]);
  });
});

describe('sizes and names', () => {
  it(`no file is longer than ${MOST_LINES_OF_FILE} lines`, () => {
    const long = sources.filter(({ text }) => text.trimEnd().split('\n').length > MOST_LINES_OF_FILE);
    expect(long.map(({ file }) => `src/${file}:${MOST_LINES_OF_FILE + 1}`)).toEqual([]);
  });

  it(`no function is longer than ${MOST_LINES_OF_FUNCTION} lines, but for the exceptions`, () => {
    const long = sources.flatMap(functionsOf).filter(({ lines }) => lines > MOST_LINES_OF_FUNCTION);
    const faults = long.filter(({ name }) => !Object.hasOwn(LONG_ON_PURPOSE, name));
    expect(faults.map(({ name, place, lines }) => `${place} ${name} has ${lines} lines`)).toEqual([]);
    const needless = Object.keys(LONG_ON_PURPOSE).filter((name) => !long.some((one) => one.name === name));
    expect(needless, 'exceptions that are no longer needed').toEqual([]);
  });

  it('files are named in kebab-case after what is in them', () => {
    for (const { file } of sources) {
      expect(basename(file), file).toMatch(/^[a-z0-9]+(?:-[a-z0-9]+)*\.ts$/);
      expect(basename(file, '.ts'), file).not.toMatch(BARRED_NAMES);
      expect(file.split('/').length, file).toBeLessThan(4);
    }
  });

  it('every file opens with its purpose', () => {
    const silent = sources.filter(({ text }) => !/^(?:#!.*\n)?\/\*\*/.test(text));
    expect(silent.map(({ file }) => `src/${file}:1`)).toEqual([]);
  });
});
