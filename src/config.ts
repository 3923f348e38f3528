/** The environment -> one frozen configuration. The only reader of process.env. */
import { isIPv4 } from 'node:net';
import { z } from 'zod';

/** A start that must not happen; the message names the variable. */
export class ConfigFault extends Error {
  override readonly name = 'ConfigFault';
}

/** Each setting with its default; README lists the same. */
export const SETTINGS = {
  GRIP_CDS_HOST: {
    meaning: 'Address to listen on. Only loopback addresses are accepted while access is open.',
    fallback: '127.0.0.1',
  },
  GRIP_CDS_PORT: { meaning: 'Port to listen on; 0 takes a free one.', fallback: '8080' },
  GRIP_CDS_AUDIT_FILE: {
    meaning: 'SQLite file of the audit log; created when missing.',
    fallback: 'data/audit.sqlite',
  },
  GRIP_CDS_PANEL: {
    meaning: 'Panel used when a request names none.',
    fallback: 'adult-inpatient-us',
  },
  GRIP_CDS_SITE_NORMS: {
    meaning:
      "Folder with the site's own panels, rules and sets, laid out and locked like norms/; none or empty: none.",
    fallback: 'none',
  },
  GRIP_CDS_PUBLIC_URL: {
    meaning:
      'Address of the service as its clients know it, e.g. https://grip.example.org; none: as each request says.',
    fallback: 'none',
  },
  GRIP_CDS_CLIENTS: {
    meaning:
      'JSON file of the clients that are let in, each with the SHA-256 of its bearer token; none: access is open.',
    fallback: 'none',
  },
  GRIP_CDS_LOCAL_CODES: {
    meaning:
      "ConceptMap (JSON file) of the site's own codes; shipped: the invented one in terminology/; none: no local code is read.",
    fallback: 'shipped',
  },
  GRIP_CDS_LOG_LEVEL: { meaning: 'fatal, error, warn, info, debug or silent.', fallback: 'info' },
} as const;

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || (isIPv4(host) && host.startsWith('127.'));
}

const form = z.strictObject({
  GRIP_CDS_HOST: z.string().refine(isLoopback, {
    error: 'must be a loopback address (127.0.0.1, ::1, localhost): this version has no TLS of its own',
  }),
  GRIP_CDS_PORT: z
    .string()
    .regex(/^\d{1,5}$/, { error: 'must be a port number' })
    .transform(Number)
    .refine((port) => port <= 65_535, { error: 'must be a port number' }),
  GRIP_CDS_AUDIT_FILE: z.string().min(1, { error: 'must be a file name' }),
  GRIP_CDS_PANEL: z.string().regex(/^[a-z0-9-]+$/, { error: 'must be the id of a panel' }),
  GRIP_CDS_SITE_NORMS: z
    .string()
    .transform((folder) => (folder === 'none' ? undefined : folder || undefined)),
  GRIP_CDS_PUBLIC_URL: z
    .string()
    .regex(/^(none|https?:\/\/[^\s/?#@]+(\/[^\s/?#]+)*)$/, {
      error: 'must be an http or https address without a slash at its end, or none',
    })
    .transform((url) => (url === 'none' ? null : url)),
  GRIP_CDS_CLIENTS: z
    .string()
    .min(1, { error: 'must be a file name, or none' })
    .transform((file) => (file === 'none' ? null : file)),
  GRIP_CDS_LOCAL_CODES: z.string().min(1, { error: 'must be a file name, shipped or none' }),
  GRIP_CDS_LOG_LEVEL: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'silent'], {
    error: 'must be fatal, error, warn, info, debug or silent',
  }),
});

export interface Config {
  readonly host: string;
  readonly port: number;
  readonly auditFile: string;
  readonly panelId: string;
  /** Folder of the site's own norms; absent: there is none. */
  readonly siteNorms?: string | undefined;
  /** Without a slash at its end; null: as each request says. */
  readonly publicUrl: string | null;
  /** File of the clients; null: access is open. */
  readonly clientsFile: string | null;
  /** File of the site's ConceptMap; `none`: no local code is read; absent: the shipped one. */
  readonly localCodes?: string | undefined;
  readonly logLevel: string;
}

/** A client that is let in. */
export interface ConfiguredClient {
  readonly name: string;
  /** SHA-256 of its bearer token, lower-case hexadecimal. */
  readonly tokenSha256: string;
  /** Which filed results it may read; absent: those of its own calls. */
  readonly reads?: 'own' | 'all' | undefined;
}

const clientsForm = z.strictObject({
  clients: z
    .array(
      z.strictObject({
        name: z.string().regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$/),
        tokenSha256: z.string().regex(/^[0-9a-f]{64}$/),
        reads: z.enum(['own', 'all']).optional(),
      }),
    )
    .min(1),
});

/**
 * @param text of the file that GRIP_CDS_CLIENTS names: `{"clients":[{"name","tokenSha256","reads"?}]}`
 * @throws ConfigFault naming what is wrong; a client may have several tokens, a token one client only
 */
export function readClients(text: string): readonly ConfiguredClient[] {
  const { clients } = parseClients(text);
  const digests = new Set(clients.map(({ tokenSha256 }) => tokenSha256));
  if (digests.size < clients.length)
    throw new ConfigFault('GRIP_CDS_CLIENTS: two clients have the same token');
  return clients;
}

function parseClients(text: string): z.infer<typeof clientsForm> {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch (cause) {
    throw new ConfigFault('GRIP_CDS_CLIENTS is not JSON', { cause });
  }
  const parsed = clientsForm.safeParse(json);
  if (parsed.success) return parsed.data;
  const path = parsed.error.issues[0]?.path.join('.') || 'the file';
  throw new ConfigFault(`GRIP_CDS_CLIENTS: ${path} does not have the required form`);
}

/**
 * @param environment usually process.env; only names that begin with GRIP_CDS_ count
 * @throws ConfigFault naming the variable that is unknown or wrong
 */
export function readConfig(environment: Readonly<Record<string, string | undefined>> = process.env): Config {
  const given = Object.entries(environment).filter(([name]) => name.startsWith('GRIP_CDS_'));
  const unknown = given.find(([name]) => !Object.hasOwn(SETTINGS, name));
  if (unknown)
    throw new ConfigFault(
      `${unknown[0]} is not a setting of this service; settings: ${Object.keys(SETTINGS).join(', ')}`,
    );
  const fallbacks = Object.entries(SETTINGS).map(([name, { fallback }]) => [name, fallback]);
  const parsed = form.safeParse(Object.fromEntries([...fallbacks, ...given]));
  if (!parsed.success) {
    const issue = parsed.error.issues[0];
    throw new ConfigFault(`${String(issue?.path[0])} ${issue?.message}`);
  }
  const values = parsed.data;
  return Object.freeze({
    host: values.GRIP_CDS_HOST,
    port: values.GRIP_CDS_PORT,
    auditFile: values.GRIP_CDS_AUDIT_FILE,
    panelId: values.GRIP_CDS_PANEL,
    siteNorms: values.GRIP_CDS_SITE_NORMS,
    publicUrl: values.GRIP_CDS_PUBLIC_URL,
    clientsFile: values.GRIP_CDS_CLIENTS,
    localCodes: values.GRIP_CDS_LOCAL_CODES === 'shipped' ? undefined : values.GRIP_CDS_LOCAL_CODES,
    logLevel: values.GRIP_CDS_LOG_LEVEL,
  });
}
