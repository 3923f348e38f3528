/** The form of released rules (norms/rules): how a table, the trials, the record and the course are read. */
import { z } from 'zod';
import { age, type citation, decimal, released, text, verification } from './released-form.ts';
import { testingCautions } from './testing-cautions.ts';

const ruleShared = {
  kind: z.literal('rule'),
  ...released,
  shortTitle: text,
  basis: z.enum(['published', 'common practice, no source', "this service's own rule"]),
  why: text,
  citations: z.array(text),
};

function rule<F extends string, P extends z.ZodRawShape>(form: F, parameters: P) {
  return z.strictObject({ ...ruleShared, form: z.literal(form), parameters: z.strictObject(parameters) });
}

const operator = z.enum(['<', '<=']);
const days = z.int().positive();

/** A size of change found in some population: measurement error, or the smallest change that matters. */
const yardstick = z.strictObject({
  id: z.string().regex(/^[a-z0-9-]+$/),
  kind: z.enum(['measurement-error', 'smallest-important']),
  hand: z.enum(['dominant', 'nondominant', 'unknown', 'any']),
  ageMin: age,
  ageMax: age.nullable(),
  limit: z.strictObject({ value: decimal, unit: z.enum(['kg', '%']) }),
  population: text,
  source: text,
  verification: verification.exclude(['from-memory']),
});

/** A departure from the protocol that a set was built with, and its published size. */
const protocolEffect = z.strictObject({
  part: z.enum(['posture', 'arm', 'handle', 'instrument']),
  /** As charted and as built, in either order; null: any. */
  between: z.tuple([z.string().nullable(), z.string().nullable()]),
  effect: text,
  source: text,
  verification: verification.exclude(['from-memory']),
});

/** Ends rise, and only the last range has none. */
function isRising(bands: readonly { readonly below: number | null }[]): boolean {
  return bands.every(({ below }, index) => {
    const next = bands[index + 1];
    if (!next) return below === null;
    return below !== null && (next.below === null || next.below > below);
  });
}

export const ruleFile = z.discriminatedUnion('form', [
  rule('sd-below-mean', { sdBelow: decimal, operator }),
  rule('centile', {
    /** Below this centile counts as reduced. */
    reducedBelow: z.int().min(1).max(99),
    operator,
    /** Names for ranges of centiles, lowest first; the last has no end. Empty where the source gives none. */
    bands: z
      .array(z.strictObject({ name: text, below: z.int().min(1).max(99).nullable() }))
      .refine(isRising, { error: 'ranges must rise, and the last alone has no end' }),
  }),
  rule('trials-per-hand', { perHand: z.int().positive() }),
  rule('trial-scatter', { maxCvPercent: decimal }),
  rule('reading-bounds', { maxKg: decimal }),
  rule('session-gap', { maxGapMinutes: z.int().positive() }),
  rule('unit-plausibility', {
    aboveSd: decimal,
    withinSd: decimal,
    cautionAboveSd: decimal,
    previousFactor: z
      .strictObject({ from: decimal, to: decimal, maxDays: days })
      .refine(({ from, to }) => Number(from) > 1 && Number(from) < Number(to), {
        error: 'must rise from above 1',
      })
      .optional(),
  }),
  rule('trial-pattern', { firstBelowPercent: decimal, fallPercent: decimal }),
  rule('calibration-interval', { maxDays: days }),
  rule('time-of-day', { maxMinutes: z.int().positive() }),
  rule('change-limits', {
    yardsticks: z
      .array(yardstick)
      .min(1)
      .refine((list) => new Set(list.map(({ id }) => id)).size === list.length, {
        error: 'each yardstick needs an id of its own',
      }),
  }),
  rule('record-window', {
    days: z.strictObject({
      height: days,
      weight: days,
      bmi: days,
      'gait-speed': days,
      'five-chair-rises': days,
    }),
    /** Below this age a height must be nearer. */
    growing: z.strictObject({ belowAge: age, heightDays: days }),
  }),
  rule('protocol-effects', { effects: z.array(protocolEffect).min(1) }),
  rule('next-measurement', { afterDays: days }),
  rule('testing-cautions', testingCautions),
]);

export type RuleFile = z.infer<typeof ruleFile>;
export type RuleForm = RuleFile['form'];
export type ProtocolEffect = z.infer<typeof protocolEffect>;
export type YardstickEntry = z.infer<typeof yardstick>;
/** Kept beside the forms: every published file cites in this way. */
export type Citation = z.infer<typeof citation>;
