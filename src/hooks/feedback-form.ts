/** The body of a feedback call (CDS Hooks 2.0.1, feedback; STANDARDS F1, F2, F5, E2): strict in what is read. */
import { z } from 'zod';
import { requireForm } from '../fhir/forms.ts';

/** Entries of one call: a client that has more sends another call. */
export const MOST_ENTRIES = 200;
/** Characters of a comment: about two pages. */
export const LONGEST_COMMENT = 4_000;
/** Suggestions of one card that were accepted. */
const MOST_SUGGESTIONS = 50;
/** Characters of a code, of its words and of the address of its system. */
const LONGEST_TEXT = 1_000;

/** What a person types has lines and tabs; other control characters have no place in it, or in a code. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is refused
const TYPED = /^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f]*$/;
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is refused
const CODED = /^[^\u0000-\u001f\u007f-\u009f]*$/;

const coded = z.string().min(1).max(LONGEST_TEXT).regex(CODED);

/** Any case is accepted (RFC 9562): ours are written in lower case. */
const uuid = z.guid().transform((text) => text.toLowerCase());

const overrideReason = z
  .looseObject({
    // The specification's own example has no display.
    reason: z.looseObject({ system: coded, code: coded, display: coded.optional() }).optional(),
    userComment: z.string().min(1).max(LONGEST_COMMENT).regex(TYPED).optional(),
  })
  // cds-fb-3
  .refine(({ reason, userComment }) => reason !== undefined || userComment !== undefined, {
    error: 'must have a reason, a userComment, or both',
  });

const entryForm = z
  .looseObject({
    card: uuid,
    // cds-fb-1
    outcome: z.enum(['accepted', 'overridden']),
    outcomeTimestamp: z.string().refine((text) => readUtc(text) !== undefined, {
      error: 'must be a moment in UTC by RFC 3339, e.g. 2026-11-25T10:05:31Z',
    }),
    acceptedSuggestions: z
      .array(z.looseObject({ id: uuid }))
      .max(MOST_SUGGESTIONS)
      .optional(),
    overrideReason: overrideReason.optional(),
  })
  // cds-fb-2
  .refine(
    ({ outcome, acceptedSuggestions = [] }) => outcome !== 'accepted' || acceptedSuggestions.length > 0,
    {
      path: ['acceptedSuggestions'],
      error: 'must name what was accepted, with the outcome accepted',
    },
  );

const feedbackForm = z.looseObject({ feedback: z.array(entryForm).max(MOST_ENTRIES) });

/** What a client said of one card. Members are in this order, and absent where nothing was said. */
export interface FeedbackEntry {
  /** UUID in lower case, like the suggestions. */
  readonly card: string;
  readonly outcome: 'accepted' | 'overridden';
  /** Ids, as far as they were sent; also beside `overridden`. */
  readonly acceptedSuggestions?: readonly string[] | undefined;
  /** As far as it was sent; also beside `accepted`. */
  readonly overrideReason?:
    | {
        readonly reason?:
          | { readonly system: string; readonly code: string; readonly display?: string | undefined }
          | undefined;
        readonly userComment?: string | undefined;
      }
    | undefined;
  /** RFC 3339 in UTC, as given: clocks differ, and the log has the time of receipt beside it. */
  readonly outcomeTimestamp: string;
}

/**
 * @returns none for an empty array, which the specification allows
 * @throws RequestError BODY_INVALID naming the element; one entry at fault and none is taken
 */
export function readFeedback(body: unknown): readonly FeedbackEntry[] {
  return requireForm(feedbackForm, body, 'request').feedback.map(
    ({ card, outcome, acceptedSuggestions, overrideReason: override, outcomeTimestamp }) => ({
      card,
      outcome,
      acceptedSuggestions: acceptedSuggestions?.map(({ id }) => id),
      overrideReason: override && readOverride(override),
      outcomeTimestamp,
    }),
  );
}

function readOverride({
  reason,
  userComment,
}: z.infer<typeof overrideReason>): FeedbackEntry['overrideReason'] {
  const coding = reason && { system: reason.system, code: reason.code, display: reason.display };
  return { reason: coding, userComment };
}

const UTC = /^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:)(\d{2})(\.\d{1,20})?(?:Z|[+-]00:00)$/i;

/**
 * RFC 3339, section 5.6, in UTC: `Z`, `+00:00`, or `-00:00` (section 4.3: the offset of the place is not known). Letters
 * in either case. A leap second, which is only at the end of a day, is read as the first of the next.
 * @returns milliseconds since 1970; undefined for anything else, also for a day that is in no calendar
 */
export function readUtc(text: string): number | undefined {
  const [, day = '', minutes = '', seconds = '', fraction = ''] = UTC.exec(text) ?? [];
  const isLeap = minutes === '23:59:' && seconds === '60';
  const start = new Date(`${day}T${minutes}${isLeap ? '59' : seconds}Z`);
  if (Number.isNaN(start.getTime()) || start.toISOString().slice(0, 10) !== day) return undefined;
  return start.getTime() + (isLeap ? 1_000 : 0) + Math.floor(Number(`0${fraction}`) * 1_000);
}
