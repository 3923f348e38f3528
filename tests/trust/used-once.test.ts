/** A token is used once (STANDARDS T9): in one process, across restarts, in processes that share the log, and on a failing disk. */
import { createHash } from 'node:crypto';
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { AuditFault, type Claim } from '../../src/audit/audit-record.ts';
import { openDocumentsInMemory } from '../../src/audit/document-store.ts';
import { openSqliteStore } from '../../src/audit/sqlite-store.ts';
import { verifyLog } from '../../src/audit/verify.ts';
import { accessFor } from '../../src/http/access.ts';
import { buildApp } from '../../src/http/build-app.ts';
import { openLibrary } from '../../src/service.ts';
import { verifierFor } from '../../src/trust/verify-token.ts';
import { HOOK_DOOR, NOW, PATIENT, SIX_TRIALS } from '../fixtures.ts';
import { watchReplies } from '../watch-replies.ts';
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
  type Signer,
  sign,
} from './sign-for-tests.ts';

const library = openLibrary();
const folder = mkdtempSync(join(tmpdir(), 'grip-used-once-'));
let signer: Signer;
beforeAll(async () => {
  signer = await newSigner();
});
afterAll(() => rmSync(folder, { recursive: true }));

const body = JSON.stringify(HOOK_DOOR.bodyOf(PATIENT, SIX_TRIALS));
const JSON_TYPE = { 'content-type': 'application/json' };

let files = 0;

/** One process of several on a file. */
function openOn(file: string, now = () => NOW) {
  const store = openSqliteStore({ file, now, onFatal: () => undefined });
  const claims: Claim[] = [];
  const claimOnce: typeof store.claimOnce = (key, until) => {
    const claim = store.claimOnce(key, until);
    if (claim) claims.push(claim);
    return claim;
  };
  const outbound = () => Promise.reject(new Error('nothing is fetched here'));
  const clients = [clientWith([signer])];
  const app = buildApp({
    library,
    store,
    engine: { name: 'test', version: '0.0.0' },
    defaultPanelId: 'adult-inpatient-us',
    now,
    newId: () => crypto.randomUUID(),
    logger: false,
    definitions: openDocumentsInMemory([]),
    access: accessFor(clients, [], verifierFor(clients, { publicUrl: PUBLIC_URL, claimOnce, outbound, now })),
    isProtected: true,
    publicUrl: PUBLIC_URL,
  });
  watchReplies(app);
  const post = async (token: string, payload = body) =>
    app.inject({ method: 'POST', url: SERVICE, headers: { ...JSON_TYPE, ...bearer(token) }, payload });
  const discover = async (token: string) =>
    app.inject({ method: 'GET', url: DISCOVERY, headers: bearer(token) });
  const close = async () => {
    await app.close();
    store.close();
  };
  return { store, claims, post, discover, close };
}
const newFile = () => join(folder, `once-${++files}.sqlite`);

function rowsIn(file: string): number {
  const db = new Database(file, { readonly: true });
  try {
    return db.prepare<[], { n: number }>('SELECT count(*) AS n FROM once').get()?.n ?? 0;
  } finally {
    db.close();
  }
}

describe('T9: a token that was used', () => {
  it('T9: is refused the second time, in the words of a call without credentials', async () => {
    const { post, close } = openOn(newFile());
    const token = await sign(signer);
    expect((await post(token)).statusCode).toBe(200);
    const [again, none] = [await post(token), await post('')];
    expect(again.statusCode).toBe(401);
    expect(again.payload).toBe(none.payload);
    expect({ ...again.headers, date: '' }).toEqual({ ...none.headers, date: '' });
    await close();
  });

  it('T9: is refused when it is sent several times at once: one of them is answered, and recorded', async () => {
    const file = newFile();
    const { post, close } = openOn(file);
    const token = await sign(signer);
    const replies = await Promise.all(Array.from({ length: 12 }, () => post(token)));
    expect(replies.map(({ statusCode }) => statusCode).sort()).toEqual([200, ...Array(11).fill(401)]);
    await close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 1 });
  });

  it('T9: with the same jti and other claims is refused; the same jti of another issuer is not', async () => {
    const other = await newSigner();
    const second = { ...clientWith([other], { issuer: 'https://other.example/' }), name: 'other' };
    const service = await openWithClients([clientWith([signer]), second]);
    const get = async (token: string) => (await service.get(DISCOVERY, bearer(token))).status;
    const claims = { ...claimsOf(DISCOVERY), jti: 'the-same' };
    expect(await get(await sign(signer, { claims }))).toBe(200);
    expect(await get(await sign(signer, { claims: { ...claims, exp: AT + 600, more: 1 } }))).toBe(401);
    expect(await get(await sign(other, { claims: { ...claims, iss: 'https://other.example/' } }))).toBe(200);
    await service.close();
  });

  it('T9: is refused after a restart; one that was not used is not', async () => {
    const file = newFile();
    const tokens = await Promise.all([sign(signer), sign(signer)]);
    const first = openOn(file);
    expect((await first.post(tokens[0])).statusCode).toBe(200);
    await first.close();
    const second = openOn(file);
    expect((await second.post(tokens[0])).statusCode).toBe(401);
    expect((await second.post(tokens[1])).statusCode).toBe(200);
    await second.close();
  });

  it('T9: is refused after a crash at any moment after the answer: the file as it is then says so', async () => {
    const file = newFile();
    const running = openOn(file);
    for (const send of [running.post, running.discover]) {
      const path = send === running.post ? SERVICE : DISCOVERY;
      const token = await sign(signer, { claims: claimsOf(path) });
      expect((await send(token)).statusCode).toBe(200);
      // What a process that is killed now would leave behind: nothing is closed or written first.
      const copy = newFile();
      for (const end of ['', '-wal']) copyFileSync(`${file}${end}`, `${copy}${end}`);
      const after = openOn(copy);
      expect((await (send === running.post ? after.post : after.discover)(token)).statusCode).toBe(401);
      await after.close();
    }
    await running.close();
  });

  it('T9: is refused by another process that shares the log, whichever came first', async () => {
    const file = newFile();
    const [one, other] = [openOn(file), openOn(file)];
    for (const [first, second] of [
      [one, other],
      [other, one],
    ] as const) {
      const token = await sign(signer);
      expect((await first.post(token)).statusCode).toBe(200);
      expect((await second.post(token)).statusCode).toBe(401);
    }
    await one.close();
    await other.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 2 });
  });

  it('T9: by two processes in the same moment is answered by one of them, and only that call is on record', async () => {
    const file = newFile();
    const [one, other] = [openOn(file), openOn(file)];
    let races = 0;
    for (let round = 0; round < 30; round += 1) {
      const token = await sign(signer);
      const [before] = [one.claims.length + other.claims.length];
      const replies = await Promise.all([one.post(token), other.post(token)]);
      expect(replies.map(({ statusCode }) => statusCode).sort()).toEqual([200, 401]);
      const refused = replies.find(({ statusCode }) => statusCode === 401);
      expect(refused?.payload).toBe((await one.post('')).payload);
      expect(refused?.headers['www-authenticate']).toBe('Bearer');
      expect(refused?.headers['retry-after']).toBeUndefined();
      // Both believed to be the first: the commit decided.
      if (one.claims.length + other.claims.length - before === 2) races += 1;
    }
    expect(races).toBeGreaterThan(0);
    await one.close();
    await other.close();
    expect(verifyLog(file)).toMatchObject({ ok: true, count: 30 });
  });
});

describe('T9: an answer without a record', () => {
  it.each([
    ['of discovery', undefined, 200],
    ['to a body that is not JSON', '{', 400],
    ['to data that lack', JSON.stringify({ ...JSON.parse(body), prefetch: {} }), 412],
  ])('T9: (%s) leaves after its token is on disk', async (_what, payload, status) => {
    const file = newFile();
    const { post, discover, close } = openOn(file);
    const token = await sign(signer, { claims: claimsOf(payload === undefined ? DISCOVERY : SERVICE) });
    const send = () => (payload === undefined ? discover(token) : post(token, payload));
    expect((await send()).statusCode).toBe(status);
    expect(rowsIn(file)).toBe(1);
    expect((await send()).statusCode).toBe(401);
    expect(rowsIn(file)).toBe(1);
    await close();
  });

  it('T9: that cannot be written is 503, and nothing of the answer is given', async () => {
    const file = newFile();
    const { discover, post, store, close } = openOn(file);
    const other = new Database(file);
    other.exec('BEGIN IMMEDIATE');
    for (const send of [discover, post]) {
      const token = await sign(signer, { claims: claimsOf(send === post ? SERVICE : DISCOVERY) });
      const reply = await send(token);
      expect(reply.statusCode).toBe(503);
      expect(reply.json().issue[0].details.coding[0].code).toBe('NOT_RECORDED');
      expect(Number(reply.headers['retry-after'])).toBeGreaterThan(0);
      expect(reply.payload).not.toMatch(/grip-interpretation|cards/);
      // It counts as used nevertheless.
      expect((await send(token)).statusCode).toBe(401);
    }
    other.exec('ROLLBACK');
    other.close();
    expect((await discover(await sign(signer, { claims: claimsOf(DISCOVERY) }))).statusCode).toBe(200);
    store.close();
    const closed = await discover(await sign(signer, { claims: claimsOf(DISCOVERY) }));
    expect(closed.statusCode).toBe(503);
    expect(() => store.claimOnce('x', NOW)).toThrow(AuditFault);
    await close();
  });
});

describe('what is kept of a used token', () => {
  it('T9: is neither the token nor its jti, and goes when the token has long expired', async () => {
    const file = newFile();
    let now = NOW;
    const { post, close } = openOn(file, () => now);
    const token = await sign(signer, { claims: { jti: 'a-jti-to-look-for' } });
    expect((await post(token)).statusCode).toBe(200);
    expect(rowsIn(file)).toBe(1);
    now = new Date(NOW.getTime() + 3_600_000);
    const later = now.getTime() / 1_000;
    expect((await post(await sign(signer, { claims: { iat: later, exp: later + 60 } }))).statusCode).toBe(
      200,
    );
    expect(rowsIn(file)).toBe(1);
    expect((await post(token)).statusCode).toBe(401);
    await close();
    const db = new Database(file, { readonly: true });
    const bytes = db.serialize().toString('latin1');
    db.close();
    for (const secret of ['a-jti-to-look-for', token, ...token.split('.')])
      expect(bytes).not.toContain(secret);
  });

  it('T9: is nothing for bearer tokens, which may be used often', async () => {
    const tokenSha256 = createHash('sha256').update('ward-token', 'utf8').digest('hex');
    const service = await openWithClients([clientWith([signer]), { name: 'ward', tokenSha256 }]);
    for (const _time of [1, 2]) {
      expect((await service.get(DISCOVERY, bearer('ward-token'))).status).toBe(200);
      const call = await service.post(SERVICE, body, bearer('ward-token'));
      expect([call.status, service.last().content.asked.client]).toEqual([200, 'ward']);
    }
    expect(rowsIn(service.file)).toBe(0);
    await service.close();
  });
});
