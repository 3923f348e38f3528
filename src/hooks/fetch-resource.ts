/** One GET of a FHIR server -> one resource, or why there is none. */
import { z } from 'zod';
import { type Outbound, OutboundFault, type OutboundReply } from '../outbound/outbound.ts';
import { isParsedSoon, parseUntrusted } from '../untrusted-json.ts';
import type { Budget } from './fetch-budget.ts';
import type { FetchSource } from './fetch-source.ts';

/** With what every fetch of a call is made. */
export interface Fetching {
  readonly source: FetchSource;
  /** Whose data are asked for. */
  readonly patientId: string;
  readonly budget: Budget;
  readonly outbound: Outbound;
}

export interface FetchedResource {
  readonly resourceType: string;
  readonly [member: string]: unknown;
}

/** `why` ends a sentence; it says nothing of what the server sent but its status. */
export type Fetched =
  | { readonly resource: FetchedResource }
  | { readonly why: string; readonly status: number | null };

/** @param url below the base of the source */
export async function fetchResource(url: string, fetching: Fetching): Promise<Fetched> {
  try {
    const reply = await askAgainWhenBusy(url, fetching);
    return readReply(reply);
  } catch (fault) {
    if (!(fault instanceof OutboundFault)) throw fault;
    return { why: WHY[fault.reason], status: null };
  }
}

const UNREADABLE = 'the FHIR server gave an answer that cannot be read';

const WHY: Readonly<Record<OutboundFault['reason'], string>> = {
  unreachable: 'the FHIR server could not be reached',
  timeout: 'the FHIR server did not answer in time',
  redirect: 'the FHIR server gave a redirect, which is not followed',
  'too-large': 'the FHIR server gave an answer that is larger than is read',
  'not-utf8': UNREADABLE,
};

/** Before a second try of a server that does not say when: this service's own choice. */
const PAUSE_MS = 50;

/** Once more after a 503, when the server wants it soon enough. */
async function askAgainWhenBusy(url: string, fetching: Fetching): Promise<OutboundReply> {
  const first = await ask(url, fetching);
  if (first.status !== 503) return first;
  const pause = pauseOf(first.header('retry-after'));
  if (pause >= fetching.budget.msLeft()) return first;
  await new Promise((over) => setTimeout(over, pause));
  return ask(url, fetching);
}

/** Milliseconds. A date, to the second, is never within the budget: it is as if the server said no. */
function pauseOf(retryAfter: string | null): number {
  if (retryAfter === null) return PAUSE_MS;
  return /^\d{1,6}$/.test(retryAfter) ? Number(retryAfter) * 1_000 : Number.POSITIVE_INFINITY;
}

async function ask(url: string, { source, budget, outbound }: Fetching): Promise<OutboundReply> {
  const headers = { authorization: `Bearer ${source.token}`, accept: 'application/fhir+json' };
  const taken = budget.take();
  if (taken === 0) throw new OutboundFault('too-large');
  let used = taken;
  try {
    const reply = await outbound(url, { headers, signal: budget.signal, maxBytes: taken });
    used = reply.bytes;
    return reply;
  } finally {
    budget.giveBack(taken - used);
  }
}

/** FHIR R4 as JSON; the older name of the type is still in use. */
const FHIR_JSON = /^application\/(?:fhir\+json|json|json\+fhir)\s*(?:;|$)/i;

const fetchedForm = z.looseObject({ resourceType: z.string().min(1) });

function readReply(reply: OutboundReply): Fetched {
  const { status, text } = reply;
  const unreadable = { why: UNREADABLE, status };
  if (status !== 200) return { why: `the FHIR server answered ${status}`, status };
  if (!FHIR_JSON.test(reply.header('content-type') ?? '') || !isParsedSoon(text)) return unreadable;
  const parsed = fetchedForm.safeParse(parse(text));
  return parsed.success ? { resource: parsed.data } : unreadable;
}

/** Undefined: not JSON. */
function parse(text: string): unknown {
  try {
    return parseUntrusted(text);
  } catch (fault) {
    if (fault instanceof SyntaxError) return undefined;
    throw fault;
  }
}
