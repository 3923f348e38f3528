/** The environment -> one frozen configuration. The only reader of process.env. */
import { isIP, isIPv4 } from 'node:net';
import { z } from 'zod';

/** A start that must not happen; the message names the variable. */
export class ConfigFault extends Error {
  override readonly name = 'ConfigFault';
}

/** Each setting with its default; README lists the same. */
export const SETTINGS = {
  GRIP_CDS_HOST: {
    meaning:
      'Address to listen on; another than loopback only with GRIP_CDS_CLIENTS and an https GRIP_CDS_PUBLIC_URL.',
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
      'JSON file of the clients that are let in, by bearer token or by tokens that they sign; none: access is open.',
    fallback: 'none',
  },
  GRIP_CDS_FHIR_SERVERS: {
    meaning:
      'Base addresses of FHIR servers, between commas, that may be asked for what a hook call lacks while access is open; none: none.',
    fallback: 'none',
  },
  GRIP_CDS_CORS_ORIGINS: {
    meaning: 'Origins of browser clients, between commas, e.g. https://ehr.example.org; none: none.',
    fallback: 'none',
  },
  GRIP_CDS_CHARTED_HOOK: {
    meaning:
      "Name of the organisation's own hook for a measurement that was just charted, e.g. org.example.grip-charted; none: not offered.",
    fallback: 'none',
  },
  GRIP_CDS_LOCAL_CODES: {
    meaning:
      "ConceptMap (JSON file) of the site's own codes; shipped: the invented one in terminology/; none: no local code is read.",
    fallback: 'shipped',
  },
  GRIP_CDS_LOG_LEVEL: { meaning: 'fatal, error, warn, info, debug or silent.', fallback: 'info' },
} as const;

const ADDRESS = /^https?:\/\/[^\s/?#@]+(\/[^\s/?#]+)*$/;
const ORIGIN = /^https?:\/\/[^\s/?#@*]+$/;
/** CDS Hooks 2.0.1: an organisation's own hook has a reverse-domain name. */
const REVERSE_DOMAIN = /^[a-z][a-z0-9-]*(\.[a-z0-9][a-z0-9-]*){2,}$/;

/** `none`, or texts between commas that all fit. */
function listOf(fits: (text: string) => boolean, error: string) {
  return z
    .string()
    .transform((text) => (text === 'none' ? [] : text.split(',')))
    .refine((texts) => texts.every(fits), { error });
}

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || (isIPv4(host) && host.startsWith('127.'));
}

/** T1, T13: https, or http where nothing leaves this machine. */
export function isGuarded(address: string): boolean {
  const url = URL.parse(address);
  if (url?.protocol === 'https:') return true;
  return url?.protocol === 'http:' && isLoopback(url.hostname.replace(/^\[(.*)\]$/, '$1'));
}

export const isGuardedAddress = (text: string) => ADDRESS.test(text) && isGuarded(text);

const form = z.strictObject({
  // Whether others than loopback are accepted is seen when everything is read.
  GRIP_CDS_HOST: z
    .string()
    .refine((host) => isLoopback(host) || (/^[0-9a-f.:]+$/i.test(host) && isIP(host) > 0), {
      error: 'must be 127.0.0.1, ::1, localhost, or an IP address',
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
  GRIP_CDS_FHIR_SERVERS: listOf(
    isGuardedAddress,
    'must be https addresses (http on this machine only) without a slash at their end, between commas, or none',
  ),
  GRIP_CDS_CORS_ORIGINS: listOf(
    (text) => ORIGIN.test(text),
    'must be origins between commas, e.g. https://ehr.example.org, or none; * is not accepted',
  ),
  GRIP_CDS_CHARTED_HOOK: z
    .string()
    .refine((name) => name === 'none' || REVERSE_DOMAIN.test(name), {
      error: 'must be a reverse-domain name, e.g. org.example.grip-charted, or none',
    })
    .transform((name) => (name === 'none' ? null : name)),
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
  /** Base URLs that open access may have asked for missing data. */
  readonly fhirServers: readonly string[];
  readonly corsOrigins: readonly string[];
  /** Name of the organisation's own hook; null: it is not offered. */
  readonly chartedHook: string | null;
  /** File of the site's ConceptMap; `none`: no local code is read; absent: the shipped one. */
  readonly localCodes?: string | undefined;
  readonly logLevel: string;
}

/**
 * T1, T13: what leaves this machine is encrypted, by a proxy in front of the service, only clients that are named are
 * answered, and each of them has the FHIR servers that it names.
 * @throws ConfigFault
 */
function requireTrust(values: z.infer<typeof form>): void {
  const { GRIP_CDS_HOST: host, GRIP_CDS_CLIENTS: clients, GRIP_CDS_PUBLIC_URL: url } = values;
  if (!isLoopback(host) && (clients === null || url === null || !url.startsWith('https:'))) {
    throw new ConfigFault(
      'GRIP_CDS_HOST must be a loopback address (127.0.0.1, ::1, localhost) unless GRIP_CDS_CLIENTS names the clients and ' +
        'GRIP_CDS_PUBLIC_URL is https: the service has no TLS of its own, a proxy in front of it has',
    );
  }
  if (clients !== null && url !== null && !isGuarded(url)) {
    throw new ConfigFault(
      'GRIP_CDS_PUBLIC_URL must be https (http on this machine only) where clients are named: they send credentials',
    );
  }
  if (clients !== null && values.GRIP_CDS_FHIR_SERVERS.length > 0) {
    throw new ConfigFault(
      'GRIP_CDS_FHIR_SERVERS must be none where clients are named: give each client its fhirServers in GRIP_CDS_CLIENTS',
    );
  }
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
  requireTrust(values);
  return Object.freeze({
    host: values.GRIP_CDS_HOST,
    port: values.GRIP_CDS_PORT,
    auditFile: values.GRIP_CDS_AUDIT_FILE,
    panelId: values.GRIP_CDS_PANEL,
    siteNorms: values.GRIP_CDS_SITE_NORMS,
    publicUrl: values.GRIP_CDS_PUBLIC_URL,
    clientsFile: values.GRIP_CDS_CLIENTS,
    fhirServers: values.GRIP_CDS_FHIR_SERVERS,
    corsOrigins: values.GRIP_CDS_CORS_ORIGINS,
    chartedHook: values.GRIP_CDS_CHARTED_HOOK,
    localCodes: values.GRIP_CDS_LOCAL_CODES === 'shipped' ? undefined : values.GRIP_CDS_LOCAL_CODES,
    logLevel: values.GRIP_CDS_LOG_LEVEL,
  });
}
