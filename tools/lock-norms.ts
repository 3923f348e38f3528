/**
 * Adds new released files to norms/lock.json. Refuses to change or drop a digest that is already there:
 * a correction is a new version beside the old one.
 * Run: npm run norms:lock
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { digestOf, listFiles } from '../src/reference/read-norms.ts';

const folder = fileURLToPath(new URL('../norms/', import.meta.url));
const lockPath = join(folder, 'lock.json');
const locked: Record<string, string> = JSON.parse(readFileSync(lockPath, 'utf8'));
const found = Object.fromEntries(
  listFiles(folder).map((path) => [path, digestOf(readFileSync(join(folder, path)))]),
);

const broken = Object.keys(locked).filter((path) => found[path] !== locked[path]);
if (broken.length > 0) {
  console.error(
    `Released files were changed or removed; restore them and release a new version:\n${broken.join('\n')}`,
  );
  process.exitCode = 1;
} else {
  writeFileSync(lockPath, `${JSON.stringify(found, null, 2)}\n`);
  console.log(
    `${Object.keys(found).length - Object.keys(locked).length} added, ${Object.keys(found).length} locked`,
  );
}
