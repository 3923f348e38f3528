/** What each newest panel must apply, stated by hand: one line for each set, in the panel's order. */

/**
 * `set version | rule | lowest age of the panel | summary where the set states none | u: takes unproven figures`.
 * Each set's rule is the one that its source reads it by, or the common practice of two SD; the ages are the
 * panel's where a consensus gives none (65 as many services do, 18 for adults).
 */
const LINES: Readonly<Record<string, string>> = {
  'adult-inpatient-us 1.1.0': `
    mathiowetz-1985-us-adults 1.1.0            | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-right-left-mean-of-3 1.1.0 | two-sd-below-mean |    |                        |
    ewgsop2-2019 1.1.0                         |                    | 65 |                        |
    sdoc-2020 1.1.0                            |                    | 65 | highest-of-either-hand |
    fnih-2014 1.1.0                            |                    | 65 |                        |`,
  'all-published 1.1.0': `
    mathiowetz-1985-us-adults 1.1.0            | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-right-left-mean-of-3 1.1.0 | two-sd-below-mean |    |                        |
    nhanes-2011-2014-right-left-best-of-3 1.1.0 | two-sd-below-mean |    |                        |
    nhanes-2011-2014-best-either-hand 1.1.0    | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-dominant-mean-of-3 1.0.0  | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-dominant-best-of-3 1.0.0  | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-mean-of-both-hands 1.0.0  | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-best-over-height-squared 1.0.0 | two-sd-below-mean | |                       |
    dodds-2014-great-britain 1.0.0             | below-10th-centile |    |                        | u
    tomkinson-2025-international 1.0.0         | quintile-bands     |    |                        |
    leong-2016-europe-north-america 1.0.0      | below-25th-centile |    |                        | u
    massy-westropp-2011-australia 1.0.0        | two-sd-below-mean  |    |                        | u
    steiber-2016-germany 1.0.0                 | one-sd-below-mean  |    | highest-of-either-hand | u
    steiber-2016-germany-by-height 1.0.0       | one-sd-below-mean  |    | highest-of-either-hand | u
    mathiowetz-1986-us-children 1.0.0          | two-sd-below-mean  |    | mean-per-hand          | u
    bohannon-2017-us-children 1.0.0            | two-sd-below-mean  |    | mean-per-hand          | u
    ewgsop2-2019 1.1.0                         |                    | 65 |                        |
    sdoc-2020 1.1.0                            |                    | 65 | highest-of-either-hand |
    sdoc-2020-bmi 1.0.0                        |                    | 65 | highest-of-either-hand |
    fnih-2014 1.1.0                            |                    | 65 |                        |
    fnih-2014-bmi 1.0.0                        |                    | 65 |                        |
    awgs-2019 1.1.0                            |                    | 65 |                        |
    awgs-2025 1.1.0                            |                    |    |                        |
    espen-easo-2022 1.0.0                      |                    | 18 | highest-of-either-hand |
    fried-2001 1.0.0                           |                    |    |                        |
    icuaw-2008 1.0.0                           |                    | 18 | highest-of-either-hand |`,
  'child-us 1.0.0': `
    nhanes-2011-2014-right-left-mean-of-3 1.1.0 | two-sd-below-mean |    |                        |
    nhanes-2011-2014-dominant-mean-of-3 1.0.0  | two-sd-below-mean  |    |                        |
    nhanes-2011-2014-best-over-height-squared 1.0.0 | two-sd-below-mean | |                       |`,
  'older-adult-asia 1.0.0': `
    tomkinson-2025-international 1.0.0         | quintile-bands     |    |                        |
    awgs-2025 1.1.0                            |                    |    |                        |`,
  'older-adult-europe 1.0.0': `
    tomkinson-2025-international 1.0.0         | quintile-bands     |    |                        |
    dodds-2014-great-britain 1.0.0             | below-10th-centile |    |                        | u
    ewgsop2-2019 1.1.0                         |                    | 65 |                        |
    sdoc-2020 1.1.0                            |                    | 65 | highest-of-either-hand |
    fried-2001 1.0.0                           |                    |    |                        |`,
};

export interface StatedEntry {
  readonly id: string;
  readonly version: string;
  readonly rule: string | null;
  readonly ageMin: number | null;
  readonly summary: string | null;
  readonly unproven: boolean;
}

/** `panel version` -> its entries. */
export const STATED_PANELS: Readonly<Record<string, readonly StatedEntry[]>> = Object.fromEntries(
  Object.entries(LINES).map(([panel, lines]) => [panel, lines.trim().split('\n').map(entryOf)]),
);

function entryOf(line: string): StatedEntry {
  const [set = '', rule, ageMin, summary, unproven] = line.split('|').map((cell) => cell.trim());
  const [id = '', version = ''] = set.split(' ');
  return {
    id,
    version,
    rule: rule || null,
    ageMin: ageMin ? Number(ageMin) : null,
    summary: summary || null,
    unproven: unproven === 'u',
  };
}

/** The rules about trials, record and course, the same in every newest panel. */
export const STATED_RULES: Readonly<Record<string, string>> = {
  trialsPerHand: 'three-trials-per-hand 1.0.0',
  scatter: 'trial-scatter 1.0.0',
  bounds: 'reading-bounds 1.0.0',
  session: 'session-gap 1.0.0',
  unitPlausibility: 'unit-plausibility 1.1.0',
  trialPattern: 'trial-pattern 1.0.0',
  calibration: 'calibration-yearly 1.0.0',
  timeOfDay: 'time-of-day 1.0.0',
  changeLimits: 'change-limits 1.0.0',
  recordWindow: 'record-window 1.0.0',
  protocolEffects: 'protocol-effects 1.0.0',
  nextMeasurement: 'next-measurement 1.0.0',
};
