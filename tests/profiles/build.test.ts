import { readdirSync, readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { builtProfiles } from '../../tools/profiles/build-profiles.ts';

const folder = new URL('../../profiles/', import.meta.url);

it('profiles/ holds what profiles/fsh says, and nothing else (npm run profiles)', () => {
  const built = builtProfiles();
  const kept = readdirSync(folder).filter((name) => name.endsWith('.json'));
  expect(kept.sort()).toEqual([...built.keys()].sort());
  for (const [name, content] of built) {
    expect(readFileSync(new URL(name, folder), 'utf8') === content, `${name} is out of date`).toBe(true);
  }
});
