/**
 * How grip counts in a nutrition assessment. Sources: White JV, et al. J Acad Nutr Diet 2012;112(5):730-738
 * (severe grade only: seen in slides that cite it); Cederholm T, et al. Clin Nutr 2019;38:1-9 (GLIM, table 3).
 */
import { describe, expect, it } from 'vitest';
import { refuse } from '../../src/interpret/finding.ts';
import { nutritionReading } from '../../src/wording/intended-use.ts';
import { VERDICT } from '../verdict-for-tests.ts';

const session = { testedOn: '2026-11-24', effective: '2026-11-24', sex: 'male' as const, trials: [] };
const rest = { summaries: [], cautions: [], changes: [] };
const about = (ageYears: number, results: Parameters<typeof nutritionReading>[0]['results']) =>
  nutritionReading({ ...session, ...rest, ageYears, results });
const REDUCED = { ...VERDICT, outcome: 'reduced' as const };

describe('the nutrition reading', () => {
  it('is given only where some set calls the figure reduced', () => {
    expect(about(72, [VERDICT])).toEqual([]);
    expect(about(72, [VERDICT, REDUCED])).toHaveLength(3);
  });

  it('is given where one column of an unknown sex is reduced', () => {
    const open = refuse('SEX_NOT_USABLE', { columns: [VERDICT, REDUCED] });
    expect(about(72, [open])).toHaveLength(3);
  });

  it('says severe grade only, no moderate grade, two of six, no figure, and that a later form leaves grip out', () => {
    const [consensus] = about(72, [REDUCED]);
    for (const said of [
      'one of six',
      'two are needed',
      'severe grade only',
      'no moderate grade',
      'no figure',
      'leaves grip out',
    ])
      expect(consensus).toContain(said);
  });

  it('calls grip a supportive measure under GLIM, and says once what grip does not stand for', () => {
    const [, glim, limb] = about(72, [REDUCED]);
    expect(glim).toBe('GLIM 2019: grip is a supportive measure, not a criterion.');
    for (const said of ['upper limb', 'daily living', 'gait']) expect(limb).toContain(said);
  });

  it('does not speak of the adult consensus below 18', () => {
    expect(about(15, [REDUCED])).toHaveLength(1);
  });

  it('never diagnoses', () => {
    for (const sentence of about(72, [REDUCED]))
      expect(sentence).not.toMatch(/\b(is|has) (severe )?malnutrition\b/);
  });
});
