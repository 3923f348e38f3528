/**
 * JSON Canonicalization Scheme (RFC 8785): the one text of a JSON value, so that its hash means the value.
 * ECMAScript's own serialisation of numbers and strings is the scheme's; what is left is the order of members.
 */

/** Strings that are written as they are, between quotation marks. */
const PLAIN = /^[\x20\x21\x23-\x5b\x5d-\x7e]*$/;

/**
 * @param value JSON data; members that are undefined are left out
 * @throws TypeError for a number that is not finite, half a surrogate pair, or anything that JSON does not have
 */
export function canonicalJson(value: unknown): string {
  if (typeof value === 'string') return canonicalString(value);
  if (typeof value === 'number' && !Number.isFinite(value)) throw new TypeError('a number is not finite');
  if (typeof value === 'number' || typeof value === 'boolean' || value === null) return String(value);
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`;
  if (typeof value === 'object') return canonicalObject(value as Record<string, unknown>);
  throw new TypeError(`JSON has no ${typeof value}`);
}

function canonicalString(value: string): string {
  if (PLAIN.test(value)) return `"${value}"`;
  if (!value.isWellFormed()) throw new TypeError('a text holds half a surrogate pair');
  return JSON.stringify(value);
}

/** Members in the order of their names' UTF-16 code units, which is how ECMAScript sorts strings. */
function canonicalObject(value: Readonly<Record<string, unknown>>): string {
  const prototype = Object.getPrototypeOf(value);
  if (prototype !== Object.prototype && prototype !== null)
    throw new TypeError('an object is not plain data');
  let text = '';
  for (const name of Object.keys(value).sort()) {
    const member = value[name];
    if (member !== undefined) text += `${text && ','}${canonicalJson(name)}:${canonicalJson(member)}`;
  }
  return `{${text}}`;
}
