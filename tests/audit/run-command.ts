/** The command line as it is shipped: dist/cli.js in processes of its own. */
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const ROOT = fileURLToPath(new URL('../..', import.meta.url));
export const CLI = join(ROOT, 'dist', 'cli.js');

/** Nothing of this environment but the path: a setting made here must not reach the command. */
export function environmentWith(settings: Readonly<Record<string, string>>): NodeJS.ProcessEnv {
  return { PATH: process.env.PATH, ...settings };
}

export function requireBuild(): void {
  if (!existsSync(CLI))
    throw new Error('dist/cli.js is missing: run `npm run build` first (`npm test` does)');
}

export interface Ended {
  readonly status: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** Runs the command in `folder` until it ends. */
export function runCommand(
  folder: string,
  args: readonly string[],
  settings: Readonly<Record<string, string>> = {},
  cli = CLI,
): Ended {
  requireBuild();
  const { status, stdout, stderr } = spawnSync(process.execPath, [cli, ...args], {
    cwd: folder,
    env: environmentWith(settings),
    encoding: 'utf8',
    timeout: 15_000,
  });
  return { status, stdout, stderr };
}
