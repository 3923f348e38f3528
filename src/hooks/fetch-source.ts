/** Where the missing data of a call may be asked for: the FHIR server that it names, when the client may have it asked, with the token that it gives. */
import type { Caller } from './caller.ts';
import type { Envelope } from './envelope.ts';

/** A FHIR server that may be asked. */
export interface FetchSource {
  /** Base address as it is compared: scheme, host and port, path; without a slash at its end. */
  readonly base: string;
  /** Never recorded, never logged, sent below `base` only. */
  readonly token: string;
}

/** @returns the server, or why none may be asked, as the end of a sentence */
export function findSource(
  { fhirServer, accessToken }: Pick<Envelope, 'fhirServer' | 'accessToken'>,
  { fhirServers }: Pick<Caller, 'fhirServers'>,
): FetchSource | string {
  if (fhirServer === null) return 'the call gives no fhirServer';
  if (accessToken === null) return 'the call gives no fhirAuthorization';
  const base = comparable(fhirServer);
  const isAllowed = base !== undefined && fhirServers.some((allowed) => comparable(allowed) === base);
  if (!isAllowed) return 'this client may not have its fhirServer asked';
  return BEARER.test(accessToken)
    ? { base, token: accessToken }
    : 'its access_token is no bearer token of RFC 6750';
}

/** RFC 6750, b64token: nothing that could end a header. */
const BEARER = /^[A-Za-z0-9._~+/-]+=*$/;

/** Without TLS a token is sent to this machine only (STANDARDS T13). */
const LOOPBACK = /^(?:localhost|127(?:\.\d{1,3}){3}|\[::1\])$/;

/** Undefined: no address of a FHIR server that is ever asked. */
function comparable(address: string): string | undefined {
  if (!URL.canParse(address)) return undefined;
  const { protocol, hostname, username, password, search, hash, origin, pathname } = new URL(address);
  const isPrivate = protocol === 'https:' || (protocol === 'http:' && LOOPBACK.test(hostname));
  if (!isPrivate || username || password || search || hash) return undefined;
  return `${origin}${pathname.replace(/\/$/, '')}`;
}

/** Whether an address lies below the base of the server: the token goes nowhere else. */
export function isBelow(
  { base }: Pick<FetchSource, 'base'>,
  { origin, pathname, username, password }: URL,
): boolean {
  if (username || password) return false;
  const place = `${origin}${pathname}`;
  return place === base || (place.startsWith(`${base}/`) && PLAIN_PATH.test(place.slice(base.length)));
}

/** Nothing encoded and no `;`: what is a name to us may be a slash, or the way up, to a server or to a proxy before it. */
const PLAIN_PATH = /^[A-Za-z0-9._~$/-]*$/;

/**
 * The address that a prefetch template stands for, as a client of CDS Hooks 2.0 resolves it.
 * @returns undefined where the call does not give what a token names
 */
export function resolveTemplate(
  template: string,
  envelope: Pick<Envelope, 'context' | 'userId'>,
  base: string,
): string | undefined {
  const [path = '', query = ''] = template.split('?', 2);
  const segments = path.split('/').map((segment) => fill(segment, envelope));
  const parameters = query
    .split('&')
    .filter(Boolean)
    .map((parameter) => parameter.split('=', 2))
    .map(([name = '', value = '']) => [name, fill(value, envelope)] as const);
  if (segments.some((segment) => segment === undefined || DOTS.test(segment))) return undefined;
  if (parameters.some(([, value]) => value === undefined)) return undefined;
  const search = new URLSearchParams(
    parameters.map(([name, value]): [string, string] => [name, value ?? '']),
  );
  const place = segments.map((segment) => encodeURIComponent(segment ?? '')).join('/');
  return `${base}/${place}${parameters.length > 0 ? `?${search}` : ''}`;
}

/** As a segment of a path they are no id but a way out of it. */
const DOTS = /^\.{0,2}$/;

function fill(text: string, envelope: Pick<Envelope, 'context' | 'userId'>): string | undefined {
  let isWhole = true;
  const filled = text.replace(/\{\{([^{}]*)\}\}/g, (_token, name: string) => {
    const value = tokenValue(name, envelope);
    isWhole &&= value !== undefined;
    return value ?? '';
  });
  return isWhole ? filled : undefined;
}

/** Tokens of 2.0: a primitive of the first level of the context, or the id of a user of one type. */
const USER_TOKENS: Readonly<Record<string, string>> = {
  userPractitionerId: 'Practitioner',
  userPractitionerRoleId: 'PractitionerRole',
  userPatientId: 'Patient',
  userRelatedPersonId: 'RelatedPerson',
};

function tokenValue(
  token: string,
  { context, userId }: Pick<Envelope, 'context' | 'userId'>,
): string | undefined {
  const [type, id] = userId.split('/', 2);
  if (Object.hasOwn(USER_TOKENS, token)) return USER_TOKENS[token] === type ? id : undefined;
  const field = token.startsWith('context.') ? token.slice('context.'.length) : '';
  const value = Object.hasOwn(context, field) ? context[field] : undefined;
  return typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean'
    ? String(value)
    : undefined;
}
