/** The service with a log that is kept, for calls whose data it has to fetch, and a look for what must have leaked nowhere. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import request from 'supertest';
import { expect } from 'vitest';
import { readConfig } from '../src/config.ts';
import { openService, type Service } from '../src/service.ts';
import { CANARY } from './fhir-server-behaviours.ts';
import { CANARY_TOKEN, type FhirServerForTests } from './fhir-server-for-tests.ts';
import { HOOK_DOOR, type HookBody, hookCallOf, NOW, PATIENT } from './fixtures.ts';
import type { RecordedContent } from './service-for-tests.ts';
import { watchReplies } from './watch-replies.ts';

export interface FetchingService {
  readonly app: Service['app'];
  readonly store: Service['store'];
  readonly library: Service['library'];
  post(body: object, headers?: Readonly<Record<string, string>>): request.Test;
  /** Content of the newest record. */
  last(): RecordedContent & { asked: { hook: HookAsked } };
  count(): number;
  close(): Promise<void>;
  /** Fails when a canary is in a reply, the log or the file. */
  requireNoLeak(...replies: readonly { text: string; headers: object }[]): void;
}

export interface HookAsked {
  readonly hasMore: boolean;
  readonly fetched?: readonly string[];
  readonly unread?: readonly string[];
}

/** A time within which an honest server on loopback has answered, however busy the machine is. */
export const UNHURRIED_MS = 15_000;

/**
 * @param settings of the environment, besides the audit file
 * @param fetchBudgetMs absent: as shipped
 */
export async function openFetching(
  settings: Readonly<Record<string, string>>,
  fetchBudgetMs?: number,
): Promise<FetchingService> {
  const folder = mkdtempSync(join(tmpdir(), 'grip-fetching-'));
  const file = join(folder, 'audit.sqlite');
  const lines: string[] = [];
  const logger = pino({ level: 'trace' }, { write: (line: string) => lines.push(line) });
  const config = readConfig({ GRIP_CDS_AUDIT_FILE: file, ...settings });
  const onFatal = (cause: unknown) => {
    throw cause;
  };
  const { app, store, library } = openService({ config, logger, now: () => NOW, onFatal, fetchBudgetMs });
  watchReplies(app);
  await app.ready();
  return {
    app,
    store,
    library,
    post: (body, headers = {}) => request(app.server).post(HOOK_DOOR.path).set(headers).send(body),
    last: () => JSON.parse([...store.records(store.head().seq)][0]?.record ?? '{}').content,
    count: () => store.head().seq,
    requireNoLeak: (...replies) => {
      const stored = [file, `${file}-wal`].map((each) => readFileSync(each, 'latin1'));
      const said = replies.flatMap(({ text, headers }) => [text, JSON.stringify(headers)]);
      // Read as it is kept: what may be there is found.
      expect(lines.join('')).toContain(HOOK_DOOR.path);
      if (store.head().seq > 0) expect(stored.join('')).toContain('Practitioner/invented-dietitian');
      for (const text of [...lines, ...stored, ...said]) {
        expect(CANARY.test(text), 'a canary leaked').toBe(false);
        expect(text.includes(CANARY_TOKEN), 'the token leaked').toBe(false);
      }
    },
    close: async () => {
      await app.close();
      store.close();
      rmSync(folder, { recursive: true });
    },
  };
}

/** A call that names a server and gives its token. */
export function callOf(
  server: Pick<FhirServerForTests, 'base' | 'token'>,
  prefetch?: Record<string, unknown>,
): Omit<HookBody, 'prefetch'> & { fhirServer: string; fhirAuthorization: object } {
  const { prefetch: _, ...call } = hookCallOf(PATIENT, []);
  return {
    ...call,
    fhirServer: server.base,
    fhirAuthorization: {
      access_token: server.token,
      token_type: 'Bearer',
      expires_in: 300,
      scope: 'patient/Patient.read patient/Observation.read',
      subject: 'grip-strength-cds',
    },
    ...(prefetch ? { prefetch } : {}),
  };
}
