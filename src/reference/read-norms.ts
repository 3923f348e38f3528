/** Reads every released file under norms/, checks its digest against norms/lock.json and its form. */
import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { z } from 'zod';
import type { SetKind, SetRef } from '../interpret/reference-set.ts';
import { type RuleFile, ruleFile } from './rule-forms.ts';
import {
  type CutPointsFile,
  cutPointsFile,
  lockFile,
  type PanelFile,
  panelFile,
  type TableFile,
  tableFile,
} from './schema.ts';

/** A reference file that cannot be trusted: the start stops. The message names the file. */
export class NormsFault extends Error {
  override readonly name = 'NormsFault';
}

export interface Release<F> {
  readonly ref: SetRef;
  /** Where it is, for messages, e.g. `norms/tables/<id>/1.0.0.json`. */
  readonly path: string;
  readonly file: F;
  /** The bytes of the file in base64: what its digest is of. Text, since an array of bytes cannot be frozen. */
  readonly base64: string;
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
 * @param folder path of norms/, or of a site's own folder of the same layout
 * @param name what messages call it
 * @throws NormsFault naming the file, and for a changed file the digest found and the one expected
 */
export function readNorms(folder: string, name = 'norms'): Releases {
  if (!existsSync(join(folder, 'lock.json'))) throw new NormsFault(`${name}/lock.json is missing`);
  const paths = listFiles(folder);
  const lock = readLock(folder, name);
  const stray = paths.find((path) => !FOLDERS.some((known) => path.startsWith(`${known}/`)));
  if (stray) throw new NormsFault(`${name}/${stray} is in none of the folders ${FOLDERS.join(', ')}`);
  for (const path of Object.keys(lock)) {
    if (!paths.includes(path)) throw new NormsFault(`${name}/${path} is in ${name}/lock.json but missing`);
  }
  const read = <F extends { id: string; version: string }>(
    root: (typeof FOLDERS)[number],
    kind: SetKind,
    form: z.ZodType<F>,
  ) =>
    paths
      .filter((path) => path.startsWith(`${root}/`))
      .map((path) => readRelease({ folder, name, path, lock }, kind, form));
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

/** The digest of each path below `folder`. @throws NormsFault when it is no lock */
export function readLock(folder: string, name: string): Readonly<Record<string, string>> {
  const where = `${name}/lock.json`;
  const lock = lockFile.safeParse(parseJson(readFileSync(join(folder, 'lock.json')), where));
  if (!lock.success) throw new NormsFault(`${where} is not a list of paths with SHA-256 digests`);
  return lock.data;
}

interface Place {
  readonly folder: string;
  readonly name: string;
  readonly path: string;
  readonly lock: Readonly<Record<string, string>>;
}

function readRelease<F extends { id: string; version: string }>(
  { folder, name, path, lock }: Place,
  kind: SetKind,
  form: z.ZodType<F>,
): Release<F> {
  const where = `${name}/${path}`;
  const bytes = readFileSync(join(folder, path));
  const digest = digestOf(bytes);
  const expected = lock[path];
  if (!expected) throw new NormsFault(`${where} is not in ${name}/lock.json (its SHA-256 is ${digest})`);
  if (digest !== expected) {
    throw new NormsFault(
      `${where} was changed after release: SHA-256 is ${digest}, ${name}/lock.json has ${expected}. Restore the file; a correction is a new version beside it.`,
    );
  }
  const parsed = form.safeParse(parseJson(bytes, where));
  if (!parsed.success) {
    const issue = parsed.error.issues[0];
    throw new NormsFault(`${where} at ${issue?.path.join('.') || 'top'}: ${issue?.message}`);
  }
  const { id, version } = parsed.data;
  const [, folderId, file] = path.split('/');
  if (folderId !== id || file !== `${version}.json`) {
    throw new NormsFault(`${where} says it is ${id} ${version}: path and content must agree`);
  }
  const ref = Object.freeze({ kind, id, version, digest });
  return { ref, path: where, file: parsed.data, base64: bytes.toString('base64') };
}

/**
 * Ours and the site's together.
 * @throws NormsFault for a file of the site that goes by the id of ours: a site's panel would become the newest one
 */
export function mergeReleases(ours: Releases, site: Releases): Releases {
  const own: readonly Release<unknown>[] = [...ours.tables, ...ours.cutPoints, ...ours.rules, ...ours.panels];
  const together = <F>(a: readonly Release<F>[], b: readonly Release<F>[]): readonly Release<F>[] => {
    for (const { ref, path } of b) {
      const known = own.find((each) => each.ref.id === ref.id);
      if (known) throw new NormsFault(`${path} goes by the name of ${known.path}: take an id of your own`);
    }
    return [...a, ...b];
  };
  return {
    tables: together(ours.tables, site.tables),
    cutPoints: together(ours.cutPoints, site.cutPoints),
    rules: together(ours.rules, site.rules),
    panels: together(ours.panels, site.panels),
  };
}

function parseJson(bytes: Uint8Array, where: string): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch (cause) {
    throw new NormsFault(`${where} is not JSON in UTF-8`, { cause });
  }
}
