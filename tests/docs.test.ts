/** The documentation says what is there, and what it says is there. */
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { SETTINGS } from '../src/config.ts';
import { REQUEST_ERRORS } from '../src/errors.ts';
import { OFFERED, OFFERED_TYPES } from '../src/fhir/offered.ts';
import { accessFor } from '../src/http/access.ts';
import { buildApp } from '../src/http/build-app.ts';
import { openDefinitions, openLibrary, openLocalCodes } from '../src/service.ts';
import { CAUTION_MEANINGS } from '../src/wording/caution-statements.ts';
import { NOTICES } from '../src/wording/notices.ts';
import { REFUSALS } from '../src/wording/refusals.ts';
import { openStore, temporaryFolder } from './audit/raw-log.ts';
import { watchReplies } from './watch-replies.ts';

const ROOT = fileURLToPath(new URL('..', import.meta.url));

function read(name: string): string {
  const file = join(ROOT, name);
  if (!existsSync(file)) throw new Error(`${name} is missing: it is part of the service`);
  return readFileSync(file, 'utf8');
}

const README = read('README.md');
const DEVELOPERS = read('DEVELOPERS.md');
/** Guides, and the catalogue that is written from norms/. */
const GUIDES = ['docs/charting.md', 'docs/fhir.md', 'docs/hooks.md', 'docs/reference-sets.md'];
const both = [README, DEVELOPERS, ...GUIDES.map(read)].join('\n');
const lines = both.split('\n');
const { scripts, dependencies } = JSON.parse(read('package.json')) as Record<string, Record<string, string>>;
const library = openLibrary();

/** The service as it is served; the clock stands where the examples of the documentation are in the past. */
const app = buildApp({
  library,
  store: openStore(join(temporaryFolder(), 'docs.sqlite')),
  engine: { name: 'docs', version: '0.0.0' },
  defaultPanelId: SETTINGS.GRIP_CDS_PANEL.fallback,
  now: () => new Date('2027-01-01T12:00:00Z'),
  newId: () => crypto.randomUUID(),
  logger: false,
  definitions: openDefinitions(library, openLocalCodes()?.map, '2027-01-01T12:00:00Z'),
  access: accessFor(null),
  isProtected: false,
  publicUrl: null,
});
const routes = new Set<string>();
/** As the documentation writes an address: all types of resources alike. */
function written(url: string): string {
  const [, type = '', rest = ''] = /^\/fhir\/([A-Z]\w+)(\/(?!\$).*)?$/.exec(url) ?? [];
  const path = OFFERED_TYPES.some((each) => each === type) ? `/fhir/{type}${rest}` : url;
  // The base with a slash at its end is the same address.
  return path.replace(/:(\w+)(?:\([^/]*\))?/g, '{$1}').replace(/^\/fhir\/$/, '/fhir');
}
app.addHook('onRoute', ({ method, url }) => {
  for (const one of [method].flat()) if (one !== 'HEAD') routes.add(`${one} ${written(url)}`);
});

beforeAll(async () => {
  watchReplies(app);
  await app.ready();
});

/** As code, between backticks, whatever else stands there. */
const asCode = (name: string) => new RegExp(`\`[^\`\n]*(?<![\\w-])${escaped(name)}(?![\\w-])[^\`\n]*\``);

function escaped(text: string): string {
  return text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
}

describe('README and DEVELOPERS name', () => {
  it.each(Object.entries(SETTINGS))('the setting %s with its default', (name, { fallback }) => {
    const row = README.split('\n').find((line) => line.startsWith(`| \`${name}\` |`));
    expect(row, `README has no row for ${name}`).toBeDefined();
    expect(row).toContain(`| \`${fallback}\` |`);
  });

  it('every npm script that is not run by another', () => {
    const own = Object.keys(scripts ?? {}).filter(
      (name) => !(name.startsWith('pre') && scripts?.[name.slice(3)]),
    );
    const said = own.filter((name) => !new RegExp(`npm (?:run )?${escaped(name)}(?![\\w:-])`).test(both));
    expect(said).toEqual([]);
  });

  it.each([
    ['error', REQUEST_ERRORS],
    ['refusal', REFUSALS],
    ['caution', CAUTION_MEANINGS],
    ['notice', NOTICES],
  ])('every code of an %s', (_kind, codes) => {
    expect(Object.keys(codes).length).toBeGreaterThan(2);
    expect(Object.keys(codes).filter((code) => !asCode(code).test(both))).toEqual([]);
  });

  it('every address that is answered', () => {
    expect(routes.size).toBeGreaterThan(4);
    expect([...routes].filter((route) => !both.includes(`\`${route}\``))).toEqual([]);
  });

  it('every type of resource with its search parameters', () => {
    for (const type of OFFERED_TYPES) {
      const rows =
        read('docs/fhir.md').match(new RegExp(`^\\| (?:\\w+, )*${type}(?:, \\w+)* \\|.*$`, 'gm')) ?? [];
      const named: readonly { name: string }[] = OFFERED[type].parameters;
      expect(rows, type).toHaveLength(1);
      expect(named.filter(({ name }) => !rows[0]?.includes(`\`${name}\``))).toEqual([]);
    }
  });

  it('every panel, reference set and rule with its version', () => {
    const { tables, cutPoints, rules, panels } = library.releases;
    const missing = [...tables, ...cutPoints, ...rules, ...panels]
      .map(({ ref: { id, version } }) => `\`${id}\` \\(?${escaped(version)}`)
      .filter((wanted) => !new RegExp(wanted).test(both));
    expect(missing).toEqual([]);
  });

  it('every package that the service needs at run time', () => {
    expect(Object.keys(dependencies ?? {}).filter((name) => !DEVELOPERS.includes(name))).toEqual([]);
  });

  it('every file and folder below src/ that holds a part of the house', () => {
    const house = /```\n(src\/[\s\S]*?)```/.exec(DEVELOPERS)?.[1] ?? '';
    const parts = trackedFiles()
      .filter((file) => /^src\/[^/]+(\/|\.ts$)/.test(file))
      .map((file) => file.split('/').slice(1, 2)[0] ?? '')
      .map((part) => (part.endsWith('.ts') ? part : `${part}/`));
    expect([...new Set(parts)].filter((part) => !house.includes(part))).toEqual([]);
  });
});

describe('what README and DEVELOPERS name exists', () => {
  it('settings', () => {
    const said = both.match(/\bGRIP_CDS_[A-Z_]*[A-Z]\b/g) ?? [];
    expect(said.filter((name) => !Object.hasOwn(SETTINGS, name))).toEqual([]);
  });

  it('npm scripts', () => {
    const said = [...both.matchAll(/\bnpm run ([\w:-]+)|\bnpm (test|start)\b/g)].map(
      ([, run, short]) => run ?? short,
    );
    expect(said.length).toBeGreaterThan(3);
    expect(said.filter((name) => !Object.hasOwn(scripts ?? {}, name ?? ''))).toEqual([]);
  });

  it('codes, in the first column of a table', () => {
    const known = { ...REQUEST_ERRORS, ...REFUSALS, ...CAUTION_MEANINGS, ...NOTICES, ...SETTINGS };
    const said = lines.flatMap((line) => /^\| `([A-Z][A-Z_]+)` \|/.exec(line)?.[1] ?? []);
    expect(said.filter((code) => !Object.hasOwn(known, code))).toEqual([]);
  });

  it('addresses', () => {
    const said = [...both.matchAll(/`((?:GET|POST|PUT|DELETE) \/[^`\s]*)`/g)].map(([, route]) => route ?? '');
    expect(said.length).toBeGreaterThan(4);
    expect(said.filter((route) => !routes.has(route))).toEqual([]);
  });

  it('commands of grip-cds, with their options', () => {
    const usage = execFileSync(process.execPath, [join(ROOT, 'dist', 'cli.js'), '--help'], {
      encoding: 'utf8',
    });
    const said = [...both.matchAll(/(?:dist\/cli\.js|grip-cds) ((?:serve|demo|audit)[a-z ]*[a-z])/g)];
    const commands = said.map(([, command]) => command ?? '');
    expect(commands.filter((command) => !usage.includes(`\n  ${command}`))).toEqual([]);
  });

  it('files of the source and of the tests', () => {
    const said = [...both.matchAll(/`((?:src|tests|tools|norms|terminology|docs|\.ci)\/[\w./-]*)`/g)];
    const paths = said.map(([, path]) => path ?? '');
    expect(paths.filter((path) => !existsSync(join(ROOT, path)))).toEqual([]);
  });

  it.each(['README.md', 'DEVELOPERS.md', 'CHANGELOG.md', ...GUIDES])(
    'where the links of %s lead to',
    (name) => {
      const text = read(name);
      const targets = [...text.matchAll(/\]\(([^)\s]+)\)/g)].map(([, target]) => target ?? '');
      const broken = targets
        .filter((target) => !/^[a-z]+:/.test(target))
        .filter((target) => !resolves(target, name));
      expect(broken).toEqual([]);
    },
  );
});

function resolves(target: string, from: string): boolean {
  const [path = '', anchor] = target.split('#');
  const file = join(ROOT, path === '' ? from : join(dirname(from), path));
  if (!existsSync(file)) return false;
  if (anchor === undefined) return true;
  const headings = [...readFileSync(file, 'utf8').matchAll(/^#+ (.+)$/gm)].map(([, heading = '']) => heading);
  return headings.some(
    (heading) =>
      heading
        .toLowerCase()
        .replace(/[^\w\s-]/g, '')
        .replace(/ /g, '-') === anchor,
  );
}

interface Call {
  readonly command: string;
  readonly method: 'GET' | 'POST';
  readonly path: string;
  /** With its question mark. */
  readonly query: string;
  readonly body: string | undefined;
}

/** The commands of a shell block that begin with curl, continued lines and here-documents included. */
function curlCalls(markdown: string): readonly Call[] {
  const blocks = [...markdown.matchAll(/```(?:sh|bash|shell)\n([\s\S]*?)```/g)].map(
    ([, block = '']) => block,
  );
  const commands = blocks.flatMap((block) => [
    ...block.matchAll(/^curl (?:[^\n\\]|\\\n|\\.)*?(?:<<'?(\w+)'?\n([\s\S]*?)\n\1)?$/gm),
  ]);
  return commands.map(([command, , body]) => {
    const { pathname, search } = new URL(/https?:\/\/[^\s'"]+/.exec(command)?.[0].replaceAll('\\', '') ?? '');
    const posts = body !== undefined || /\s(?:-d|--data\S*|--json|-X\s*POST)\s/.test(command);
    return {
      command,
      method: posts ? 'POST' : 'GET',
      path: decodeURIComponent(pathname),
      query: search,
      body,
    };
  });
}

describe('the examples', () => {
  const examples = [README, read('docs/fhir.md')].join('\n');
  const calls = curlCalls(examples);

  it('that are sent with curl name an address that is answered', () => {
    expect(calls.length).toBeGreaterThan(0);
    expect(examples.match(/^curl /gm)?.length).toBe(calls.length);
    expect(
      calls
        .map(
          ({ method, path }) =>
            `${method} ${path.replace(/^\/fhir\/[A-Z]\w+(\/[\w.-]+)?$/, (_all, id) => `/fhir/{type}${id ? '/{id}' : ''}`)}`,
        )
        .filter((route) => !routes.has(route)),
    ).toEqual([]);
  });

  it.each(calls)(
    '$method $path with what is sent is answered with 200',
    async ({ command, method, path, query, body }) => {
      const contentType = /content-type: ([\w/+.-]+)/i.exec(command)?.[1] ?? 'application/json';
      const headers = body === undefined ? {} : { 'content-type': contentType };
      const reply = await app.inject({
        method,
        url: `${path}${query}`,
        headers,
        ...(body === undefined ? {} : { payload: body }),
      });
      expect(reply.statusCode, reply.payload).toBe(200);
    },
  );
});

describe('the changelog', () => {
  it('has an entry for the version of the package', () => {
    const { version } = JSON.parse(read('package.json')) as { version: string };
    expect(read('CHANGELOG.md')).toMatch(new RegExp(`^## ${escaped(version)}( |$)`, 'm'));
  });
});

/** Tracked, or about to be: everything that is not ignored. */
function trackedFiles(): readonly string[] {
  const options = ['ls-files', '--cached', '--others', '--exclude-standard', '-z'];
  const listed = execFileSync('git', options, { cwd: ROOT, encoding: 'utf8' });
  return listed
    .split('\0')
    .filter((file) => file !== '' && statSync(join(ROOT, file), { throwIfNoEntry: false })?.isFile());
}

describe('the repository', () => {
  it('holds no path of the machine that it was written on', () => {
    // Put together here, so that this file does not hold one either.
    const folders = ['work', 'home', 'root', 'Users', 'tmp'];
    const path = new RegExp(`(?<![\\w.)}~-])/(?:${folders.join('|')})/[\\w.-]|[A-Z]:\\\\\\w`);
    const faults = trackedFiles().flatMap((file) =>
      readFileSync(join(ROOT, file), 'utf8')
        .split('\n')
        .flatMap((line, index) => (path.test(line) ? [`${file}:${index + 1}`] : [])),
    );
    expect(trackedFiles().length).toBeGreaterThan(50);
    expect(faults).toEqual([]);
  });
});
