/** Feedback on cards: what became of advice, on record beside the evaluation that gave it (STANDARDS F1 to F7, RG15). */
import { z } from 'zod';
import { uuidFor } from '../derived-id.ts';
import { RequestError } from '../errors.ts';
import type { EvaluateDeps } from '../evaluate.ts';
import { type FeedbackEntry, readFeedback } from './feedback-form.ts';

/** Whose feedback it is, and at the address of which service. */
export interface FeedbackCaller {
  /** For the record, as in `Caller`. */
  readonly client: string;
  readonly tenant?: string | null | undefined;
  /** Id of the hook service. */
  readonly service: string;
}

/** What the record of one entry holds, besides the patient of the answered record in a column of its own. */
export interface FeedbackContent extends FeedbackEntry {
  readonly client: string;
  readonly tenant?: string | undefined;
  readonly service: string;
  /** The record whose answer carried the card; null: none of this client and service. */
  readonly answers: { readonly record: string; readonly seq: number } | null;
  /** Of the answered record; absent without one. */
  readonly context?: FeedbackContext | undefined;
}

/** What the answered record says of where and for whom the card was. */
export interface FeedbackContext {
  readonly panel: { readonly id: string; readonly version: string } | null;
  readonly engine: { readonly name: string; readonly version: string } | null;
  readonly user: string | null;
  readonly encounter: string | null;
  readonly fhirServer: string | null;
}

/**
 * Puts every entry of a call on record in one commit, or none. What is said again in the same words is on record already.
 * Nothing in the answer tells whether a card is known.
 * @throws RequestError BODY_INVALID, NOT_RECORDED
 */
export async function recordFeedback(
  { store }: Pick<EvaluateDeps, 'store'>,
  caller: FeedbackCaller,
  body: unknown,
): Promise<void> {
  const entries = readFeedback(body);
  try {
    // All are appended in this turn: one commit.
    const find = finderOf(caller, store);
    const records = entries.map((entry) => recordOf(entry, caller, find(entry.card)));
    await Promise.all(records.map((record) => store.append(record)));
  } catch (cause) {
    throw new RequestError('NOT_RECORDED', [], { cause });
  }
}

type Store = EvaluateDeps['store'];

/** Looks each card up once: its record may be large, and a call may name it two hundred times. */
function finderOf(caller: FeedbackCaller, store: Store): (card: string) => Answered | undefined {
  const by = { ...caller, tenant: caller.tenant ?? undefined };
  const found = new Map<string, Answered | undefined>();
  return (card) => {
    if (!found.has(card)) found.set(card, findAnswered(card, by, store));
    return found.get(card);
  };
}

function recordOf(
  entry: FeedbackEntry,
  { client, tenant, service }: FeedbackCaller,
  answered: Answered | undefined,
): Parameters<Store['append']>[0] {
  const by = { client, tenant: tenant ?? undefined, service };
  const content: FeedbackContent = {
    ...by,
    ...entry,
    answers: answered?.answers ?? null,
    context: answered?.context,
  };
  return {
    id: uuidFor('feedback', JSON.stringify([client, tenant ?? null, service, entry])),
    kind: 'feedback',
    patient: answered?.patient ?? null,
    about: answered?.answers.record,
    unlessOnRecord: true,
    content,
  };
}

/** The members that the records of all services have; what one of them lacks is null. */
const answeredForm = z.object({
  patient: z.string().nullable(),
  content: z.object({
    asked: z.object({
      client: z.string(),
      tenant: z.string().nullish(),
      user: z.string().nullable(),
      hook: z.object({
        service: z.string(),
        encounter: z.string().nullable(),
        fhirServer: z.string().nullable(),
      }),
    }),
    panel: z.object({ id: z.string(), version: z.string() }).nullish(),
    engine: z.object({ name: z.string(), version: z.string() }).nullish(),
  }),
});

interface Answered {
  readonly patient: string | null;
  readonly answers: { readonly record: string; readonly seq: number };
  readonly context: FeedbackContext;
}

/** The record that gave this card to this client, through this service; another client's card is nobody's. */
function findAnswered(
  card: string,
  { client, tenant, service }: Pick<FeedbackContent, 'client' | 'tenant' | 'service'>,
  store: Store,
): Answered | undefined {
  const stored = store.findByName(card);
  if (!stored) return undefined;
  const parsed = answeredForm.safeParse(JSON.parse(stored.record));
  if (!parsed.success) return undefined;
  const { patient, content } = parsed.data;
  const { asked, panel = null, engine = null } = content;
  const { user, hook } = asked;
  const isTheirs = asked.client === client && (asked.tenant ?? undefined) === tenant;
  if (!isTheirs || hook.service !== service) return undefined;
  const { encounter, fhirServer } = hook;
  return {
    patient,
    answers: { record: stored.id, seq: stored.seq },
    context: { panel, engine, user, encounter, fhirServer },
  };
}
