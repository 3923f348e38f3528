/**
 * Generated inputs are the same in every run, so that a run says something of the change it tests and of nothing else.
 * GRIP_TEST_SEED gives another seed; `random` a new one each time, printed by fast-check when a property fails.
 */
import fc from 'fast-check';

const seed = process.env.GRIP_TEST_SEED ?? '20261125';
if (seed !== 'random') fc.configureGlobal({ seed: Number(seed) });
