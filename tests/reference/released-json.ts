/** The released files as parsed JSON, read without the loader. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { NORMS } from '../interpret/build.ts';
import type { Json } from './outside.ts';

export interface ReleasedJson {
  readonly id: string;
  readonly version: string;
  /** Below norms/, e.g. `tables/<id>/1.0.0.json`. */
  readonly path: string;
  readonly file: Json;
}

/** Every version of every file of one folder of norms/, by id and version. */
export function releasedJson(folder: 'tables' | 'cut-points' | 'rules' | 'panels'): readonly ReleasedJson[] {
  return readdirSync(join(NORMS, folder))
    .sort()
    .flatMap((id) =>
      readdirSync(join(NORMS, folder, id))
        .sort()
        .map((name) => {
          const path = `${folder}/${id}/${name}`;
          const file = JSON.parse(readFileSync(join(NORMS, path), 'utf8'));
          return { id, version: name.replace('.json', ''), path, file };
        }),
    );
}

export const TABLES = releasedJson('tables');
export const CUT_POINTS = releasedJson('cut-points');
export const RULES = releasedJson('rules');
export const PANELS = releasedJson('panels');
