/** The file of the clients that are let in, and what it may say of each. */
import { z } from 'zod';
import { ConfigFault, isGuarded, isGuardedAddress } from './config.ts';

/** A client that is let in: by a bearer token, by tokens that it signs (CDS Hooks), or by either. */
export interface ConfiguredClient {
  readonly name: string;
  /** SHA-256 of its bearer token, lower-case hexadecimal. */
  readonly tokenSha256?: string | undefined;
  /** How the JSON Web Tokens of its CDS Hooks calls are checked. */
  readonly jwt?: ConfiguredJwt | undefined;
  /** Which filed results it may read; absent: those of its own calls. */
  readonly reads?: 'own' | 'all' | undefined;
  /** Base URLs of FHIR servers that may be asked for what its calls lack; absent: none. */
  readonly fhirServers?: readonly string[] | undefined;
}

export interface ConfiguredJwt {
  /** Exact `iss`. */
  readonly issuer: string;
  /** Address of its key set, the only `jku` accepted. */
  readonly keySet?: string | undefined;
  /** Given out of band: `keySet`, where it is there too, is then compared with `jku` and never fetched. */
  readonly keys?: { readonly keys: readonly Record<string, unknown>[] } | undefined;
  /** Values of `tenant` that are let in; absent: any, and none. */
  readonly tenants?: readonly string[] | undefined;
  /** From `iat` to `exp`; absent: an hour. */
  readonly maxLifeSeconds?: number | undefined;
}

const addressForm = z.string().refine(isGuardedAddress);

/** Ten years: a used token is remembered as long as it lives. */
const MOST_LIFE_SECONDS = 315_360_000;

const jwtForm = z
  .strictObject({
    issuer: z.url(),
    keySet: z.url().refine(isGuarded).optional(),
    keys: z.strictObject({ keys: z.array(z.record(z.string(), z.unknown())).min(1) }).optional(),
    tenants: z.array(z.string().min(1)).min(1).optional(),
    maxLifeSeconds: z.int().positive().max(MOST_LIFE_SECONDS).optional(),
  })
  .refine(({ keySet, keys }) => keySet !== undefined || keys !== undefined);

const clientsForm = z.strictObject({
  clients: z
    .array(
      z
        .strictObject({
          name: z.string().regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$/),
          tokenSha256: z
            .string()
            .regex(/^[0-9a-f]{64}$/)
            .optional(),
          jwt: jwtForm.optional(),
          reads: z.enum(['own', 'all']).optional(),
          fhirServers: z.array(addressForm).optional(),
        })
        .refine(({ tokenSha256, jwt }) => tokenSha256 !== undefined || jwt !== undefined),
    )
    .min(1),
});

/**
 * @param text of the file that GRIP_CDS_CLIENTS names: `{"clients":[{"name","tokenSha256"?,"jwt"?,"reads"?,"fhirServers"?}]}`
 * @throws ConfigFault naming what is wrong; a client may have several tokens, a token one client only
 */
export function readClients(text: string): readonly ConfiguredClient[] {
  const { clients } = parseClients(text);
  const digests = clients.flatMap(({ tokenSha256 }) => tokenSha256 ?? []);
  if (new Set(digests).size < digests.length)
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
  const [issue] = parsed.error.issues;
  const path = issue?.path.join('.') || 'the file';
  throw new ConfigFault(`GRIP_CDS_CLIENTS: ${path} ${faultIn(issue)}`);
}

function faultIn(issue: z.core.$ZodIssue | undefined): string {
  if (issue?.code === 'unrecognized_keys') return `has no member ${issue.keys[0]}`;
  return issue?.message.endsWith('received undefined') ? 'is required' : 'does not have the required form';
}
