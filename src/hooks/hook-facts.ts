/** What a hook call told besides its measurements; all of it is on record, so that a replay writes the same cards. */
import type { Asked } from '../evaluate.ts';

export type HookFacts = NonNullable<Asked['hook']>;
