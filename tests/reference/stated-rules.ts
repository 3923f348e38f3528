/** What each released rule must say, stated by hand with its source beside it, and not read from norms/. */

export interface StatedRule {
  readonly form: string;
  readonly basis: 'published' | 'common practice, no source' | "this service's own rule";
  readonly parameters: unknown;
  readonly source: string;
}

const OWN = "this service's own rule";
const PRACTICE = 'common practice, no source';

const unitRule = { aboveSd: '3', withinSd: '3', cautionAboveSd: '1' };

/** `id version` -> what it must say. */
export const STATED_RULES: Readonly<Record<string, StatedRule>> = {
  'two-sd-below-mean 1.0.0': {
    form: 'sd-below-mean',
    basis: PRACTICE,
    parameters: { sdBelow: '2', operator: '<=' },
    source: 'nutrition practice: mean less two SD, at the limit counts; no published endorsement found',
  },
  'one-sd-below-mean 1.0.0': {
    form: 'sd-below-mean',
    basis: 'published',
    parameters: { sdBelow: '1', operator: '<' },
    source: 'Steiber N. PLoS ONE 2016;11(10):e0163917: critically weak is below the mean less one SD',
  },
  'below-10th-centile 1.0.0': {
    form: 'centile',
    basis: OWN,
    parameters: { reducedBelow: 10, operator: '<', bands: [] },
    source: 'the lowest centile of Dodds RM, et al. PLoS ONE 2014;9(12):e113637, Table 2',
  },
  'below-25th-centile 1.0.0': {
    form: 'centile',
    basis: OWN,
    parameters: { reducedBelow: 25, operator: '<', bands: [] },
    source: 'the lowest centile of Leong DP, et al. J Cachexia Sarcopenia Muscle 2016;7(5):535-546',
  },
  'quintile-bands 1.0.0': {
    form: 'centile',
    basis: 'published',
    parameters: {
      reducedBelow: 20,
      operator: '<',
      bands: [
        { name: 'low', below: 20 },
        { name: 'somewhat low', below: 40 },
        { name: 'moderate', below: 60 },
        { name: 'somewhat high', below: 80 },
        { name: 'high', below: null },
      ],
    },
    source: 'Tomkinson GR, et al. J Sport Health Sci 2025;14:101014, section 4.2, as reported elsewhere',
  },
  'three-trials-per-hand 1.0.0': {
    form: 'trials-per-hand',
    basis: 'published',
    parameters: { perHand: 3 },
    source: 'MacDermid J, et al. (eds). Clinical Assessment Recommendations, 3rd ed, 2015',
  },
  'trial-scatter 1.0.0': {
    form: 'trial-scatter',
    basis: PRACTICE,
    parameters: { maxCvPercent: '15' },
    source: 'the upper end of the 10 to 15% in use; 7.5% misjudges most people at full effort',
  },
  'trial-pattern 1.0.0': {
    form: 'trial-pattern',
    basis: OWN,
    parameters: { firstBelowPercent: '20', fallPercent: '20' },
    source: 'no published limit found; npm run measure:rules prints what each limit marks',
  },
  'reading-bounds 1.0.0': {
    form: 'reading-bounds',
    basis: OWN,
    parameters: { maxKg: '100' },
    source: 'above the highest reading of the 2011-2014 survey (survey.test.ts)',
  },
  'session-gap 1.0.0': {
    form: 'session-gap',
    basis: OWN,
    parameters: { maxGapMinutes: 60 },
    source: 'no published limit found',
  },
  'unit-plausibility 1.0.0': {
    form: 'unit-plausibility',
    basis: OWN,
    parameters: unitRule,
    source: 'error rates: npm run measure:rules',
  },
  'unit-plausibility 1.1.0': {
    form: 'unit-plausibility',
    basis: OWN,
    parameters: { ...unitRule, previousFactor: { from: '1.9', to: '2.5', maxDays: 365 } },
    source: 'around 2.2046 lb in a kilogram; error rates: npm run measure:rules',
  },
  'calibration-yearly 1.0.0': {
    form: 'calibration-interval',
    basis: PRACTICE,
    parameters: { maxDays: 366 },
    source: 'twelve months, from memory (tests/outside/reliability-change.json)',
  },
  'time-of-day 1.0.0': {
    form: 'time-of-day',
    basis: OWN,
    parameters: { maxMinutes: 240 },
    source: 'no published limit found',
  },
  'record-window 1.0.0': {
    form: 'record-window',
    basis: OWN,
    parameters: {
      days: { height: 5 * 365, weight: 90, bmi: 90, 'gait-speed': 90, 'five-chair-rises': 90 },
      growing: { belowAge: 20, heightDays: 90 },
    },
    source: 'no published limit found; a child has another height within months',
  },
  'next-measurement 1.0.0': {
    form: 'next-measurement',
    basis: OWN,
    parameters: { afterDays: 14 },
    source: 'Flood A, et al. Clin Nutr 2014;33:106-114: two weeks, one small study',
  },
};

/** Rules whose figures are compared with tests/outside one by one, in rules.test.ts and testing-cautions.test.ts. */
export const COMPARED_ELSEWHERE = ['change-limits 1.0.0', 'protocol-effects 1.0.0', 'testing-cautions 1.0.0'];
