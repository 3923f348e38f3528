/** Keys of a client (STANDARDS T7, T8, T9): which are used, how long fetched ones count, and a key server that misbehaves. */
import { generateKeyPairSync } from 'node:crypto';
import { createServer, type RequestListener, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { exportJWK, generateKeyPair, type JWK } from 'jose';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { ConfiguredClient } from '../../src/clients.ts';
import { ConfigFault } from '../../src/config.ts';
import { type Outbound, type OutboundReply, outbound } from '../../src/outbound/outbound.ts';
import { freshMs, keysFrom } from '../../src/trust/key-set.ts';
import { readPublicKey } from '../../src/trust/read-keys.ts';
import { NOW } from '../fixtures.ts';
import {
  bearer,
  claimsOf,
  clientWith,
  DISCOVERY,
  newSigner,
  openWithClients,
  type ServiceWithClients,
  type Signer,
  sign,
} from './sign-for-tests.ts';

const URL_OF_KEYS = 'https://ehr.alder-reach.example/keys';
let signers: readonly Signer[];
let rsa: Signer;
beforeAll(async () => {
  signers = await Promise.all(['a', 'b', 'c'].map((kid) => newSigner('ES384', kid)));
  rsa = await newSigner('RS384', 'r');
});
const signerAt = (index: number) => signers[index] as Signer;

describe('a key', () => {
  const usable = async (jwk: JWK) => readPublicKey({ kid: 'k', ...jwk }) !== undefined;
  const ec = async (curve: 'ES256' | 'ES384' | 'ES512') =>
    exportJWK((await generateKeyPair(curve, { extractable: true })).publicKey);
  const rsaOf = (bits: number) =>
    generateKeyPairSync('rsa', { modulusLength: bits }).publicKey.export({ format: 'jwk' }) as JWK;

  it('T6: of the curve P-384 or of RSA with 2,048 bits is used', async () => {
    expect(readPublicKey(signerAt(0).jwk)).toMatchObject({ kid: 'a', algorithm: 'ES384' });
    expect(readPublicKey(rsa.jwk)).toMatchObject({ kid: 'r', algorithm: 'RS384' });
    expect(await usable({ ...(await ec('ES384')), key_ops: ['verify'] })).toBe(true);
  });

  it('T6: of another kind, curve or length is not', async () => {
    expect(await usable(await ec('ES256'))).toBe(false);
    expect(await usable(await ec('ES512'))).toBe(false);
    expect(await usable(rsaOf(1_024))).toBe(false);
    expect(await usable(rsaOf(2_040))).toBe(false);
    expect(await usable({ kty: 'oct', k: 'c2VjcmV0' })).toBe(false);
    const okp = generateKeyPairSync('ed25519').publicKey.export({ format: 'jwk' }) as JWK;
    expect(await usable(okp)).toBe(false);
  });

  it.each<readonly [string, JWK]>([
    ['for encryption', { use: 'enc' }],
    ['for signing only', { key_ops: ['sign'] }],
    ['for another algorithm', { alg: 'RS256' }],
    ['of the other type by its alg', { alg: 'RS384' }],
    ['without kid', { kid: undefined } as unknown as JWK],
    ['with an empty kid', { kid: '' }],
    ['with a private member', { d: 'AQAB' }],
    ['with a symmetric member', { k: 'AQAB' }],
    ['whose point is not on the curve', { x: 'AAAA' }],
    ['without y', { y: undefined } as unknown as JWK],
  ])('T6: %s is not', (_what, more) => {
    expect(readPublicKey({ ...signerAt(0).jwk, ...more })).toBeUndefined();
  });

  it('T6: a private one is not, even with the public one in it', async () => {
    expect(await usable(await exportJWK(signerAt(0).privateKey))).toBe(false);
    for (const nothing of [null, undefined, 'key', 7, [], {}]) expect(readPublicKey(nothing)).toBeUndefined();
  });
});

describe('T8: keys out of band', () => {
  it.each<readonly [string, unknown, string]>([
    ['that are private', 'private', 'jwt.keys.keys.1 is a private key: give its public part only'],
    ['of another curve', 'P-256', 'jwt.keys.keys.1 is no public key for ES384 or RS384'],
    ['with one kid', 'twice', 'two keys of jwt.keys have the same kid'],
  ])('T8: %s stop the start, and the client is named', async (_what, how, said) => {
    const other = async (): Promise<Signer> => {
      if (how === 'twice') return newSigner('ES384', 'a');
      const pair = await generateKeyPair('ES256', { extractable: true });
      const jwk = await exportJWK(how === 'private' ? signerAt(1).privateKey : pair.publicKey);
      return { ...signerAt(1), jwk: { ...jwk, kid: 'other' } };
    };
    const opening = openWithClients([clientWith([signerAt(0), await other()])]);
    await expect(opening).rejects.toThrow(new ConfigFault(`GRIP_CDS_CLIENTS: alder-reach: ${said}`));
  });

  it('T5: without an address of the service stop the start: aud could not be compared', async () => {
    const opening = openWithClients([clientWith([signerAt(0)])], { config: { publicUrl: null } });
    await expect(opening).rejects.toThrow(
      new ConfigFault('GRIP_CDS_PUBLIC_URL must be set: tokens that clients sign name the address called'),
    );
  });

  it('T9: two clients of one issuer stop the start unless each has tenants of its own', async () => {
    const named = (name: string, tenants?: readonly string[]): ConfiguredClient => ({
      ...clientWith([signerAt(0)], tenants ? { tenants } : {}),
      name,
    });
    for (const [one, other] of [
      [['x'], ['x', 'y']],
      [undefined, ['x']],
      [['x'], undefined],
      [undefined, undefined],
    ] as const)
      await expect(openWithClients([named('one', one), named('other', other)])).rejects.toThrow(
        'GRIP_CDS_CLIENTS: other: another client has the same issuer and a tenant in common',
      );
    const service = await openWithClients([named('one', ['x']), named('other', ['y'])]);
    const get = async (tenant?: string) =>
      service.get(DISCOVERY, bearer(await sign(signerAt(0), { claims: { ...claimsOf(DISCOVERY), tenant } })));
    expect([(await get('x')).status, (await get('y')).status, (await get('z')).status]).toEqual([
      200, 200, 401,
    ]);
    expect((await get()).status).toBe(401);
    await service.close();
  });
});

/** A key server that the test moves through time. */
function keyServer() {
  let now = NOW.getTime();
  const state = {
    keys: [signerAt(0).jwk] as unknown,
    status: 200,
    cacheControl: 'max-age=600' as string | null,
    fails: false,
    fetches: 0,
    hold: undefined as Promise<void> | undefined,
  };
  const fake: Outbound = async (url, { signal, maxBytes }): Promise<OutboundReply> => {
    expect(url).toBe(URL_OF_KEYS);
    expect(signal).toBeInstanceOf(AbortSignal);
    expect(maxBytes).toBe(65_536);
    state.fetches += 1;
    await state.hold;
    if (state.fails) throw new Error('unreachable');
    const text = typeof state.keys === 'string' ? state.keys : JSON.stringify({ keys: state.keys });
    return { status: state.status, text, bytes: Buffer.byteLength(text), header: () => state.cacheControl };
  };
  const find = keysFrom(URL_OF_KEYS, fake, () => new Date(now));
  return {
    state,
    has: async (kid: string) => (await find('ES384', kid)) !== undefined,
    pass: (seconds: number) => {
      now += seconds * 1_000;
    },
  };
}

describe('T7: a key set that is fetched', () => {
  it('T7: is asked once for all who wait, and not again while it is current', async () => {
    const { state, has, pass } = keyServer();
    let release = () => {};
    state.hold = new Promise((resolve) => {
      release = resolve;
    });
    const waiting = Array.from({ length: 40 }, () => has('a'));
    release();
    expect(await Promise.all(waiting)).toEqual(Array(40).fill(true));
    pass(599);
    expect(await has('a')).toBe(true);
    expect(state.fetches).toBe(1);
    pass(2);
    expect(await has('a')).toBe(true);
    expect(state.fetches).toBe(2);
  });

  it('T7: is asked again for a kid that is new, but not more than every 30 seconds', async () => {
    const { state, has, pass } = keyServer();
    expect(await has('a')).toBe(true);
    state.keys = [signerAt(0).jwk, signerAt(1).jwk];
    for (const _time of [1, 2, 3]) expect(await has('b')).toBe(false);
    expect(state.fetches).toBe(1);
    pass(30);
    expect(await has('b')).toBe(true);
    expect(await has('nobody')).toBe(false);
    expect(state.fetches).toBe(2);
  });

  it('T7: lets go of a key that its server took away', async () => {
    const { state, has, pass } = keyServer();
    expect(await has('a')).toBe(true);
    state.keys = [signerAt(1).jwk];
    pass(601);
    expect(await has('a')).toBe(false);
    expect(await has('b')).toBe(true);
  });

  it.each([
    ['does not answer', (state: { fails: boolean }) => Object.assign(state, { fails: true })],
    ['answers 500', (state: { status: number }) => Object.assign(state, { status: 500 })],
    ['answers what is no key set', (state: { keys: unknown }) => Object.assign(state, { keys: '<html>' })],
    [
      'answers keys that are no list',
      (state: { keys: unknown }) => Object.assign(state, { keys: '{"keys":{}}' }),
    ],
  ])('T7: serves its old keys for an hour while its server %s, and then none', async (_how, breakIt) => {
    const { state, has, pass } = keyServer();
    expect(await has('a')).toBe(true);
    breakIt(state);
    pass(601);
    expect(await has('a')).toBe(true);
    const { fetches } = state;
    pass(29);
    expect(await has('a')).toBe(true);
    expect(state.fetches).toBe(fetches);
    pass(3_500 - 29);
    expect(await has('a')).toBe(true);
    pass(101);
    expect(await has('a')).toBe(false);
    Object.assign(state, { fails: false, status: 200, keys: [signerAt(0).jwk] });
    pass(5);
    expect(await has('a')).toBe(true);
  });

  it('T7: that could not be had at first is asked again after five seconds, not at every call', async () => {
    const { state, has, pass } = keyServer();
    state.fails = true;
    for (const _time of [1, 2, 3]) expect(await has('a')).toBe(false);
    expect(state.fetches).toBe(1);
    state.fails = false;
    pass(5);
    expect(await has('a')).toBe(true);
    expect(state.fetches).toBe(2);
  });

  it('T7: is still asked when the clock was set back', async () => {
    const { state, has, pass } = keyServer();
    expect(await has('a')).toBe(true);
    state.keys = [signerAt(1).jwk];
    pass(-86_400);
    expect(await has('b')).toBe(true);
  });

  it('T7: holds keys of no use beside those of use', async () => {
    const { state, has } = keyServer();
    const secret = { kty: 'oct', k: 'c2VjcmV0', kid: 'b' };
    const given = await exportJWK(signerAt(2).privateKey);
    state.keys = [null, secret, { ...given, kid: 'c' }, signerAt(0).jwk, { ...signerAt(1).jwk, kid: 'a' }];
    expect([await has('a'), await has('b'), await has('c')]).toEqual([true, false, false]);
  });

  it.each([
    [null, 600],
    ['', 600],
    ['public', 600],
    ['max-age=3600', 3_600],
    ['public, Max-Age="120", must-revalidate', 120],
    ['max-age=0', 60],
    ['max-age=59', 60],
    ['max-age=999999999', 86_400],
    ['no-store', 60],
    ['no-cache, max-age=3600', 60],
    ['s-maxage=3600', 600],
    ['x-max-age=3600', 600],
    ['max-age=-5', 600],
    ['max-age=soon', 600],
  ])('T7: counts as current as Cache-Control says (%j: %d s), from a minute to a day', (said, seconds) => {
    expect(freshMs(said)).toBe(seconds * 1_000);
  });
});

describe('T7: a key server on the network', () => {
  let server: Server;
  let answer: RequestListener;
  let requests: { url: string | undefined; headers: Record<string, unknown> }[] = [];
  let service: ServiceWithClients;
  let base = '';

  beforeAll(async () => {
    server = createServer((request, reply) => {
      requests.push({ url: request.url, headers: request.headers });
      answer(request, reply);
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    base = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  });
  beforeEach(async () => {
    requests = [];
    const jwt = { issuer: 'https://ehr.alder-reach.example/', keySet: `${base}/keys` };
    service = await openWithClients([{ name: 'alder-reach', jwt }]);
  });
  afterAll(() => server.close());

  const get = async (signer: Signer, header: Record<string, unknown> = {}) => {
    const token = await sign(signer, { header, claims: claimsOf(DISCOVERY) });
    const reply = await service.get(DISCOVERY, bearer(token));
    return reply.status;
  };

  it('T7: gives the keys, without and with jku, in one fetch that carries nothing of the call', async () => {
    answer = (_request, reply) => reply.end(JSON.stringify({ keys: [signerAt(0).jwk, rsa.jwk] }));
    expect(await get(signerAt(0))).toBe(200);
    expect(await get(rsa, { jku: `${base}/keys` })).toBe(200);
    expect(await get(signerAt(0), { jku: `${base}/other-keys` })).toBe(401);
    expect(requests.map(({ url }) => url)).toEqual(['/keys']);
    expect(requests[0]?.headers.authorization).toBeUndefined();
    await service.close();
  });

  it('T7: that redirects, to itself or elsewhere, is not followed', async () => {
    answer = (request, reply) => {
      if (request.url === '/elsewhere') reply.end(JSON.stringify({ keys: [signerAt(0).jwk] }));
      else reply.writeHead(302, { location: '/elsewhere' }).end();
    };
    expect(await get(signerAt(0))).toBe(401);
    expect(requests.map(({ url }) => url)).toEqual(['/keys']);
    await service.close();
  });

  it('T7: that sends 1 GB is not read to its end', async () => {
    let sent = 0;
    let closed = false;
    const piece = Buffer.alloc(64 * 1024, ' ');
    answer = (_request, reply) => {
      const write = (): void => {
        while (sent < 1_000_000_000 && !closed) {
          sent += piece.length;
          if (!reply.write(piece)) {
            reply.once('drain', write);
            return;
          }
        }
        reply.end();
      };
      reply.on('close', () => {
        closed = true;
      });
      write();
    };
    expect(await get(signerAt(0))).toBe(401);
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect(closed).toBe(true);
    expect(sent).toBeLessThan(50_000_000);
    await service.close();
  });

  it.each([
    ['never begins', (): RequestListener => () => undefined],
    [
      'never ends',
      (): RequestListener => (_request, reply) => {
        reply.write('{"keys":[');
        const more = setInterval(() => reply.write(' '), 50);
        reply.on('close', () => clearInterval(more));
      },
    ],
  ])(
    'T7: that %s is given two seconds, once; other clients are answered meanwhile',
    async (_how, listener) => {
      answer = listener();
      const started = performance.now();
      const waiting = Promise.all([get(signerAt(0)), get(signerAt(0)), get(signerAt(1))]);
      const meanwhile = await service.get('/health/live');
      expect(meanwhile.status).toBe(200);
      expect(performance.now() - started).toBeLessThan(1_500);
      expect(await waiting).toEqual([401, 401, 401]);
      expect(performance.now() - started).toBeLessThan(4_000);
      expect(requests).toHaveLength(1);
      server.closeAllConnections();
      await service.close();
    },
  );

  it('T7: that is not there costs the caller a 401, and nothing else', async () => {
    await service.close();
    const gone = createServer();
    await new Promise<void>((resolve) => gone.listen(0, '127.0.0.1', resolve));
    const { port } = gone.address() as AddressInfo;
    await new Promise((resolve) => gone.close(resolve));
    const find = keysFrom(`http://127.0.0.1:${port}/keys`, outbound, () => NOW);
    expect(await find('ES384', 'a')).toBeUndefined();
  });
});
