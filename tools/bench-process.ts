/** Servers of the benchmark: each a fresh process, its address read from what it prints. */
import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('../', import.meta.url));

export interface Run {
  readonly perSecond: number;
  readonly p99Ms: number;
}

export function start(args: readonly string[], env: Record<string, string> = {}): ChildProcess {
  return spawn(process.execPath, args, {
    cwd: root,
    env: { ...process.env, ...env },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
}

/** The address that a server prints when it listens. */
export async function addressOf(child: ChildProcess): Promise<string> {
  if (!child.stdout) throw new Error('no output to read the address from');
  for await (const line of createInterface({ input: child.stdout })) {
    const address = /http:\/\/127\.0\.0\.1:\d+/.exec(line)?.[0];
    if (address) return address;
  }
  throw new Error('the server ended before it listened');
}

export async function stop(child: ChildProcess): Promise<void> {
  const ended = new Promise((resolve) => child.once('exit', resolve));
  child.kill('SIGTERM');
  await ended;
}

export function median(numbers: readonly number[]): number {
  const sorted = numbers.toSorted((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  const upper = sorted[middle] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : (upper + (sorted[middle - 1] ?? Number.NaN)) / 2;
}
