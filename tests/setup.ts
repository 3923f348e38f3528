/**
 * Generated inputs are the same in every run, so that a run says something of the change it tests and of nothing else.
 * GRIP_TEST_SEED gives another seed; `random` a new one each time, printed by fast-check when a property fails. And a test
 * during which a reply of a hook service broke a published rule fails, whatever else it looked at.
 */
import fc from 'fast-check';
import { afterAll, afterEach, expect } from 'vitest';
import { takeBrokenRules } from './watch-replies.ts';

const seed = process.env.GRIP_TEST_SEED ?? '20261125';
if (seed !== 'random') fc.configureGlobal({ seed: Number(seed) });

const requireNoneBroken = () => expect(takeBrokenRules(), 'published rules that a reply broke').toEqual([]);
afterEach(requireNoneBroken);
afterAll(requireNoneBroken);
