/** The form of each kind of released file (norms/). A file that does not fit stops the start. */
import { z } from 'zod';

const text = z.string().min(1);
const version = z.string().regex(/^\d+\.\d+\.\d+$/);
const id = z.string().regex(/^[a-z0-9]+(-[a-z0-9]+)*$/);
/** Figures are decimal text exactly as printed, e.g. `"121.0"`: JSON numbers would lose the printed digits. */
const figure = z.string().regex(/^\d+(\.\d+)?$/);
const age = z.int().min(0).max(130);
const sex = z.enum(['female', 'male']);
const hand = z.enum(['right', 'left']);
const unit = z.enum(['kg', 'lb', 'N']);
const operator = z.enum(['<', '<=']);
const summaryKind = z.enum(['mean-per-hand', 'highest-per-hand', 'highest-of-either-hand']);

/** How a figure was checked; what each level means is in DEVELOPERS.md. */
export const VERIFICATION_LEVELS = [
  'two-sources',
  'derived-from-microdata',
  'one-source-checked',
  'one-source',
  'from-memory',
  'primary-seen',
  'secondary-seen',
] as const;
const verification = z.enum(VERIFICATION_LEVELS);

/** Levels that may drive a result by default; anything else is refused in a panel. */
export const VERIFIED_ENOUGH: ReadonlySet<string> = new Set([
  'two-sources',
  'derived-from-microdata',
  'one-source-checked',
  'primary-seen',
  'secondary-seen',
]);

const versionRef = z.strictObject({ id, version });

const released = {
  id,
  version,
  title: text,
  shortTitle: text.max(28),
  status: z.enum(['active', 'superseded', 'provisional']),
  released: z.iso.date(),
  /** The release that this one replaces, and why. */
  supersedes: z.strictObject({ id, version, reason: text }).nullable(),
  doubts: z.array(text),
};

/** Source attributes for evidence-based decision support: 45 CFR 170.315(b)(11)(iv)(A)(1)-(13). */
const sourceAttributes = z.strictObject({
  citation: text,
  developer: text,
  funding: text,
  released: z.iso.date(),
  revised: z.iso.date().nullable(),
  race: text,
  ethnicity: text,
  language: text,
  sexualOrientation: text,
  genderIdentity: text,
  sex: text,
  dateOfBirth: text,
  socialDeterminants: text,
  healthStatusAssessment: text,
});

const published = {
  ...released,
  citation: z.strictObject({
    authors: text,
    title: text,
    journal: text,
    year: z.int().min(1900).max(2100),
    volume: text.nullable(),
    pages: text.nullable(),
    doi: text.nullable(),
    pmid: text.nullable(),
    where: text,
  }),
  licence: text,
  population: text,
  instrumentClass: text.nullable(),
  protocol: z.strictObject({
    posture: text.nullable(),
    postureSource: text.nullable(),
    handlePosition: text.nullable(),
    handlePositionSource: text.nullable(),
    trialsPerHand: z.int().positive().nullable(),
    rest: text.nullable(),
  }),
  unit,
  verification: z.strictObject({ level: verification, comparedWith: text }),
  sourceAttributes,
};

const exampleGiven = z.strictObject({
  sex,
  ageYears: age,
  hand: hand.nullable(),
  value: figure,
  unit,
});
const exampleExpect = z.strictObject({ limit: figure, outcome: z.enum(['reduced', 'not-reduced']) });

export const tableFile = z.strictObject({
  kind: z.literal('table'),
  ...published,
  summary: z.strictObject({ kind: summaryKind, note: text }),
  handConvention: z.enum(['right-left', 'either']),
  rows: z
    .array(
      z.strictObject({
        ageMin: age,
        ageMax: age.nullable(),
        sex,
        hand: hand.nullable(),
        mean: figure,
        sd: figure,
        n: z.int().positive().nullable(),
        percentiles: z.record(z.string().regex(/^\d{1,2}$/), figure).optional(),
        verification,
      }),
    )
    .min(1),
  examples: z
    .array(z.strictObject({ rule: versionRef, given: exampleGiven, expect: exampleExpect, source: text }))
    .min(2),
});

export const cutPointsFile = z.strictObject({
  kind: z.literal('cut-points'),
  ...published,
  /** Null where the sources seen do not state the summary: the panel then decides, and says so. */
  summary: z.strictObject({ kind: summaryKind.nullable(), note: text }),
  handConvention: z.literal('either'),
  meaning: z.strictObject({ reduced: text, notReduced: text, remark: text.nullable() }),
  companions: z.array(z.strictObject({ name: text, rule: text, use: text })),
  rows: z
    .array(
      z.strictObject({
        sex,
        /** Null: the set gives no numeric lower age; the panel decides. */
        ageMin: age.nullable(),
        ageMax: age.nullable(),
        operator,
        value: figure,
        verification,
      }),
    )
    .min(1),
  examples: z.array(z.strictObject({ given: exampleGiven, expect: exampleExpect, source: text })).min(2),
});

const ruleShared = {
  kind: z.literal('rule'),
  ...released,
  shortTitle: text,
  basis: z.enum(['published', 'common practice, no source', "this service's own rule"]),
  why: text,
  citations: z.array(text),
};

export const ruleFile = z.discriminatedUnion('form', [
  z.strictObject({
    ...ruleShared,
    form: z.literal('sd-below-mean'),
    parameters: z.strictObject({ sdBelow: figure, operator }),
  }),
  z.strictObject({
    ...ruleShared,
    form: z.literal('trials-per-hand'),
    parameters: z.strictObject({ perHand: z.int().positive() }),
  }),
  z.strictObject({
    ...ruleShared,
    form: z.literal('trial-scatter'),
    parameters: z.strictObject({ maxCvPercent: figure }),
  }),
  z.strictObject({
    ...ruleShared,
    form: z.literal('reading-bounds'),
    parameters: z.strictObject({ maxKg: figure }),
  }),
  z.strictObject({
    ...ruleShared,
    form: z.literal('session-gap'),
    parameters: z.strictObject({ maxGapMinutes: z.int().positive() }),
  }),
  z.strictObject({
    ...ruleShared,
    form: z.literal('unit-plausibility'),
    parameters: z.strictObject({ aboveSd: figure, withinSd: figure, cautionAboveSd: figure }),
  }),
]);

export const panelFile = z.strictObject({
  kind: z.literal('panel'),
  ...released,
  audience: text,
  entries: z
    .array(
      z.strictObject({
        set: z.strictObject({ kind: z.enum(['table', 'cut-points']), id, version }),
        /** Required for a table, absent for cut-points. */
        rule: versionRef.optional(),
        /** Lowest age at which this panel applies the set, and why. */
        ageMin: z.strictObject({ years: age, reason: text }).optional(),
        summaryWhenUnstated: z.strictObject({ kind: summaryKind, reason: text }).optional(),
      }),
    )
    .min(1),
  rules: z.strictObject({
    trialsPerHand: versionRef,
    scatter: versionRef,
    bounds: versionRef,
    session: versionRef,
    unitPlausibility: versionRef,
  }),
});

export const lockFile = z.record(z.string(), z.string().regex(/^[0-9a-f]{64}$/));

export type TableFile = z.infer<typeof tableFile>;
export type CutPointsFile = z.infer<typeof cutPointsFile>;
export type RuleFile = z.infer<typeof ruleFile>;
export type PanelFile = z.infer<typeof panelFile>;
export type RuleForm = RuleFile['form'];
