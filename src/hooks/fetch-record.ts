/** What is said and recorded of fetched data: which keys they are, and that what is wrong with them is no fault of the call. */
import { RequestError, type RequestErrorCode } from '../errors.ts';
import { REQUIRED_KEYS } from './discovery.ts';
import type { GatheredData } from './gather.ts';

export interface KeysOfRecord {
  /** Keys whose data were fetched, in whole or in further pages. */
  readonly fetched?: readonly string[];
  /** Keys, not required ones, that could not be had, or not with all the pages that were needed. */
  readonly unread?: readonly string[];
}

/** For the record of a call; a list that would be empty is absent. */
export function keysOfRecord(data: GatheredData, required = REQUIRED_KEYS): KeysOfRecord {
  const fetched = fetchedKeys(data);
  const unread = Object.entries(data).flatMap(([key, each]) => {
    const isWhole = each.state !== 'missing' && !(each.state === 'here' && each.partly);
    return isWhole || required.includes(key) ? [] : [key];
  });
  return { ...(fetched.length > 0 ? { fetched } : {}), ...(unread.length > 0 ? { unread } : {}) };
}

function fetchedKeys(data: GatheredData): readonly string[] {
  return Object.entries(data).flatMap(([key, each]) =>
    each.state !== 'missing' && each.fetched ? [key] : [],
  );
}

/** What would be said of the body of the call, had the data come with it. */
const FAULTS_OF_DATA: readonly RequestErrorCode[] = ['BODY_INVALID', 'PATIENT_MISSING', 'PATIENT_MISMATCH'];

/**
 * What cannot be used of fetched data is 412, where the same prefetched is 400: the call is right, and its data could
 * not be had (STANDARDS P8, P11).
 * @param read reads and answers; whatever else it throws is thrown on
 * @throws RequestError PREFETCH_MISSING with the place in the fetched data, as if prefetched
 */
export async function requireFetchedUsable<T>(data: GatheredData, read: () => Promise<T>): Promise<T> {
  try {
    return await read();
  } catch (fault) {
    if (!(fault instanceof RequestError) || !FAULTS_OF_DATA.includes(fault.code)) throw fault;
    const places = fetchedKeys(data).map((key) => `prefetch.${key}`);
    const isFetched = (expression: string | null) =>
      places.some((place) => expression === place || expression?.startsWith(`${place}.`));
    if (!fault.issues.some(({ expression }) => isFetched(expression))) throw fault;
    const issues = fault.issues.map(({ expression, text }) => ({
      expression,
      text: isFetched(expression) ? `${text}, in what the FHIR server gave` : text,
    }));
    throw new RequestError('PREFETCH_MISSING', issues);
  }
}
