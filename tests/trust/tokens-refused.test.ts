/** Tokens that are not believed (STANDARDS T3 to T9): each is a valid one, broken in one way, and all get the same answer. */
import { createHmac, type webcrypto } from 'node:crypto';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import fc from 'fast-check';
import { exportJWK, exportSPKI, importJWK, SignJWT } from 'jose';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { HOOK_DOOR, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import {
  AT,
  bearer,
  claimsOf,
  clientWith,
  DISCOVERY,
  ISSUER,
  newSigner,
  openWithClients,
  PUBLIC_URL,
  type Said,
  SERVICE,
  type ServiceWithClients,
  type Signer,
  sign,
} from './sign-for-tests.ts';

let es: Signer;
let rs: Signer;
let stranger: Signer;
let service: ServiceWithClients;
/** A server that must never be asked. */
let elsewhere: Server;
let asked: string[] = [];
let elsewhereUrl = '';

beforeAll(async () => {
  [es, rs, stranger] = await Promise.all([newSigner('ES384'), newSigner('RS384'), newSigner('ES384')]);
  elsewhere = createServer((request, reply) => {
    asked.push(request.url ?? '');
    reply.end(JSON.stringify({ keys: [stranger.jwk] }));
  });
  await new Promise<void>((resolve) => elsewhere.listen(0, '127.0.0.1', resolve));
  elsewhereUrl = `http://127.0.0.1:${(elsewhere.address() as AddressInfo).port}/keys`;
  service = await openWithClients([
    clientWith([es, rs], { keySet: 'https://ehr.alder-reach.example/keys', tenants: ['north', 'south'] }),
  ]);
});
beforeEach(() => {
  asked = [];
});
afterAll(async () => {
  await service.close();
  elsewhere.close();
});

/** Tenant as configured, so that what is broken is the only fault. */
const NORTH = { tenant: 'north' };
const valid = (signer: Signer, said: Said = {}) =>
  sign(signer, { ...said, claims: { ...NORTH, ...said.claims } });
const call = (authorization: string | undefined, url = SERVICE) =>
  service.app.inject({
    method: url === DISCOVERY ? 'GET' : 'POST',
    url,
    headers: {
      'content-type': 'application/json',
      ...(authorization === undefined ? {} : { authorization }),
    },
    ...(url === DISCOVERY ? {} : { payload: JSON.stringify(HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS)) }),
  });

/** The bytes and headers of a call without credentials: all that anybody is told. */
async function expectRefused(token: string, url = SERVICE): Promise<void> {
  const before = service.store.head();
  const [none, reply] = [await call(undefined, url), await call(`Bearer ${token}`, url)];
  expect(reply.statusCode, token).toBe(401);
  expect(reply.payload).toBe(none.payload);
  const headersOf = ({ headers }: typeof none) => ({ ...headers, date: '' });
  expect(headersOf(reply)).toEqual(headersOf(none));
  expect(reply.headers['www-authenticate']).toBe('Bearer');
  expect(service.store.head()).toEqual(before);
  expect(asked).toEqual([]);
}

const part = (value: unknown) => Buffer.from(JSON.stringify(value), 'utf8').toString('base64url');
const textPart = (text: string) => Buffer.from(text, 'utf8').toString('base64url');

/** Signed over exactly this text of the header and claims, so that nothing but their form is wrong. */
async function signText(signer: Signer, header: string, claims: string): Promise<string> {
  const input = `${textPart(header)}.${textPart(claims)}`;
  const algorithm =
    signer.algorithm === 'ES384' ? { name: 'ECDSA', hash: 'SHA-384' } : { name: 'RSASSA-PKCS1-v1_5' };
  const bytes = await crypto.subtle.sign(
    algorithm,
    signer.privateKey as webcrypto.CryptoKey,
    Buffer.from(input),
  );
  return `${input}.${Buffer.from(bytes).toString('base64url')}`;
}

describe('the valid token that the others are broken from', () => {
  it.each(['ES384', 'RS384'] as const)('T6: signed with %s is let in', async (algorithm) => {
    const reply = await call(`Bearer ${await valid(algorithm === 'ES384' ? es : rs)}`);
    expect(reply.statusCode).toBe(200);
  });

  it('T4: spelled by hand is let in, so what the broken ones differ in is what they are refused for', async () => {
    const header = JSON.stringify({ alg: 'ES384', kid: es.kid, typ: 'JWT' });
    const token = await signText(es, header, JSON.stringify({ ...claimsOf(), ...NORTH }));
    expect((await call(`Bearer ${token}`)).statusCode).toBe(200);
  });
});

describe('T4: a header', () => {
  it.each<readonly [string, Record<string, unknown>]>([
    ['without kid', { kid: undefined }],
    ['with an empty kid', { kid: '' }],
    ['whose kid is a number', { kid: 7 }],
    ['without typ', { typ: undefined }],
    ['of another typ', { typ: 'at+jwt' }],
    ['whose typ is in other letters', { typ: 'jwt' }],
    ['with a kid of nobody', { kid: 'another' }],
    ['with the kid of the other key: its type does not fit', { kid: 'RS' }],
    ['with a jku that is a list', { jku: ['https://ehr.alder-reach.example/keys'] }],
  ])('T4: %s is refused', async (_what, header) => {
    await expectRefused(await valid(es, { header: header.kid === 'RS' ? { kid: rs.kid } : header }));
  });

  it('T4: that brings its own key is refused, also when that key fits the signature (jwk, x5c, x5u)', async () => {
    for (const more of [
      { jwk: await exportJWK(stranger.privateKey) },
      { jwk: stranger.jwk },
      { x5c: ['MIIB'] },
      { x5u: elsewhereUrl },
    ]) {
      await expectRefused(await valid(stranger, { header: { kid: es.kid, ...more } }));
      await expectRefused(await valid(es, { header: more }));
    }
  });

  it.each([
    ['that asks for more to be understood', { crit: ['exp'], exp: AT + 300 }],
    ['that asks for nothing more to be understood', { crit: [] }],
    ['whose payload is not encoded', { b64: false }],
    ['whose payload is encoded, said so', { b64: true }],
  ])('T4: %s is refused (crit, b64)', async (_what, more) => {
    const header = { alg: 'ES384', kid: es.kid, typ: 'JWT', ...more };
    await expectRefused(
      await signText(es, JSON.stringify(header), JSON.stringify({ ...claimsOf(), ...NORTH })),
    );
  });

  it('T4: or claims with a member twice are refused, whichever a reader would take', async () => {
    const claims = JSON.stringify({ ...claimsOf(), ...NORTH });
    const header = JSON.stringify({ alg: 'ES384', kid: es.kid, typ: 'JWT' });
    const twice = [
      [header.replace('{', '{"alg":"none",'), claims],
      [header.replace('{', `{"k\\u0069d":"other",`), claims],
      [header.replace('}', ',"typ":"JWT"}'), claims],
      [header, claims.replace('{', '{"exp":1,')],
      [header, claims.replace('}', `,"aud":"${PUBLIC_URL}${SERVICE}"}`)],
      [header, claims.replace('}', ',"more":{"a":1,"a":2}}')],
    ] as const;
    for (const [head, body] of twice) await expectRefused(await signText(es, head, body));
    // Told apart from members of one name in different objects, and from texts that look like members.
    const once = claims.replace('}', ',"more":[{"a":1},{"a":"\\"a\\":1,\\"a\\":2"}],"exp2":1}');
    expect((await call(`Bearer ${await signText(es, header, once)}`)).statusCode).toBe(200);
  });
});

describe('T6: an algorithm', () => {
  it.each(['none', 'None', 'NONE', ''])('T6: %j is refused, with and without a signature', async (alg) => {
    const head = part({ alg, kid: es.kid, typ: 'JWT' });
    const body = part({ ...claimsOf(), ...NORTH });
    for (const signature of ['', 'AAAA', textPart('none')])
      await expectRefused(`${head}.${body}.${signature}`);
  });

  it.each(['HS256', 'HS384', 'HS512'])(
    'T6: %s with the public key as the secret is refused, in each form of it',
    async (alg) => {
      const publicKey = await importJWK(es.jwk, 'ES384', { extractable: true });
      if (publicKey instanceof Uint8Array) throw new Error('no public key');
      const secrets = [
        await exportSPKI(publicKey),
        JSON.stringify(es.jwk),
        JSON.stringify({ keys: [es.jwk] }),
        '',
      ];
      for (const secret of secrets) {
        const input = `${part({ alg, kid: es.kid, typ: 'JWT' })}.${part({ ...claimsOf(), ...NORTH })}`;
        const mac = createHmac(`sha${alg.slice(2)}`, secret)
          .update(input)
          .digest('base64url');
        await expectRefused(`${input}.${mac}`);
      }
    },
  );

  it.each(['RS256', 'RS512', 'PS384'])(
    'T6: %s by the right RSA key is refused: it is not listed',
    async (alg) => {
      const key = await importJWK(await exportJWK(rs.privateKey), alg);
      const token = await new SignJWT({ ...claimsOf(), ...NORTH })
        .setProtectedHeader({ alg, kid: rs.kid, typ: 'JWT' })
        .sign(key);
      await expectRefused(token);
    },
  );

  it('T6: of the header that is not that of the key is refused', async () => {
    for (const [signer, alg] of [
      [es, 'RS384'],
      [rs, 'ES384'],
    ] as const) {
      const header = JSON.stringify({ alg, kid: signer.kid, typ: 'JWT' });
      await expectRefused(await signText(signer, header, JSON.stringify({ ...claimsOf(), ...NORTH })));
    }
  });
});

describe('T7: an issuer or key set that is not listed', () => {
  it.each([
    'https://ehr.alder-reach.example',
    'HTTPS://ehr.alder-reach.example/',
    'https://other.example/',
    `${ISSUER} `,
  ])('T7: (iss %j) is refused', async (iss) => expectRefused(await valid(es, { claims: { iss } })));

  it('T7: (jku) is refused and never asked, though it would answer with the key that signed', async () => {
    for (const jku of [elsewhereUrl, `${elsewhereUrl}?x`, elsewhereUrl.replace('127.0.0.1', 'localhost')])
      for (const signer of [stranger, es])
        await expectRefused(await valid(signer, { header: { kid: signer.kid, jku } }));
    // The one that is listed is compared only: the keys were given out of band.
    const listed = await valid(es, { header: { jku: 'https://ehr.alder-reach.example/keys' } });
    expect((await call(`Bearer ${listed}`)).statusCode).toBe(200);
    for (const jku of ['https://ehr.alder-reach.example/keys/', 'https://EHR.alder-reach.example/keys', ''])
      await expectRefused(await valid(es, { header: { jku } }));
  });

  it('T8: keys out of band without a listed address: a jku is refused, its absence is not', async () => {
    const own = await openWithClients([clientWith([es])]);
    try {
      const status = async (header: Record<string, unknown>) =>
        (await own.get(DISCOVERY, bearer(await sign(es, { header, claims: claimsOf(DISCOVERY) })))).status;
      expect(await status({})).toBe(200);
      expect(await status({ jku: elsewhereUrl })).toBe(401);
      expect(asked).toEqual([]);
    } finally {
      await own.close();
    }
  });
});

describe('T5: claims', () => {
  const audience = `${PUBLIC_URL}${SERVICE}`;

  it.each<readonly [string, unknown]>([
    ['of discovery', `${PUBLIC_URL}${DISCOVERY}`],
    ['of another service', `${PUBLIC_URL}/cds-services/another`],
    ['of its feedback', `${audience}/feedback`],
    ['of another host', audience.replace('grip.', 'other.')],
    ['without TLS', audience.replace('https', 'http')],
    ['with a slash at its end', `${audience}/`],
    ['with a query', `${audience}?x=1`],
    ['in other letters', audience.toUpperCase()],
    ['that is a path', SERVICE],
    ['that is the base', PUBLIC_URL],
    ['of nobody', []],
    ['of others only', [`${PUBLIC_URL}${DISCOVERY}`]],
    ['of others too', [audience, 'https://other.example.org/cds-services']],
    ['that is a list in a list', [[audience]]],
    ['that is null', null],
    ['that is missing', undefined],
  ])('T5: for an address %s are refused (aud)', async (_what, aud) => {
    await expectRefused(await valid(es, { claims: { aud } }));
  });

  it('T5: for exactly the address called are let in, as a text and as a list of one', async () => {
    for (const aud of [audience, [audience], [audience, audience]])
      expect((await call(`Bearer ${await valid(es, { claims: { aud } })}`)).statusCode).toBe(200);
    const forDiscovery = { aud: [`${PUBLIC_URL}${DISCOVERY}`] };
    expect((await call(`Bearer ${await valid(es, { claims: forDiscovery })}`, DISCOVERY)).statusCode).toBe(
      200,
    );
    await expectRefused(await valid(es, { claims: { aud: audience } }), DISCOVERY);
  });

  it.each<readonly [string, Record<string, unknown>]>([
    ['that have expired', { exp: AT - 31 }],
    ['that expired a year ago', { iat: AT - 31_536_000, exp: AT - 31_535_900 }],
    ['that were made in the future', { iat: AT + 31, exp: AT + 331 }],
    ['that are not valid before later', { nbf: AT + 31 }],
    ['that live longer than an hour', { exp: AT + 3_631 }],
    ['that live for ever', { exp: 1e300 }],
    ['that end before they begin', { exp: AT - 20, iat: AT - 10 }],
    ['without exp', { exp: undefined }],
    ['without iat', { iat: undefined }],
    ['whose exp is a text', { exp: String(AT + 300) }],
    ['whose iat is a text', { iat: String(AT) }],
    ['in milliseconds', { exp: (AT + 300) * 1_000, iat: AT * 1_000 }],
    ['without jti', { jti: undefined }],
    ['with an empty jti', { jti: '' }],
    ['whose jti is a number', { jti: 7 }],
    ['with a jti of 257 characters', { jti: 'j'.repeat(257) }],
    ['without iss', { iss: undefined }],
  ])('T5: %s are refused', async (_what, claims) => expectRefused(await valid(es, { claims })));

  it('T5: with numbers that JSON has no end for are refused', async () => {
    const header = JSON.stringify({ alg: 'ES384', kid: es.kid, typ: 'JWT' });
    const claims = JSON.stringify({ ...claimsOf(), ...NORTH });
    for (const number of ['1e999', '-1e999', '1e400'])
      await expectRefused(await signText(es, header, claims.replace(`"exp":${AT + 300}`, `"exp":${number}`)));
  });

  it('T5: within the tolerance of clocks, of the longest life and the longest jti are let in', async () => {
    for (const claims of [
      { exp: AT - 29, iat: AT - 300 },
      { iat: AT + 29 },
      { exp: AT + 3_600 },
      { exp: AT + 300.5, iat: AT + 0.25 },
      { jti: 'j'.repeat(256) },
      { nbf: AT },
      { more: { 'org.example.x': [1, null] } },
    ])
      expect((await call(`Bearer ${await valid(es, { claims })}`)).statusCode, JSON.stringify(claims)).toBe(
        200,
      );
  });
});

describe('T9: a tenant', () => {
  it.each<readonly [string, unknown]>([
    ['that is not listed', 'west'],
    ['in other letters', 'North'],
    ['that is missing where tenants are listed', undefined],
    ['that is empty', ''],
    ['that is a list', ['north']],
    ['that is null', null],
  ])('T9: %s is refused', async (_what, tenant) => {
    await expectRefused(await valid(es, { claims: { tenant } }));
  });
});

describe('a text that is no token', () => {
  it('T9: is refused, whatever it looks like', async () => {
    const [header = '', claims = '', signature = ''] = (await valid(es)).split('.');
    const texts = [
      '',
      '.',
      '..',
      header,
      `${header}.${claims}`,
      `${header}.${claims}.`,
      `.${claims}.${signature}`,
      `${header}..${signature}`,
      `${header}.${claims}.${signature}.`,
      `${header}.${claims}.${signature}.${signature}`,
      `${header}.${claims}.${signature}.AAAA.BBBB`,
      `${header}=.${claims}.${signature}`,
      `${header}.${claims}.${signature}==`,
      `${textPart('null')}.${claims}.${signature}`,
      `${textPart('[]')}.${claims}.${signature}`,
      `${textPart('{')}.${claims}.${signature}`,
      `${Buffer.from([0xff, 0xfe]).toString('base64url')}.${claims}.${signature}`,
      `${header}.${textPart('"claims"')}.${signature}`,
      part({ payload: claims, protected: header, signature }),
    ];
    for (const text of texts) await expectRefused(text);
  });

  it('T9: of more than 4,096 characters is refused, though everything in it is right', async () => {
    const just = await valid(rs, { claims: { more: 'm'.repeat(2_000) } });
    expect(just.length).toBeLessThan(4_096);
    expect((await call(`Bearer ${just}`)).statusCode).toBe(200);
    const large = await valid(rs, { claims: { more: 'm'.repeat(3_000) } });
    expect(large.length).toBeGreaterThan(4_096);
    await expectRefused(large);
  });

  it('T9: that is valid is refused at every other address: it was signed for a hook', async () => {
    for (const url of [
      '/fhir/Observation',
      '/fhir',
      '/cds-services/',
      '/review',
      '/cds-services/a/b/c',
      '/',
    ]) {
      const token = await valid(es, { claims: { aud: `${PUBLIC_URL}${url}` } });
      const reply = await service.app.inject({ method: 'GET', url, headers: bearer(token) });
      expect(reply.statusCode, url).toBe(401);
    }
  });
});

describe('a signature', () => {
  it('T9: of another key under a known kid is refused', async () => {
    await expectRefused(await valid(stranger, { header: { kid: es.kid } }));
  });

  it('T9: of another token is refused', async () => {
    const [one, other] = [await valid(es), await valid(es)];
    const [header, claims] = one.split('.');
    await expectRefused(`${header}.${claims}.${other.split('.')[2]}`);
  });

  it('T9: that is all zeros, or r and s of zero and of the order, is refused', async () => {
    const [header, claims] = (await valid(es)).split('.');
    for (const bytes of [Buffer.alloc(96), Buffer.alloc(96, 0xff), Buffer.alloc(0), Buffer.alloc(97, 1)])
      await expectRefused(`${header}.${claims}.${bytes.toString('base64url')}`);
  });

  it('T9: written otherwise is refused: spare bits of the last character', async () => {
    const token = await valid(rs);
    const letters = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_';
    const last = letters.indexOf(token.at(-1) ?? '');
    await expectRefused(token.slice(0, -1) + letters[last ^ 1]);
  });

  it('T9: any change of a valid token is refused (property)', async () => {
    const tokens = await Promise.all([valid(es), valid(rs)]);
    const letters = [...'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.'];
    const change = fc.oneof(
      fc.record({ how: fc.constant('replace' as const), at: fc.nat(), by: fc.constantFrom(...letters) }),
      fc.record({ how: fc.constant('insert' as const), at: fc.nat(), by: fc.constantFrom(...letters) }),
      fc.record({ how: fc.constant('remove' as const), at: fc.nat(), by: fc.constant('') }),
      fc.record({ how: fc.constant('swap' as const), at: fc.nat(), by: fc.constant('') }),
    );
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...tokens),
        fc.array(change, { minLength: 1, maxLength: 3 }),
        async (token, changes) => {
          const changed = changes.reduce((text, { how, at, by }) => {
            const place = at % Math.max(1, text.length);
            const [before, letter, after] = [text.slice(0, place), text[place] ?? '', text.slice(place + 1)];
            if (how === 'replace') return before + by + after;
            if (how === 'insert') return before + by + letter + after;
            if (how === 'remove') return before + after;
            return before + (after[0] ?? '') + letter + after.slice(1);
          }, token);
          fc.pre(changed !== token);
          const reply = await call(`Bearer ${changed}`);
          expect(reply.statusCode).toBe(401);
        },
      ),
      { numRuns: 600 },
    );
    // And the tokens themselves were good.
    for (const token of tokens) expect((await call(`Bearer ${token}`)).statusCode).toBe(200);
  });
});
