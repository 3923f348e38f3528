/** A Bundle of type batch -> the requests in it. */
import { RequestError, type RequestIssue } from '../errors.ts';
import { batchForm, requireForm } from './forms.ts';

export interface BatchEntry {
  readonly method: 'GET' | 'HEAD' | 'POST' | 'PUT' | 'DELETE' | 'PATCH';
  /** From the root of the server, e.g. `/fhir/Observation?patient=1`. */
  readonly path: string;
  readonly resource: unknown;
  /** Of a conditional read. */
  readonly headers: Readonly<Record<string, string>>;
}

const MOST_ENTRIES = 50;

/** @throws RequestError BODY_INVALID naming the elements at fault: then nothing of the batch is done */
export function readBatch(body: unknown): readonly BatchEntry[] {
  const { entry = [] } = requireForm(batchForm, body, 'Bundle');
  if (entry.length > MOST_ENTRIES) {
    const text = `holds ${entry.length} entries; at most ${MOST_ENTRIES} are read`;
    throw new RequestError('BODY_INVALID', [{ expression: 'Bundle.entry', text }]);
  }
  const faults: RequestIssue[] = [];
  const entries = entry.flatMap(({ resource, request }, index): BatchEntry[] => {
    const path = pathOf(request.url);
    if (path === undefined) {
      const text = 'must be relative to the FHIR base, e.g. Observation?patient=1';
      faults.push({ expression: `Bundle.entry[${index}].request.url`, text });
      return [];
    }
    const { ifNoneMatch, ifModifiedSince } = request;
    const headers = {
      ...(ifNoneMatch === undefined ? {} : { 'if-none-match': ifNoneMatch }),
      ...(ifModifiedSince === undefined
        ? {}
        : { 'if-modified-since': new Date(ifModifiedSince).toUTCString() }),
    };
    return [{ method: request.method, path, resource, headers }];
  });
  if (faults.length > 0) throw new RequestError('BODY_INVALID', faults);
  return entries;
}

/** Of this server and below its FHIR base; never the batch itself. */
function pathOf(url: string): string | undefined {
  const base = 'http://batch.invalid/fhir/';
  if (/^[a-z][a-z0-9+.-]*:|^[/\\]/i.test(url) || !URL.canParse(url, base)) return undefined;
  const { origin, pathname, search } = new URL(url, base);
  const isInside = origin === new URL(base).origin && pathname.startsWith('/fhir/') && pathname !== '/fhir/';
  return isInside ? `${pathname}${search}` : undefined;
}
