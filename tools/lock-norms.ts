/**
 * Adds new released files to norms/lock.json. Refuses to change or drop a digest that is already there:
 * a correction is a new version beside the old one; and to lock a file that does not load.
 * Run: npm run norms:lock
 */
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { loadLibrary } from '../src/reference/library.ts';
import { lockFolder } from '../src/reference/lock.ts';
import { NormsFault } from '../src/reference/read-norms.ts';

const folder = fileURLToPath(new URL('../norms', import.meta.url));
try {
  if (!existsSync(`${folder}/lock.json`)) throw new NormsFault('norms/lock.json is missing: restore it');
  const { added, count } = lockFolder(folder, () => loadLibrary(folder));
  console.log(`${added.length} added, ${count} locked`);
} catch (fault) {
  if (!(fault instanceof NormsFault)) throw fault;
  console.error(fault.message);
  process.exitCode = 1;
}
