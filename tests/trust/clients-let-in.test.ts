/** Clients that sign (STANDARDS D10, F7, T1 to T13): who is let in where, what is recorded and logged, and the published example. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Writable } from 'node:stream';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';
import type { ConfiguredClient } from '../../src/clients.ts';
import { accessFor } from '../../src/http/access.ts';
import { buildApp } from '../../src/http/build-app.ts';
import type { Outbound } from '../../src/outbound/outbound.ts';
import { openDefinitions, openLibrary } from '../../src/service.ts';
import type { TokenRefusal } from '../../src/trust/token-refusal.ts';
import { verifierFor } from '../../src/trust/verify-token.ts';
import { temporaryFolder } from '../audit/raw-log.ts';
import { HOOK_DOOR, NOW, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { watchReplies } from '../watch-replies.ts';
import {
  PUBLISHED_EXP,
  PUBLISHED_IAT,
  PUBLISHED_ISSUER,
  PUBLISHED_JKU,
  PUBLISHED_KEYS,
  PUBLISHED_TENANT,
  PUBLISHED_TOKEN,
} from './published-example.ts';
import {
  AT,
  bearer,
  claimsOf,
  clientWith,
  DISCOVERY,
  newSigner,
  openWithClients,
  PUBLIC_URL,
  SERVICE,
  type ServiceWithClients,
  type Signer,
  sign,
} from './sign-for-tests.ts';

const folder = temporaryFolder();
const body = HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS);
let signer: Signer;
let service: ServiceWithClients;
beforeAll(async () => {
  signer = await newSigner();
  service = await openWithClients([clientWith([signer])]);
});
afterAll(() => service.close());

const tokenFor = (path: string, claims: Record<string, unknown> = {}) =>
  sign(signer, { claims: { ...claimsOf(path), ...claims } });

describe('a client that signs', () => {
  it('T2, T3, D10: is asked for a token at every call, discovery included', async () => {
    for (const [method, path] of [
      ['GET', DISCOVERY],
      ['HEAD', DISCOVERY],
      ['POST', SERVICE],
      ['POST', `${SERVICE}/feedback`],
    ] as const) {
      const without = await service.app.inject({ method, url: path });
      expect(without.statusCode, `${method} ${path}`).toBe(401);
      expect(without.headers['www-authenticate']).toBe('Bearer');
      const headers = bearer(await tokenFor(path));
      const withToken = await service.app.inject({ method, url: path, headers });
      expect(withToken.statusCode, `${method} ${path}`).not.toBe(401);
    }
  });

  it('T3: is let in by `Bearer` in any letters, and by no other scheme, header, query or body', async () => {
    const send = async (headers: Record<string, string>, url = DISCOVERY) =>
      (await service.app.inject({ method: 'GET', url, headers })).statusCode;
    for (const scheme of ['Bearer', 'bearer', 'BEARER'])
      expect(await send({ authorization: `${scheme} ${await tokenFor(DISCOVERY)}` })).toBe(200);
    const token = await tokenFor(DISCOVERY);
    for (const authorization of [
      token,
      `JWT ${token}`,
      `DPoP ${token}`,
      `Bearer  ${token}`,
      `Bearer ${token},`,
      `Bearer ${token}, Bearer ${token}`,
    ])
      expect(await send({ authorization })).toBe(401);
    expect(await send({ 'x-authorization': `Bearer ${token}`, cookie: `token=${token}` })).toBe(401);
    expect(await send({}, `${DISCOVERY}?access_token=${token}`)).toBe(401);
    // None of them used it up.
    expect(await send(bearer(token))).toBe(200);
  });

  it('T10: is not let in by what a proxy says of its certificate: no header stands for credentials', async () => {
    for (const name of [
      'x-ssl-client-verify',
      'x-client-verify',
      'x-forwarded-client-cert',
      'ssl-client-s-dn',
    ]) {
      const reply = await service.get(DISCOVERY, { [name]: 'SUCCESS' });
      expect(reply.status).toBe(401);
    }
  });

  it('T5: with a query in the address is called at the address without it', async () => {
    const token = await tokenFor(DISCOVERY);
    expect((await service.get(`${DISCOVERY}?x=1`, bearer(token))).status).toBe(200);
  });

  it('F7: may name the address of feedback, or of its service, for feedback', async () => {
    const feedback = `${SERVICE}/feedback`;
    const post = async (aud: unknown) =>
      (await service.post(feedback, { feedback: [] }, bearer(await tokenFor(SERVICE, { aud })))).status;
    const [own, ofService] = [`${PUBLIC_URL}${feedback}`, `${PUBLIC_URL}${SERVICE}`];
    for (const aud of [own, ofService, [own], [ofService], [own, ofService]])
      expect(await post(aud), String(aud)).not.toBe(401);
    for (const aud of [
      `${PUBLIC_URL}${DISCOVERY}`,
      `${PUBLIC_URL}/cds-services/another`,
      [own, 'https://x.example/'],
    ])
      expect(await post(aud), String(aud)).toBe(401);
    // And not the other way round: a token for feedback is no token for cards.
    expect((await service.post(SERVICE, body, bearer(await tokenFor(feedback)))).status).toBe(401);
  });

  it('T9: is on record by its configured name, with the tenant that it signed; the token is not', async () => {
    const token = await tokenFor(SERVICE, { tenant: 'north' });
    expect((await service.post(SERVICE, body, bearer(token))).status).toBe(200);
    expect(service.last().content.asked).toMatchObject({ client: 'alder-reach', tenant: 'north' });
    for (const secret of token.split('.')) expect(service.last().record).not.toContain(secret);
    await service.post(SERVICE, body, bearer(await tokenFor(SERVICE)));
    expect(service.last().content.asked).not.toHaveProperty('tenant');
    expect(service.verify()).toMatchObject({ ok: true });
  });

  it('T13: may have its own FHIR servers asked and nobody else’s: the list is of the client that signed', async () => {
    const [north, south] = await Promise.all([newSigner(), newSigner()]);
    const clients: readonly ConfiguredClient[] = [
      {
        ...clientWith([north], { tenants: ['north'] }),
        name: 'north',
        fhirServers: ['https://north.example/r4'],
      },
      { ...clientWith([south], { tenants: ['south'] }), name: 'south' },
    ];
    const deps = {
      publicUrl: PUBLIC_URL,
      claimOnce: () => ({ kept: async () => true }),
      outbound: never,
      now: () => NOW,
    };
    const access = accessFor(clients, ['https://open.example/r4'], verifierFor(clients, deps));
    const serversOf = async (by: Signer, tenant: string) => {
      const token = await sign(by, { claims: { tenant } });
      return (await access({ authorization: `Bearer ${token}`, path: SERVICE })).fhirServers;
    };
    expect(await serversOf(north, 'north')).toEqual(['https://north.example/r4']);
    expect(await serversOf(south, 'south')).toEqual([]);
    await expect(serversOf(north, 'south')).rejects.toMatchObject({ code: 'UNAUTHENTICATED' });
  });

  it('T9: is told of what is not there as such; whoever is not let in is not', async () => {
    const path = '/cds-services/another';
    expect((await service.post(path, body, bearer(await tokenFor(path)))).status).toBe(404);
    const get = await service.get(SERVICE, bearer(await tokenFor(SERVICE)));
    expect([get.status, get.headers.allow]).toEqual([405, 'POST']);
    for (const url of [
      path,
      '/cds-services/%zz',
      `/cds-services/${'a'.repeat(300)}`,
      '/cds-services/a%2Fb',
    ]) {
      const refused = await service.app.inject({ method: 'POST', url });
      expect(refused.statusCode, url).toBe(401);
      const signed = await tokenFor(url);
      const unreadable = await service.app.inject({ method: 'POST', url, headers: bearer(signed) });
      expect(unreadable.statusCode, url).toBe(url === path ? 404 : 401);
    }
  });

  it('T8: and the bearer token of another client live side by side; either may have both', async () => {
    const tokenSha256 = '81b637d8fcd2c6da6359e6963113a1170de795e4b725b84d1e0b4cfd9ec58ce9'; // of "bob"
    const both = await openWithClients([{ ...clientWith([signer]), tokenSha256 }]);
    expect((await both.get(DISCOVERY, bearer('bob'))).status).toBe(200);
    expect((await both.get('/fhir/Observation', bearer('bob'))).status).toBe(200);
    expect((await both.get(DISCOVERY, bearer(await tokenFor(DISCOVERY)))).status).toBe(200);
    await both.close();
  });

  it('T9: may live longer where its configuration says so, and then only so long', async () => {
    const patient = await openWithClients([clientWith([signer], { maxLifeSeconds: 7_200 })]);
    const status = async (seconds: number) =>
      (await patient.get(DISCOVERY, bearer(await tokenFor(DISCOVERY, { exp: AT + seconds })))).status;
    expect([await status(7_200), await status(7_231)]).toEqual([200, 401]);
    await patient.close();
  });
});

const never: Outbound = () => Promise.reject(new Error('nothing is fetched here'));

describe('the signed example of the specification', () => {
  const client = (more: object = {}): ConfiguredClient => ({
    name: 'published',
    jwt: {
      issuer: PUBLISHED_ISSUER,
      keySet: PUBLISHED_JKU,
      tenants: [PUBLISHED_TENANT],
      maxLifeSeconds: PUBLISHED_EXP - PUBLISHED_IAT,
      ...more,
    },
  });
  const PATH = '/cds-services/some-service';

  /** As fetched from its `jku`. */
  async function verifyAt(seconds: number, clients = [client()], path = PATH): Promise<readonly string[]> {
    const fetched: string[] = [];
    const outbound: Outbound = async (url) => {
      fetched.push(url);
      return { status: 200, text: JSON.stringify(PUBLISHED_KEYS), bytes: 0, header: () => null };
    };
    const verify = verifierFor(clients, {
      publicUrl: 'https://cds.example.org',
      claimOnce: () => ({ kept: async () => true }),
      outbound,
      now: () => new Date(seconds * 1_000),
    });
    const trusted = await verify(PUBLISHED_TOKEN, path);
    expect(trusted).toMatchObject({ client: { name: 'published' }, tenant: PUBLISHED_TENANT });
    return fetched;
  }
  const reason = async (verifying: Promise<unknown>) =>
    verifying.then(
      () => 'let in',
      (refusal: TokenRefusal) => refusal.reason,
    );

  it('T5, T6, T7: verifies with the clock before its expiry, by the key set of its jku', async () => {
    for (const seconds of [PUBLISHED_IAT, PUBLISHED_IAT + 86_400, PUBLISHED_EXP - 1, PUBLISHED_EXP + 29])
      expect(await verifyAt(seconds)).toEqual([PUBLISHED_JKU]);
  });

  it('T8: verifies with the key given out of band, its jku compared only', async () => {
    expect(await verifyAt(PUBLISHED_EXP - 1, [client({ keys: PUBLISHED_KEYS })])).toEqual([]);
  });

  it('T5, T9: is refused today, before it was made, elsewhere, by another list of tenants, and for its life of years', async () => {
    expect(await reason(verifyAt(Date.now() / 1_000))).toBe('expired');
    expect(await reason(verifyAt(PUBLISHED_EXP + 30))).toBe('expired');
    expect(await reason(verifyAt(PUBLISHED_IAT - 31))).toBe('not-yet-valid');
    expect(await reason(verifyAt(PUBLISHED_EXP - 1, undefined, '/cds-services/other'))).toBe(
      'audience-other',
    );
    const at = PUBLISHED_EXP - 1;
    expect(await reason(verifyAt(at, [client({ tenants: ['other'] })]))).toBe('tenant-unknown');
    expect(await reason(verifyAt(at, [client({ maxLifeSeconds: undefined })]))).toBe('life-too-long');
    expect(await reason(verifyAt(at, [client({ keySet: `${PUBLISHED_JKU}/` })]))).toBe('jku-unknown');
    expect(await reason(verifyAt(at, [client({ issuer: 'https://other.example/' })]))).toBe('issuer-unknown');
  });

  it('T9: goes through the whole service once: let in with that clock, refused today', async () => {
    const clients = [client({ keys: PUBLISHED_KEYS })];
    const config = { publicUrl: 'https://cds.example.org' };
    const then = await openWithClients(clients, { now: () => new Date((PUBLISHED_EXP - 1) * 1_000), config });
    const call = (of: ServiceWithClients) => of.post(PATH, {}, bearer(PUBLISHED_TOKEN));
    // There is no such service here, which only who is let in is told.
    expect((await call(then)).status).toBe(404);
    expect((await call(then)).status).toBe(401);
    await then.close();
    const today = await openWithClients(clients, { now: () => new Date(), config });
    expect((await call(today)).status).toBe(401);
    await today.close();
  });
});

describe('T9: the log of the service', () => {
  it('T9: says why a token was refused, by a code and the configured name, and holds nothing of the token', async () => {
    let written = '';
    const stream = new Writable({
      write(chunk, _encoding, done) {
        written += chunk;
        done();
      },
    });
    const library = openLibrary();
    const store = openSqliteStore({
      file: join(folder, 'logged.sqlite'),
      now: () => NOW,
      onFatal: () => undefined,
    });
    const clients = [clientWith([signer], { tenants: ['north'] })];
    const verify = verifierFor(clients, {
      publicUrl: PUBLIC_URL,
      claimOnce: store.claimOnce,
      outbound: never,
      now: () => NOW,
    });
    const app = buildApp({
      library,
      store,
      engine: { name: 'test', version: '0.0.0' },
      defaultPanelId: 'adult-inpatient-us',
      now: () => NOW,
      newId: () => crypto.randomUUID(),
      logger: pino({ level: 'debug' }, stream),
      definitions: openDefinitions(library, undefined, NOW.toISOString()),
      access: accessFor(clients, [], verify),
      isProtected: true,
      publicUrl: PUBLIC_URL,
    });
    watchReplies(app);
    const north = { tenant: 'north' };
    const used = await tokenFor(DISCOVERY, north);
    const [header = '', claims = ''] = used.split('.');
    const stranger = await newSigner('ES384', 'kid-of-a-stranger');
    const tokens: readonly (readonly [string, string])[] = [
      ['', used],
      ['used-before', used],
      ['token-form', `${header}.${claims}`],
      ['header-form', await sign(signer, { header: { typ: 'secret-typ' }, claims: claimsOf(DISCOVERY) })],
      ['claims-form', await tokenFor(DISCOVERY, { jti: 7 })],
      ['issuer-unknown', await tokenFor(DISCOVERY, { iss: 'https://issuer-of-a-stranger.example/' })],
      ['audience-other', await tokenFor(SERVICE, north)],
      ['expired', await tokenFor(DISCOVERY, { iat: AT - 900, exp: AT - 600 })],
      ['not-yet-valid', await tokenFor(DISCOVERY, { iat: AT + 600, exp: AT + 900 })],
      ['life-too-long', await tokenFor(DISCOVERY, { ...north, exp: AT + 9_000 })],
      ['tenant-unknown', await tokenFor(DISCOVERY, { tenant: 'tenant-of-a-stranger' })],
      [
        'jku-unknown',
        await sign(signer, {
          header: { jku: 'https://jku-of-a-stranger.example/' },
          claims: { ...claimsOf(DISCOVERY), ...north },
        }),
      ],
      ['key-unknown', await sign(stranger, { claims: { ...claimsOf(DISCOVERY), ...north } })],
      ['signature-wrong', `${header}.${claims}.${'A'.repeat(128)}`],
    ];
    for (const [, token] of tokens) await app.inject({ url: DISCOVERY, headers: bearer(token) });
    await app.close();
    store.close();
    const lines = written
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    const refused = lines.filter(({ code }) => code === 'UNAUTHENTICATED');
    expect(refused.map(({ reason }) => reason)).toEqual(tokens.slice(1).map(([reason]) => reason));
    const named = refused.filter(({ client }) => client === 'alder-reach').map(({ reason }) => reason);
    // What names no issuer that is known is nobody's.
    const nobodys = ['token-form', 'header-form', 'claims-form', 'issuer-unknown'];
    expect(named).toEqual(
      tokens
        .slice(1)
        .map(([reason]) => reason)
        .filter((reason) => !nobodys.includes(reason)),
    );
    for (const secret of ['stranger', 'secret-typ', ...tokens.flatMap(([, token]) => token.split('.'))])
      expect(written).not.toContain(secret);
  });
});

describe('the guide', () => {
  const guide = readFileSync(new URL('../../docs/hooks.md', import.meta.url), 'utf8');
  const section = guide.slice(guide.indexOf('## Register a client'));

  it('says that the service is registered with the client’s authorisation server first', () => {
    expect(section).toMatch(/authori[sz]ation server/);
  });

  it('T8, T9: shows a file of clients that is accepted as it stands, and lets its clients in', async () => {
    const text = /```json\n([\s\S]*?)```/.exec(section)?.[1] ?? '';
    const { clients } = JSON.parse(text) as { clients: ConfiguredClient[] };
    expect(clients.length).toBeGreaterThan(2);
    const opened = await openWithClients(clients);
    expect((await opened.get(DISCOVERY)).status).toBe(401);
    await opened.close();
    // With a key of ours in the place of the one shown, each client that signs is let in as the file says.
    const signing = clients.filter(({ jwt }) => jwt);
    expect(signing.length).toBeGreaterThan(1);
    const keys = { keys: [signer.jwk as Record<string, unknown>] };
    const withKeys = clients.map((client) =>
      client.jwt ? { ...client, jwt: { ...client.jwt, keys } } : client,
    );
    const ours = await openWithClients(withKeys);
    for (const { jwt } of signing) {
      const tenant = jwt?.tenants?.[0];
      const token = await tokenFor(DISCOVERY, { iss: jwt?.issuer, ...(tenant ? { tenant } : {}) });
      expect((await ours.get(DISCOVERY, bearer(token))).status).toBe(200);
    }
    await ours.close();
  });
});
