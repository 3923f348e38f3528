/** Copies of norms/ with something changed, for the tests of what stops the start. */
import { createHash } from 'node:crypto';
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NormsFault } from '../../src/reference/read-norms.ts';
import { NORMS } from '../interpret/build.ts';

/** Parsed JSON that a test reaches into: rows, entries, parameters. */
// biome-ignore lint/suspicious/noExplicitAny: a broken file has no type
export type Json = any;

/** A copy of norms/ that is removed when the test ends. */
export function copyOfNorms(): string {
  const folder = mkdtempSync(join(tmpdir(), 'norms-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  cpSync(NORMS, folder, { recursive: true });
  return folder;
}

export function sha256(path: string): string {
  return createHash('sha256').update(readFileSync(path)).digest('hex');
}

/** Writes the digests of all files as they are now, so that only their content can be at fault. */
export function relock(folder: string): void {
  const paths = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((path) =>
    /^[^/]+\/.+\.json$/.test(path),
  );
  const digests = Object.fromEntries(paths.map((path) => [path, sha256(join(folder, path))]));
  writeFileSync(join(folder, 'lock.json'), JSON.stringify(digests));
}

/** Changes the parsed content of one file, or writes it beside the old one, and locks the folder anew. */
export function alter(folder: string, path: string, change: (file: Json) => void, writtenTo = path): void {
  const file: Json = JSON.parse(readFileSync(join(folder, path), 'utf8'));
  change(file);
  writeFileSync(join(folder, writtenTo), JSON.stringify(file));
  relock(folder);
}

/** A locked copy of norms/ with the parsed content of one file changed. */
export function normsWith(path: string, change: (file: Json) => void): string {
  const folder = copyOfNorms();
  alter(folder, path, change);
  return folder;
}

/** What loading the folder says; fails the test when it loads. */
export function faultOf(folder: string): string {
  try {
    loadLibrary(folder);
  } catch (fault) {
    if (fault instanceof NormsFault) return fault.message;
    throw fault;
  }
  throw new Error('the library loaded');
}
