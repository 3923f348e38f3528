/** Writes the files that follow from the code tables. Run: npm run generate */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { generatedFiles } from './generated.ts';

const root = new URL('../', import.meta.url);
for (const folder of ['terminology/', 'docs/']) mkdirSync(new URL(folder, root), { recursive: true });
const developers = readFileSync(new URL('DEVELOPERS.md', root), 'utf8');
for (const [path, content] of generatedFiles(developers)) {
  writeFileSync(new URL(path, root), content);
  console.log(`wrote ${path}`);
}
