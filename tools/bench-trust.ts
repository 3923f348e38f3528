/**
 * What the check of a signed token costs: alone; as a route against one that does nothing but the signature check; and in
 * the whole hook call. Fresh processes, interleaved; ratios of medians are judged.
 */
import { verify as verifySync } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import autocannon from 'autocannon';
import { compactVerify, importJWK, type JWK } from 'jose';
import { openSqliteStore } from '../src/audit/sqlite-store.ts';
import { outbound } from '../src/outbound/outbound.ts';
import { verifierFor } from '../src/trust/verify-token.ts';
import { BENCH_CALL } from './bench-call.ts';
import { addressOf, median, start, stop } from './bench-process.ts';
import {
  BENCH_BEARER,
  BENCH_BEARER_SHA256,
  BENCH_ISSUER,
  BENCH_URL,
  type BenchAlgorithm,
  signTokens,
  type Tokens,
} from './bench-tokens.ts';

const DISCOVERY = '/cds-services';
const HOOK = '/cds-services/grip-interpretation';
const CONNECTIONS = 50;
/** A machine that does other things as well must not end the run. */
const ANSWER_TIMEOUT_S = 60;
/** Calls of one run, after as many as a tenth of them to warm up: some seconds each. */
const CALLS: Readonly<Record<BenchAlgorithm, { readonly route: number; readonly hook: number }>> = {
  ES384: { route: 3_000, hook: 1_000 },
  RS384: { route: 8_000, hook: 1_000 },
};

export async function benchTrust(folder: string, rounds: number): Promise<void> {
  for (const algorithm of ['ES384', 'RS384'] as const) {
    const { route, hook } = CALLS[algorithm];
    const forRoute = await signTokens(algorithm, DISCOVERY, Math.ceil(route * 1.1));
    const forHook = await signTokens(algorithm, HOOK, Math.ceil(hook * 1.1));
    console.log(`\nSigned tokens, ${algorithm}; ${rounds} rounds, ${CONNECTIONS} connections`);
    await alone(folder, forRoute);
    await routes(folder, forRoute, route, rounds);
    await hooks(folder, forHook, hook, rounds);
  }
}

function clientsFile(folder: string, { algorithm, jwk }: Tokens): string {
  const file = join(folder, `clients-${algorithm}.json`);
  const jwt = { issuer: BENCH_ISSUER, keys: { keys: [jwk] } };
  writeFileSync(
    file,
    JSON.stringify({ clients: [{ name: 'bench', tokenSha256: BENCH_BEARER_SHA256, jwt }] }),
  );
  return file;
}

/** Microseconds of one check in this process, one after the other, and how long the event loop stood still with 50 at once. */
async function alone(folder: string, tokens: Tokens): Promise<void> {
  const { algorithm, jwk } = tokens;
  const key = await importJWK(jwk);
  const store = openSqliteStore({
    file: join(folder, `alone-${algorithm}.sqlite`),
    now: () => new Date(),
    onFatal: () => undefined,
  });
  const verify = verifierFor([{ name: 'bench', jwt: { issuer: BENCH_ISSUER, keys: { keys: [jwk] } } }], {
    publicUrl: BENCH_URL,
    claimOnce: store.claimOnce,
    outbound,
    now: () => new Date(),
  });
  const checks: readonly (readonly [string, (token: string) => Promise<unknown>])[] = [
    ['crypto.verify, on the event loop', async (token) => verifyOnLoop(token, jwk)],
    ['jose, key imported once', (token) => compactVerify(token, key, { algorithms: [algorithm] })],
    ['our whole check, claim not yet on disk', (token) => verify(token, DISCOVERY)],
  ];
  const spare = tokens.tokens.slice(0, 3_000);
  for (const [name, check] of checks) {
    for (const token of spare.slice(0, 300)) await check(token);
    const started = performance.now();
    for (const token of spare.slice(300, 1_300)) await check(token);
    const each = (performance.now() - started).toFixed(0);
    const delay = monitorEventLoopDelay({ resolution: 1 });
    delay.enable();
    await Promise.all(
      Array.from({ length: CONNECTIONS }, async (_, lane) => {
        for (let index = 1_300 + lane; index < spare.length; index += CONNECTIONS) {
          await check(spare[index] as string);
          // As a request would: each in a turn of its own.
          await new Promise((resolve) => setImmediate(resolve));
        }
      }),
    );
    delay.disable();
    const p99 = (delay.percentile(99) / 1e6).toFixed(1);
    console.log(
      `${name.padEnd(42)} ${each.padStart(6)} us each; event loop p99 ${p99} ms with ${CONNECTIONS} at once`,
    );
  }
  store.close();
}

function verifyOnLoop(token: string, jwk: JWK): void {
  const end = token.lastIndexOf('.');
  const isRight = verifySync(
    'sha384',
    Buffer.from(token.slice(0, end)),
    { key: { ...jwk }, format: 'jwk', dsaEncoding: 'ieee-p1363' },
    Buffer.from(token.slice(end + 1), 'base64url'),
  );
  if (!isRight) throw new Error('a token of our own does not verify');
}

interface Load {
  readonly path: string;
  readonly body?: string;
  /** Header for the call with this number. */
  readonly authorization: (index: number) => string;
  readonly calls: number;
}

interface Measured {
  readonly perSecond: number;
  /** Processor time of the server for each call, all threads; it depends less on what else the machine does. */
  readonly cpuUs: number;
}

async function measure(args: readonly string[], env: Record<string, string>, load: Load): Promise<Measured> {
  const child = start(args, env);
  try {
    const url = await addressOf(child);
    child.stdout?.resume();
    await send(url, load, 0, Math.floor(load.calls / 10));
    const before = cpuMs(child.pid);
    const ms = await send(url, load, Math.floor(load.calls / 10), load.calls);
    return {
      perSecond: (load.calls / ms) * 1_000,
      cpuUs: ((cpuMs(child.pid) - before) / load.calls) * 1_000,
    };
  } finally {
    await stop(child);
  }
}

/** @returns milliseconds from the first call to the last answer: autocannon itself stops at the next full second */
function send(url: string, load: Load, first: number, amount: number): Promise<number> {
  return new Promise((resolve, reject) => {
    let next = first;
    let last = 0;
    const started = performance.now();
    const run = autocannon(
      {
        url,
        connections: CONNECTIONS,
        timeout: ANSWER_TIMEOUT_S,
        amount,
        requests: [
          {
            method: load.body === undefined ? 'GET' : 'POST',
            path: load.path,
            ...(load.body === undefined ? {} : { body: load.body }),
            setupRequest: (request) => {
              const authorization = load.authorization(next);
              next += 1;
              return { ...request, headers: { 'content-type': 'application/json', authorization } };
            },
          },
        ],
      },
      (error, result) => {
        if (error) reject(error);
        else if (result.non2xx > 0 || result.errors > 0)
          reject(new Error(`${result.non2xx} calls refused, ${result.errors} failed`));
        else resolve(last - started);
      },
    );
    run.on('response', () => {
      last = performance.now();
    });
  });
}

/** Ticks of a hundredth of a second (proc(5), utime and stime); where there is no such file, unknown. */
function cpuMs(pid: number | undefined): number {
  try {
    const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]?.split(' ') ?? [];
    return (Number(fields[11]) + Number(fields[12])) * 10;
  } catch {
    return Number.NaN;
  }
}

/** Our whole check, used token on disk, against nothing but the signature check. */
async function routes(folder: string, tokens: Tokens, calls: number, rounds: number): Promise<void> {
  const clients = clientsFile(folder, tokens);
  const authorization = (index: number) => `Bearer ${tokens.tokens[index]}`;
  const runs: Record<'verify' | 'access', Measured[]> = { verify: [], access: [] };
  for (let round = 1; round <= rounds; round += 1) {
    for (const mode of ['verify', 'access'] as const) {
      const file = join(folder, `route-${tokens.algorithm}-${round}.sqlite`);
      const args = ['--import', 'tsx', 'tools/trust-route.ts', mode, clients, file];
      runs[mode].push(await measure(args, {}, { path: DISCOVERY, authorization, calls }));
    }
  }
  report('route, signature check only', runs.verify);
  report('route, our whole check', runs.access, runs.verify);
}

/** The hook call with a signed token, against the same with a bearer token. */
async function hooks(folder: string, tokens: Tokens, calls: number, rounds: number): Promise<void> {
  const clients = clientsFile(folder, tokens);
  const runs: Record<'bearer' | 'signed', Measured[]> = { bearer: [], signed: [] };
  const credentials = {
    bearer: () => `Bearer ${BENCH_BEARER}`,
    signed: (index: number) => `Bearer ${tokens.tokens[index]}`,
  };
  for (let round = 1; round <= rounds; round += 1) {
    for (const kind of ['bearer', 'signed'] as const) {
      const env = {
        GRIP_CDS_PORT: '0',
        GRIP_CDS_CLIENTS: clients,
        GRIP_CDS_PUBLIC_URL: BENCH_URL,
        GRIP_CDS_AUDIT_FILE: join(folder, `hook-${tokens.algorithm}-${kind}-${round}.sqlite`),
      };
      const load = { path: HOOK, body: BENCH_CALL, authorization: credentials[kind], calls };
      runs[kind].push(await measure(['dist/cli.js', 'serve'], env, load));
    }
  }
  report('hook call, bearer token', runs.bearer);
  report('hook call, signed token', runs.signed, runs.bearer);
}

function report(name: string, runs: readonly Measured[], baseline?: readonly Measured[]): void {
  const spread = (numbers: readonly number[], digits: number) =>
    `${median(numbers).toFixed(digits)} (${Math.min(...numbers).toFixed(digits)} to ${Math.max(...numbers).toFixed(digits)})`;
  const of = (member: keyof Measured) => runs.map((run) => run[member]);
  const ratios = baseline?.map((each, index) => (runs[index]?.perSecond ?? Number.NaN) / each.perSecond);
  console.log(
    `${name.padEnd(28)} ${spread(of('perSecond'), 0)} req/s, ${spread(of('cpuUs'), 0)} us of processor each${ratios ? `; ratio ${spread(ratios, 2)}` : ''}`,
  );
}
