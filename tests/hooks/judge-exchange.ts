/** One exchange under `/cds-services`, judged: what the specification's invariants say of the reply and of what got it. */
import {
  brokenIn,
  DISCOVERY_MODEL,
  emptyIn,
  FEEDBACK_INVARIANTS,
  REPLY_INVARIANTS,
  REPLY_MODEL,
  REQUEST_INVARIANTS,
} from './published-invariants.ts';

export interface Exchange {
  readonly method: string;
  /** With or without a query. */
  readonly url: string;
  readonly status: number;
  /** As parsed; undefined where there was none. */
  readonly asked: unknown;
  /** The body of the reply as it went out. */
  readonly text: string;
}

/** @returns what is broken, by the names of the rules; nothing for an exchange that is as it should be */
export function judgeExchange(exchange: Exchange): readonly string[] {
  const { method, status } = exchange;
  if (method !== 'GET' && method !== 'POST') return [];
  return status >= 200 && status < 300 ? judgeSuccess(exchange) : judgeRefusal(exchange);
}

function judgeSuccess({ method, url, asked, text }: Exchange): readonly string[] {
  const [path = ''] = url.split('?');
  if (method === 'GET') return path === '/cds-services' ? judgeDiscovery(readObject(text)) : [];
  const call = isObject(asked) ? asked : {};
  // The specification gives no body of an answer to feedback.
  if (path.endsWith('/feedback'))
    return [...requireList(call, 'feedback'), ...brokenIn(FEEDBACK_INVARIANTS, call)];
  return [...brokenIn(REQUEST_INVARIANTS, call), ...judgeCards(readObject(text))];
}

/** The answer of a service. */
export function judgeCards(reply: object | undefined): readonly string[] {
  if (!reply) return ['R1 the reply is no object'];
  return [
    ...requireList(reply, 'cards'),
    ...('systemActions' in reply ? ['S7 system actions, which nobody agreed on'] : []),
    ...emptyIn(reply, ['cards']),
    ...brokenIn([...REPLY_INVARIANTS, ...REPLY_MODEL], reply),
  ];
}

/** The answer of discovery. */
export function judgeDiscovery(reply: object | undefined): readonly string[] {
  if (!reply) return ['D2 the reply is no object'];
  return [
    ...requireList(reply, 'services'),
    ...emptyIn(reply, ['services']),
    ...brokenIn(DISCOVERY_MODEL, reply),
  ];
}

/** R4; a 401 may say nothing (T9). */
function judgeRefusal({ status, text }: Exchange): readonly string[] {
  if (text === '' && status === 401) return [];
  const outcome = readObject(text) as { resourceType?: unknown; issue?: unknown } | undefined;
  const isOutcome = outcome?.resourceType === 'OperationOutcome' && Array.isArray(outcome.issue);
  return isOutcome ? emptyIn(outcome) : [`R4 a ${status} without an OperationOutcome`];
}

function requireList(value: object, member: string): readonly string[] {
  return Array.isArray((value as Record<string, unknown>)[member]) ? [] : [`LM ${member} 1..1, a list`];
}

const isObject = (value: unknown): value is object =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function readObject(text: string): object | undefined {
  try {
    const value: unknown = JSON.parse(text);
    return isObject(value) ? value : undefined;
  } catch {
    return undefined;
  }
}
