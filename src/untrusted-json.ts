/** JSON text from outside -> a value, without what has no place in FHIR or CDS Hooks but in attacks. */

/** @throws SyntaxError */
export function parseUntrusted(text: string): unknown {
  return NEEDS_CARE.test(text) ? JSON.parse(text, refuseUnsafe) : JSON.parse(text);
}

/** Escapes can hide a name, or make half a character, which no file and no hash can keep. */
const NEEDS_CARE = /__proto__|\\u(?:d[89a-f]|00[567])/i;

function refuseUnsafe(name: string, value: unknown): unknown {
  if (name === '__proto__') throw new SyntaxError('a member is called __proto__');
  if (!name.isWellFormed() || (typeof value === 'string' && !value.isWellFormed())) {
    throw new SyntaxError('a text holds half a surrogate pair');
  }
  return value;
}

/** Far above what FHIR comes to: what goes through a value step by step, such as JSON.stringify, gives up at some 3,000. */
const DEEPEST = 64;
/** More than 1 MB of Observations holds; so many are parsed within some 10 ms. */
const MOST_VALUES = 100_000;

/** Whether a text can be parsed without holding up everybody else: looked at before it is parsed. */
export function isParsedSoon(text: string): boolean {
  let depth = 0;
  let values = 0;
  for (let at = 0; at < text.length; at += 1) {
    const character = text.charCodeAt(at);
    if (character === QUOTE) at = endOfText(text, at);
    else if (character === BRACKET || character === BRACE) {
      depth += 1;
      values += 1;
      if (depth > DEEPEST) return false;
    } else if (character === BRACKET + 2 || character === BRACE + 2) depth -= 1;
    else if (character === COMMA) values += 1;
  }
  return values <= MOST_VALUES;
}

const [QUOTE, COMMA, BRACKET, BACKSLASH, BRACE] = [0x22, 0x2c, 0x5b, 0x5c, 0x7b];

/** @param start of its opening quote */
function endOfText(text: string, start: number): number {
  let at = start + 1;
  for (let character = text.charCodeAt(at); at < text.length && character !== QUOTE; ) {
    at += character === BACKSLASH ? 2 : 1;
    character = text.charCodeAt(at);
  }
  return at;
}
