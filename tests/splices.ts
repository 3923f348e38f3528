/** Any JSON anywhere in valid data: values that tempt a reader, and where they are put. */
import fc from 'fast-check';

const TEMPTING: readonly unknown[] = [
  ...[
    null,
    true,
    false,
    0,
    -1,
    1e308,
    5e-324,
    1e21,
    '',
    ' ',
    '31.5',
    [],
    [null],
    {},
    { value: {} },
    { toString: null },
  ],
  ...['__proto__', 'constructor', 'toString', '<script>alert(1)</script>', '\u0000', '\ufeff', '\n|\r#'],
  ...['2026-02-30', '0000-01-01', '9999-12-31T23:59:59.999Z', '2026-11-16T14:05:00+14:00', '2026'],
  ...['\ud800', 'a\udc00b', '2026-11-16T14:05:60Z'],
  ...['Patient/invented-1', 'urn:uuid:0', '#contained', 'Observation', 'Patient', 'kg', '[lb_av]'],
  'x'.repeat(5_000),
];

/** What a careless or hostile client may put anywhere. */
export const junk = fc.oneof(fc.constantFrom(...TEMPTING), fc.jsonValue({ maxDepth: 3 }));

export interface Splice {
  readonly at: number;
  readonly how: 'replace' | 'add' | 'remove' | 'repeat';
  readonly key: string;
  readonly value: unknown;
}

export const splices: fc.Arbitrary<readonly Splice[]> = fc.array(
  fc.record({
    at: fc.nat(10_000),
    how: fc.constantFrom('replace', 'add', 'remove', 'repeat'),
    key: fc.oneof(
      fc.constantFrom('extension', 'id', 'meta', 'resource', 'entry', 'constructor'),
      fc.string(),
    ),
    value: junk,
  }),
  { minLength: 1, maxLength: 4 },
);

type Place = { readonly parent: Record<string, unknown>; readonly key: string };

function placesIn(value: unknown): Place[] {
  if (typeof value !== 'object' || value === null) return [];
  const parent = value as Record<string, unknown>;
  return Object.keys(parent).flatMap((key) => [{ parent, key }, ...placesIn(parent[key])]);
}

/** A copy of valid data with these changes, each at one of its members, however deep. */
export function spliced(valid: object, changes: readonly Splice[]): object {
  const body = structuredClone(valid);
  for (const { at, how, key, value: given } of changes) {
    // A copy: one value may be spliced in twice, the second time into itself.
    const value = structuredClone(given);
    const places = placesIn(body);
    const place = places[at % Math.max(1, places.length)];
    if (!place) return body;
    const { parent } = place;
    if (how === 'replace') parent[place.key] = value;
    else if (how === 'remove') delete parent[place.key];
    // The length of an array is no member of its JSON.
    else if (how === 'add' && !(Array.isArray(parent) && key === 'length'))
      Object.defineProperty(parent, key, { value, enumerable: true, configurable: true, writable: true });
    else if (how === 'repeat' && Array.isArray(parent))
      parent.push(structuredClone(parent[Number(place.key)]));
  }
  return body;
}
