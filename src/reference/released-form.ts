/** What every released file (norms/) carries: identity, status, citation, protocol, verification. */
import { z } from 'zod';

export const text = z.string().min(1);
export const version = z.string().regex(/^\d+\.\d+\.\d+$/);
export const id = z.string().regex(/^[a-z0-9]+(-[a-z0-9]+)*$/);
/** Figures are decimal text exactly as printed, e.g. `"121.0"`: JSON numbers would lose the printed digits. */
export const decimal = z.string().regex(/^\d+(\.\d+)?$/);
export const age = z.int().min(0).max(130);
export const sex = z.enum(['female', 'male']);
/** Which hand a row is for; null where the set speaks of the person. */
export const rowHand = z.enum(['right', 'left', 'dominant', 'nondominant']).nullable();
export const unit = z.enum(['kg', 'lb', 'N']);
export const operator = z.enum(['<', '<=']);
export const summaryKind = z.enum([
  'mean-per-hand',
  'highest-per-hand',
  'highest-of-either-hand',
  'mean-of-both-hands',
]);
export const measureKind = z.enum(['height', 'weight', 'bmi', 'gait-speed', 'five-chair-rises']);

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
export const verification = z.enum(VERIFICATION_LEVELS);

/** Levels that may drive a result by default; anything else only where the panel takes it on purpose. */
export const VERIFIED_ENOUGH: ReadonlySet<string> = new Set([
  'two-sources',
  'derived-from-microdata',
  'one-source-checked',
  'primary-seen',
  'secondary-seen',
]);

export const versionRef = z.strictObject({ id, version });

export const released = {
  id,
  version,
  title: text,
  shortTitle: text.max(28),
  status: z.enum(['active', 'superseded', 'provisional']),
  released: z.iso.date(),
  /** The release that this one replaces, and why. */
  supersedes: z.strictObject({ id, version, reason: text }).nullable(),
  /** The later work that the source itself gave way to; its id where it is a released set here. */
  supersededBy: z.strictObject({ id: id.nullable(), what: text }).optional(),
  doubts: z.array(text),
};

export const citation = z.strictObject({
  authors: text,
  title: text,
  journal: text,
  year: z.int().min(1900).max(2100),
  volume: text.nullable(),
  pages: text.nullable(),
  doi: text.nullable(),
  pmid: text.nullable(),
  where: text,
});

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

/** How the people were measured, in words that a measurement can be matched with; null: not stated or mixed. */
const built = z.strictObject({
  posture: z.enum(['seated', 'standing', 'recumbent']).nullable(),
  arm: z.enum(['elbow-90-unsupported', 'elbow-supported', 'elbow-straight']).nullable(),
  handle: z
    .string()
    .regex(/^[1-5]$/)
    .nullable(),
  instrument: z.enum(['hydraulic', 'digital', 'spring']).nullable(),
});

export const published = {
  ...released,
  citation,
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
  built: built.optional(),
  unit,
  /** Absent: the force itself. */
  quantity: z.enum(['force-over-bmi', 'force-over-height-squared']).optional(),
  verification: z.strictObject({ level: verification, comparedWith: text }),
  sourceAttributes,
};

/** For some heights (cm) or body mass indices only; both ends belong to it, as printed. */
export const stratum = z.strictObject({
  by: z.enum(['bmi', 'height']),
  min: decimal.nullable(),
  max: decimal.nullable(),
  digits: z.int().min(0).max(2),
});

export const exampleGiven = z.strictObject({
  sex,
  ageYears: age,
  hand: rowHand,
  /** The figure that is compared, in `unit`; over the measure already where the set asks for that. */
  value: decimal,
  unit,
  bmi: decimal.optional(),
  heightCm: decimal.optional(),
});
export const exampleExpect = z.strictObject({
  /** Up to 6 decimals where it was interpolated. */
  limit: decimal,
  outcome: z.enum(['reduced', 'not-reduced']),
});
