/** A Bundle of type batch -> the requests in it. */
import { RequestError } from '../errors.ts';
import { batchForm, requireForm } from './forms.ts';

export interface BatchEntry {
  readonly method: 'GET' | 'HEAD' | 'POST' | 'PUT' | 'DELETE' | 'PATCH';
  /** From the root of the server, e.g. `/fhir/Observation?patient=1`; null: it leads nowhere on this server. */
  readonly path: string | null;
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
  return entry.map(({ resource, request }): BatchEntry => {
    const { ifNoneMatch, ifModifiedSince } = request;
    const headers = {
      ...(ifNoneMatch === undefined ? {} : { 'if-none-match': ifNoneMatch }),
      ...(ifModifiedSince === undefined
        ? {}
        : { 'if-modified-since': new Date(ifModifiedSince).toUTCString() }),
    };
    return { method: request.method, path: pathOf(request.url), resource, headers };
  });
}

/** Of this server and below its FHIR base; never the batch itself. */
function pathOf(url: string): string | null {
  const base = 'http://batch.invalid/fhir/';
  if (/^[a-z][a-z0-9+.-]*:|^[/\\]/i.test(url) || !URL.canParse(url, base)) return null;
  const { origin, pathname, search } = new URL(url, base);
  const isInside = origin === new URL(base).origin && pathname.startsWith('/fhir/') && pathname !== '/fhir/';
  return isInside ? `${pathname}${search}` : null;
}
