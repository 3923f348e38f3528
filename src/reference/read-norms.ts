/** Reads every released file under norms/, checks its digest against norms/lock.json and its form. */
import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { z } from 'zod';
import type { SetKind, SetRef } from '../interpret/reference-set.ts';
import type { CutPointsFile, PanelFile, RuleFile, TableFile } from './schema.ts';
import { cutPointsFile, lockFile, panelFile, ruleFile, tableFile } from './schema.ts';

/** A reference file that cannot be trusted: the start stops. The message names the file. */
export class NormsFault extends Error {
  override readonly name = 'NormsFault';
}

export interface Release<F> {
  readonly ref: SetRef;
  /** Path below norms/, e.g. `tables/<id>/1.0.0.json`. */
  readonly path: string;
  readonly file: F;
}

export interface Releases {
  readonly tables: readonly Release<TableFile>[];
  readonly cutPoints: readonly Release<CutPointsFile>[];
  readonly rules: readonly Release<RuleFile>[];
  readonly panels: readonly Release<PanelFile>[];
}

const FOLDERS = ['tables', 'cut-points', 'rules', 'panels'] as const;

/** Digest of the bytes of a file: lower-case hexadecimal SHA-256. */
export function digestOf(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex');
}

/**
 * @param folder path of norms/
 * @throws NormsFault naming the file, and for a changed file the digest found and the one expected
 */
export function readNorms(folder: string): Releases {
  if (!existsSync(join(folder, 'lock.json'))) throw new NormsFault('norms/lock.json is missing');
  const paths = listFiles(folder);
  const lock = readLock(folder);
  const stray = paths.find((path) => !FOLDERS.some((name) => path.startsWith(`${name}/`)));
  if (stray) throw new NormsFault(`norms/${stray} is in none of the folders ${FOLDERS.join(', ')}`);
  for (const path of Object.keys(lock)) {
    if (!paths.includes(path)) throw new NormsFault(`norms/${path} is in norms/lock.json but missing`);
  }
  const read = <F extends { id: string; version: string }>(
    root: (typeof FOLDERS)[number],
    kind: SetKind,
    form: z.ZodType<F>,
  ) =>
    paths
      .filter((path) => path.startsWith(`${root}/`))
      .map((path) => readRelease(folder, path, lock, kind, form));
  return {
    tables: read('tables', 'table', tableFile),
    cutPoints: read('cut-points', 'cut-points', cutPointsFile),
    rules: read('rules', 'rule', ruleFile),
    panels: read('panels', 'panel', panelFile),
  };
}

/** Every released file below `folder`, as `<kind>/<id>/<version>.json`, sorted. */
export function listFiles(folder: string): readonly string[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .map((path) => path.replaceAll('\\', '/'))
    .filter((path) => path.endsWith('.json') && path.includes('/'))
    .sort();
}

function readLock(folder: string): Readonly<Record<string, string>> {
  const lock = lockFile.safeParse(parseJson(readFileSync(join(folder, 'lock.json')), 'lock.json'));
  if (!lock.success) throw new NormsFault('norms/lock.json is not a list of paths with SHA-256 digests');
  return lock.data;
}

function readRelease<F extends { id: string; version: string }>(
  folder: string,
  path: string,
  lock: Readonly<Record<string, string>>,
  kind: SetKind,
  form: z.ZodType<F>,
): Release<F> {
  const bytes = readFileSync(join(folder, path));
  const digest = digestOf(bytes);
  const expected = lock[path];
  if (!expected) throw new NormsFault(`norms/${path} is not in norms/lock.json (its SHA-256 is ${digest})`);
  if (digest !== expected) {
    throw new NormsFault(
      `norms/${path} was changed after release: SHA-256 is ${digest}, norms/lock.json has ${expected}. Restore the file; a correction is a new version beside it.`,
    );
  }
  const parsed = form.safeParse(parseJson(bytes, path));
  if (!parsed.success) {
    const issue = parsed.error.issues[0];
    throw new NormsFault(`norms/${path} at ${issue?.path.join('.') || 'top'}: ${issue?.message}`);
  }
  const { id, version } = parsed.data;
  const [, folderId, file] = path.split('/');
  if (folderId !== id || file !== `${version}.json`) {
    throw new NormsFault(`norms/${path} says it is ${id} ${version}: path and content must agree`);
  }
  return { ref: Object.freeze({ kind, id, version, digest }), path, file: parsed.data };
}

function parseJson(bytes: Uint8Array, path: string): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch (cause) {
    throw new NormsFault(`norms/${path} is not JSON in UTF-8`, { cause });
  }
}
