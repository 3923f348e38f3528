/** The form of the released rule of cautions before a test: what a record means, by which codes, and what is usually done. */
import { z } from 'zod';
import { id, text, version } from './released-form.ts';

const weight = z.enum(['against', 'care', 'ask']);

/** Without a full stop. */
const clause = text.regex(/[^.]$/);

const code = z.strictObject({
  system: z.url(),
  code: text,
  display: text,
  /** For a summary; absent: that of the caution. */
  short: text.max(40).optional(),
  /** It says nothing of an arm, only that one may have an access: what to ask where no other record names the arm. */
  askUnsided: text.optional(),
  /** Where the code was seen. */
  seenIn: text,
  weight: weight.optional(),
  hand: z.enum(['right', 'left', 'both']).optional(),
  dominance: z.enum(['dominant', 'nondominant']).optional(),
  siteOfLesion: z.literal(true).optional(),
  remark: text.optional(),
});

const caution = z.strictObject({
  id,
  /** Its id in the list that it was taken from, and what that list calls for. */
  source: text,
  title: text,
  short: text.max(30),
  action: text,
  weight,
  scope: z.enum(['arm', 'person']),
  /** Whether it makes a card of its own while no test is due. */
  whenNotDue: z.enum(['warn', 'silent']),
  whenPast: z.enum(['leave-out', 'list', 'count']),
  /** What is asked of one that is past. */
  askWhenPast: clause.nullable(),
  /** A record older than `longPast`: asked about, or past; null: it counts as before. */
  whenLongPast: z
    .discriminatedUnion('as', [
      z.strictObject({ as: z.literal('ask'), question: text }),
      z.strictObject({ as: z.literal('past'), question: z.null() }),
    ])
    .nullable(),
  /** `said`: the days in words. */
  window: z.strictObject({ days: z.int().positive(), said: text, reason: text }).nullable(),
  practice: clause,
  /** Where the other arm is not free either; null: the practice names no other arm. */
  practiceAlone: clause.nullable(),
  /** Where no side is known; null: as else. */
  practiceUnsided: clause.nullable(),
  /** What is asked of one that was charted before today. */
  askCharted: clause.nullable(),
  basis: z.enum(['published', 'common practice, no source']),
  /** In the words of the list. */
  evidence: text,
  /** The source in short, for a card; null: there is none. */
  said: text.nullable(),
  note: text.nullable(),
  /** The codes as a FHIR ValueSet, and the SHA-256 of that file. */
  valueSet: z.strictObject({ url: z.url(), version, sha256: z.string().regex(/^[0-9a-f]{64}$/) }),
  codes: z.array(code),
});

type Caution = z.infer<typeof caution>;

/** A code in two cautions, or a side in a caution of the whole person, would be read in two ways. */
function isUnambiguous(cautions: readonly Caution[]): boolean {
  const codes = cautions.flatMap((each) => each.codes.map(({ system, code }) => `${system}|${code}`));
  const ids = cautions.map((each) => each.id);
  const sided = cautions.some(
    ({ scope, codes: own }) => scope === 'person' && own.some(({ hand, dominance }) => hand ?? dominance),
  );
  return new Set(codes).size === codes.length && new Set(ids).size === ids.length && !sided;
}

export const testingCautions = {
  /** The code system of this service, with a code for each caution: what a site maps its own codes to. */
  ownCodes: z.url(),
  /** Records of acute illness that are older than this, and were never ended, are asked about. */
  longPast: z.strictObject({ days: z.int().positive(), reason: text }),
  cautions: z
    .array(caution)
    .min(1)
    .refine(isUnambiguous, { error: 'each id and code must be there once, and a person has no side' }),
  /** Codes of the list that would mislead. */
  leftOut: z.array(
    z.strictObject({ source: text, system: z.url(), code: text, display: text, reason: text }),
  ),
};
