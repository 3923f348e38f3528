/**
 * Requests per second of the whole hook call, durable audit included, against a bare Fastify route that
 * parses the same body and sends a fixed answer of the same size. Fresh processes, interleaved; the ratio is
 * judged on the median. Only the ratio carries over to another machine. Then what the check of signed tokens costs
 * (bench-trust.ts).
 * Run: npm run bench [-- --rounds 5 --seconds 5 --only hook|trust]
 */
import type { ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import autocannon from 'autocannon';
import { verifyLog } from '../src/audit/verify.ts';
import { BENCH_CALL } from './bench-call.ts';
import { addressOf, median, type Run, start, stop } from './bench-process.ts';
import { benchTrust } from './bench-trust.ts';

const { values } = parseArgs({
  options: {
    rounds: { type: 'string', default: '5' },
    seconds: { type: 'string', default: '5' },
    only: { type: 'string', default: '' },
  },
});
const ROUNDS = Number(values.rounds);
const SECONDS = Number(values.seconds);
const CONNECTIONS = 50;
const ROUTE = '/cds-services/grip-interpretation';
const folder = mkdtempSync(join(tmpdir(), 'grip-bench-'));

async function load(base: string, seconds: number): Promise<Run> {
  const result = await autocannon({
    url: `${base}${ROUTE}`,
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: BENCH_CALL,
    connections: CONNECTIONS,
    duration: seconds,
  });
  if (result.non2xx > 0 || result.errors > 0)
    throw new Error(`${result.non2xx + result.errors} calls failed`);
  return { perSecond: result.requests.average, p99Ms: result.latency.p99 };
}

async function measure(child: ChildProcess): Promise<Run> {
  try {
    const base = await addressOf(child);
    child.stdout?.resume();
    await load(base, 2);
    return await load(base, SECONDS);
  } finally {
    await stop(child);
  }
}

function startService(round: number): ChildProcess {
  const file = join(folder, `audit-${round}.sqlite`);
  return start(['dist/cli.js', 'serve'], { GRIP_CDS_PORT: '0', GRIP_CDS_AUDIT_FILE: file });
}

function startBare(bytes: number): ChildProcess {
  return start(['--import', 'tsx', 'tools/bare-route.ts', String(bytes)]);
}

async function answerSize(): Promise<number> {
  const child = startService(0);
  const base = await addressOf(child);
  child.stdout?.resume();
  const response = await fetch(`${base}${ROUTE}`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: BENCH_CALL,
  });
  const bytes = (await response.arrayBuffer()).byteLength;
  await stop(child);
  return bytes;
}

function row(name: string, runs: readonly Run[]): string {
  const rates = runs.map(({ perSecond }) => perSecond);
  const p99 = median(runs.map(({ p99Ms }) => p99Ms));
  return `${name.padEnd(30)} ${median(rates).toFixed(0).padStart(8)} ${Math.min(...rates)
    .toFixed(0)
    .padStart(8)} ${Math.max(...rates)
    .toFixed(0)
    .padStart(8)} ${p99.toFixed(1).padStart(8)}`;
}

async function benchHook(): Promise<void> {
  const bytes = await answerSize();
  console.log(
    `Hook call: ${BENCH_CALL.length} bytes in, ${bytes} bytes out; ${ROUNDS} rounds of ${SECONDS} s, ${CONNECTIONS} connections`,
  );
  const bare: Run[] = [];
  const service: Run[] = [];
  for (let round = 1; round <= ROUNDS; round += 1) {
    bare.push(await measure(startBare(bytes)));
    service.push(await measure(startService(round)));
    const { ok, count } = verifyLog(join(folder, `audit-${round}.sqlite`));
    if (!ok) throw new Error(`round ${round}: the audit log is not whole after ${count} records`);
  }
  console.log(
    `${''.padEnd(30)} ${'req/s'.padStart(8)} ${'min'.padStart(8)} ${'max'.padStart(8)} ${'p99 ms'.padStart(8)}`,
  );
  console.log(row('bare route, fixed answer', bare));
  console.log(row('hook call, answer on record', service));
  const ratios = bare.map(({ perSecond }, index) => (service[index]?.perSecond ?? Number.NaN) / perSecond);
  console.log(
    `ratio ${median(ratios).toFixed(2)} (${Math.min(...ratios).toFixed(2)} to ${Math.max(...ratios).toFixed(2)})`,
  );
}

try {
  if (values.only !== 'trust') await benchHook();
  if (values.only !== 'hook') await benchTrust(folder, ROUNDS);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
