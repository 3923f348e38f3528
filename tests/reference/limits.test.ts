/**
 * Every limit of every set of every newest panel, as the panel reads it, beside the limit that follows from the
 * transcription in whole numbers (outside-limits.ts).
 */
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { columnOf, outsideLimits } from './outside-limits.ts';
import { STATED_PANELS } from './stated-panels.ts';

const library = loadLibrary(NORMS);

const CASES = Object.entries(STATED_PANELS).flatMap(([name, entries]) =>
  entries.map((entry, index) => {
    const [panel = '', version = ''] = name.split(' ');
    return { panel, version, entry, index, title: `${name}: ${entry.id} ${entry.version}` };
  }),
);

describe.each(CASES)('$title', ({ panel, version, entry, index }) => {
  const ready = library.findPanel(panel, version)?.panel.sets[index];
  const expected = outsideLimits(entry.id, entry.rule, entry.ageMin);

  it('has the limits of the transcription in whole numbers', () => {
    expect(ready?.ref.id).toBe(entry.id);
    const read = (ready?.rows ?? []).map(({ sex, hand, stratum, ageMin, ageMax, limit, operator }) => ({
      column: columnOf({
        sex,
        hand,
        stratum: stratum ? `${stratum.by} ${stratum.min ?? 'any'} to ${stratum.max ?? 'any'}` : null,
      }),
      ageMin,
      ageMax,
      // A limit that is not whole in millionths is not one of these.
      limit: limit && (limit.num * 1_000_000n) / limit.den,
      whole: limit === null || (limit.num * 1_000_000n) % limit.den === 0n,
      operator,
    }));
    const byColumn = (rows: readonly { column: string; ageMin: number }[]) =>
      rows.toSorted((a, b) => a.column.localeCompare(b.column) || a.ageMin - b.ageMin);
    expect(byColumn(read)).toEqual(byColumn(expected.map((row) => ({ ...row, whole: true }))));
    expect(read.length).toBeGreaterThan(1);
  });

  it('says of each row whether its figures are unproven, and takes no such figure unless the panel says so', () => {
    const unproven = (ready?.rows ?? []).filter((row) => row.unproven && row.limit !== null);
    if (!entry.unproven) expect(unproven).toEqual([]);
    else expect(unproven.length).toBeGreaterThan(0);
  });
});

/** Worked by hand from the printed figures: a person could check these with a pencil. */
describe('limits worked by hand', () => {
  it.each([
    ['mathiowetz-1985-us-adults', 'two-sd-below-mean', 'male right', 72, '32300000'],
    ['dodds-2014-great-britain', 'below-10th-centile', 'male', 72, '27800000'],
    ['dodds-2014-great-britain', 'below-10th-centile', 'male', 70, '29000000'],
    ['tomkinson-2025-international', 'quintile-bands', 'male', 20, '40500000'],
    ['steiber-2016-germany-by-height', 'one-sd-below-mean', 'male height 160 to 164', 17, '34900000'],
    ['massy-westropp-2011-australia', 'two-sd-below-mean', 'male right', 70, '17400000'],
    ['bohannon-2017-us-children', 'two-sd-below-mean', 'male dominant', 6, '4100000'],
  ])('%s by %s, %s at %i', (id, rule, column, age, limit) => {
    const row = outsideLimits(id, rule, null).find(
      (each) => each.column === column && age >= each.ageMin && (each.ageMax === null || age <= each.ageMax),
    );
    expect(String(row?.limit)).toBe(limit);
  });
});
