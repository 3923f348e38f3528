/** What the output is, what it is not, and how grip counts in a nutrition assessment. */
import type { Interpretation } from '../interpret/finding.ts';
import { verdictsIn } from './session-statements.ts';

/** Said on every card: what the output is not. The adult consensus is not spoken of below 18. */
export function intendedUse(ageYears: number | null): string {
  const use =
    'One item of a nutrition assessment, for the licensed clinician who makes it; it supports judgement and local policy and diagnoses nothing. Low strength alone is neither malnutrition nor sarcopenia.';
  return ageYears !== null && ageYears < 18
    ? `${use} The consensus on adult malnutrition does not apply below 18.`
    : use;
}

/**
 * Said beside every result: what it was made without. The hook service that reads it gives a card of its own. After
 * haemodialysis grip is 1 to 4 kg lower: Delanaye P, et al. Clin Kidney J 2018;11(4):555-558 (doi:10.1093/ckj/sfx139)
 * and others, as the rule testing-cautions cites them.
 */
export const NOT_READ =
  'Not read for this result: conditions, procedures, implants and access; the card before a test names those that are coded. Weigh pain, surgery, dialysis access, whether it was after haemodialysis (grip is then 1 to 4 kg lower), stroke and nerve or muscle disease of the tested arm.';

/** The same in one line, for each Observation that may stand alone in a record. */
export const INTENDED_USE_SHORT =
  'One item of a nutrition assessment; supports the licensed clinician and local policy; diagnoses nothing.';

/**
 * How a reduced figure counts in a nutrition assessment; empty when no set calls it reduced. Sources: White JV,
 * et al. J Acad Nutr Diet 2012;112(5):730-738 (Academy/ASPEN; that grip counts for the severe grade only was seen
 * in slides that cite it); a research brief of the Academy on the simplified form; Cederholm T, et al. Clin Nutr
 * 2019;38:1-9 (GLIM). The adult consensus is not spoken of below 18.
 */
export function nutritionReading(interpretation: Interpretation): readonly string[] {
  return readingOf(interpretation, ADULT_CONSENSUS, [
    'Grip measures the upper limb; it does not replace activities of daily living, the strength of the legs or gait.',
  ]);
}

/** The same in short, for a card. That the consensus gives no figure is what a reader must not miss. */
export function nutritionInShort(interpretation: Interpretation): readonly string[] {
  return readingOf(
    interpretation,
    [
      'Academy/ASPEN 2012: reduced grip is one of six characteristics of adult malnutrition, of which two are needed; it counts for the severe grade only. It gives no figure: which set counts is local policy. GLIM 2019: supportive, not a criterion.',
    ],
    [],
  );
}

const ADULT_CONSENSUS = [
  'Academy/ASPEN 2012: reduced grip is one of six characteristics of adult malnutrition, of which two are needed. It counts for the severe grade only; there is no moderate grade of it. The consensus gives no figure. A later simplified form (two of four characteristics, validated in 32 US hospitals) leaves grip out.',
  'GLIM 2019: grip is a supportive measure, not a criterion.',
];

function readingOf(
  { results, ageYears }: Interpretation,
  ofAdults: readonly string[],
  ofAll: readonly string[],
): readonly string[] {
  const isReduced = results.some((result) => verdictsIn(result).some(({ outcome }) => outcome === 'reduced'));
  if (!isReduced) return [];
  return [...(ageYears === null || ageYears >= 18 ? ofAdults : []), ...ofAll];
}
