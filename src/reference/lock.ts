/** Writes lock.json of a folder of norms: ours, or a site's own. */
import { existsSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { digestOf, listFiles, NormsFault, readLock } from './read-norms.ts';

export interface Locked {
  /** Paths below the folder that were not in the lock before, sorted. */
  readonly added: readonly string[];
  /** Files in the lock now. */
  readonly count: number;
}

/**
 * Adds the digest of each new file. A digest that is there is neither changed nor dropped: a correction is a new
 * version beside the old one. What does not load is not locked, since it could not be corrected afterwards.
 * @param folder laid out like norms/; lock.json is made where it is missing
 * @param check loads the folder as it would be locked; the lock stays as it was when it throws
 * @throws NormsFault naming the files at fault
 */
export function lockFolder(folder: string, check: () => void): Locked {
  if (!statSync(folder, { throwIfNoEntry: false })?.isDirectory())
    throw new NormsFault(`there is no folder ${folder}`);
  const lockPath = join(folder, 'lock.json');
  const before = existsSync(lockPath) ? readFileSync(lockPath) : undefined;
  const locked = before ? readLock(folder, folder) : {};
  const found = Object.fromEntries(
    listFiles(folder).map((path) => [path, digestOf(readFileSync(join(folder, path)))]),
  );
  const broken = Object.keys(locked).filter((path) => found[path] !== locked[path]);
  if (broken.length > 0) {
    throw new NormsFault(
      `released files were changed or removed; restore them and release a new version: ${broken.join(', ')}`,
    );
  }
  writeFileSync(lockPath, `${JSON.stringify(found, null, 2)}\n`);
  try {
    check();
  } catch (fault) {
    if (before) writeFileSync(lockPath, before);
    else rmSync(lockPath);
    throw fault;
  }
  const paths = Object.keys(found);
  return { added: paths.filter((path) => !Object.hasOwn(locked, path)), count: paths.length };
}
