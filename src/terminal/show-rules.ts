/** A rule or a panel in words, as lines for a terminal. */
import { MEASURE_UNITS } from '../interpret/measurement.ts';
import type { RuleFile, RuleForm } from '../reference/rule-forms.ts';
import type { PanelFile } from '../reference/schema.ts';
import { tableOf } from './columns.ts';
import { cautionLines } from './show-cautions.ts';

type Parameters<F extends RuleForm> = Extract<RuleFile, { form: F }>['parameters'];

/** What each form does, in the words of its parameters. */
const FORMS: { readonly [F in RuleForm]: (parameters: Parameters<F>) => readonly string[] } = {
  'sd-below-mean': ({ sdBelow, operator }) => [
    `Reduced: ${operator === '<=' ? 'at or below' : 'below'} the mean less ${sdBelow} SD`,
  ],
  centile: centileLines,
  'trials-per-hand': ({ perHand }) => [`Trials asked of each hand: ${perHand}`],
  'trial-scatter': ({ maxCvPercent }) => [
    `Inconsistent: coefficient of variation of one hand's trials above ${maxCvPercent}%`,
  ],
  'reading-bounds': ({ maxKg }) => [`Refused: a reading above ${maxKg} kg`],
  'session-gap': ({ maxGapMinutes }) => [
    `New session: more than ${maxGapMinutes} minutes after the trial before`,
  ],
  'unit-plausibility': unitLines,
  'trial-pattern': ({ firstBelowPercent, fallPercent }) => [
    `First trial low: more than ${firstBelowPercent}% below the mean of the others`,
    `Falling: each trial below the one before, the last more than ${fallPercent}% below the first`,
  ],
  'calibration-interval': ({ maxDays }) => [`Overdue: calibrated more than ${maxDays} days before the test`],
  'time-of-day': ({ maxMinutes }) => [
    `Differs: more than ${maxMinutes} minutes from the earlier test's time of day`,
  ],
  'change-limits': changeLines,
  'record-window': ({ days, growing }) => [
    ...tableOf(
      [
        ['measure', ([kind]) => kind],
        ['unit', ([kind]) => MEASURE_UNITS[kind as keyof typeof days]],
        ['at most days from the test', ([, most]) => String(most)],
      ],
      Object.entries(days),
    ),
    `Below ${growing.belowAge} years: a height at most ${growing.heightDays} days from the test`,
  ],
  'protocol-effects': effectLines,
  'next-measurement': ({ afterDays }) => [`Suggested: ${afterDays} days after the test`],
  'testing-cautions': cautionLines,
};

export function ruleLines(file: RuleFile): readonly string[] {
  const inWords = FORMS[file.form] as (parameters: RuleFile['parameters']) => readonly string[];
  return [
    ...inWords(file.parameters),
    `Why: ${file.why}`,
    `Basis: ${file.basis}`,
    ...file.citations.map((citation) => `Source: ${citation}`),
  ];
}

function centileLines({ reducedBelow, operator, bands }: Parameters<'centile'>): readonly string[] {
  const reduced = `Reduced: ${operator === '<=' ? 'at or below' : 'below'} centile ${reducedBelow}`;
  if (bands.length === 0) return [reduced];
  const from = (index: number) => bands[index - 1]?.below ?? null;
  return [
    reduced,
    ...tableOf(
      [
        ['range', ({ name }) => name],
        ['from centile', ({ index }) => (index === 0 ? '' : String(from(index)))],
        ['to below', ({ below }) => (below === null ? '' : String(below))],
      ],
      bands.map((band, index) => ({ ...band, index })),
    ),
  ];
}

function unitLines(parameters: Parameters<'unit-plausibility'>): readonly string[] {
  const { aboveSd, withinSd, cautionAboveSd, previousFactor } = parameters;
  return [
    `Stopped: kilograms more than ${aboveSd} SD above the norm`,
    `Other unit named: within ${withinSd} SD of the norm in it`,
    `Caution: kilograms more than ${cautionAboveSd} SD above the norm that would be reduced as pounds`,
    ...(previousFactor
      ? [
          `Like a change of unit: ${previousFactor.from} to ${previousFactor.to} times the previous mean, or as many times smaller, at most ${previousFactor.maxDays} days later`,
        ]
      : []),
  ];
}

function changeLines({ yardsticks }: Parameters<'change-limits'>): readonly string[] {
  return tableOf(
    [
      ['yardstick', ({ id }) => id],
      ['kind', ({ kind }) => kind],
      ['hand', ({ hand }) => (hand === 'nondominant' ? 'other' : hand)],
      ['age', ({ ageMin, ageMax }) => (ageMax === null ? `${ageMin}+` : `${ageMin}-${ageMax}`)],
      // Beyond the error is more than the limit; important is the limit itself or more.
      [
        'change',
        ({ kind, limit: { value, unit } }) => `${kind === 'measurement-error' ? '>' : '>='} ${value} ${unit}`,
      ],
      ['verified', ({ verification }) => verification],
      ['found in', ({ population }) => population],
    ],
    yardsticks,
  );
}

function effectLines({ effects }: Parameters<'protocol-effects'>): readonly string[] {
  return tableOf(
    [
      ['part', ({ part }) => part],
      ['between', ({ between }) => between.map((word) => word ?? 'any').join(' and ')],
      ['verified', ({ verification }) => verification],
      ['effect', ({ effect }) => effect],
    ],
    effects,
  );
}

/** The sets in their order, each with what the panel decides about it, then the rules. */
export function panelLines({ audience, entries, rules }: PanelFile): readonly string[] {
  const sets = entries.flatMap(({ set, rule, ageMin, summaryWhenUnstated, acceptUnproven }, index) => [
    `${index + 1}. ${set.kind} ${set.id} ${set.version}${rule ? `, read by ${rule.id} ${rule.version}` : ''}`,
    ...(ageMin ? [`   from age ${ageMin.years}: ${ageMin.reason}`] : []),
    ...(summaryWhenUnstated ? [`   summary ${summaryWhenUnstated.kind}: ${summaryWhenUnstated.reason}`] : []),
    ...(acceptUnproven ? [`   takes figures not verified well enough: ${acceptUnproven.reason}`] : []),
  ]);
  const named = Object.entries(rules).flatMap(([name, rule]) => (rule ? [{ name, ...rule }] : []));
  return [
    `For: ${audience}`,
    ...sets,
    '',
    ...tableOf(
      [
        ['about', ({ name }) => name.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`)],
        ['rule', ({ id }) => id],
        ['version', ({ version }) => version],
      ],
      named,
    ),
  ];
}
