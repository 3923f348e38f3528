/**
 * Charts of the lower limits by age, one for women and one for men, from the newest panel all-published.
 * Run: npm run chart:limits
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { loadLibrary } from '../src/reference/library.ts';
import { isDrawn, seriesOf } from './chart/series.ts';
import { drawChart } from './chart/svg.ts';

const ROOT = new URL('../', import.meta.url);

/** Path from the package root -> content. */
export function chartFiles(): ReadonlyMap<string, string> {
  const applied = loadLibrary(fileURLToPath(new URL('norms/', ROOT))).findPanel('all-published');
  if (!applied) throw new Error('there is no panel all-published');
  const { panel } = applied;
  const leftOut = panel.sets
    .filter((set) => !isDrawn(set))
    .map(({ ref }) => applied.describe(ref).shortTitle);
  const chartOf = (sex: 'female' | 'male') =>
    drawChart({ sex, panel: panel.ref, series: seriesOf(applied, sex), leftOut });
  return new Map([
    ['docs/limits-by-age-women.svg', chartOf('female')],
    ['docs/limits-by-age-men.svg', chartOf('male')],
  ]);
}

function main(): void {
  mkdirSync(new URL('docs/', ROOT), { recursive: true });
  for (const [path, content] of chartFiles()) {
    writeFileSync(new URL(path, ROOT), content);
    console.log(`wrote ${path}`);
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
