/** Clients that run in a browser (STANDARDS T11): which pages may read answers. Nobody's, unless the deployment names them. */
import cors from '@fastify/cors';
import type { FastifyInstance } from 'fastify';

/** Request headers that the two doors read. */
const SENT = ['Authorization', 'Content-Type', 'Accept', 'Prefer', 'If-None-Match', 'If-Modified-Since'];
/** Reply headers besides those that any page may read. */
const READ = ['Allow', 'ETag', 'Last-Modified', 'Preference-Applied', 'Retry-After', 'WWW-Authenticate'];
/** How long a browser may remember the answer to its question beforehand. */
const MAX_AGE_S = 600;

/**
 * Before anything is refused, so that a page can read the refusal; the question beforehand carries no credentials.
 * @param origins exactly these, e.g. `https://ehr.example.org`; any other gets no header of this kind
 */
export function allowOrigins(app: FastifyInstance, origins: readonly string[]): void {
  if (origins.length === 0) return;
  app.register(cors, {
    origin: (origin, answer) =>
      answer(null, origin !== undefined && origins.includes(origin) ? origin : false),
    methods: ['GET', 'HEAD', 'POST'],
    allowedHeaders: SENT,
    exposedHeaders: READ,
    // A token is sent by the page itself: no cookie, no credentials of the browser.
    credentials: false,
    strictPreflight: false,
    maxAge: MAX_AGE_S,
  });
}
