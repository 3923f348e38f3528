/** `npm run profiles`: writes profiles/*.json anew from profiles/fsh. */
import { writeFileSync } from 'node:fs';
import { builtProfiles } from './build-profiles.ts';

for (const [name, content] of builtProfiles()) {
  writeFileSync(new URL(`../../profiles/${name}`, import.meta.url), content);
}
