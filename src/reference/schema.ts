/** The form of released tables, cut-points and panels (norms/). A file that does not fit stops the start. */
import { z } from 'zod';
import {
  age,
  decimal,
  exampleExpect,
  exampleGiven,
  id,
  measureKind,
  operator,
  published,
  released,
  rowHand,
  sex,
  stratum,
  summaryKind,
  text,
  verification,
  version,
  versionRef,
} from './released-form.ts';

const handConvention = z.enum(['right-left', 'dominant-nondominant', 'either']);
/** Null where the sources seen do not state the summary: the panel then decides, and says so. */
const summary = z.strictObject({ kind: summaryKind.nullable(), note: text });

export const tableFile = z.strictObject({
  kind: z.literal('table'),
  ...published,
  summary,
  handConvention,
  /** `exact`: each row is for one exact age, and figures between two rows are interpolated. Absent: bands. */
  ages: z.literal('exact').optional(),
  /** Null cells are printed in the source and not known here. */
  rows: z
    .array(
      z.strictObject({
        ageMin: age,
        ageMax: age.nullable(),
        sex,
        hand: rowHand,
        stratum: stratum.optional(),
        mean: decimal.nullable(),
        sd: decimal.nullable(),
        /** Mean less one SD, where the source prints that and no SD. */
        oneSdBelow: decimal.optional(),
        n: z.int().positive().nullable(),
        percentiles: z.record(z.string().regex(/^\d{1,2}$/), decimal).optional(),
        verification,
        note: text.optional(),
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
  summary,
  handConvention,
  meaning: z.strictObject({ reduced: text, notReduced: text, remark: text.nullable() }),
  companions: z.array(
    z.strictObject({
      name: text,
      rule: text,
      use: text,
      /** What the record can be asked; absent where the service reads no such measure. */
      figure: z
        .strictObject({ measure: measureKind, operator: z.enum(['<', '<=', '>', '>=']), value: decimal })
        .optional(),
    }),
  ),
  /** Months from which the set calls the condition chronic. */
  chronicFromMonths: z.int().positive().optional(),
  rows: z
    .array(
      z.strictObject({
        sex,
        hand: z.enum(['dominant', 'nondominant']).optional(),
        /** Null: the set gives no numeric lower age; the panel decides. */
        ageMin: age.nullable(),
        ageMax: age.nullable(),
        stratum: stratum.optional(),
        operator,
        /** Null: printed in the source and not known here, or its copies differ. */
        value: decimal.nullable(),
        /** Not reduced, and below this called intermediate by the source. */
        intermediateBelow: decimal.optional(),
        verification,
        note: text.optional(),
      }),
    )
    .min(1),
  examples: z.array(z.strictObject({ given: exampleGiven, expect: exampleExpect, source: text })).min(2),
});

const reasoned = z.strictObject({ reason: text });

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
        ageMin: reasoned.extend({ years: age }).optional(),
        summaryWhenUnstated: reasoned.extend({ kind: summaryKind }).optional(),
        /** Takes figures that are not verified well enough to drive a result by default; every result says so. */
        acceptUnproven: reasoned.optional(),
      }),
    )
    .min(1),
  /** Tables of the mean of one hand that serve the check of the unit only; for panels that have none. */
  unitGuards: z.array(z.strictObject({ table: versionRef, rule: versionRef })).optional(),
  rules: z.strictObject({
    trialsPerHand: versionRef,
    scatter: versionRef,
    bounds: versionRef,
    session: versionRef,
    unitPlausibility: versionRef,
    trialPattern: versionRef.optional(),
    calibration: versionRef.optional(),
    timeOfDay: versionRef.optional(),
    changeLimits: versionRef.optional(),
    recordWindow: versionRef.optional(),
    protocolEffects: versionRef.optional(),
    nextMeasurement: versionRef.optional(),
  }),
});

export const lockFile = z.record(z.string(), z.string().regex(/^[0-9a-f]{64}$/));

export type TableFile = z.infer<typeof tableFile>;
export type CutPointsFile = z.infer<typeof cutPointsFile>;
export type PanelFile = z.infer<typeof panelFile>;
